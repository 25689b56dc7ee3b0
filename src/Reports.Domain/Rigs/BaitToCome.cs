using Reports.Domain.Briefs;
using Reports.Domain.Measures;
using Reports.Statistics;

namespace Reports.Domain.Rigs;

/// <summary>
/// Bait of the boat trips to come: that of the zone's recent ones, whose boats take it from several docks and differ by more than
/// days do, and as much longer or shorter as bait grows or shrinks here within days.
/// </summary>
internal sealed class BaitToCome
{
    private const double HalfInchMm = (double)Length.MillimetresPerInch / 2;

    /// <summary>Bait that so few trips have is not told of.</summary>
    private const double Rare = 0.02;

    private const double Golden = 0.6180339887498949;

    /// <summary>Baits from the shortest to the longest, each with the weight of all up to it.</summary>
    private readonly List<BaitAsk> told = [];
    private readonly List<double> below = [];

    /// <param name="kind">The bait of most trips, by FAO 3-alpha code.</param>
    /// <param name="usualMm">Its length where no trip told its own.</param>
    /// <param name="drift">As <see cref="Drift"/>.</param>
    public BaitToCome(IReadOnlyList<Sighting> own, string? kind, double usualMm, double drift)
    {
        var usual = BaitAsk.Of(kind, usualMm);
        var recent = own.Where(s => s.AgeDays < Windows.Display)
            .Select(s => (Ask: BaitOfDays.Own(s), Weight: s.Weight(HalfLives.BaitDays)))
            .Where(b => b.Ask is not null)
            .Select(b => (Ask: b.Ask!.Value, b.Weight))
            .DefaultIfEmpty((Ask: usual, Weight: 1));
        var sum = 0.0;
        foreach (
            var (ask, weight) in recent
                .SelectMany(
                    _ => Draws.Nodes,
                    (b, node) => (Ask: b.Ask.Longer(drift * node.Node), Weight: b.Weight * node.Weight)
                )
                .OrderBy(b => b.Ask.LogLength)
        )
        {
            told.Add(ask);
            below.Add(sum += weight);
        }

        var (first, last) = (HalfInches(At(Rare)), HalfInches(At(1 - Rare)));
        Lengths =
        [
            .. Enumerable
                .Range(first, last - first + 1)
                .Select(i =>
                    (BaitAsk.Of(kind, (i + 0.5) * HalfInchMm, usualMm), (int)Math.Round((i + 1) * HalfInchMm))
                ),
        ];
    }

    /// <summary>
    /// By how much (standard deviation of ln length) the bait of a day differs from what the days up to <see cref="RigPriors.DaysAhead"/>
    /// before it would have led one to bring, on this coast lately.
    /// </summary>
    public static double Drift(IReadOnlyList<Sighting> coast) =>
        FadingMean.SpreadOfMisses(
            [
                .. coast
                    .Where(s => s.AgeDays is >= 0 and < RigPriors.SlopeDays)
                    .SelectMany(s => BaitOfDays.Lengths(s), (s, b) => (s.AgeDays, Log: Math.Log(b.Mm)))
                    .GroupBy(b => b.AgeDays, b => b.Log)
                    .Select(g => new ValuesOfDay(g.Key, [.. g])),
            ],
            RigPriors.DaysAhead,
            HalfLives.BaitDays,
            RigPriors.BaitDrift,
            RigPriors.BaitDriftWorth
        );

    /// <summary>Baits from the shortest to the longest, each as often met.</summary>
    public IEnumerable<BaitAsk> Spread(int count) => Enumerable.Range(0, count).Select(i => At((i + 0.5) / count));

    /// <summary>
    /// Baits of the usual kind by half inches, from the shortest that may come to the longest, each with its upper end in millimetres.
    /// </summary>
    public IReadOnlyList<(BaitAsk Ask, int UpToMm)> Lengths { get; }

    /// <summary>
    /// The i-th, by its place in <see cref="Lengths"/>, of a sequence that takes each bait as often as it is met (fractional parts of i by the
    /// golden ratio).
    /// </summary>
    public int Of(int i) =>
        Math.Clamp(HalfInches(At((i + 0.5) * Golden % 1)) - HalfInches(At(Rare)), 0, Lengths.Count - 1);

    private static int HalfInches(BaitAsk ask) =>
        (int)Math.Floor(RigPriors.UsualBaitMm * Math.Exp(ask.LogLength) / HalfInchMm);

    private BaitAsk At(double share)
    {
        var at = below.BinarySearch(share * below[^1]);
        return told[at < 0 ? ~at : at];
    }
}
