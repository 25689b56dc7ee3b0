using System.Text.Json;
using Microsoft.EntityFrameworkCore;
using Reports.Domain.Briefs;
using Reports.Domain.Coast;
using Reports.Domain.Reporting;

namespace Reports.Storage;

/// <summary>Loads what briefs are computed from.</summary>
public sealed class EvidenceStore(ReportsDbContext db)
{
    /// <summary>
    /// Everything that the briefs of one day need, for all zones and species at once. <paramref name="knownAt"/> restricts it to
    /// the versions that had arrived by then.
    /// </summary>
    public Task<CoastEvidence> LoadAsync(DateOnly asOf, DateTimeOffset? knownAt, CancellationToken ct) =>
        LoadAsync(asOf, knownAt, null, null, ct);

    /// <param name="species">What is known of it only; null for all.</param>
    /// <param name="zones">What was fished there only; null for the whole coast.</param>
    public async Task<CoastEvidence> LoadAsync(
        DateOnly asOf,
        DateTimeOffset? knownAt,
        string? species,
        IReadOnlyCollection<string>? zones,
        CancellationToken ct
    )
    {
        var first = asOf.AddDays(1 - Windows.Mechanics);
        var versions = knownAt is { } instant ? Known(first, asOf, instant) : Current(first, asOf);
        if (zones is not null)
        {
            versions = versions.Where(v => zones.Contains(v.Zone));
        }

        // Only reports that name the species are worth reading; the code may stand elsewhere in them too, so this is no decision.
        var reports = await versions
            .Select(v => v.Measures)
            .AsAsyncEnumerable()
            .Where(m => species is null || m.Contains(species, StringComparison.Ordinal))
            .Select(ReportMeasures.FromJson)
            .ToListAsync(ct);
        var bait = await db
            .LandingBait.AsNoTracking()
            .Where(b => b.Date >= first && b.Date <= asOf)
            .ToDictionaryAsync(b => (b.Landing, b.Date), b => ParseBait(b.Measures), ct);
        var landingOf = await db.Boats.AsNoTracking().ToDictionaryAsync(b => b.Code, b => b.Landing, ct);
        var trips = await TripsAsync(asOf, zones, ct);
        var closed = await db
            .Species.AsNoTracking()
            .Where(s => s.ClosedNotice != null)
            .ToDictionaryAsync(s => s.Code, s => s.ClosedNotice!, ct);
        var measures = reports
            .Select(m => m.WithBait(bait.GetValueOrDefault((landingOf[m.Boat], m.FishedOn), [])))
            .OrderBy(m => m.FishedOn)
            .ThenBy(m => m.Zone, StringComparer.Ordinal)
            .ThenBy(m => m.Boat, StringComparer.Ordinal)
            .ThenBy(m => m.Sailing)
            .ToList();
        return new CoastEvidence(
            asOf,
            measures,
            trips.ToLookup(t => t.Zone, t => t.Trip, StringComparer.Ordinal),
            closed
        );
    }

