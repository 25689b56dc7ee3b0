using MathNet.Numerics;
using MathNet.Numerics.Distributions;

namespace Reports.Statistics;

/// <summary>Whether values rise or fall with time, and by how much.</summary>
/// <param name="S">Pairs that rise minus pairs that fall.</param>
/// <param name="VarianceOfS">With the corrections for ties in value and in time.</param>
/// <param name="Z">(S - sign S)/sqrt(variance); 0 when the variance is 0.</param>
/// <param name="P">Two-sided, normal approximation.</param>
/// <param name="PExact">Two-sided, exact; null with ties or more than 50 values.</param>
/// <param name="Slope">Sen's median of pairwise slopes, in the unit of the value per unit of time.</param>
/// <param name="SlopeLow">Lower bound of its interval.</param>
/// <param name="SlopeHigh">Upper bound of its interval.</param>
/// <param name="Pairs">Pairs with different times.</param>
/// <remarks>
/// <para>Model: no distribution; S = sum over pairs t_i &lt; t_j of sign(x_j - x_i). Slope = median of (x_j - x_i)/(t_j - t_i).
/// Interval: ordered slopes number (N - C)/2 and (N + C)/2 + 1, C = z sqrt(variance of S), linear between neighbours.</para>
/// <para>Parameters: t and x finite, any unit, at least two different times; level in (0, 1).</para>
/// <para>Method: all pairs, O(n^2); exact p from the number of permutations with each count of inversions.</para>
/// <para>Reference: Gilbert 1987, Statistical Methods for Environmental Pollution Monitoring, ch. 16; Sen 1968, J. American
/// Statistical Association 63:1379-1389; ties in both, Kendall 1975, Rank Correlation Methods, ch. 4 (from memory); US EPA 2009,
/// EPA 530/R-09-007, Example 17-6.</para>
/// <para>Accuracy: within 1e-14, relative, of R on f_trend, and the EPA's example to all printed digits.</para>
/// </remarks>
public sealed record MannKendall(
    long S,
    double VarianceOfS,
    double Z,
    double P,
    double? PExact,
    double Slope,
    double SlopeLow,
    double SlopeHigh,
    int Pairs
)
{
    private const int MostForExact = 50;

    public static MannKendall Test(ReadOnlySpan<double> times, ReadOnlySpan<double> values, double level = 0.95)
    {
        Refuse.Empty(times.Length, nameof(times));
        Refuse.LengthMismatch(times.Length, values.Length, nameof(values));
        Refuse.NotFinite(times, nameof(times));
        Refuse.NotFinite(values, nameof(values));
        Refuse.NotOpenProbability(level, nameof(level));

        var n = times.Length;
        long s = 0;
        var slopes = new List<double>();
        for (var i = 0; i < n; i++)
        {
            for (var j = i + 1; j < n; j++)
            {
                if (times[i] != times[j])
                {
                    var rise = times[j] > times[i] ? values[j] - values[i] : values[i] - values[j];
                    s += Math.Sign(rise);
                    slopes.Add(rise / Math.Abs(times[j] - times[i]));
                }
            }
        }

        if (slopes.Count == 0)
        {
            throw new InvalidSampleException(SampleFault.OutOfRange, nameof(times), "at least two different times");
        }

        slopes.Sort();
        var (timeTies, valueTies) = (Ties.Of(times), Ties.Of(values));
        var variance = (Ties.Term(n) - timeTies.Terms - valueTies.Terms) / 18;
        variance += timeTies.Pairs * valueTies.Pairs / (2.0 * n * (n - 1));
        variance += n > 2 ? timeTies.Triples * valueTies.Triples / (9.0 * n * (n - 1) * (n - 2)) : 0;
        variance = Math.Max(0, variance);
        var z = variance > 1e-9 ? (s - Math.Sign(s)) / Math.Sqrt(variance) : 0;
        var half = Normal.InvCDF(0, 1, 0.5 + level / 2) * Math.Sqrt(variance);
        return new MannKendall(
            s,
            variance,
            z,
            SpecialFunctions.Erfc(Math.Abs(z) / Math.Sqrt(2)),
            n <= MostForExact && timeTies.Pairs == 0 && valueTies.Pairs == 0 ? ExactP(n, s) : null,
            Median(slopes),
            Ordered(slopes, (slopes.Count - half) / 2),
            Ordered(slopes, (slopes.Count + half) / 2 + 1),
            slopes.Count
        );
    }

    /// <summary>Twice the smaller tail of the number of inversions of a random order, at most 1.</summary>
    private static double ExactP(int n, long s)
    {
        // Share of orders of n with each number of inversions: the m-th value adds 0 to m - 1 with equal chance.
        var most = n * (n - 1) / 2;
        var chance = new double[most + 1];
        chance[0] = 1;
        var reach = 0;
        for (var m = 2; m <= n; m++)
        {
            var next = new double[most + 1];
            for (var i = 0; i <= reach; i++)
            {
                for (var j = 0; j < m; j++)
                {
                    next[i + j] += chance[i] / m;
                }
            }

            reach += m - 1;
            chance = next;
        }

        // The tail beyond |S|, S = most - 2 inversions; the distribution is symmetric.
        var inversions = (most - Math.Abs(s)) / 2;
        var tail = 0.0;
        for (var i = 0; i <= inversions; i++)
        {
            tail += chance[i];
        }

        return Math.Min(1, 2 * tail);
    }

    private static double Median(List<double> sorted)
    {
        var middle = sorted.Count / 2;
        return sorted.Count % 2 == 1 ? sorted[middle] : (sorted[middle - 1] + sorted[middle]) / 2;
    }

    /// <summary>The slope at a rank that may lie between two, counted from 1 and kept within the ranks that exist.</summary>
    private static double Ordered(List<double> sorted, double rank)
    {
        if (rank < 1)
        {
            return sorted[0];
        }

        var low = (int)Math.Floor(rank);
        return low >= sorted.Count ? sorted[^1] : sorted[low - 1] + (rank - low) * (sorted[low] - sorted[low - 1]);
    }

    /// <summary>What tied groups of sizes g take from the variance.</summary>
    private readonly record struct Ties(double Terms, double Pairs, double Triples)
    {
        internal static double Term(double g) => g * (g - 1) * (2 * g + 5);

        internal static Ties Of(ReadOnlySpan<double> values)
        {
            var result = new Ties();
            foreach (var group in values.ToArray().GroupBy(v => v))
            {
                double g = group.Count();
                result = new Ties(
                    result.Terms + Term(g),
                    result.Pairs + g * (g - 1),
                    result.Triples + g * (g - 1) * (g - 2)
                );
            }

            return result;
        }
    }
}
