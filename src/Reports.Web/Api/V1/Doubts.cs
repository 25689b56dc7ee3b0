using System.Collections.Concurrent;
using Microsoft.EntityFrameworkCore;
using Reports.Domain.Coast;
using Reports.Domain.Reporting;
using Reports.Storage;

namespace Reports.Web.Api.V1;

/// <summary>
/// Gathers what the flag rules look at: the landing's bait, the boat's report before, what the coast saw lately. For a set of
/// reports each of them is one question to the database, or none.
/// </summary>
public sealed class Doubts(ReportsDbContext db, RegisterCache registers, CoastProfiles profiles)
{
    /// <summary>The flags of one report.</summary>
    public async Task<IReadOnlyList<ReportFlag>> AboutAsync(CatchReport report, CancellationToken ct) =>
        (await AboutAllAsync([report], ct))(report);

    /// <summary>What raises the flags of each report, asked in the order in which they are stored.</summary>
    public async Task<Func<CatchReport, IReadOnlyList<ReportFlag>>> AboutAllAsync(
        IReadOnlyList<CatchReport> reports,
        CancellationToken ct
    ) =>
        await AboutAllAsync(
            reports,
            await db.BeforeAsync([.. reports.Where(FlagRules.LooksBack).Select(r => r.Key)], ct),
            ct
        );

    /// <summary>The same with what the boats reported before at hand.</summary>
    public async Task<Func<CatchReport, IReadOnlyList<ReportFlag>>> AboutAllAsync(
        IReadOnlyList<CatchReport> reports,
        IReadOnlyList<BoatReport> reportedBefore,
        CancellationToken ct
    )
    {
        var register = await registers.GetAsync(ct);
        if (reports.Any(r => !register.Boats.ContainsKey(r.Boat)))
        {
            register = await registers.FreshAsync(ct);
        }

        var profileOf = new Dictionary<DateOnly, CoastProfile>();
        foreach (var day in reports.Select(r => r.FishedOn).Distinct())
        {
            profileOf[day] = await profiles.GetAsync(day, db, register, ct);
        }

        var baitOf = await BaitAsync(reports.Where(r => r.Bait.Count == 0), register, ct);
        var before = Histories(reports.Where(FlagRules.LooksBack), reportedBefore);
        var ofItself = reports.SelectAbreast(report =>
            KeyValuePair.Create(
                report,
                FlagRules.OfItself(
                    report,
                    register,
                    profileOf[report.FishedOn],
                    report.Bait.Count == 0
                        ? baitOf.GetValueOrDefault((register.Boats[report.Boat].Landing, report.FishedOn), [])
                        : []
                )
            )
        );
        var flagsOf = new Dictionary<CatchReport, IReadOnlyList<ReportFlag>>(
            ofItself,
            ReferenceEqualityComparer.Instance
        );
        return report =>
        {
            IReadOnlyList<ReportFlag> flags =
            [
                .. flagsOf[report],
                .. FlagRules.OfRepeat(
                    report,
                    before.GetValueOrDefault(report.Boat)?.LastOrDefault(m => m.FishedOn < report.FishedOn)
                ),
            ];
            if (
                before.TryGetValue(report.Boat, out var history)
                && ReportStore.StateOf(report, flags) == ReportState.Counted
            )
            {
                var own = ReportMeasures.Of(report);
                history.Insert(history.FindLastIndex(m => Compare(m, own) < 0) + 1, own);
            }

            return flags;
        };
    }

    /// <summary>The order of a boat's reports; its zones by their bytes, as in the database.</summary>
    private static int Compare(ReportMeasures a, ReportMeasures b) =>
        a.FishedOn != b.FishedOn ? a.FishedOn.CompareTo(b.FishedOn)
        : string.CompareOrdinal(a.Zone, b.Zone) is var zones and not 0 ? zones
        : a.Sailing.CompareTo(b.Sailing);

