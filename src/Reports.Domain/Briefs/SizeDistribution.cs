using Reports.Statistics;

namespace Reports.Domain.Briefs;

/// <summary>
/// The distribution of sizes among the fish landed, on the points where the non-parametric estimate puts its mass (the middle
/// of a set whose place is not determined). Quantiles, shares and grades all come from here, so that they agree.
/// </summary>
internal sealed class SizeDistribution
{
    private readonly double[] points;
    private readonly double[] cumulative;

    private SizeDistribution(double[] points, double[] masses)
    {
        this.points = points;
        cumulative = new double[points.Length + 1];
        for (var i = 0; i < points.Length; i++)
        {
            cumulative[i + 1] = cumulative[i] + masses[i];
        }
    }

    /// <summary>Sizes that hold mass, ascending, in grams.</summary>
    public IReadOnlyList<double> Points => points;

    public static SizeDistribution Of(IReadOnlyList<SizeReport> reports)
    {
        var support = IntervalNpmle
            .Fit([.. reports.SelectMany(r => r.Observations())])
            .Support.Where(s => s.Mass > 1e-9)
            .Select(s => (Point: double.IsInfinity(s.Upper) ? s.Lower : (s.Lower + s.Upper) / 2, s.Mass))
            .OrderBy(s => s.Point)
            .ToList();
        var total = support.Sum(s => s.Mass);
        return new([.. support.Select(s => s.Point)], [.. support.Select(s => s.Mass / total)]);
    }

    /// <summary>Share of the fish in [from, to).</summary>
    public double Share(double from, double to) => Between(First(from), First(to));

    /// <summary>Smallest size with at least a share q of the fish of [from, to) at or below it, in whole grams.</summary>
    public int QuantileGrams(double q, double from = 0, double to = double.PositiveInfinity)
    {
        var (a, b) = (First(from), First(to));
        var need = cumulative[a] + q * Between(a, b) - 1e-9;
        var i = a;
        while (i < b - 1 && cumulative[i + 1] < need)
        {
            i++;
        }

        return (int)Math.Round(points[i], MidpointRounding.AwayFromZero);
    }

    /// <summary>Expected share of a report's fish in [from, to), given what it tells.</summary>
    public double ExpectedShare(SizeReport report, double from, double to)
    {
        var inside = report.Ends.Count(e => e >= from && e < to) + report.Between.Sum(p => p.Fish * Part(p, from, to));
        return Math.Clamp(inside / report.Fish, 0, 1);
    }

    /// <summary>Chance that a report's boat trip landed at least one fish in [from, to), given what it tells.</summary>
    public double ChanceMet(SizeReport report, double from, double to) =>
        report.Quoted(from, to)
            ? 1
            : 1 - report.Between.Aggregate(1.0, (none, p) => none * Math.Pow(1 - Part(p, from, to), p.Fish));

    /// <summary>Share in [from, to) of the fish known to lie in a part, as the distribution has it.</summary>
    private double Part((double Fish, double From, double To) part, double from, double to)
    {
        // The part is closed above, shares are half-open.
        var (a, b) = (First(part.From), First(Math.BitIncrement(part.To)));
        var whole = Between(a, b);
        var inside = Between(Math.Max(a, First(from)), Math.Min(b, First(to)));
        return whole > 0 ? Math.Clamp(inside / whole, 0, 1) : 0;
    }

    private double Between(int a, int b) => b > a ? cumulative[b] - cumulative[a] : 0;

    /// <summary>Index of the first point at or above a size.</summary>
    private int First(double size)
    {
        var i = Array.BinarySearch(points, size);
        return i >= 0 ? i : ~i;
    }
}
