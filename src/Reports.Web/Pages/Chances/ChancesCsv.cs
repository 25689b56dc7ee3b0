using System.Text;
using Microsoft.AspNetCore.Http.HttpResults;
using Reports.Domain.Coast;
using Reports.Domain.Reporting;
using Reports.Storage;
using Reports.Web.Api.V1;
using Reports.Web.Pages.Briefs;

namespace Reports.Web.Pages.Chances;

/// <summary>
/// The trips and their chances as a file, a row for each trip and zone; without a trip a row for each zone. Form and units as in
/// <see cref="BriefCsv"/>; intervals are 80 %.
/// </summary>
public static class ChancesCsv
{
    public static void MapChancesCsv(this WebApplication app) => app.MapGet("/chances.csv", FileAsync);

    public static string Rows(Outlook outlook)
    {
        var at = outlook.Chances.ToDictionary(c => (c.Zone.Code, c.TripDays));
        var rows =
            outlook.Trips.Count > 0
                ? outlook.Trips.SelectMany(t => t.Zones, (t, z) => (Trip: t, At: at[(z.Code, t.Length.Days)]))
                : outlook.Chances.Select(c => (Trip: (ComingTrip?)null!, At: c));
        var limit = $"at_least_{outlook.Query.Limit}";
        return BriefCsv.Rows(
            [
                "date",
                "boat",
                "sailing",
                "landing",
                "trip_days",
                "trip_days_assumed",
                "zone",
                "zone_planned",
                "fish_per_angler",
                "fish_per_angler_low",
                "fish_per_angler_high",
                "at_least_one",
                "at_least_one_low",
                "at_least_one_high",
                limit + (outlook.Query.Limit == 1 ? "_fish" : ""),
                limit + "_low",
                limit + "_high",
                "none",
                "one",
                "two",
                "three_or_more",
                "trend",
            ],
            rows.Select(r =>
                (object?[])
                    [
                        r.Trip is null ? null : Dates.Text(r.Trip.Date),
                        r.Trip?.Boat.Code,
                        r.Trip?.Sailing,
                        r.Trip?.Boat.Landing,
                        r.At.TripDays,
                        r.Trip is null ? null : YesOrNo(r.Trip.Length.IsAssumed),
                        r.At.Zone.Code,
                        r.Trip is null ? null : YesOrNo(r.Trip.IsZonePlanned),
                        r.At.Chances?.PerAngler.Mean,
                        r.At.Chances?.PerAngler.Low,
                        r.At.Chances?.PerAngler.High,
                        r.At.Chances?.AtLeastOne?.Mean,
                        r.At.Chances?.AtLeastOne?.Low,
                        r.At.Chances?.AtLeastOne?.High,
                        r.At.Chances?.AtLeastLimit?.Mean,
                        r.At.Chances?.AtLeastLimit?.Low,
                        r.At.Chances?.AtLeastLimit?.High,
                        r.At.Chances?.Fish?.None,
                        r.At.Chances?.Fish?.One,
                        r.At.Chances?.Fish?.Two,
                        r.At.Chances?.Fish?.ThreeOrMore,
                        r.At.Chances is null ? null : r.At.Published?.Brief.CatchRate?.Trend?.Word(),
                    ]
            )
        );
    }

    private static string YesOrNo(bool value) => value ? "yes" : "no";

    private static async Task<Results<FileContentHttpResult, ProblemHttpResult>> FileAsync(
        HttpContext http,
        RegisterCache registers,
        ComingTrips trips,
        BriefStore briefs,
        Settings settings,
        TimeProvider time,
        CancellationToken ct
    )
    {
        var register = await registers.GetAsync(ct);
        var today = Landing.DayIn(settings.TimeZone, time.GetUtcNow());
        var usual = ThisWeekModel.MostReported(
            register.Species.Values.Where(s => s.Kind == SpeciesKind.Catch),
            await briefs.AllAsync(ct)
        );
        var reading = ChancesQuery.Read(http.Request.Query, register, today, usual);
        if (reading.Value is not { } query)
        {
            return Problems.BadParameters(reading.Errors);
        }

        var bytes = Encoding.UTF8.GetBytes(Rows(await trips.OutlookAsync(query, register, ct)));
        http.Response.Headers.CacheControl = "public, no-cache";
        return TypedResults.Bytes(
            bytes,
            "text/csv; charset=utf-8",
            $"chances-{query.Species.Code}.csv",
            entityTag: ChancesEndpoints.WeakTag(bytes)
        );
    }
}