    private async Task<Dictionary<(string Landing, DateOnly Date), IReadOnlyList<BaitMeasure>>> BaitAsync(
        IEnumerable<CatchReport> reports,
        Register register,
        CancellationToken ct
    )
    {
        var places = reports.Select(r => (register.Boats[r.Boat].Landing, r.FishedOn)).Distinct().ToList();
        if (places.Count == 0)
        {
            return [];
        }

        var landings = places.Select(p => p.Landing).Distinct().ToList();
        var days = places.Select(p => p.FishedOn).Distinct().ToList();
        return await db
            .LandingBait.AsNoTracking()
            .Where(b => landings.Contains(b.Landing) && days.Contains(b.Date))
            .ToDictionaryAsync(b => (b.Landing, b.Date), b => EvidenceStore.ParseBait(b.Measures), ct);
    }

    /// <summary>Per boat what it reported before, oldest first; a list (perhaps empty) for each boat that is asked about.</summary>
    private static Dictionary<string, List<ReportMeasures>> Histories(
        IEnumerable<CatchReport> reports,
        IReadOnlyList<BoatReport> before
    )
    {
        var histories = reports.Select(r => r.Boat).Distinct().ToDictionary(b => b, _ => new List<ReportMeasures>());
        foreach (
            var (boat, measures) in before
                .Where(r => histories.ContainsKey(r.Boat))
                .DistinctBy(r => (r.Boat, r.FishedOn))
                .OrderBy(r => r.FishedOn)
                .ToList()
                .SelectAbreast(r => (r.Boat, ReportMeasures.FromJson(r.Measures)))
        )
        {
            histories[boat].Add(measures);
        }

        return histories;
    }
}

/// <summary>
/// What the coast saw in the weeks up to the week of a day, kept for half a minute: only advisory flags read it, so a little age does
/// no harm, and the days of a week share it.
/// </summary>
public sealed class CoastProfiles(TimeProvider time)
{
    private const int MostWeeks = 64;
    private const int Week = 7;

    /// <summary>Advice about what is far outside needs no more: the latest of the weeks, so that a large fleet costs no more than a small one.</summary>
    private const int MostReports = 2000;
    private static readonly TimeSpan Kept = TimeSpan.FromSeconds(30);

    private readonly ConcurrentDictionary<int, (CoastProfile Profile, DateTimeOffset LoadedAt)> weeks = [];

    public async Task<CoastProfile> GetAsync(DateOnly day, ReportsDbContext db, Register register, CancellationToken ct)
    {
        var now = time.GetUtcNow();
        var week = day.DayNumber / Week;
        if (weeks.TryGetValue(week, out var held) && now - held.LoadedAt < Kept)
        {
            return held.Profile;
        }

        if (weeks.Count >= MostWeeks)
        {
            weeks.Clear();
        }

        var first = DateOnly.FromDayNumber(week * Week).AddDays(1 - Reports.Domain.Briefs.Windows.Display);
        var last = DateOnly.FromDayNumber((week * Week) + Week - 1);
        var heads = (
            from r in db.Reports.AsNoTracking()
            where r.State == ReportState.Counted && r.FishedOn >= first && r.FishedOn <= last
            orderby r.FishedOn descending, r.Id descending
            select r
        ).Take(MostReports);
        var latest = await (
            from r in heads
            join v in db.ReportVersions on new { r.Id, r.Version } equals new { Id = v.ReportId, v.Version }
            select v.Measures
        ).ToListAsync(ct);
        // The hooks of reports that name no bait go with their landing's.
        var bait = await db
            .LandingBait.AsNoTracking()
            .Where(b => b.Date >= first && b.Date <= last)
            .ToDictionaryAsync(b => (b.Landing, b.Date), b => EvidenceStore.ParseBait(b.Measures), ct);
        var profile = CoastProfile.Of([
            .. latest
                .Select(ReportMeasures.FromJson)
                .Select(m =>
                    register.Boats.TryGetValue(m.Boat, out var boat)
                        ? m.WithBait(bait.GetValueOrDefault((boat.Landing, m.FishedOn), []))
                        : m
                ),
        ]);
        weeks[week] = (profile, now);
        return profile;
    }
}
