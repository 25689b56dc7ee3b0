using System.Text.Json;
using System.Text.Json.Serialization;
using Microsoft.EntityFrameworkCore;
using Reports.Domain.Reporting;

namespace Reports.Storage;

/// <summary>A landing's bait of the day. Changing it touches the briefs of every report that inherits it.</summary>
public sealed class LandingBaitStore(ReportsDbContext db)
{
    internal static readonly JsonSerializerOptions Json = new(JsonSerializerDefaults.Web)
    {
        Converters = { new JsonStringEnumConverter(JsonNamingPolicy.KebabCaseLower) },
        DefaultIgnoreCondition = JsonIgnoreCondition.WhenWritingNull,
    };

    public Task<LandingBaitRow?> FindAsync(string landing, DateOnly date, CancellationToken ct) =>
        db.LandingBait.AsNoTracking().FirstOrDefaultAsync(b => b.Landing == landing && b.Date == date, ct);

    /// <summary>Bait in whole millimetres, as it is stored.</summary>
    public static string MeasuresOf(IEnumerable<BaitLine> bait) =>
        JsonSerializer.Serialize(bait.Select(BaitMeasure.Of), Json);

    /// <summary>What stands of each of these days; days for which nothing was declared are absent.</summary>
    public async Task<IReadOnlyDictionary<LandingDay, LandingBaitRow>> StandingAsync(
        IReadOnlyCollection<LandingDay> days,
        CancellationToken ct
    )
    {
        var asked = days.ToHashSet();
        var landings = days.Select(d => d.Landing).Distinct().ToList();
        var dates = days.Select(d => d.Date).Distinct().ToList();
        var found = await db
            .LandingBait.AsNoTracking()
            .Where(b => landings.Contains(b.Landing) && dates.Contains(b.Date))
            .ToListAsync(ct);
        return found.Where(b => asked.Contains(b.Day)).ToDictionary(b => b.Day);
    }

    /// <summary>Declares the bait of a day.</summary>
    public Task<Imported> PutAsync(LandingBait bait, CancellationToken ct) =>
        ImportAsync(() => new IReadOnlyList<LandingBait>[] { [bait] }.ToAsyncEnumerable(), ct);

    /// <summary>Declares the bait of many days in sets, as one transaction: all of them or none.</summary>
    /// <param name="sets">Draws the sets, inside the transaction.</param>
    public Task<Imported> ImportAsync(Func<IAsyncEnumerable<IReadOnlyList<LandingBait>>> sets, CancellationToken ct) =>
        db.AllOrNoneAsync(
            async () =>
            {
                var touched = new HashSet<Touch>();
                var (stored, earliest) = (0, (DateOnly?)null);
                await foreach (var set in sets().WithCancellation(ct))
                {
                    // In one order, so that two doors declaring the same days wait for each other in turn.
                    foreach (
                        var bait in set.OrderBy(b => b.Day.Date).ThenBy(b => b.Day.Landing, StringComparer.Ordinal)
                    )
                    {
                        await DeclareAsync(bait, ct);
                        earliest = earliest is { } day && day < bait.Day.Date ? day : bait.Day.Date;
                    }

                    touched.UnionWith(await InheritingAsync([.. set.Select(b => b.Day)], ct));
                    stored += set.Count;
                }

                db.Touched.AddRange(touched.Select(TouchedRow.Of));
                await db.SaveChangesAsync(ct);
                return new Imported(stored, earliest, [.. touched.Select(t => t.Species).Distinct()]);
            },
            ct
        );

    // One statement that both databases know, so that two doors declaring at once can't trip over each other.
    private async Task DeclareAsync(LandingBait bait, CancellationToken ct)
    {
        var (landing, date) = bait.Day;
        var (body, measures) = (bait.Bait.ToJson(), MeasuresOf(bait.Bait.Bait));
        await db.Database.ExecuteSqlAsync(
            $"""
            INSERT INTO landing_bait ("Landing", "Date", "Body", "Measures") VALUES ({landing}, {date}, {body}, {measures})
            ON CONFLICT ("Landing", "Date") DO UPDATE SET "Body" = excluded."Body", "Measures" = excluded."Measures"
            """,
            ct
        );
    }

    /// <summary>What the counted reports that inherit the bait of these days are about.</summary>
    private async Task<HashSet<Touch>> InheritingAsync(HashSet<LandingDay> days, CancellationToken ct)
    {
        var landings = days.Select(d => d.Landing).Distinct().ToList();
        var dates = days.Select(d => d.Date).Distinct().ToList();
        var reports =
            from r in db.Reports
            where dates.Contains(r.FishedOn) && r.State == ReportState.Counted
            join b in db.Boats on r.Boat equals b.Code
            where landings.Contains(b.Landing)
            join v in db.ReportVersions on new { Id = r.Id, r.Version } equals new { Id = v.ReportId, v.Version }
            select new
            {
                b.Landing,
                r.FishedOn,
                v.Measures,
            };
        var inheriting = new HashSet<Touch>();
        await foreach (var report in reports.AsAsyncEnumerable().WithCancellation(ct))
        {
            if (
                days.Contains(new(report.Landing, report.FishedOn))
                && ReportMeasures.FromJson(report.Measures) is { Bait.Count: 0 } measures
            )
            {
                inheriting.UnionWith(
                    measures.Catch.Select(c => new Touch(measures.Zone, c.Species, measures.FishedOn))
                );
            }
        }

        return inheriting;
    }
}
