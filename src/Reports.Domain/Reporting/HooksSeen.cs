using Reports.Domain.Measures;
using Reports.Domain.Trade;

namespace Reports.Domain.Reporting;

/// <summary>A hook as it was fished: sizes compare within a style, and bait decides the hook only where bait is fished.</summary>
public readonly record struct HookFished(Technique Technique, HookStyle Style, int Step)
{
    internal (Technique? Lure, HookStyle Style) Kind => (Rigs.Bite.IsBait(Technique) ? null : Technique, Style);
}

/// <summary>
/// The hooks that a coast's boats told of, as far as they help to doubt one: which size of a kind goes with which bait, and how far apart
/// the sizes of one boat trip lie.
/// </summary>
public sealed class HooksSeen
{
    /// <summary>How many reports' worth the custom of <see cref="HookForBait"/> weighs against those seen.</summary>
    private const double CustomWeight = 4;
    private const int BandMm = 25;

    /// <summary>Counts are of whole steps; a size says something of its neighbours.</summary>
    private const double BlurSteps = 1;

    /// <summary>
    /// A crew whose hooks vary looks like one that slips: on no coast more than this share of the reports is asked about (judgement;
    /// docs/method/flags.md). Fewer reports than <see cref="LeastReports"/> don't tell what is usual.
    /// </summary>
    private const double MostAsked = 0.005;
    private const int LeastReports = 50;
    private const int WidestGap = 60;

    private readonly Dictionary<((Technique?, HookStyle) Kind, int Band), Dictionary<int, double>> withBait = [];
    private readonly double[] logGaps;
    private readonly Lazy<double?> unusual;

    private HooksSeen(IReadOnlyList<ReportMeasures> reports)
    {
        var (gaps, allGaps) = (new Dictionary<int, double>(), 0.0);
        foreach (var report in reports)
        {
            var hooks = Of(report);
            var bait = CoastProfile.BaitMm(report);
            foreach (var hook in hooks.Where(h => h.Kind.Lure is not null || bait is not null))
            {
                var place = Place(hook.Kind, bait);
                Add(withBait.TryGetValue(place, out var known) ? known : withBait[place] = [], hook.Step, 1);
            }

            foreach (var kind in hooks.GroupBy(h => h.Kind).Select(g => g.ToList()).Where(g => g.Count > 1))
            {
                var worth = 1.0 / (kind.Count * (kind.Count - 1));
                for (var i = 0; i < kind.Count; i++)
                {
                    for (var j = 0; j < kind.Count; j++)
                    {
                        if (i != j)
                        {
                            Add(gaps, kind[i].Step - kind[j].Step, worth);
                            allGaps += worth;
                        }
                    }
                }
            }
        }

        logGaps =
        [
            .. Enumerable
                .Range(-WidestGap, 2 * WidestGap + 1)
                .Select(steps =>
                    Math.Log(
                        (gaps.GetValueOrDefault(steps) + CustomWeight * Normal(steps, HookForBait.SpreadSteps))
                            / (allGaps + CustomWeight)
                    )
                ),
        ];
        unusual = new(() => Unusual(reports));
    }

    public static HooksSeen Of(IReadOnlyCollection<ReportMeasures> reports) =>
        new([
            .. reports
                .OrderByDescending(r => r.FishedOn)
                .ThenBy(r => r.Zone, StringComparer.Ordinal)
                .ThenBy(r => r.Boat, StringComparer.Ordinal)
                .ThenBy(r => r.Sailing),
        ]);

    /// <summary>How many times likelier a slip must be than what was told before it is more than this coast's own variety; null: too few reports.</summary>
    public double? BeyondVariety => unusual.Value;

    /// <summary>
    /// How many times likelier a step is than the hook told: with the bait, where that is told, and beside the other hooks of its kind
    /// in the report, where there are any.
    /// </summary>
    public double Likelier(int step, HookFished told, double? baitMm, IEnumerable<HookFished> beside)
    {
        var log = 0.0;
        if (told.Kind.Lure is not null || baitMm is not null)
        {
            log += Math.Log(WithBait(told.Kind, step, baitMm) / WithBait(told.Kind, told.Step, baitMm));
        }

        var others = beside.Where(h => h.Kind == told.Kind).Select(h => h.Step).ToList();
        if (others.Count > 0)
        {
            // The hooks of a trip depend on one another: all together count as one.
            log += others.Average(other => LogGap(step - other) - LogGap(told.Step - other));
        }

        return Math.Exp(log);
    }

    private double WithBait((Technique? Lure, HookStyle) kind, int step, double? baitMm)
    {
        var counts = withBait.GetValueOrDefault(Place(kind, baitMm));
        var seen = counts?.Sum(c => c.Value * Normal(step - c.Key, BlurSteps)) ?? 0;
        // No custom says which hook goes with a lure.
        var custom =
            kind.Lure is null && baitMm is { } mm ? HookForBait.Probability(step, mm) : 1.0 / HookSize.LargestPlain;
        return (seen + CustomWeight * custom) / ((counts?.Values.Sum() ?? 0) + CustomWeight);
    }

    private double LogGap(int steps) => logGaps[Math.Clamp(steps, -WidestGap, WidestGap) + WidestGap];

    /// <summary>What all but few of the coast's latest third stay below, by what the reports before them told.</summary>
    private static double? Unusual(IReadOnlyList<ReportMeasures> latestFirst)
    {
        var latest = latestFirst.Take(latestFirst.Count / 3).Where(r => Of(r).Count > 0).ToList();
        if (latest.Count < LeastReports)
        {
            return null;
        }

        var before = new HooksSeen([.. latestFirst.Skip(latestFirst.Count / 3)]);
        var most = latest
            .Select(report =>
            {
                var hooks = Of(report);
                var bait = CoastProfile.BaitMm(report);
                return hooks
                    .Select(
                        (h, i) =>
                            HookSize.FromStep(h.Step).AughtSlip is { } other
                                ? before.Likelier(other.Step, h, bait, hooks.Where((_, j) => j != i))
                                : 0
                    )
                    .Max();
            })
            .Order()
            .ToList();
        return most[(int)((1 - MostAsked) * (most.Count - 1))];
    }

    private static List<HookFished> Of(ReportMeasures report) =>
        [
            .. report
                .Rigs.Where(r => r is { HookStyle: not null, HookStep: not null })
                .Select(r => new HookFished(r.Technique, r.HookStyle!.Value, r.HookStep!.Value)),
        ];

    private static ((Technique?, HookStyle) Kind, int Band) Place((Technique? Lure, HookStyle) kind, double? baitMm) =>
        (kind, kind.Lure is null ? (int)(baitMm!.Value / BandMm) : 0);

    private static void Add(Dictionary<int, double> to, int step, double worth) =>
        to[step] = to.GetValueOrDefault(step) + worth;

    private static double Normal(double x, double spread) =>
        Math.Exp(-x * x / (2 * spread * spread)) / (spread * Math.Sqrt(2 * Math.PI));
}
