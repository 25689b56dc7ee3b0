using System.Text.Json;
using Microsoft.EntityFrameworkCore;
using Reports.Domain.Briefs;

namespace Reports.Storage;

/// <summary>What the coast tells of a species today, as it was opened.</summary>
/// <param name="Reports">Counted reports of the coast at that time, whatever their species.</param>
public sealed record OpenCoast(CoastPrior Prior, int Reports, DateTimeOffset OpenedAt);

/// <summary>The coast's part of the briefs: one row for each species, of the day for which it was opened last.</summary>
public sealed class CoastStore(ReportsDbContext db, TimeProvider time)
{
    /// <summary>The coast of a species if it is open for this day, and by this program: another's row may lack what this one needs.</summary>
    public async Task<OpenCoast?> FindAsync(string species, DateOnly day, CancellationToken ct)
    {
        var row = await db.Coasts.AsNoTracking().FirstOrDefaultAsync(c => c.Species == species && c.Day == day, ct);
        try
        {
            return row is null ? null : new(CoastPrior.FromJson(row.Body), row.Reports, row.OpenedAt);
        }
        catch (JsonException)
        {
            return null;
        }
    }

    /// <summary>
    /// Opens a species' coast: every brief of the species leans on it from now on, so all of them are touched, in the same
    /// transaction. The touches that led to it are answered.
    /// </summary>
    /// <returns>The new touches.</returns>
    public async Task<List<TouchedRow>> OpenAsync(
        string species,
        CoastPrior prior,
        int reports,
        IReadOnlyCollection<long> answered,
        CancellationToken ct
    )
    {
        db.ChangeTracker.Clear();
        await using var transaction = await db.Database.BeginTransactionAsync(ct);
        var row = await db.Coasts.FindAsync([species], ct);
        if (row is null)
        {
            db.Coasts.Add(
                new CoastRow
                {
                    Species = species,
                    Day = prior.AsOf,
                    OpenedAt = time.GetUtcNow(),
                    Reports = reports,
                    Body = prior.ToJson(),
                }
            );
        }
        else
        {
            (row.Day, row.OpenedAt, row.Reports, row.Body) = (prior.AsOf, time.GetUtcNow(), reports, prior.ToJson());
        }

        var zones = await db.Zones.Select(z => z.Code).OrderBy(z => z).ToListAsync(ct);
        var touched = zones.ConvertAll(z => new TouchedRow { Zone = z, Species = species });
        db.Touched.AddRange(touched);
        await db.SaveChangesAsync(ct);
        await db.Touched.Where(t => answered.Contains(t.Id)).ExecuteDeleteAsync(ct);
        await transaction.CommitAsync(ct);
        return touched;
    }
}
