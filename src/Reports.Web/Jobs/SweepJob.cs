using Hangfire;
using Microsoft.EntityFrameworkCore;
using Reports.Domain.Coast;
using Reports.Storage;
using Reports.Web.Demo;

namespace Reports.Web.Jobs;

/// <summary>
/// Every minute and at start: whatever is still touched is computed, whoever crashed before; and once a day a new epoch is opened,
/// which touches everything, because every brief is a day older.
/// </summary>
public sealed class SweepJob(
    ReportsDbContext db,
    BriefStore briefs,
    IBackgroundJobClient jobs,
    Settings settings,
    TimeProvider time,
    DemoLoader demo,
    RecordJob record
)
{
    /// <summary>So many touched briefs are a night's: both workers are theirs, and the record waits.</summary>
    public const int Night = 50;

    [AutomaticRetry(Attempts = 0)]
    public async Task ExecuteAsync(CancellationToken ct)
    {
        await using var alone = await db.AloneAsync("sweep", ct);
        await OpenEpochAsync(ct);
        foreach (var species in await db.Touched.Select(t => t.Species).Distinct().OrderBy(s => s).ToListAsync(ct))
        {
            jobs.Enqueue<BriefJob>(job => job.ExecuteAsync(species, CancellationToken.None));
        }

        if (await db.Touched.CountAsync(ct) < Night && (await record.DueAsync(ct)).Count > 0)
        {
            jobs.Enqueue<RecordJob>(job => job.ExecuteAsync(CancellationToken.None));
        }
    }

    /// <summary>Opens the day's epoch unless it is open: one transaction touches every zone and species.</summary>
    public async Task OpenEpochAsync(CancellationToken ct)
    {
        var today = Landing.DayIn(settings.TimeZone, time.GetUtcNow());
        if (await db.Epochs.AnyAsync(e => e.Day == today, ct))
        {
            return;
        }

        if (settings.Demo)
        {
            await demo.RenewAsync(today, ct);
        }

        var zones = await db.Zones.Select(z => z.Code).ToListAsync(ct);
        var species = await db.Species.Where(s => s.Kind == SpeciesKind.Catch).Select(s => s.Code).ToListAsync(ct);
        db.ChangeTracker.Clear();
        db.Epochs.Add(new EpochRow { Day = today, OpenedAt = time.GetUtcNow() });
        db.Touched.AddRange(from z in zones from s in species select new TouchedRow { Zone = z, Species = s });
        try
        {
            await db.SaveChangesAsync(ct);
        }
        catch (DbUpdateException e) when (db.IsDuplicate(e))
        {
            // Another process opened the same day's epoch; its touches are as good.
            return;
        }

        await briefs.PruneAsync(today, ct);
    }
}
