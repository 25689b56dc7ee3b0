using MathNet.Numerics.RootFinding;

namespace Reports.Statistics;

/// <summary>A mixture of lognormal size groups: F(x) = sum_k pi_k Phi((ln x - mu_k) / s_k).</summary>
/// <remarks>
/// <para><b>Model.</b> As above; density f(x) = sum_k pi_k phi((ln x - mu_k) / s_k) / (x s_k), x &gt; 0.</para>
/// <para>
/// <b>Parameters.</b> pi_k &gt;= 0, sum 1; mu_k: mean of the log of the size (e^mu_k is the group's median, in the unit of the
/// sizes); s_k &gt; 0: standard deviation of the log.
/// </para>
/// <para><b>Method.</b> Closed form; quantiles by Brent's root search in ln x.</para>
/// <para><b>Reference.</b> McLachlan and Peel 2000, Finite Mixture Models, sections 1.1 and 2.8 (from memory).</para>
/// <para>
/// <b>Accuracy.</b> Probabilities within 1e-15 absolute and, in the tails, 1e-13 relative of the normal distribution; quantiles to
/// 1e-12 relative. Reference: method a2_mixture (median, quantiles, grade_shares).
/// </para>
/// </remarks>
public sealed class LognormalMixture
{
    private readonly double[] weights;
    private readonly double[] meanLog;
    private readonly double[] sdLog;

    public LognormalMixture(IReadOnlyList<double> weights, IReadOnlyList<double> meanLog, IReadOnlyList<double> sdLog)
    {
        ArgumentNullException.ThrowIfNull(weights);
        ArgumentNullException.ThrowIfNull(meanLog);
        ArgumentNullException.ThrowIfNull(sdLog);
        if (weights.Count == 0)
        {
            throw new InvalidSampleException(SampleFault.Empty, nameof(weights), "no components");
        }

        if (meanLog.Count != weights.Count || sdLog.Count != weights.Count)
        {
            throw new InvalidSampleException(SampleFault.LengthMismatch, nameof(weights), "one mean and spread each");
        }

        if (!weights.Concat(meanLog).Concat(sdLog).All(double.IsFinite))
        {
            throw new InvalidSampleException(SampleFault.NotFinite, nameof(weights), "parameters must be finite");
        }

        if (weights.Any(w => w < 0) || Math.Abs(weights.Sum() - 1) > 1e-6 || sdLog.Any(s => s <= 0))
        {
            throw new InvalidSampleException(
                SampleFault.OutOfRange,
                nameof(weights),
                "weights are shares that sum to 1, spreads are above 0"
            );
        }

        // Groups in order of size, so that equal mixtures are written equally.
        var order = Enumerable.Range(0, weights.Count).OrderBy(k => meanLog[k]).ThenBy(k => sdLog[k]).ToArray();
        var total = weights.Sum();
        this.weights = [.. order.Select(k => weights[k] / total)];
        this.meanLog = [.. order.Select(k => meanLog[k])];
        this.sdLog = [.. order.Select(k => sdLog[k])];
    }

    public int Components => weights.Length;

    /// <summary>pi_k, groups in order of mu.</summary>
    public IReadOnlyList<double> Weights => weights;

    /// <summary>mu_k.</summary>
    public IReadOnlyList<double> MeanLog => meanLog;

    /// <summary>s_k.</summary>
    public IReadOnlyList<double> SdLog => sdLog;

    /// <summary>Pr(X &lt;= x).</summary>
    public double Cdf(double x) => Share(0, x);

    /// <summary>Pr(X &gt; x): the share over a weight.</summary>
    public double ShareOver(double x) => Share(x, double.PositiveInfinity);

    /// <summary>Pr(from &lt; X &lt;= to); ends may be 0 and Infinity.</summary>
    public double Share(double from, double to)
    {
        var sum = 0.0;
        for (var k = 0; k < weights.Length; k++)
        {
            sum += weights[k] * GroupShare(k, from, to);
        }

        return Math.Clamp(sum, 0, 1);
    }

    /// <summary>Pr(from &lt; X &lt;= to) within size group k.</summary>
    public double GroupShare(int k, double from, double to)
    {
        Refuse(double.IsNaN(from) || double.IsNaN(to), SampleFault.NotFinite, nameof(from));
        Refuse(to < from, SampleFault.ReversedInterval, nameof(to));
        return NormalMass.Between(Z(from, k), Z(to, k));
    }

    /// <summary>Density at x, per unit of size; 0 for x &lt;= 0.</summary>
    public double Density(double x)
    {
        Refuse(double.IsNaN(x), SampleFault.NotFinite, nameof(x));
        var sum = 0.0;
        for (var k = 0; k < weights.Length && x > 0 && double.IsFinite(x); k++)
        {
            sum += weights[k] * NormalMass.Density(Z(x, k)) / (x * sdLog[k]);
        }

        return sum;
    }

    /// <summary>The size below which a share q of the fish lies; q in (0, 1).</summary>
    public double Quantile(double q)
    {
        Refuse(!(q > 0 && q < 1), SampleFault.OutOfRange, nameof(q));
        var low = double.PositiveInfinity;
        var high = double.NegativeInfinity;
        var z = MathNet.Numerics.Distributions.Normal.InvCDF(0, 1, q);
        for (var k = 0; k < weights.Length; k++)
        {
            // The mixture's quantile lies between the smallest and the largest of its groups' quantiles.
            low = Math.Min(low, meanLog[k] + sdLog[k] * z);
            high = Math.Max(high, meanLog[k] + sdLog[k] * z);
        }

        if (high - low < 1e-14)
        {
            return Math.Exp(low);
        }

        // In the upper half from above, so that a share near 1 keeps its digits.
        double Excess(double y) => q <= 0.5 ? Cdf(Math.Exp(y)) - q : 1 - q - ShareOver(Math.Exp(y));
        return Math.Exp(Brent.FindRoot(Excess, low - 1e-9, high + 1e-9, 1e-14, 500));
    }

    public double Median => Quantile(0.5);

    private double Z(double x, int k) =>
        x <= 0 ? double.NegativeInfinity
        : double.IsPositiveInfinity(x) ? double.PositiveInfinity
        : (Math.Log(x) - meanLog[k]) / sdLog[k];

    private static void Refuse(bool when, SampleFault fault, string parameter)
    {
        if (when)
        {
            throw new InvalidSampleException(fault, parameter, "outside its range");
        }
    }
}
