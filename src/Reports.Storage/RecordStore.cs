using Microsoft.EntityFrameworkCore;
using Reports.Domain.Briefs;
using Reports.Domain.Reporting;
using Reports.Domain.TrackRecord;

namespace Reports.Storage;

/// <summary>The record: how the briefs of past weeks did, kept by week and species.</summary>
public sealed class RecordStore(ReportsDbContext db, EvidenceStore evidence, BriefChanges changes, TimeProvider time)
{
    /// <summary>Weeks that are looked back on.</summary>
    public const int Weeks = 13;

    /// <summary>Weeks whose late reports are still taken in, once a day.</summary>
    private const int Open = 2;

    /// <summary>Days of the briefs that are scored: Mondays whose week is over, newest first.</summary>
    public static IReadOnlyList<DateOnly> Origins(DateOnly today)
    {
        var last = today.AddDays(-RecordWeek.Days - 1);
        last = last.AddDays(-(((int)last.DayOfWeek + 6) % 7));
        return [.. Enumerable.Range(0, Weeks).Select(i => last.AddDays(-7 * i))];
    }

    /// <summary>Weeks that are not kept yet, or were kept before <paramref name="dayBegan"/> and are still open; newest first.</summary>
    public async Task<IReadOnlyList<(string Species, DateOnly Origin)>> DueAsync(
        DateOnly today,
        DateTimeOffset dayBegan,
        CancellationToken ct
    )
    {
        // Before the first report there was nothing to say.
        var oldest = await db.Reports.MinAsync(r => (DateOnly?)r.FishedOn, ct) ?? today;
        var origins = Origins(today).Where(o => o >= oldest).ToList();
        if (origins.Count == 0)
        {
            return [];
        }

        var first = origins[^1];
        var kept = await db
            .RecordWeeks.AsNoTracking()
            .Where(w => w.Origin >= first)
            .Select(w => new
            {
                w.Species,
                w.Origin,
                w.ComputedAt,
            })
            .ToListAsync(ct);
        var settled = kept.Where(w => w.ComputedAt >= dayBegan || !origins.Take(Open).Contains(w.Origin))
            .Select(w => (w.Species, w.Origin))
            .ToHashSet();
        var species = await db
            .Species.Where(s => s.Kind == Domain.Coast.SpeciesKind.Catch)
            .Select(s => s.Code)
            .OrderBy(s => s)
            .ToListAsync(ct);
        return
        [
            .. origins.SelectMany(o => species, (o, s) => (Species: s, Origin: o)).Where(w => !settled.Contains(w)),
        ];
    }

    /// <summary>Scores a week by what was known when its first day began, and keeps it.</summary>
    /// <param name="knownAt">The end of the origin's day.</param>
    public async Task ComputeAsync(string species, DateOnly origin, DateTimeOffset knownAt, CancellationToken ct)
    {
        var known = await evidence.LoadAsync(origin, knownAt, species, null, ct);
        var prior = known.Prior(species);
        var zones = await db.Zones.Select(z => z.Code).OrderBy(z => z).ToListAsync(ct);
        var briefs = zones.ConvertAll(z => BriefMaker.Make(known.For(z, species), prior));
        var measures = await evidence
            .CurrentMeasures(origin.AddDays(1), origin.AddDays(RecordWeek.Days))
            .ToListAsync(ct);
        var week = RecordWeek.Of(
            species,
            origin,
            briefs,
            known.Reports,
            [.. measures.Where(m => m.Contains(species, StringComparison.Ordinal)).Select(ReportMeasures.FromJson)]
        );
        db.ChangeTracker.Clear();
        var row = await db.RecordWeeks.FindAsync([species, origin], ct);
        if (row is null)
        {
            db.RecordWeeks.Add(
                new RecordWeekRow
                {
                    Species = species,
                    Origin = origin,
                    ComputedAt = time.GetUtcNow(),
                    Body = week.ToJson(),
                }
            );
        }
        else
        {
            (row.ComputedAt, row.Body) = (time.GetUtcNow(), week.ToJson());
        }

        await db.SaveChangesAsync(ct);
        changes.Publish();
    }

    /// <summary>The record of a species over the weeks that are looked back on.</summary>
    public async Task<Record> OfAsync(string species, DateOnly today, CancellationToken ct)
    {
        var first = Origins(today)[^1];
        var bodies = await db
            .RecordWeeks.AsNoTracking()
            .Where(w => w.Species == species && w.Origin >= first)
            .OrderBy(w => w.Origin)
            .Select(w => w.Body)
            .ToListAsync(ct);
        return Record.Of(species, bodies.ConvertAll(RecordWeek.FromJson));
    }

    /// <summary>Changes whenever a week is computed.</summary>
    public async Task<string> StampAsync(CancellationToken ct)
    {
        var weeks = await db.RecordWeeks.CountAsync(ct);
        var newest = await db.RecordWeeks.MaxAsync(w => (DateTimeOffset?)w.ComputedAt, ct);
        return string.Create(System.Globalization.CultureInfo.InvariantCulture, $"{weeks}-{newest?.UtcTicks ?? 0:x}");
    }
}
