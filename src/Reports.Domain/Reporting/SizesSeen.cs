using Reports.Domain.Measures;

namespace Reports.Domain.Reporting;

/// <summary>
/// The sizes that a coast's boats told of one species, as a cloud of rows: a new row is doubted by how far it lies from the rows of
/// its zone and days. A kernel estimate (Parzen 1962, Ann. Math. Stat. 33:1065-1076; from memory) of logistic kernels on the
/// logarithm of the weight, whose tails are closed forms; a share of the rows strays wide, as honest ones do now and then.
/// </summary>
public sealed class SizesSeen
{
    /// <summary>The latest rows, enough for a tail and few enough to be asked with every report.</summary>
    private const int MostRows = 300;

    /// <summary>What a row of another zone is worth beside one of the same: schools differ, the species is one.</summary>
    private const double OtherZone = 0.25;

    /// <summary>A school stays some days (common practice, no source).</summary>
    private const double HalfLifeDays = 14;

    // One fish strays farther than the middle of forty, and the largest of forty is heavier: rows of like numbers count most.

    /// <summary>Scales in ln weight: rows of like boat trips, and the few with an odd fish (judgement, measured by simulation).</summary>
    private const double Scale = 0.06;
    private const double OddScale = 0.25;
    private const double OddShare = 0.03;

    /// <summary>Rows' worth of the doubt that few rows say little.</summary>
    private const double FewRows = 1;

    /// <summary>As of hooks: on no coast more than this share of the rows is asked about their unit, of so many of the latest.</summary>
    private const double MostAsked = 0.011;
    private const int RowsAsked = 300;
    private const int LeastRows = 50;

    private readonly Row[] rows;
    private readonly Axis smallest;
    private readonly Axis largest;
    private readonly Axis middle;
    private readonly Axis reach;
    private readonly Lazy<double?> unusual;

    private SizesSeen(Row[] rows)
    {
        this.rows = rows;
        smallest = new(rows, r => r.Smallest);
        largest = new(rows, r => r.Largest);
        middle = new(rows, r => r.Middle);
        reach = new(rows, r => r.Reach);
        unusual = new(Unusual);
    }

    /// <summary>Where the rows lie on an axis, in cells much narrower than a kernel: every report asks, so rows are summed by cell.</summary>
    private sealed class Axis
    {
        private const double Cell = 0.02;
        private readonly int first;
        private readonly int[] cells;
        private readonly int count;

        public Axis(Row[] rows, Func<Row, double> of)
        {
            cells = Array.ConvertAll(rows, r => (int)Math.Round(of(r) / Cell));
            first = cells.Min();
            cells = Array.ConvertAll(cells, c => c - first);
            count = cells.Max() + 1;
        }

        /// <summary>Places on the axis and the weight of the rows there, ascending.</summary>
        public (double At, double Weight)[] Masses(double[] weights)
        {
            var sums = new double[count];
            for (var i = 0; i < cells.Length; i++)
            {
                sums[cells[i]] += weights[i];
            }

            var masses = new (double, double)[sums.Count(s => s > 0)];
            for (int c = 0, m = 0; c < count; c++)
            {
                if (sums[c] > 0)
                {
                    masses[m++] = ((first + c) * Cell, sums[c]);
                }
            }

            return masses;
        }
    }

    /// <summary>Natural logarithms of grams.</summary>
    internal readonly record struct Row(
        string Zone,
        int Day,
        double Smallest,
        double Largest,
        int Fish,
        WeightUnit Unit
    )
    {
        public double Middle => (Smallest + Largest) / 2;
        public double Reach => Largest - Smallest;
    }

    /// <summary>Of rows with both sizes.</summary>
    public static SizesSeen Of(IEnumerable<(ReportMeasures Report, CatchMeasure Line)> told) =>
        new([
            .. told.OrderByDescending(t => t.Report.FishedOn)
                .ThenBy(t => t.Report.Zone, StringComparer.Ordinal)
                .ThenBy(t => t.Report.Boat, StringComparer.Ordinal)
                .ThenBy(t => t.Report.Sailing)
                .Take(MostRows)
                .Select(t => new Row(
                    t.Report.Zone,
                    t.Report.FishedOn.DayNumber,
                    Math.Log(t.Line.SmallestGrams!.Value),
                    Math.Log(t.Line.LargestGrams!.Value),
                    Math.Max(1, t.Line.Fish),
                    t.Report.GivenIn
                )),
        ]);

    /// <summary>Grams in the other unit over grams in the one given.</summary>
    public static double OtherUnit(WeightUnit given) =>
        given == WeightUnit.Lb ? 1000.0 / (double)Weight.GramsPerPound : (double)Weight.GramsPerPound / 1000;

