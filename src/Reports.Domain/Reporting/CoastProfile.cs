using Reports.Domain.Trade;

namespace Reports.Domain.Reporting;

/// <summary>
/// What the coast has reported lately, as far as it helps to doubt a slip: the sizes met per species, and which hooks of a style
/// go with which bait length. Only advisory flags read it, so the statistics never depend on the order in which reports came.
/// </summary>
public sealed class CoastProfile
{
    /// <summary>Species rows needed before "far outside" means anything.</summary>
    public const int LeastLines = 20;

    /// <summary>How many reports' worth the custom of <see cref="HookForBait"/> weighs against those seen.</summary>
    private const double CustomWeight = 4;
    private const int BandMm = 25;

    private readonly Dictionary<string, (int Lowest, int Highest)> sizes;
    private readonly Dictionary<(HookStyle Style, int Band), Dictionary<int, int>> hooks = [];

    private CoastProfile(IReadOnlyCollection<ReportMeasures> reports)
    {
        sizes = reports
            .SelectMany(r => r.Catch)
            .Where(c => c.SmallestGrams is not null && c.LargestGrams is not null)
            .GroupBy(c => c.Species, StringComparer.Ordinal)
            .Where(g => g.Count() >= LeastLines)
            .ToDictionary(
                g => g.Key,
                g =>
                    (
                        Quantile(g.Select(c => c.SmallestGrams!.Value), 0.01),
                        Quantile(g.Select(c => c.LargestGrams!.Value), 0.99)
                    ),
                StringComparer.Ordinal
            );
        foreach (var report in reports)
        {
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

    /// <summary>Smallest and largest fish in grams that the coast has seen of a species; null when it has seen too few.</summary>
    public (int Lowest, int Highest)? Sizes(string species) => sizes.TryGetValue(species, out var range) ? range : null;

    /// <summary>Probability that a hook of this style and step is used with a bait of this length.</summary>
    public double HookProbability(HookStyle style, int step, double baitMm)
    {
        var counts = hooks.GetValueOrDefault((style, (int)(baitMm / BandMm)));
        var seen = counts?.GetValueOrDefault(step) ?? 0;
        var all = counts?.Values.Sum() ?? 0;
        return (seen + (CustomWeight * HookForBait.Probability(step, baitMm))) / (all + CustomWeight);
    }

    /// <summary>Middle of all bait lengths told, in mm.</summary>
    public static double? BaitMm(IEnumerable<(int? Shortest, int? Longest)> bait)
    {
        var ends = bait.SelectMany(b => new[] { b.Shortest, b.Longest }).OfType<int>().ToList();
        return ends.Count > 0 ? ends.Average() : null;
    }

    private static int Quantile(IEnumerable<int> values, double p)
    {
        var sorted = values.Order().ToArray();
        return sorted[(int)Math.Round(p * (sorted.Length - 1))];
    }
}
