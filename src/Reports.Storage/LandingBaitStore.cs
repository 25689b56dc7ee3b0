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

    /// <summary>Declares the bait of a day; the species whose briefs are now older than their evidence.</summary>
    public async Task<IReadOnlyList<string>> PutAsync(
        string landing,
        DateOnly date,
        string body,
        IReadOnlyList<BaitLine> bait,
        CancellationToken ct
    )
    {
        var measures = MeasuresOf(bait);
        await using var transaction = await db.Database.BeginTransactionAsync(ct);

        // One statement that both databases know, so that two doors declaring at once can't trip over each other.
        await db.Database.ExecuteSqlAsync(
            $"""
            INSERT INTO landing_bait ("Landing", "Date", "Body", "Measures") VALUES ({landing}, {date}, {body}, {measures})
            ON CONFLICT ("Landing", "Date") DO UPDATE SET "Body" = excluded."Body", "Measures" = excluded."Measures"
            """,
            ct
        );
        var inheriting = await (
            from r in db.Reports
            where r.FishedOn == date && r.State == ReportState.Counted
            join b in db.Boats on r.Boat equals b.Code
            where b.Landing == landing
            join v in db.ReportVersions on new { Id = r.Id, r.Version } equals new { Id = v.ReportId, v.Version }
            select v.Measures
        ).ToListAsync(ct);
        var touched = inheriting
            .Select(ReportMeasures.FromJson)
            .Where(m => m.Bait.Count == 0)
            .SelectMany(m => m.Catch.Select(c => new TouchedRow { Zone = m.Zone, Species = c.Species }))
            .DistinctBy(t => (t.Zone, t.Species))
            .ToList();
        db.Touched.AddRange(touched);
        await db.SaveChangesAsync(ct);
        await transaction.CommitAsync(ct);
        return [.. touched.Select(t => t.Species).Distinct()];
    }
}
