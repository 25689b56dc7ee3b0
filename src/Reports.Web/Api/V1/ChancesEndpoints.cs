using System.Security.Cryptography;
using System.Text.Json;
using Microsoft.AspNetCore.Http.HttpResults;
using Microsoft.Net.Http.Headers;
using Reports.Domain.Coast;

namespace Reports.Web.Api.V1;

/// <summary>The chances of coming trips: public, and without a word of who has booked.</summary>
public static class ChancesEndpoints
{
    public static void MapChances(this RouteGroupBuilder api) => api.MapGet("/chances", ReadAsync);

    /// <summary>Weak: it names what is said, whichever way it is compressed on its way.</summary>
    public static EntityTagHeaderValue WeakTag(ReadOnlySpan<byte> content) =>
        new($"\"{Convert.ToHexStringLower(SHA256.HashData(content).AsSpan(0, 12))}\"", isWeak: true);

    private static async Task<Results<Utf8ContentHttpResult, StatusCodeHttpResult, ProblemHttpResult>> ReadAsync(
        HttpContext http,
        RegisterCache registers,
        ComingTrips trips,
        Settings settings,
        TimeProvider time,
        CancellationToken ct
    )
    {
        var today = Landing.DayIn(settings.TimeZone, time.GetUtcNow());
        var (register, reading) = await registers.ReadAsync(
            r => ChancesQuery.Read(http.Request.Query, r, today, usual: null),
            ct
        );
        if (reading.Value is not { } query)
        {
            return Problems.BadParameters(reading.Errors);
        }

        var outlook = await trips.OutlookAsync(query, register, ct);
        var body = JsonSerializer.SerializeToUtf8Bytes(outlook.ToChancesResponse(), BriefEndpoints.Json);
        var tag = WeakTag(body);
        http.Response.Headers.ETag = tag.ToString();
        http.Response.Headers.CacheControl = "public, no-cache";
        return http.Request.GetTypedHeaders().IfNoneMatch.Any(t => t.Compare(tag, useStrongComparison: false))
            ? TypedResults.StatusCode(StatusCodes.Status304NotModified)
            : TypedResults.Text(body, "application/json");
    }
}
