using Reports.Domain.Measures;
using Reports.Statistics;

namespace Reports.Domain.Briefs;

/// <summary>
/// What the fish weigh. The quoted ends of a report are the very fish that crews remember, so they are exact, and only the fish
/// between them are known to an interval: treating all as inside the range loses the heavy ones.
/// </summary>
internal static class Sizes
{
    private static readonly int[] RoundLb = [20, 30, 40, 60, 80, 100, 150, 200];
    private static readonly int[] RoundKg = [10, 15, 20, 30, 40, 50, 75, 100];

    /// <summary>Widths of a bar, in lb or kg, and the most bars that a plot of a phone's width can carry.</summary>
    private static readonly double[] BarWidths = [0.5, 1, 2, 5, 10, 20, 25, 50, 100, 200];
    private const int MostBars = 48;

    /// <summary>
    /// Two grades are parted by a valley: between them fewer than this part of the fish of the lower hill. On bars of equal
    /// width in the logarithm, for fish of one school differ by a factor, not by pounds (common practice, no source).
    /// </summary>
    private const double ValleyDepth = 0.35;
    private const double LogBar = 0.2;

    /// <summary>Boats mostly stop on schools of one grade: no more reports than this run across the valley.</summary>
    private const double MostMixed = 0.35;

    /// <summary>A grade holds at least this share of the fish.</summary>
    private const double LeastGradeShare = 0.02;
    private const int MostGrades = 3;

    public static SizePicture? Make(Sample sample, Missing missing)
    {
        var lines = sample
            .Display.Where(s => SizeReport.Told(s.Line))
            .Select(s => SizeReport.Of(s, sample.HalfLives.SizeDays))
            .ToList();
        if (lines.Count == 0)
        {
            missing.Add("/size", "no-sizes", "No report in the last four weeks told how big the fish were.");
            return null;
        }

        if (Sample.Boats(lines.Select(l => l.Sighting)) < Confidentiality.FewestBoats)
        {
            missing.TooFewBoats("/size", "told how big the fish were");
            return null;
        }

        var sizes = SizeDistribution.Of(lines);
        // A boat trip that caught nothing met no size at all; one that caught fish and told no size says nothing here.
        List<(Sighting Sighting, double Weight, SizeReport? Sizes)> trips =
        [
            .. lines.Select(l => (l.Sighting, l.Weight, (SizeReport?)l)),
            .. sample
                .Display.Where(s => s.Fish == 0 && !SizeReport.Told(s.Line))
                .Select(s => (s, s.Weight(sample.HalfLives.SizeDays), (SizeReport?)null)),
        ];
        return new SizePicture(
            SizeOf.Landed,
            new SizeQuantiles(
                sizes.QuantileGrams(0.05),
                sizes.QuantileGrams(0.25),
                sizes.QuantileGrams(0.5),
                sizes.QuantileGrams(0.75),
                sizes.QuantileGrams(0.95)
            ),
            Grades(sizes, lines, trips),
            Table(sizes, lines, trips, WeightUnit.Lb, RoundLb),
            Table(sizes, lines, trips, WeightUnit.Kg, RoundKg)
        );
    }

    private static SizeTable Table(
        SizeDistribution sizes,
        List<SizeReport> lines,
        List<(Sighting Sighting, double Weight, SizeReport? Sizes)> trips,
        WeightUnit unit,
        int[] weights
    ) =>
        new(
            [
                .. weights.Select(weight => new OverWeight(
                    weight,
                    FishIn(sizes, lines, Edge(weight, unit), double.PositiveInfinity),
                    TripsIn(sizes, trips, Edge(weight, unit), double.PositiveInfinity)
                )),
            ],
            Bars(sizes, unit)
        );

    /// <summary>Whole grams, as quoted weights are stored: a fish of 100 lb is at the edge, not a rounding below it.</summary>
    private static double Edge(double weight, WeightUnit unit) =>
        Math.Round(weight * (double)Weight.GramsPer(unit), MidpointRounding.AwayFromZero);

    private static Share FishIn(SizeDistribution sizes, List<SizeReport> lines, double from, double to)
    {
        var share = ClusteredRatio.Proportion(
            [.. lines.Select(l => l.Fish * sizes.ExpectedShare(l, from, to))],
            [.. lines.Select(l => (double)l.Fish)],
            [.. lines.Select(l => l.Weight)],
            [.. lines.Select(l => l.Sighting.Day)]
        );
        return Figures.Share(share);
    }

