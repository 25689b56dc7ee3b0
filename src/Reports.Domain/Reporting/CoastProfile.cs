using Reports.Domain.Trade;

namespace Reports.Domain.Reporting;

/// <summary>
/// What the coast has reported lately, as far as it helps to doubt a slip: the sizes met per species, and which hooks of a style
/// go with which bait length. Only advisory flags read it, so the statistics never depend on the order in which reports came.
/// </summary>
public sealed class CoastProfile
{
    /// <summary>Species rows needed before "far outside" means anything.</summary>
    public const int LeastLines = 8;

    /// <summary>How many reports' worth the custom of <see cref="HookForBait"/> weighs against those seen.</summary>
    private const double CustomWeight = 4;
    private const int BandMm = 25;
    private const double BlurSteps = 1;

    private readonly Dictionary<string, SizesSeen> sizes;
    private readonly Dictionary<(HookStyle Style, int Band), Dictionary<int, int>> hooks = [];
    private readonly Dictionary<int, double> gaps = [];
    private double gapsInAll;

    private CoastProfile(IReadOnlyCollection<ReportMeasures> reports)
    {
        sizes = reports
            .SelectMany(r => r.Catch, (r, c) => (Report: r, Line: c))
            .Where(x => x.Line is { SmallestGrams: not null, LargestGrams: not null })
            .GroupBy(x => x.Line.Species, StringComparer.Ordinal)
            .Where(g => g.Count() >= LeastLines)
            .ToDictionary(g => g.Key, SizesSeen.Of, StringComparer.Ordinal);
        foreach (var report in reports)
        {
            AddGaps(report);
            if (BaitMm(report.Bait.Select(b => (b.ShortestMm, b.LongestMm))) is not { } bait)
            {
                continue;
            }

            foreach (var rig in report.Rigs.Where(r => r is { HookStyle: not null, HookStep: not null }))
            {
                var key = (rig.HookStyle!.Value, (int)(bait / BandMm));
                var counts = hooks.TryGetValue(key, out var found) ? found : hooks[key] = [];
                counts[rig.HookStep!.Value] = counts.GetValueOrDefault(rig.HookStep.Value) + 1;
            }
        }
    }

    /// <summary>A coast that has reported nothing yet: custom alone speaks.</summary>
    public static CoastProfile Empty { get; } = new([]);

    public static CoastProfile Of(IReadOnlyCollection<ReportMeasures> reports) => new(reports);

    /// <summary>The sizes that the coast has seen of a species; null when it has seen too few.</summary>
    public SizesSeen? Sizes(string species) => sizes.GetValueOrDefault(species);

    /// <summary>
    /// How much likelier one hook of a style is than another on a boat trip: with its bait, where that is told, and beside the other
    /// hooks of that style in the report, where there are any.
    /// </summary>
    public double HookLikelierThan(HookStyle style, int step, int than, double? baitMm, IReadOnlyList<int> beside)
    {
        var log = baitMm is { } mm ? Math.Log(WithBait(style, step, mm) / WithBait(style, than, mm)) : 0;
        if (beside.Count > 0)
        {
            // The hooks of a trip are not independent of one another: all together count as one.
            log += beside.Average(other => Math.Log(Gap(step - other) / Gap(than - other)));
        }

        return Math.Exp(log);
    }

    private double WithBait(HookStyle style, int step, double baitMm)
    {
        var counts = hooks.GetValueOrDefault((style, (int)(baitMm / BandMm)));
        var seen = counts?.Sum(c => c.Value * Blur(step - c.Key)) ?? 0;
        var all = counts?.Values.Sum() ?? 0;
        return (seen + CustomWeight * HookForBait.Probability(step, baitMm)) / (all + CustomWeight);
    }

    /// <summary>Probability that a boat trip's hooks of a style lie so many steps apart.</summary>
    private double Gap(int steps)
    {
        var seen = gaps.GetValueOrDefault(steps);
        return (seen + CustomWeight * Normal(steps, HookForBait.SpreadSteps)) / (gapsInAll + CustomWeight);
    }

    private void AddGaps(ReportMeasures report)
    {
        foreach (var style in report.Rigs.Where(r => r.HookStep is not null).GroupBy(r => r.HookStyle))
        {
            var steps = style.Select(r => r.HookStep!.Value).ToList();
            var worth = 1.0 / Math.Max(1, steps.Count * (steps.Count - 1));
            for (var i = 0; i < steps.Count; i++)
            {
                for (var j = 0; j < steps.Count; j++)
                {
                    if (i != j)
                    {
                        gaps[steps[i] - steps[j]] = gaps.GetValueOrDefault(steps[i] - steps[j]) + worth;
                        gapsInAll += worth;
                    }
                }
            }
        }
    }

    /// <summary>Hooks are counted in whole steps, and a neighbouring size says something of a size that few told.</summary>
    private static double Blur(int steps) => Normal(steps, BlurSteps);

    private static double Normal(double x, double spread) =>
        Math.Exp(-x * x / (2 * spread * spread)) / (spread * Math.Sqrt(2 * Math.PI));

    /// <summary>Middle of all bait lengths told, in mm.</summary>
    public static double? BaitMm(IEnumerable<(int? Shortest, int? Longest)> bait)
    {
        var ends = bait.SelectMany(b => new[] { b.Shortest, b.Longest }).OfType<int>().ToList();
        return ends.Count > 0 ? ends.Average() : null;
    }
}