    /// <summary>What the rows of about a zone, a day and a number of fish make of a new one.</summary>
    public Near At(string zone, DateOnly day, int fish) => At(zone, day.DayNumber, Math.Max(1, fish), null);

    private Near At(string zone, int day, int fish, int? without)
    {
        var weights = new double[rows.Length];
        for (var i = 0; i < rows.Length; i++)
        {
            var row = rows[i];
            weights[i] =
                i == without
                    ? 0
                    : (row.Zone == zone ? 1 : OtherZone)
                        * Decay(Math.Abs(row.Day - day))
                        * Math.Min((double)fish / row.Fish, (double)row.Fish / fish);
        }

        return new Near(this, weights);
    }

    private static readonly double[] Decays =
    [
        .. Enumerable.Range(0, 64).Select(days => Math.Pow(0.5, days / HalfLifeDays)),
    ];

    private static double Decay(int days) => Decays[Math.Min(days, Decays.Length - 1)];

    /// <summary>Of the coast's own latest rows, each beside the others, what all but few stay below.</summary>
    private double? Unusual()
    {
        if (rows.Length < LeastRows)
        {
            return null;
        }

        var times = rows.Take(RowsAsked)
            .Select(
                (r, i) =>
                    At(r.Zone, r.Day, r.Fish, i)
                        .LikelierTimes(OtherUnit(r.Unit), Math.Exp(r.Smallest), Math.Exp(r.Largest))
            )
            .Order()
            .ToList();
        return times[(int)((1 - MostAsked) * (times.Count - 1))];
    }

    public sealed class Near
    {
        private readonly SizesSeen seen;
        private readonly double[] weights;
        private readonly double all;
        private readonly double oddShare;

        internal Near(SizesSeen seen, double[] weights)
        {
            (this.seen, this.weights, all) = (seen, weights, weights.Sum());
            oddShare = (OddShare * all + FewRows) / (all + FewRows);
        }

        /// <summary>
        /// How many times likelier the other unit must be before it is more than this coast's own variety; null: too few rows.
        /// </summary>
        public double? BeyondVariety => seen.unusual.Value;

        /// <summary>How many times likelier a row would be were all its weights this many times as heavy.</summary>
        public double LikelierTimes(double factor, double smallestGrams, double largestGrams)
        {
            var masses = seen.middle.Masses(weights);
            var at = Math.Log(smallestGrams * largestGrams) / 2;
            return Density(masses, at + Math.Log(factor)) / Density(masses, at);
        }

        /// <summary>Chance that a row's largest is as heavy as this or heavier.</summary>
        public double AsLarge(double grams) => Tail(seen.largest, Math.Log(grams), 1);

        /// <summary>Chance that a row's smallest is as light as this or lighter.</summary>
        public double AsSmall(double grams) => Tail(seen.smallest, Math.Log(grams), -1);

        /// <summary>Chance that a row reaches from its smallest to its largest as far as this or farther.</summary>
        public double ReachingAsFar(double smallestGrams, double largestGrams) =>
            Tail(seen.reach, Math.Log(largestGrams / smallestGrams), 1);

        /// <summary>All but the hundredth that lies outside on either side, in grams.</summary>
        public (int Lowest, int Highest) Usual() => (Quantile(seen.smallest, 0.01), Quantile(seen.largest, 0.99));

        private double Density((double At, double Weight)[] masses, double at)
        {
            var (usual, odd) = (0.0, 0.0);
            foreach (var (place, weight) in masses)
            {
                usual += weight * Bell((at - place) / Scale);
                odd += weight * Bell((at - place) / OddScale);
            }

            return ((1 - oddShare) * usual / Scale + oddShare * odd / OddScale) / all;
        }

        private double Tail(Axis axis, double beyond, int direction)
        {
            var (usual, odd) = (0.0, 0.0);
            foreach (var (place, weight) in axis.Masses(weights))
            {
                var inside = direction * (place - beyond);
                usual += weight * Cumulative(inside / Scale);
                odd += weight * Cumulative(inside / OddScale);
            }

            return ((1 - oddShare) * usual + oddShare * odd) / all;
        }

        private int Quantile(Axis axis, double p)
        {
            var sum = 0.0;
            var masses = axis.Masses(weights);
            foreach (var (place, weight) in masses)
            {
                sum += weight;
                if (sum >= p * all)
                {
                    return (int)Math.Round(Math.Exp(place));
                }
            }

            return (int)Math.Round(Math.Exp(masses[^1].At));
        }

        private static double Cumulative(double x) => 1 / (1 + Math.Exp(-x));

        private static double Bell(double x) => Cumulative(x) * Cumulative(-x);
    }
}