    private static Share TripsIn(
        SizeDistribution sizes,
        List<(Sighting Sighting, double Weight, SizeReport? Sizes)> trips,
        double from,
        double to
    ) =>
        Figures.Share(
            ClusteredRatio.Proportion(
                [.. trips.Select(t => t.Sizes is null ? 0 : sizes.ChanceMet(t.Sizes, from, to))],
                [.. trips.Select(_ => 1.0)],
                [.. trips.Select(t => t.Weight)],
                [.. trips.Select(t => t.Sighting.Day)]
            )
        );

    /// <summary>
    /// Groups parted by a gap, each quoted by three boats or more: a group that fewer have met would show one boat's fish.
    /// </summary>
    private static List<Grade> Grades(
        SizeDistribution sizes,
        List<SizeReport> lines,
        List<(Sighting Sighting, double Weight, SizeReport? Sizes)> trips
    )
    {
        List<double> edges = [0, double.PositiveInfinity];
        foreach (var edge in Valleys(sizes).Where(Parts))
        {
            List<double> tried = [.. edges.Append(edge).Order()];
            if (tried.Count - 1 <= MostGrades && tried.Zip(tried.Skip(1)).All(g => Holds(g.First, g.Second)))
            {
                edges = tried;
            }
        }

        return
        [
            .. edges
                .Zip(edges.Skip(1))
                .Select(g => new Grade(
                    Figures.Round(sizes.Share(g.First, g.Second)),
                    sizes.QuantileGrams(0.05, g.First, g.Second),
                    sizes.QuantileGrams(0.95, g.First, g.Second),
                    sizes.QuantileGrams(0.5, g.First, g.Second),
                    TripsIn(sizes, trips, g.First, g.Second).Mean
                )),
        ];

        // Reports of 15 to 40 lb on every trip have their quoted ends at 15 and 40 and their fish between: no valley there.
        bool Parts(double edge) =>
            lines.Where(l => l.Smallest < edge && l.Largest >= edge).Sum(Weight) <= MostMixed * lines.Sum(Weight);

        static double Weight(SizeReport line) => line.Weight;

        bool Holds(double from, double to) =>
            sizes.Share(from, to) >= LeastGradeShare
            && Sample.Boats(lines.Where(l => l.Quoted(from, to)).Select(l => l.Sighting))
                >= Confidentiality.FewestBoats;
    }

    /// <summary>Weights at the bottom of the valleys between two hills, the deepest first.</summary>
    private static List<double> Valleys(SizeDistribution sizes)
    {
        double Edge(int i) => Math.Exp(i * LogBar);
        var first = (int)Math.Floor(Math.Log(Math.Max(1, sizes.Least)) / LogBar) - 1;
        var count = (int)Math.Ceiling(Math.Log(Math.Max(1, sizes.Most)) / LogBar) + 2 - first;
        var bars = Enumerable.Range(first, count).Select(i => sizes.Share(Edge(i), Edge(i + 1))).ToArray();
        // A quarter of each neighbour, so that one quoted number more or less makes no valley.
        double At(int i) => i >= 0 && i < bars.Length ? bars[i] : 0;
        var hills = bars.Select((_, i) => (At(i - 1) + 2 * At(i) + At(i + 1)) / 4).ToArray();
        return
        [
            .. Enumerable
                .Range(1, Math.Max(0, count - 2))
                .Select(i => (Bar: i, Lower: Math.Min(hills[..i].Max(), hills[(i + 1)..].Max())))
                .Where(v => hills[v.Bar] < ValleyDepth * v.Lower)
                .OrderBy(v => hills[v.Bar] / v.Lower)
                .ThenBy(v => v.Bar)
                .Select(v => Math.Exp((first + v.Bar + 0.5) * LogBar)),
        ];
    }

    private static List<SizeBar> Bars(SizeDistribution sizes, WeightUnit unit)
    {
        var grams = (double)Weight.GramsPer(unit);
        var (least, most) = (sizes.Least / grams, sizes.Most / grams);
        var width = BarWidths.FirstOrDefault(w => (most - least) / w <= MostBars - 2, BarWidths[^1]);
        var first = Math.Floor((least + 1e-3) / width);
        var last = Math.Floor((most + 1e-3) / width);
        var bars = Enumerable
            .Range(0, (int)Math.Min(last - first + 1, 200))
            .Select(i => (From: (first + i) * width, To: (first + i + 1) * width))
            .ToList();
        // Groups have tails beyond any size told; the bars show the fish within.
        var whole = sizes.Share(Edge(bars[0].From, unit), Edge(bars[^1].To, unit));
        return
        [
            .. bars.Select(b => new SizeBar(
                b.From,
                b.To,
                Figures.Round(sizes.Share(Edge(b.From, unit), Edge(b.To, unit)) / whole)
            )),
        ];
    }
}
