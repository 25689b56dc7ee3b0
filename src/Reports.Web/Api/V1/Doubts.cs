using System.Collections.Concurrent;
using Microsoft.EntityFrameworkCore;
using Reports.Domain.Briefs;
using Reports.Domain.Coast;
using Reports.Domain.Reporting;
using Reports.Storage;

namespace Reports.Web.Api.V1;

/// <summary>Gathers what the flag rules look at: the landing's bait, the boat's report before, what the coast saw lately.</summary>
public sealed class Doubts(
    ReportsDbContext db,
    EvidenceStore evidence,
    LandingBaitStore landingBait,
    CoastProfiles profiles
)
{
    public async Task<IReadOnlyList<ReportFlag>> AboutAsync(CatchReport report, Register register, CancellationToken ct)
    {
        var profile = await profiles.GetAsync(
            report.FishedOn,
            async () =>
                CoastProfile.Of([
                    .. (
                        await evidence
                            .CurrentMeasures(
                                report.FishedOn.AddDays(1 - Reports.Domain.Briefs.Windows.Display),
                                report.FishedOn
                            )
                            .ToListAsync(ct)
                    ).Select(ReportMeasures.FromJson),
                ])
        );
        var bait =
            report.Bait.Count > 0
                ? []
                : await landingBait.MeasuresAsync(register.Boats[report.Boat].Landing, report.FishedOn, ct);
        var before = await (
            from r in db.Reports.AsNoTracking()
            where r.Boat == report.Boat && r.FishedOn < report.FishedOn && r.State == ReportState.Counted
            orderby r.FishedOn descending, r.Id descending
            join v in db.ReportVersions on new { r.Id, r.Version } equals new { Id = v.ReportId, v.Version }
            select v.Measures
        ).FirstOrDefaultAsync(ct);
        return FlagRules.Of(report, register, profile, bait, before is null ? null : ReportMeasures.FromJson(before));
    }
}

/// <summary>
/// What the coast saw in the weeks up to a day, kept for half a minute: only advisory flags read it, so a little age does no harm.
/// </summary>
public sealed class CoastProfiles(TimeProvider time)
{
    private const int MostDays = 64;
    private static readonly TimeSpan Kept = TimeSpan.FromSeconds(30);

    private readonly ConcurrentDictionary<DateOnly, (CoastProfile Profile, DateTimeOffset LoadedAt)> days = [];

    public async Task<CoastProfile> GetAsync(DateOnly day, Func<Task<CoastProfile>> load)
    {
        var now = time.GetUtcNow();
        if (days.TryGetValue(day, out var held) && now - held.LoadedAt < Kept)
        {
            return held.Profile;
        }

        if (days.Count >= MostDays)
        {
            days.Clear();
        }

        var profile = await load();
        days[day] = (profile, now);
        return profile;
    }
}
