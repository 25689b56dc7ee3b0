namespace Reports.Domain.Reporting;

/// <summary>
/// What the coast has reported lately, as far as it helps to doubt a slip: the sizes and the catches per species, and which hooks of a style
/// go with which bait length. Only advisory flags read it, so the statistics never depend on the order in which reports came.
/// </summary>
public sealed class CoastProfile
{
    /// <summary>Species rows needed before "far outside" means anything.</summary>
    public const int LeastLines = 8;

    private readonly Dictionary<string, SizesSeen> sizes;
    private readonly Dictionary<string, CatchesSeen?> catches;

    private CoastProfile(IReadOnlyCollection<ReportMeasures> reports)
    {
        Hooks = HooksSeen.Of(reports);
        var told = reports.SelectMany(r => r.Catch, (r, c) => (Report: r, Line: c)).ToList();
        catches = told.GroupBy(x => x.Line.Species, StringComparer.Ordinal)
            .ToDictionary(g => g.Key, CatchesSeen.Of, StringComparer.Ordinal);
        sizes = told.Where(x => x.Line is { SmallestGrams: not null, LargestGrams: not null })
            .GroupBy(x => x.Line.Species, StringComparer.Ordinal)
            .Where(g => g.Count() >= LeastLines)
            .ToDictionary(g => g.Key, SizesSeen.Of, StringComparer.Ordinal);
    }

    /// <summary>A coast that has reported nothing yet: custom alone speaks.</summary>
    public static CoastProfile Empty { get; } = new([]);

    public HooksSeen Hooks { get; }

    public static CoastProfile Of(IReadOnlyCollection<ReportMeasures> reports) => new(reports);

    /// <summary>The sizes that the coast has seen of a species; null when it has seen too few.</summary>
    public SizesSeen? Sizes(string species) => sizes.GetValueOrDefault(species);

    /// <summary>The catches that the coast has told of a species; null when they are too few.</summary>
    public CatchesSeen? Catches(string species) => catches.GetValueOrDefault(species);

    internal static double? BaitMm(ReportMeasures report) =>
        BaitMm(report.Bait.Select(b => (b.ShortestMm, b.LongestMm)));

    /// <summary>Middle of all bait lengths told, in mm.</summary>
    public static double? BaitMm(IEnumerable<(int? Shortest, int? Longest)> bait)
    {
        var ends = bait.SelectMany(b => new[] { b.Shortest, b.Longest }).OfType<int>().ToList();
        return ends.Count > 0 ? ends.Average() : null;
    }
}
