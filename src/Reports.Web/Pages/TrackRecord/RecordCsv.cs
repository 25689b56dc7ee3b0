using System.Text;
using Microsoft.AspNetCore.Http.HttpResults;
using Reports.Domain.Coast;
using Reports.Domain.TrackRecord;
using Reports.Storage;
using Reports.Web.Api.V1;
using Reports.Web.Pages.Briefs;

namespace Reports.Web.Pages.TrackRecord;

/// <summary>The numbers of the record's plot as a file.</summary>
public static class RecordCsv
{
    public static void MapRecordCsv(this WebApplication app) =>
        app.MapGet("/record.csv", FileAsync).CacheOutput(PagePolicy.Name);

    /// <summary>Shares of 1; the ends are of the 80 % interval.</summary>
    public static string Odds(Record record) =>
        BriefCsv.Rows(
            ["said", "came", "came_low", "came_high", "anglers", "boat_trips"],
            (record.Odds?.Bins ?? []).Select(b =>
                (object?[])[b.Said, b.Came.Mean, b.Came.Low, b.Came.High, b.Anglers, b.Trips]
            )
        );

    private static async Task<Results<FileContentHttpResult, NotFound>> FileAsync(
        string? species,
        RegisterCache registers,
        RecordStore store,
        Settings settings,
        TimeProvider time,
        CancellationToken ct
    )
    {
        var register = await registers.GetAsync(ct);
        if (species is null || !register.Species.TryGetValue(species, out var known) || known.Kind != SpeciesKind.Catch)
        {
            return TypedResults.NotFound();
        }

        var record = await store.OfAsync(species, Landing.DayIn(settings.TimeZone, time.GetUtcNow()), ct);
        return TypedResults.Bytes(
            Encoding.UTF8.GetBytes(Odds(record)),
            "text/csv; charset=utf-8",
            $"{species}-record.csv"
        );
    }
}