    /// <summary>
    /// Departures of the display window, each with whether its boat was heard of: a report fished from the day of leaving to the
    /// last day of the trip answers it, whatever zone the boat ended up in. Held and so-far reports answer it too: the boat is not
    /// silent.
    /// </summary>
    private async Task<IEnumerable<(string Zone, KnownTrip Trip)>> TripsAsync(
        DateOnly asOf,
        IReadOnlyCollection<string>? zones,
        CancellationToken ct
    )
    {
        var first = asOf.AddDays(1 - Windows.Display);
        var departures = await db
            .Departures.AsNoTracking()
            .Where(d => d.Date >= first && d.Date <= asOf && d.Zone != null && d.Status == DepartureStatus.Planned)
            .Where(d => zones == null || zones.Contains(d.Zone!))
            .ToListAsync(ct);
        var heard = (
            await db
                .Reports.AsNoTracking()
                .Where(r => r.FishedOn >= first && r.FishedOn <= asOf && r.State != ReportState.Retracted)
                .Select(r => new
                {
                    r.Boat,
                    r.Sailing,
                    r.FishedOn,
                })
                .ToListAsync(ct)
        ).ToLookup(r => (r.Boat, r.Sailing), r => r.FishedOn);
        return departures
            .Select(d =>
            {
                var last = LastDay(d);
                var reported = heard[(d.Boat, d.Sailing)].Any(day => day >= d.Date && day <= last);
                return (Last: last, Zone: d.Zone!, Trip: new KnownTrip(d.Boat, d.Date, d.Sailing, reported));
            })
            // A boat is silent from the day after it was due back; until then it may still report.
            .Where(d => d.Trip.Reported || d.Last < asOf)
            .Select(d => (d.Zone, d.Trip));

        // Half a day returns the same day; an overnight trip leaves in the evening and fishes the day after.
        static DateOnly LastDay(DepartureRow d) =>
            d.Date.AddDays(
                Math.Max(
                    (int)Math.Ceiling((d.TripDays ?? 1) - 1),
                    d.Kind switch
                    {
                        TripKind.Overnight => 1,
                        TripKind.MultiDay => 2,
                        _ => 0,
                    }
                )
            );
    }

    /// <summary>Measures of the counted reports fished in a span of days, both inclusive.</summary>
    public IQueryable<string> CurrentMeasures(DateOnly first, DateOnly last) =>
        Current(first, last).Select(v => v.Measures);

    /// <summary>How many reports of the whole coast count, whatever their species.</summary>
    public Task<int> CountAsync(DateOnly asOf, CancellationToken ct)
    {
        var first = asOf.AddDays(1 - Windows.Display);
        return db.Reports.CountAsync(
            r => r.FishedOn >= first && r.FishedOn <= asOf && r.State == ReportState.Counted,
            ct
        );
    }

    public static IReadOnlyList<BaitMeasure> ParseBait(string measures) =>
        JsonSerializer.Deserialize<List<BaitMeasure>>(measures, LandingBaitStore.Json)!;

    private IQueryable<ReportVersionRow> Current(DateOnly first, DateOnly last) =>
        from r in db.Reports.AsNoTracking()
        where r.State == ReportState.Counted && r.FishedOn >= first && r.FishedOn <= last
        join v in db.ReportVersions on new { Id = r.Id, r.Version } equals new { Id = v.ReportId, v.Version }
        select v;

    private IQueryable<ReportVersionRow> Known(DateOnly first, DateOnly last, DateTimeOffset instant) =>
        from v in db.ReportVersions.AsNoTracking()
        where
            v.StoredAt <= instant
            && v.State == ReportState.Counted
            && v.FishedOn >= first
            && v.FishedOn <= last
            && !db.ReportVersions.Any(later =>
                later.ReportId == v.ReportId && later.Version > v.Version && later.StoredAt <= instant
            )
        select v;
}

/// <summary>The evidence of a coast as of a day; each brief takes its zone's part of it.</summary>
/// <param name="Reports">In the order of (date, zone, boat, sailing).</param>
public sealed record CoastEvidence(
    DateOnly AsOf,
    IReadOnlyList<ReportMeasures> Reports,
    ILookup<string, KnownTrip> TripsByZone,
    IReadOnlyDictionary<string, string> ClosedNotices
)
{
    private readonly ILookup<string, ReportMeasures> byZone = Reports.ToLookup(r => r.Zone, StringComparer.Ordinal);

    /// <summary>What the coast tells of a species; only of evidence that was loaded for all zones.</summary>
    public CoastPrior Prior(string species) => CoastPrior.Of(Reports, species, AsOf);

    /// <summary>The zone's own reports and trips.</summary>
    public Evidence For(string zone, string species) =>
        new(
            zone,
            species,
            AsOf,
            [.. byZone[zone].Where(r => r.Catch.Any(c => c.Species == species))],
            [
                .. TripsByZone[zone]
                    .OrderBy(t => t.Date)
                    .ThenBy(t => t.Boat, StringComparer.Ordinal)
                    .ThenBy(t => t.Sailing),
            ],
            ClosedNotices.GetValueOrDefault(species)
        );
}
