using Microsoft.EntityFrameworkCore;
using Reports.Domain.Reporting;

namespace Reports.Storage;

/// <summary>What stands of a report's key: its head and the body of that version.</summary>
public sealed record StandingReport(ReportRow Head, ReportVersionRow Version);

/// <summary>A report to import, and what it replaces, if anything.</summary>
public sealed record ImportEntry(CatchReport Report, IReadOnlyList<ReportFlag> Flags, StandingReport? Standing);

/// <summary>What an import changed.</summary>
/// <param name="Earliest">First day fished of the reports stored; null when none was.</param>
/// <param name="TouchedSpecies">Species whose briefs are now older than their reports.</param>
public sealed record Imported(int Stored, DateOnly? Earliest, IReadOnlyList<string> TouchedSpecies);

public sealed partial class ReportStore
{
    /// <summary>What stands of each of these keys, retracted ones too; keys of which nothing stands are absent.</summary>
    public async Task<IReadOnlyDictionary<ReportKey, StandingReport>> StandingAsync(
        IReadOnlyCollection<ReportKey> keys,
        CancellationToken ct
    )
    {
        // No database compares lists of four columns alike: each column is narrowed, and the rest is sorted out here.
        var asked = keys.ToHashSet();
        var boats = keys.Select(k => k.Boat).Distinct().ToList();
        var zones = keys.Select(k => k.Zone).Distinct().ToList();
        var days = keys.Select(k => k.FishedOn).Distinct().ToList();
        var found = await db
            .Reports.AsNoTracking()
            .Where(r => boats.Contains(r.Boat) && days.Contains(r.FishedOn) && zones.Contains(r.Zone))
            .ToListAsync(ct);
        var heads = found.Where(r => asked.Contains(r.Key)).ToList();
        var ids = heads.Select(r => r.Id).ToList();
        var versions = await (
            from r in db.Reports.AsNoTracking()
            where ids.Contains(r.Id)
            join v in db.ReportVersions.AsNoTracking()
                on new { r.Id, r.Version } equals new { Id = v.ReportId, v.Version }
            select v
        ).ToDictionaryAsync(v => v.ReportId, ct);
        return heads.ToDictionary(r => r.Key, r => new StandingReport(r, versions[r.Id]));
    }

    /// <summary>
    /// Stores reports in sets, as one transaction: all of them or none. The sets are drawn inside the transaction, so that what
    /// they look up is what they are stored against; when another door stores one of the same keys first, they are drawn anew.
    /// </summary>
    /// <param name="sets">Draws the sets; an exception of its own ends the import with nothing stored.</param>
    public async Task<Imported> ImportAsync(
        Func<IAsyncEnumerable<IReadOnlyList<ImportEntry>>> sets,
        string credential,
        CancellationToken ct
    )
    {
        for (var attempt = 1; ; attempt++)
        {
            db.ChangeTracker.Clear();
            await using var transaction = await db.Database.BeginTransactionAsync(ct);
            try
            {
                var imported = await ImportOnceAsync(sets(), credential, ct);
                await transaction.CommitAsync(ct);
                return imported;
            }
            catch (Exception e) when (attempt < Attempts && db.IsLostRace(e))
            {
                await transaction.RollbackAsync(ct);
            }
        }
    }

    private async Task<Imported> ImportOnceAsync(
        IAsyncEnumerable<IReadOnlyList<ImportEntry>> sets,
        string credential,
        CancellationToken ct
    )
    {
        var touched = new HashSet<Touch>();
        var (stored, earliest) = (0, (DateOnly?)null);
        await foreach (var set in sets.WithCancellation(ct))
        {
            var at = time.GetUtcNow();
            var newHeads = new List<ReportRow>();
            var versions = new List<ReportVersionRow>();
            foreach (var (report, flags, standing) in set)
            {
                var head = standing?.Head ?? NewHead(report, at);
                if (standing is null)
                {
                    newHeads.Add(head);
                }
                else
                {
                    db.Reports.Attach(head);
                    touched.UnionWith(Touches(standing.Version));
                }

                var version = Next(head, WrittenReport.Of(report), flags, StateOf(report, flags), credential, null, at);
                versions.Add(version);
                touched.UnionWith(Touches(version));
                earliest = earliest is { } day && day < report.FishedOn ? day : report.FishedOn;
            }

            await db.InsertAllAsync(newHeads, ct);
            await db.SaveChangesAsync(ct);
            await db.InsertAllAsync(versions, ct);
            db.ChangeTracker.Clear();
            stored += set.Count;
        }

        db.Touched.AddRange(touched.Select(TouchedRow.Of));
        await db.SaveChangesAsync(ct);
        return new(stored, earliest, [.. touched.Select(t => t.Species).Distinct()]);
    }
}
