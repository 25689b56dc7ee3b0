using Microsoft.EntityFrameworkCore;
using Reports.Domain.Briefs;

namespace Reports.Storage;

/// <summary>A brief as it was published: with its version and the instant at which it was computed.</summary>
public sealed record PublishedBrief(int Version, DateTimeOffset ComputedAt, Brief Brief);

/// <summary>Reads and publishes briefs.</summary>
public sealed class BriefStore(ReportsDbContext db, BriefChanges changes, TimeProvider time)
{
    /// <summary>The brief that stands, or null when none was ever computed.</summary>
    public async Task<PublishedBrief?> FindAsync(string zone, string species, CancellationToken ct)
    {
        var row = await Latest(zone, species).FirstOrDefaultAsync(ct);
        return row is null ? null : Published(row);
    }

    /// <summary>The standing briefs of all zones for a species, by zone.</summary>
    public async Task<IReadOnlyDictionary<string, PublishedBrief>> OfSpeciesAsync(string species, CancellationToken ct)
    {
        var rows = await Standing().Where(b => b.Species == species).ToListAsync(ct);
        return rows.ToDictionary(r => r.Zone, Published, StringComparer.Ordinal);
    }

    /// <summary>Every standing brief of the coast.</summary>
    public async Task<IReadOnlyList<PublishedBrief>> AllAsync(CancellationToken ct) =>
        [.. (await Standing().ToListAsync(ct)).Select(Published)];

    /// <summary>The last brief of each day from a day on, oldest first.</summary>
    public async Task<IReadOnlyList<PublishedBrief>> DaysAsync(
        string zone,
        string species,
        DateOnly from,
        CancellationToken ct
    )
    {
        var rows = await db
            .Briefs.AsNoTracking()
            .Where(b => b.Zone == zone && b.Species == species && b.AsOf >= from)
            .Where(b =>
                !db.Briefs.Any(l =>
                    l.Zone == b.Zone && l.Species == b.Species && l.AsOf == b.AsOf && l.Version > b.Version
                )
            )
            .OrderBy(b => b.AsOf)
            .ToListAsync(ct);
        return [.. rows.Select(Published)];
    }

    /// <summary>Whether there was a brief before a day.</summary>
    public Task<bool> AnyBeforeAsync(string zone, string species, DateOnly day, CancellationToken ct) =>
        db.Briefs.AnyAsync(b => b.Zone == zone && b.Species == species && b.AsOf < day, ct);

    /// <summary>
    /// Grows with every brief that is published, by whichever process, and with nothing else: the sum of the standing versions.
    /// </summary>
    public async Task<long> StampAsync(CancellationToken ct) =>
        (
            await db
                .Briefs.GroupBy(b => new { b.Zone, b.Species })
                .Select(pair => pair.Max(b => b.Version))
                .ToListAsync(ct)
        ).Sum(v => (long)v);

    /// <summary>Publishes a brief whose touches, if any, are answered.</summary>
    public Task<bool> PublishAsync(Brief brief, IReadOnlyCollection<long> touchedIds, CancellationToken ct) =>
        PublishAsync(brief, touchedIds, [], ct);

    /// <summary>
    /// Publishes a brief as the next version and forgets the touches that it answers, in one transaction. When it says what the
    /// standing one says, no version is added: computing twice changes nothing. True when a version was added.
    /// </summary>
    /// <param name="touchedIds">The touches that it answers.</param>
    /// <param name="ofCoast">Those among them that stay, as touches of the coast.</param>
    public async Task<bool> PublishAsync(
        Brief brief,
        IReadOnlyCollection<long> touchedIds,
        IReadOnlyCollection<long> ofCoast,
        CancellationToken ct
    )
    {
        var body = brief.ToJson();
        db.ChangeTracker.Clear();
        await using var transaction = await db.Database.BeginTransactionAsync(ct);
        var standing = await Latest(brief.Zone, brief.Species).FirstOrDefaultAsync(ct);
        var changed = standing is null || standing.Body != body;
        if (changed)
        {
            db.Briefs.Add(
                new BriefRow
                {
                    Zone = brief.Zone,
                    Species = brief.Species,
                    Version = (standing?.Version ?? 0) + 1,
                    AsOf = brief.AsOf,
                    ComputedAt = time.GetUtcNow(),
                    Pooled = brief.Evidence.Pooled,
                    Body = body,
                }
            );
            await db.SaveChangesAsync(ct);
        }

        if (ofCoast.Count > 0)
        {
            await db
                .Touched.Where(t => ofCoast.Contains(t.Id))
                .ExecuteUpdateAsync(set => set.SetProperty(t => t.Zone, TouchedRow.Coast), ct);
        }

        await db.Touched.Where(t => touchedIds.Contains(t.Id) && t.Zone != TouchedRow.Coast).ExecuteDeleteAsync(ct);
        await transaction.CommitAsync(ct);
        if (changed)
        {
            changes.Publish();
        }

        return changed;
    }

    /// <summary>Keeps, of every day before <paramref name="today"/>, only the last version of each brief.</summary>
    public Task<int> PruneAsync(DateOnly today, CancellationToken ct) =>
        db
            .Briefs.Where(b => b.AsOf < today)
            .Where(b =>
                db.Briefs.Any(l =>
                    l.Zone == b.Zone && l.Species == b.Species && l.AsOf == b.AsOf && l.Version > b.Version
                )
            )
            .ExecuteDeleteAsync(ct);

    private IQueryable<BriefRow> Standing() =>
        db
            .Briefs.AsNoTracking()
            .Where(b => !db.Briefs.Any(l => l.Zone == b.Zone && l.Species == b.Species && l.Version > b.Version));

    private IQueryable<BriefRow> Latest(string zone, string species) =>
        db
            .Briefs.AsNoTracking()
            .Where(b => b.Zone == zone && b.Species == species)
            .OrderByDescending(b => b.Version)
            .Take(1);

    private static PublishedBrief Published(BriefRow row) => new(row.Version, row.ComputedAt, Brief.FromJson(row.Body));
}
