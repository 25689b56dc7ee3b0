using MathNet.Numerics.Distributions;
using MathNet.Numerics.Random;

namespace Reports.Statistics;

/// <summary>How much weighted reports tell: decay with age, and the size of an unweighted sample that would tell as
/// much, and the day as the unit that is resampled.</summary>
/// <remarks>
/// <para><b>Model.</b> w_i = 2^(-a_i / h); Kish's effective size (sum w)^2 / sum w^2; rescaling factor sum w / sum w^2.</para>
/// <para><b>Parameters.</b> a_i: age, days, 0 or more; h: half-life, days, above 0; w_i: weight, 0 or more.</para>
/// <para>
/// <b>Method.</b> Closed form. A log-likelihood weighted by w varies as one of size Kish only after it is multiplied by
/// sum w / sum w^2: weights that sum to 18 can be worth 11 reports.
/// </para>
/// <para>
/// <b>Reference.</b> Kish 1965, Survey Sampling, section 11.7 (design effect of unequal weights; from memory).
/// </para>
/// <para><b>Accuracy.</b> To rounding; reference cases of method a3_shares (kish_effective_lines, kish_effective_fish).</para>
/// </remarks>
public static class Evidence
{
    /// <summary>2^(-age / halfLife), both in days.</summary>
    public static double DecayWeight(double ageDays, double halfLifeDays)
    {
        if (double.IsNaN(ageDays) || double.IsNaN(halfLifeDays))
        {
            throw new InvalidSampleException(SampleFault.NotFinite, nameof(ageDays), "not a number");
        }

        if (ageDays < 0)
        {
            throw new InvalidSampleException(SampleFault.Negative, nameof(ageDays), $"age {ageDays} days");
        }

        if (!(halfLifeDays > 0))
        {
            throw new InvalidSampleException(SampleFault.OutOfRange, nameof(halfLifeDays), $"{halfLifeDays} days");
        }

        return Math.Pow(2, -ageDays / halfLifeDays);
    }

    /// <summary>(sum w)^2 / sum w^2: between 1 and the count.</summary>
    public static double KishSize(IReadOnlyList<double> weights)
    {
        var (sum, squares) = Sums(weights);
        return sum * sum / squares;
    }

    /// <summary>
    /// (sum n w)^2 / sum n w^2: the same for lines of n fish that share a weight.
    /// </summary>
    public static double KishSize(IReadOnlyList<double> weights, IReadOnlyList<double> counts)
    {
        ArgumentNullException.ThrowIfNull(counts);
        Sums(weights);
        if (counts.Count != weights.Count)
        {
            throw new InvalidSampleException(SampleFault.LengthMismatch, nameof(counts), "one count for each weight");
        }

        double sum = 0,
            squares = 0;
        for (var i = 0; i < weights.Count; i++)
        {
            if (!double.IsFinite(counts[i]))
            {
                throw new InvalidSampleException(SampleFault.NotFinite, nameof(counts), $"count {i} is {counts[i]}");
            }

            if (counts[i] < 0)
            {
                throw new InvalidSampleException(SampleFault.Negative, nameof(counts), $"count {i} is {counts[i]}");
            }

            sum += counts[i] * weights[i];
            squares += counts[i] * weights[i] * weights[i];
        }

        return squares > 0
            ? sum * sum / squares
            : throw new InvalidSampleException(SampleFault.NoWeight, nameof(counts), "nothing counts");
    }

    /// <summary>sum w / sum w^2: multiply weights (or a log-likelihood) by it before any interval or ratio test.</summary>
    public static double Rescale(IReadOnlyList<double> weights)
    {
        var (sum, squares) = Sums(weights);
        return sum / squares;
    }

