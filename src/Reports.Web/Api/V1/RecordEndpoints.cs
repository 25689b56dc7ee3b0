using Microsoft.AspNetCore.Http.HttpResults;
using Reports.Domain.Coast;
using Reports.Domain.TrackRecord;
using Reports.Storage;

namespace Reports.Web.Api.V1;

/// <summary>How past briefs did: public, added up from the weeks that the job has scored.</summary>
public static class RecordEndpoints
{
    public static void MapRecord(this RouteGroupBuilder api) => api.MapGet("/record", ReadAsync);

    private static async Task<Results<JsonHttpResult<Record>, ProblemHttpResult>> ReadAsync(
        HttpContext http,
        RegisterCache registers,
        RecordStore record,
        Settings settings,
        TimeProvider time,
        CancellationToken ct
    )
    {
        var register = await registers.GetAsync(ct);
        var known = register
            .Species.Values.Where(s => s.Kind == SpeciesKind.Catch)
            .Select(s => s.Code)
            .Order()
            .ToList();
        var code = http.Request.Query["species"].ToString() is { Length: > 0 } asked ? asked : known.FirstOrDefault("");
        if (!register.Species.TryGetValue(code, out var species) || species.Kind != SpeciesKind.Catch)
        {
            return Problems.BadParameter(
                "species",
                "unknown-species",
                $"species must be the code of a fish on the register: {string.Join(", ", known)}."
            );
        }

        http.Response.Headers.CacheControl = "public, no-cache";
        var today = Landing.DayIn(settings.TimeZone, time.GetUtcNow());
        return TypedResults.Json(await record.OfAsync(species.Code, today, ct), BriefEndpoints.Json);
    }
}
