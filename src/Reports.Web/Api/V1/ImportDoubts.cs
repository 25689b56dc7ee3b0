using Microsoft.EntityFrameworkCore;
using Reports.Domain.Briefs;
using Reports.Domain.Coast;
using Reports.Domain.Reporting;
using Reports.Storage;

namespace Reports.Web.Api.V1;

/// <summary>
/// What <see cref="Doubts"/> gathers for one report, gathered for a set of them: a handful of queries for hundreds of reports.
/// </summary>
public sealed class ImportDoubts(ReportsDbContext db, EvidenceStore evidence)
{
    /// <summary>The flags of each report, in the order of the set.</summary>
    public async Task<IReadOnlyList<IReadOnlyList<ReportFlag>>> AboutAsync(
        IReadOnlyList<CatchReport> set,
        Register register,
        CancellationToken ct
    )
    {
        var profiles = await ProfilesAsync(set.Select(r => r.FishedOn), ct);
        var bait = await BaitAsync(set, register, ct);
        var before = await BeforeAsync(set, ct);
        return
        [
            .. set.Select(report =>
                FlagRules.Of(
                    report,
                    register,
                    profiles[report.FishedOn],
                    report.Bait.Count == 0
                    && bait.TryGetValue((register.Boats[report.Boat].Landing, report.FishedOn), out var day)
                        ? day
                        : [],
                    before.GetValueOrDefault(report)
                )
            ),
        ];
    }

    /// <summary>What the coast saw in the weeks up to each day: the days are walked in order, each read once.</summary>
    private async Task<Dictionary<DateOnly, CoastProfile>> ProfilesAsync(
        IEnumerable<DateOnly> days,
        CancellationToken ct
    )
    {
        var profiles = new Dictionary<DateOnly, CoastProfile>();
        var window = new List<ReportMeasures>();
        var read = DateOnly.MinValue;
        foreach (var day in days.Distinct().Order())
        {
            var first =
                day.DayNumber < Reports.Domain.Briefs.Windows.Display
                    ? DateOnly.MinValue
                    : day.AddDays(1 - Reports.Domain.Briefs.Windows.Display);
            window.RemoveAll(m => m.FishedOn < first);
            var next = await evidence.CurrentMeasures(read >= first ? read.AddDays(1) : first, day).ToListAsync(ct);
            window.AddRange(next.Select(ReportMeasures.FromJson));
            profiles[day] = CoastProfile.Of(window.ToList());
            read = day;
        }

        return profiles;
    }

    private async Task<Dictionary<(string Landing, DateOnly Date), IReadOnlyList<BaitMeasure>>> BaitAsync(
        IReadOnlyList<CatchReport> set,
        Register register,
        CancellationToken ct
    )
    {
        var inheriting = set.Where(r => r.Bait.Count == 0).ToList();
        var landings = inheriting.Select(r => register.Boats[r.Boat].Landing).Distinct().ToList();
        var days = inheriting.Select(r => r.FishedOn).Distinct().ToList();
        return await db
            .LandingBait.AsNoTracking()
            .Where(b => landings.Contains(b.Landing) && days.Contains(b.Date))
            .ToDictionaryAsync(b => (b.Landing, b.Date), b => EvidenceStore.ParseBait(b.Measures), ct);
    }

    /// <summary>Of each report the same boat's latest earlier one that counts, stored or of this very set.</summary>
    private async Task<Dictionary<CatchReport, ReportMeasures>> BeforeAsync(
        IReadOnlyList<CatchReport> set,
        CancellationToken ct
    )
    {
        var found = new Dictionary<CatchReport, ReportMeasures>(ReferenceEqualityComparer.Instance);
        foreach (var boat in set.GroupBy(r => r.Boat, StringComparer.Ordinal))
        {
            var (first, last) = (boat.Min(r => r.FishedOn), boat.Max(r => r.FishedOn));
            var counted = db.Reports.AsNoTracking().Where(r => r.Boat == boat.Key && r.State == ReportState.Counted);
            var stored = await (
                from r in counted
                    .Where(r => r.FishedOn < first)
                    .OrderByDescending(r => r.FishedOn)
                    .ThenByDescending(r => r.Id)
                    .Take(1)
                    .Concat(counted.Where(r => r.FishedOn >= first && r.FishedOn < last))
                join v in db.ReportVersions on new { r.Id, r.Version } equals new { Id = v.ReportId, v.Version }
                select new
                {
                    r.FishedOn,
                    r.Id,
                    v.Measures,
                }
            ).ToListAsync(ct);
            var own = boat.Where(r => r.Status == ReportStatus.Final).ToList();
            foreach (var report in boat)
            {
                var earlier = stored
                    .Where(s => s.FishedOn < report.FishedOn)
                    .OrderByDescending(s => s.FishedOn)
                    .ThenByDescending(s => s.Id, StringComparer.Ordinal)
                    .FirstOrDefault();
                var beside = own.Where(r => r.FishedOn < report.FishedOn).MaxBy(r => r.FishedOn);
                if (beside is not null && (earlier is null || beside.FishedOn >= earlier.FishedOn))
                {
                    found[report] = ReportMeasures.Of(beside);
                }
                else if (earlier is not null)
                {
                    found[report] = ReportMeasures.FromJson(earlier.Measures);
                }
            }
        }

        return found;
    }
}