    /// <summary>
    /// Bootstrap of whole clusters (days): a statistic recomputed with each cluster counted as often as it was drawn.
    /// </summary>
    /// <param name="clusters">G, the number of clusters, 2 or more.</param>
    /// <param name="statistic">
    /// The statistic given how often each cluster counts (all ones: the estimate). A draw on which it is undefined returns NaN;
    /// such draws are counted in <see cref="BootstrapInterval.Undefined"/> and left out.
    /// </param>
    /// <param name="level">Level in (0, 1).</param>
    /// <param name="replicates">Draws, 50 or more.</param>
    /// <param name="seed">Seed: the same input gives the same interval.</param>
    /// <remarks>
    /// Percentiles are taken further out, at Phi(t_(G-1) sqrt(G / (G-1))), because percentiles of a bootstrap of few clusters are
    /// too narrow: the expanded percentile interval of Hesterberg 2015, The American Statistician 69:371-386, section 5.
    /// </remarks>
    public static BootstrapInterval ClusterBootstrap(
        int clusters,
        Func<IReadOnlyList<int>, double> statistic,
        double level,
        int replicates = 1000,
        int seed = 1
    )
    {
        ArgumentNullException.ThrowIfNull(statistic);
        if (clusters < 2 || !(level > 0 && level < 1) || replicates < 50)
        {
            throw new InvalidSampleException(
                SampleFault.OutOfRange,
                nameof(clusters),
                $"{clusters} clusters, level {level}, {replicates} replicates"
            );
        }

        var times = new int[clusters];
        Array.Fill(times, 1);
        var estimate = statistic(times);
        if (!double.IsFinite(estimate))
        {
            throw new InvalidSampleException(
                SampleFault.NotFinite,
                nameof(statistic),
                "undefined on the sample itself"
            );
        }

        var random = new Xoshiro256StarStar(seed);
        var draws = new List<double>(replicates);
        for (var b = 0; b < replicates; b++)
        {
            Array.Clear(times);
            for (var g = 0; g < clusters; g++)
            {
                times[random.Next(clusters)]++;
            }

            var value = statistic(times);
            if (!double.IsNaN(value))
            {
                draws.Add(value);
            }
        }

        var undefined = replicates - draws.Count;
        if (draws.Count < 20)
        {
            throw new InvalidSampleException(
                SampleFault.OutOfRange,
                nameof(statistic),
                "undefined on nearly every draw"
            );
        }

        draws.Sort();
        var mean = draws.Average();
        var correction = Math.Sqrt(clusters / (clusters - 1.0));
        var error = correction * Math.Sqrt(draws.Sum(d => (d - mean) * (d - mean)) / (draws.Count - 1));
        var t = StudentT.InvCDF(0, 1, clusters - 1, (1 - level) / 2);
        var tail = Normal.CDF(0, 1, t * correction);
        double Percentile(double q)
        {
            var at = q * (draws.Count - 1);
            var below = (int)Math.Floor(at);
            var above = Math.Min(below + 1, draws.Count - 1);
            return draws[below] + (at - below) * (draws[above] - draws[below]);
        }

        return new(estimate, error, Percentile(tail), Percentile(1 - tail), undefined);
    }

    private static (double Sum, double Squares) Sums(IReadOnlyList<double> weights)
    {
        ArgumentNullException.ThrowIfNull(weights);
        if (weights.Count == 0)
        {
            throw new InvalidSampleException(SampleFault.Empty, nameof(weights), "no weights");
        }

        double sum = 0,
            squares = 0;
        for (var i = 0; i < weights.Count; i++)
        {
            var w = weights[i];
            if (!double.IsFinite(w))
            {
                throw new InvalidSampleException(SampleFault.NotFinite, nameof(weights), $"weight {i} is {w}");
            }

            if (w < 0)
            {
                throw new InvalidSampleException(SampleFault.Negative, nameof(weights), $"weight {i} is {w}");
            }

            sum += w;
            squares += w * w;
        }

        return squares > 0
            ? (sum, squares)
            : throw new InvalidSampleException(SampleFault.NoWeight, nameof(weights), "all weights are zero");
    }
}

/// <summary>A bootstrap interval with its estimate and standard error.</summary>
/// <param name="Undefined">Draws on which the statistic did not exist, left out.</param>
public sealed record BootstrapInterval(double Estimate, double StandardError, double Low, double High, int Undefined);
