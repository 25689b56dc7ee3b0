using Reports.Domain.Briefs;
using Reports.Domain.Chances;
using Reports.Domain.Reporting;

namespace Reports.Web.Api.V1;

/// <summary>What an angler reads before booking: the coming trips, and the chances of each zone and length among them.</summary>
public sealed record ChancesResponse(
    string Species,
    DateOnly From,
    DateOnly To,
    int Limit,
    string? ClosedNotice,
    IReadOnlyList<TripResponse> Departures,
    bool More,
    IReadOnlyList<ZoneChancesResponse> Chances
);

/// <summary>A planned departure; its chances stand under each of its zones and its length.</summary>
public sealed record TripResponse(
    string Boat,
    string Landing,
    DateOnly Date,
    int Sailing,
    decimal TripDays,
    bool TripDaysAssumed,
    string? Kind,
    IReadOnlyList<string> Zones,
    bool ZonePlanned
);

/// <summary>Figures are of one angler and a whole trip of this length; what can't be told is null, with its reason.</summary>
public sealed record ZoneChancesResponse(string Zone, decimal TripDays)
{
    public int? BriefVersion { get; init; }
    public DateTime? ComputedAt { get; init; }
    public EvidenceResponse? Evidence { get; init; }
    public Rate? PerAngler { get; init; }
    public Share? AtLeastOne { get; init; }
    public Share? AtLeastLimit { get; init; }
    public FishShares? Fish { get; init; }
    public string? Trend { get; init; }
    public double? PerAnglerIfSilentBlank { get; init; }
    public double? PerAnglerIfSilentAlike { get; init; }
    public double? StoppedAtLimit { get; init; }
    public SizeMixResponse? Size { get; init; }
    public OutfitResponse? Outfit { get; init; }
    public required IReadOnlyList<MissingPart> Missing { get; init; }
}

/// <summary>The brief's sizes without the bars of its plot.</summary>
public sealed record SizeMixResponse(
    string Unit,
    string Of,
    QuantilesResponse Quantiles,
    IReadOnlyList<GradeResponse> Grades,
    IReadOnlyList<OverResponse> Over
);

/// <summary>The plain mapping from an outlook to what the API shows.</summary>
public static class ChancesMapping
{
    public static ChancesResponse ToChancesResponse(this Outlook outlook)
    {
        var query = outlook.Query;
        return new(
            query.Species.Code,
            query.From,
            query.To,
            query.Limit,
            outlook.ClosedNotice,
            [
                .. outlook.Trips.Select(t => new TripResponse(
                    t.Boat.Code,
                    t.Boat.Landing,
                    t.Date,
                    t.Sailing,
                    t.Length.Days,
                    t.Length.IsAssumed,
                    t.Kind?.Word(),
                    [.. t.Zones.Select(z => z.Code)],
                    t.IsZonePlanned
                )),
            ],
            outlook.HasMore,
            [.. outlook.Chances.Select(c => Of(c, query))]
        );
    }

    private static ZoneChancesResponse Of(ZoneChances at, ChancesQuery query)
    {
        var brief = at.Published?.ToBriefResponse(1, query.Weight);
        var known = new ZoneChancesResponse(at.Zone.Code, at.TripDays)
        {
            BriefVersion = brief?.Version,
            ComputedAt = brief?.ComputedAt,
            Evidence = brief?.Evidence,
            Missing =
            [
                at.ClosedNotice is null
                    ? new("", "no-brief", "Nothing has been reported of this zone and species yet.")
                    : new("", "closed", "The species is closed, so no advice is given."),
            ],
        };
        return brief is null || at.ClosedNotice is not null
            ? known
            : known with
            {
                PerAngler = at.Chances?.PerAngler,
                AtLeastOne = at.Chances?.AtLeastOne,
                AtLeastLimit = at.Chances?.AtLeastLimit,
                Fish = at.Chances?.Fish,
                Trend = brief.CatchRate?.Trend,
                PerAnglerIfSilentBlank = at.Chances?.PerAnglerIfSilentBlank,
                PerAnglerIfSilentAlike = at.Chances?.PerAnglerIfSilentAlike,
                StoppedAtLimit = brief.CatchRate?.StoppedAtLimit,
                Size = brief.Size is { } size ? new(size.Unit, size.Of, size.Quantiles, size.Grades, size.Over) : null,
                Outfit = brief.Outfits is [var first, ..] ? first : null,
                Missing = [.. Missing(at.Published!.Brief, at.Chances)],
            };
    }

    /// <summary>What of the brief's reasons concerns the chances, by pointer into their JSON, and one for odds that an old brief has not.</summary>
    private static IEnumerable<MissingPart> Missing(Brief brief, TripChances? chances)
    {
        if (chances is null)
        {
            // A brief without a catch rate has one reason for all of it.
            var why = brief.Missing.FirstOrDefault(m => m.Pointer is "/catchRate" or "");
            yield return new(
                "/perAngler",
                why?.Code ?? "too-few-boats",
                why?.Detail ?? "Fewer than three boats have reported this fish, so nothing is said."
            );
        }
        else if (chances.AtLeastLimit is null)
        {
            yield return new(
                "/atLeastLimit",
                "not-told",
                "The reports do not tell how the catch was spread over anglers."
            );
        }

        foreach (var part in brief.Missing)
        {
            switch (part.Pointer)
            {
                case "/catchRate/trend":
                    yield return part with
                    {
                        Pointer = "/trend",
                    };
                    break;
                case "/size":
                    yield return part;
                    break;
                case "/outfits":
                    yield return part with
                    {
                        Pointer = "/outfit",
                    };
                    break;
            }
        }
    }
}
