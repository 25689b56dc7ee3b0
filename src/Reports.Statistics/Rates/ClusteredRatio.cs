using MathNet.Numerics;
using MathNet.Numerics.Distributions;

namespace Reports.Statistics;

/// <summary>
/// A ratio of weighted sums with the spread that clusters show: fish over angler-days when the boats of one day fished one sea.
/// <para>Model: R = sum w y / sum w x. Rows of a cluster may depend on each other in any way; clusters are independent.</para>
/// <para>Parameters: y >= 0 numerator and x >= 0 denominator of a row (for a proportion y &lt;= x), w >= 0 its weight, an integer
/// naming its cluster.</para>
/// <para>Method: Taylor linearisation, Var R = G/(G-1) sum_g (sum_{i in g} w (y - R x))^2 / X^2, X = sum w x, and never below
/// what chance alone gives inside a row (Poisson for a rate, binomial for a proportion): with few clusters the spread seen may
/// be small by luck. Interval by Student's t with Kish's number of clusters less one, on the logarithm of a rate and the logit
/// of a proportion. With a single cluster the rows stand in for clusters, with one degree of freedom. At zero, and at one, the
/// Jeffreys interval at Kish's number of rows; where less than one event (or less than one without) is counted, which may be no whole one but an expectation,
/// the end that the other scale would send off to everything is no farther than that interval's.</para>
/// <para>Reference: Cochran 1977, Sampling Techniques, sections 6.3-6.4 and 9.7; small-sample factor as Liang and Zeger's
/// sandwich is commonly corrected (from memory).</para>
/// <para>Accuracy: coverage of the 80 % interval measured by simulation in the tests, 20 clusters of three rows.</para>
/// </summary>
public sealed class ClusteredRatio
{
    private readonly bool proportion;
    private readonly double rows;
    private readonly double meanExposure;

    private ClusteredRatio(
        bool proportion,
        double estimate,
        double error,
        double degreesOfFreedom,
        double rows,
        double meanExposure
    )
    {
        (this.proportion, this.rows, this.meanExposure) = (proportion, rows, meanExposure);
        (Estimate, StandardError, DegreesOfFreedom) = (estimate, error, degreesOfFreedom);
    }

    /// <summary>R.</summary>
    public double Estimate { get; }

    /// <summary>Of R itself.</summary>
    public double StandardError { get; }

    /// <summary>Kish's number of clusters less one, at least one.</summary>
    public double DegreesOfFreedom { get; }

    /// <summary>A rate: y counts events, x is what they came from (angler-days, rods).</summary>
    /// <exception cref="InvalidSampleException">Empty, lengths differ, negative or not finite, no weighted denominator.</exception>
    public static ClusteredRatio Rate(
        ReadOnlySpan<double> y,
        ReadOnlySpan<double> x,
        ReadOnlySpan<double> weights,
        ReadOnlySpan<int> clusters
    ) => Of(false, y, x, weights, clusters);

    /// <summary>A proportion: y of x.</summary>
    /// <exception cref="InvalidSampleException">As for a rate, and y above x.</exception>
    public static ClusteredRatio Proportion(
        ReadOnlySpan<double> y,
        ReadOnlySpan<double> x,
        ReadOnlySpan<double> weights,
        ReadOnlySpan<int> clusters
    ) => Of(true, y, x, weights, clusters);

    private static ClusteredRatio Of(
        bool proportion,
        ReadOnlySpan<double> y,
        ReadOnlySpan<double> x,
        ReadOnlySpan<double> weights,
        ReadOnlySpan<int> clusters
    )
    {
        RateInput.NotEmpty(y.Length, nameof(y));
        RateInput.SameLength(y.Length, x.Length, nameof(x));
        RateInput.SameLength(y.Length, clusters.Length, nameof(clusters));
        RateInput.NotNegative(y, nameof(y));
        RateInput.NotNegative(x, nameof(x));
        var w = RateInput.Weights(weights, y.Length);
        double top = 0,
            bottom = 0,
            squares = 0,
            within = 0;
        for (var i = 0; i < y.Length; i++)
        {
            top += w[i] * (proportion ? RateInput.Successes(y[i], x[i]) : y[i]);
            bottom += w[i] * x[i];
            squares += w[i] * x[i] * w[i] * x[i];
            within += w[i] * w[i] * x[i];
        }

        if (!(bottom > 0))
        {
            throw new InvalidSampleException(SampleFault.NoWeight, nameof(x), "weighted sum is 0");
        }

        var ratio = proportion ? Math.Min(1, top / bottom) : top / bottom;
        var sums = new SortedDictionary<int, (double Residual, double Bottom)>();
        var single = clusters.IndexOfAnyExcept(clusters[0]) < 0;
        for (var i = 0; i < y.Length; i++)
        {
            var key = single ? i : clusters[i];
            var (residual, part) = sums.GetValueOrDefault(key);
            sums[key] = (residual + w[i] * (y[i] - ratio * x[i]), part + w[i] * x[i]);
        }

        var chance = within * ratio * (proportion ? 1 - ratio : 1);
        var seen = sums.Count > 1 ? sums.Count / (sums.Count - 1.0) * sums.Values.Sum(s => s.Residual * s.Residual) : 0;
        var kish = bottom * bottom / sums.Values.Sum(s => s.Bottom * s.Bottom);
        var rows = bottom * bottom / squares;
        return new ClusteredRatio(
            proportion,
            ratio,
            Math.Sqrt(Math.Max(seen, chance)) / bottom,
            single ? 1 : Math.Max(1, kish - 1),
            rows,
            bottom * bottom / within / rows
        );
    }

    /// <summary>Central interval. A proportion's lies in [0, 1].</summary>
    public (double Low, double High) Interval(double level = 0.8)
    {
        RateInput.Level(level);
        if (Estimate <= 0)
        {
            return (0, Most(level));
        }

        if (proportion && Estimate >= 1)
        {
            return (Least(level), 1);
        }

        // 50 on these scales is nothing or everything; beyond it exp overflows.
        var reach = Math.Min(50, StudentT.InvCDF(0, 1, DegreesOfFreedom, 0.5 + level / 2) * StandardError / Slope);
        var (low, high) = proportion
            ? (
                SpecialFunctions.Logistic(SpecialFunctions.Logit(Estimate) - reach),
                SpecialFunctions.Logistic(SpecialFunctions.Logit(Estimate) + reach)
            )
            : (Estimate * Math.Exp(-reach), Estimate * Math.Exp(reach));
        var exposure = rows * meanExposure;
        return (
            proportion && (1 - Estimate) * exposure < 1 ? Math.Max(low, Least(level)) : low,
            Estimate * exposure < 1 ? Math.Min(high, Most(level)) : high
        );
    }

    /// <summary>Upper end where next to nothing was counted, lower end where next to all was.</summary>
    private double Most(double level) =>
        proportion
            ? Statistics.Proportion.Jeffreys(Estimate * rows, rows, level).High
            : Gamma.InvCDF(0.5 + Estimate * rows * meanExposure, rows * meanExposure, 0.5 + level / 2);

    private double Least(double level) => Statistics.Proportion.Jeffreys(Estimate * rows, rows, level).Low;

    /// <summary>dR/d(scale): R on the logarithm, R (1 - R) on the logit.</summary>
    private double Slope => proportion ? Estimate * (1 - Estimate) : Estimate;
}
