using Hangfire;
using Microsoft.EntityFrameworkCore;
using Reports.Domain.Briefs;
using Reports.Domain.Coast;
using Reports.Storage;

namespace Reports.Web.Jobs;

/// <summary>
/// Recomputes the touched briefs of one species, and first, once a day, what the coast tells of it: that part stands until the next
/// day, so that a report moves the brief of its own zone only. One at a time per species; safe to run twice, and to be killed
/// anywhere: a touch is deleted in the transaction that publishes its brief.
/// </summary>
public sealed class BriefJob(
    ReportsDbContext db,
    EvidenceStore evidence,
    CoastStore coasts,
    BriefStore briefs,
    IBackgroundJobClient jobs,
    Settings settings,
    TimeProvider time
)
{
    /// <summary>A coast that has grown or shrunk by this much since it was opened is opened again at once.</summary>
    private const double MuchGrowth = 0.25;

    /// <summary>
    /// What came late for an earlier day waits until the coast was open for so long: opening it recomputes every zone, and shall
    /// take a small part of a processor.
    /// </summary>
    private static readonly TimeSpan ForEachZone = TimeSpan.FromSeconds(3);

    [AutomaticRetry(Attempts = 3, DelaysInSeconds = [1, 5, 30])]
    public async Task ExecuteAsync(string species, CancellationToken ct)
    {
        await using var alone = await db.AloneAsync($"briefs of {species}", ct);
        var touched = await db.Touched.AsNoTracking().Where(t => t.Species == species).ToListAsync(ct);
        if (touched.Count == 0)
        {
            return;
        }

        // Read before the evidence: a report that arrives in between is computed, and its touch makes for one more, idle run.
        var asOf = Landing.DayIn(settings.TimeZone, time.GetUtcNow());
        var open = await coasts.FindAsync(species, asOf, ct);
        CoastEvidence known;
        if (open is null || await IsDueAsync(open, touched, ct))
        {
            var reports = await evidence.CountAsync(asOf, ct);
            known = await evidence.LoadAsync(asOf, null, species, null, ct);
            var prior = CoastPrior.Of(known.Reports, species, asOf);
            touched = await coasts.OpenAsync(species, prior, reports, [.. touched.Select(t => t.Id)], ct);
            open = new(prior, reports, time.GetUtcNow());
        }
        else
        {
            known = await evidence.LoadAsync(asOf, null, species, [.. ZonesOf(touched)], ct);
        }

        foreach (var zone in ZonesOf(touched))
        {
            var answered = touched.Where(t => t.Zone == zone).ToList();
            await briefs.PublishAsync(
                BriefMaker.Make(known.For(zone, species), open.Prior),
                [.. answered.Select(t => t.Id)],
                [.. answered.Where(t => IsLate(t, open.Prior)).Select(t => t.Id)],
                ct
            );
        }

        // The first that waits sets the clock for all that come after it.
        if (touched.Any(t => IsLate(t, open.Prior)) && !touched.Exists(t => t.Zone == TouchedRow.Coast))
        {
            var wait = open.OpenedAt + await PatienceAsync(ct) - time.GetUtcNow();
            jobs.Schedule<BriefJob>(job => job.ExecuteAsync(species, CancellationToken.None), wait);
        }
    }

    private static IEnumerable<string> ZonesOf(IEnumerable<TouchedRow> touched) =>
        touched.Select(t => t.Zone).Where(z => z != TouchedRow.Coast).Distinct().Order(StringComparer.Ordinal);

    /// <summary>It changes what the coast's part was made from.</summary>
    private static bool IsLate(TouchedRow touch, CoastPrior prior) => touch.FishedOn is { } day && prior.RestsOn(day);

    private async Task<bool> IsDueAsync(OpenCoast open, List<TouchedRow> touched, CancellationToken ct) =>
        touched.Exists(t => IsLate(t, open.Prior))
        && (
            open.Prior.IsYoung
            || time.GetUtcNow() >= open.OpenedAt + await PatienceAsync(ct)
            || Math.Abs(await evidence.CountAsync(open.Prior.AsOf, ct) - open.Reports) > MuchGrowth * open.Reports
        );

    private async Task<TimeSpan> PatienceAsync(CancellationToken ct) => ForEachZone * await db.Zones.CountAsync(ct);
}
