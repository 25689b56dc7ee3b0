using System.Globalization;
using System.Text.Json;
using Microsoft.AspNetCore.Http.HttpResults;
using Reports.Domain.Briefs;
using Reports.Domain.Coast;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using Reports.Storage;

namespace Reports.Web.Api.V1;

/// <summary>The brief of a zone and species: public, read from its row; of a past day computed on demand.</summary>
public static class BriefEndpoints
{
    public const int DefaultOutfits = 3;
    public const int MostOutfits = 5;

    public static readonly JsonSerializerOptions Json = new(JsonSerializerDefaults.Web);

    public static void MapBriefs(this RouteGroupBuilder api) =>
        api.MapGet("/zones/{zone}/species/{species}/brief", ReadAsync);

    private static async Task<Results<ContentHttpResult, StatusCodeHttpResult, ProblemHttpResult>> ReadAsync(
        string zone,
        string species,
        HttpContext http,
        RegisterCache registers,
        BriefStore briefs,
        PastBriefs past,
        Settings settings,
        TimeProvider time,
        CancellationToken ct
    )
    {
        var (query, bad) = BriefQuery.Read(http.Request.Query, Landing.DayIn(settings.TimeZone, time.GetUtcNow()));
        if (query is null)
        {
            return bad!;
        }

        var register = await registers.GetAsync(ct);
        if (!register.Zones.ContainsKey(zone) || !register.Species.ContainsKey(species))
        {
            registers.Drop();
            register = await registers.GetAsync(ct);
        }

        if (!register.Zones.ContainsKey(zone))
        {
            return Problems.NotFound("zone");
        }

        if (!register.Species.TryGetValue(species, out var known) || known.Kind != SpeciesKind.Catch)
        {
            return Problems.NotFound("species");
        }

        var published = query.AsOf is null && query.KnownAt is null ? await briefs.FindAsync(zone, species, ct) : null;
        published ??= await past.GetAsync(zone, species, query.AsOf ?? query.Today, query.KnownAt, ct);
        if (published is null)
        {
            http.Response.Headers.RetryAfter = PastBriefs.RetryAfterSeconds.ToString(CultureInfo.InvariantCulture);
            return Problems.Of(
                StatusCodes.Status503ServiceUnavailable,
                "busy",
                "Briefs of past days are being computed for others.",
                $"Try again in {PastBriefs.RetryAfterSeconds} seconds."
            );
        }

        var etag = string.Create(
            CultureInfo.InvariantCulture,
            $"\"{published.Version}-{published.ComputedAt.UtcTicks:x}-{query.Outfits}-{query.Weight.Word()}\""
        );
        http.Response.Headers.ETag = etag;
        http.Response.Headers.CacheControl = "public, no-cache";
        return http.Request.Headers.IfNoneMatch.ToString().Contains(etag, StringComparison.Ordinal)
            ? TypedResults.StatusCode(StatusCodes.Status304NotModified)
            : TypedResults.Content(
                JsonSerializer.Serialize(published.ToBriefResponse(query.Outfits, query.Weight), Json),
                "application/json"
            );
    }

    private sealed record BriefQuery(
        DateOnly Today,
        DateOnly? AsOf,
        DateTimeOffset? KnownAt,
        int Outfits,
        WeightUnit Weight
    )
    {
        public static (BriefQuery? Query, ProblemHttpResult? Problem) Read(IQueryCollection query, DateOnly today)
        {
            DateOnly? asOf = null;
            if (query["asOf"].ToString() is { Length: > 0 } asOfText)
            {
                if (!Dates.TryParse(asOfText, out var date))
                {
                    return (
                        null,
                        Problems.BadParameter(
                            "asOf",
                            "not-a-date",
                            "asOf must be an ISO 8601 date, such as 2026-11-20."
                        )
                    );
                }

                if (date > today)
                {
                    return (
                        null,
                        Problems.BadParameter(
                            "asOf",
                            "in-the-future",
                            $"asOf must not be later than the coast's day, {Dates.Text(today)}."
                        )
                    );
                }

                if (date < ReportReader.Earliest)
                {
                    return (
                        null,
                        Problems.BadParameter(
                            "asOf",
                            "too-early",
                            $"asOf must not be earlier than {Dates.Text(ReportReader.Earliest)}, the first day of any report."
                        )
                    );
                }

                asOf = date;
            }

            DateTimeOffset? knownAt = null;
            if (query["knownAt"].ToString() is { Length: > 0 } knownAtText)
            {
                if (
                    !DateTimeOffset.TryParse(
                        knownAtText,
                        CultureInfo.InvariantCulture,
                        DateTimeStyles.AssumeUniversal,
                        out var instant
                    )
                )
                {
                    return (
                        null,
                        Problems.BadParameter(
                            "knownAt",
                            "not-an-instant",
                            "knownAt must be an ISO 8601 instant, such as 2026-11-20T06:00:00Z."
                        )
                    );
                }

                knownAt = instant.ToUniversalTime();
            }

            var outfits = DefaultOutfits;
            if (
                query["outfits"].ToString() is { Length: > 0 } outfitsText
                && (
                    !int.TryParse(outfitsText, NumberStyles.None, CultureInfo.InvariantCulture, out outfits)
                    || outfits is < 1 or > MostOutfits
                )
            )
            {
                return (
                    null,
                    Problems.BadParameter(
                        "outfits",
                        "out-of-range",
                        $"outfits must be a whole number from 1 to {MostOutfits}."
                    )
                );
            }

            var weight = WeightUnit.Lb;
            if (
                query["weight"].ToString() is { Length: > 0 } weightText
                && !Words.Of<WeightUnit>().TryGetValue(weightText, out weight)
            )
            {
                return (null, Problems.BadParameter("weight", "unknown-word", "weight must be lb or kg."));
            }

            return (new(today, asOf, knownAt, outfits, weight), null);
        }
    }
}
