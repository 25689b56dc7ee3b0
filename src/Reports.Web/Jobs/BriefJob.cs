using Hangfire;
using Microsoft.EntityFrameworkCore;
using Reports.Domain.Briefs;
using Reports.Domain.Coast;
using Reports.Storage;

namespace Reports.Web.Jobs;

/// <summary>
/// Recomputes the touched briefs of one species: all its zones share one load of the coast's evidence. One at a time per species;
/// safe to run twice, and to be killed anywhere: a touch is deleted in the transaction that publishes its brief.
/// </summary>
public sealed class BriefJob(
    ReportsDbContext db,
    EvidenceStore evidence,
    BriefStore briefs,
    Settings settings,
    TimeProvider time
)
{
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
        var coast = await evidence.LoadAsync(asOf, null, ct);
        var standing = await briefs.OfSpeciesAsync(species, ct);
        var leaning = await db.Zones.Select(z => z.Code).ToListAsync(ct);
        leaning.RemoveAll(z => standing.TryGetValue(z, out var brief) && !brief.Brief.Evidence.Pooled);
        CoastPrior? prior = null;
        foreach (var zone in touched.Select(t => t.Zone).Union(leaning).Order(StringComparer.Ordinal))
        {
            var known = coast.For(zone, species);
            var brief = BriefMaker.Make(known, prior ??= CoastPrior.Of(known));
            var answered = touched.Where(t => t.Zone == zone).Select(t => t.Id).ToList();
            await briefs.PublishAsync(brief, answered, ct);
        }
    }
}
