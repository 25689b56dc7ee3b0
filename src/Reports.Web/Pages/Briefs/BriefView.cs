using Reports.Domain.Briefs;
using Reports.Domain.Coast;
using Reports.Storage;

namespace Reports.Web.Pages.Briefs;

/// <summary>A brief as a page speaks of it: with the names of its zone and species, and its age.</summary>
public sealed record BriefView(
    Zone Zone,
    Species Species,
    Brief Brief,
    int Version,
    DateTimeOffset? ComputedAt,
    DateOnly Today
)
{
    public bool IsClosed => Brief.ClosedNotice is not null;

    public string Path => $"/zones/{Zone.Code}/{Species.Code}";

    /// <summary>
    /// "computed 22 November at 12:00": an instant, which stays true on a page that is kept, printed or left open, as an age
    /// would not. Null where nothing was computed yet.
    /// </summary>
    public string? Age => ComputedAt is { } at ? "computed " + Say.At(at, Today) : null;

    /// <summary>"41 reports by 9 boats; newest 22 November"</summary>
    public string Basis =>
        Say.Count(Brief.Evidence)
        + (Brief.Evidence.Pooled ? " of the whole coast" : "")
        + (Brief.Evidence.Newest is { } newest ? "; newest " + Say.Day(newest, Today) : "");

    /// <summary>"From 41 reports by 9 boats; newest 22 November; computed 22 November at 12:00."</summary>
    public string Evidence => $"From {Basis}{(Age is { } age ? "; " + age : "")}.";

    /// <summary>"31 of 38 known boat trips reported"; null where it is not known, or tells of too few.</summary>
    public string? Silence =>
        Brief.Evidence.BoatTrips is { } trips ? $"{trips.Reported} of {trips.Known} known boat trips reported" : null;

    /// <summary>
    /// The brief that stands, or an empty one where none was computed. A species closed a moment ago is closed here whatever the
    /// brief still says: no advice is given for it.
    /// </summary>
    public static BriefView Of(
        Zone zone,
        Species species,
        PublishedBrief? published,
        TimeZoneInfo clock,
        DateOnly today
    )
    {
        var brief =
            published?.Brief
            ?? new Brief
            {
                Zone = zone.Code,
                Species = species.Code,
                AsOf = today,
                Evidence = new BriefEvidence(0, 0, null, 0, 0, null, Strength.None, false, null),
            };
        if ((species.ClosedNotice ?? brief.ClosedNotice) is { } notice)
        {
            brief = brief with { ClosedNotice = notice, OutfitSets = [], Rigs = [] };
        }

        return new(
            zone,
            species,
            brief,
            published?.Version ?? 0,
            published is null ? null : TimeZoneInfo.ConvertTime(published.ComputedAt, clock),
            today
        );
    }
}
