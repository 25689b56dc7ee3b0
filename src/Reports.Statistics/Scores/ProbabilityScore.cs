namespace Reports.Statistics;

/// <summary>The Brier score and its three parts over groups of equal forecasts.</summary>
/// <param name="Brier">Mean of (p - y)^2; 0 is perfect.</param>
/// <param name="Reliability">How far what was forecast lies from what then happened; 0 is perfect.</param>
/// <param name="Resolution">How far the groups' event rates lie from the overall rate; larger is better.</param>
/// <param name="Uncertainty">Base rate times one minus it: the score of always saying the base rate.</param>
/// <param name="Skill">1 - Brier / Uncertainty; null when every outcome was the same.</param>
public sealed record BrierDecomposition(
    double Brier,
    double Reliability,
    double Resolution,
    double Uncertainty,
    double? Skill
);

/// <summary>The Brier score's parts when forecasts are grouped in bins that are wider than one value.</summary>
/// <param name="WithinBinVariance">Spread of the forecasts inside their bins.</param>
/// <param name="WithinBinCovariance">Twice the covariance of forecast and outcome inside their bins.</param>
/// <param name="GeneralisedResolution">Resolution - variance + covariance, so that Brier = reliability - this + uncertainty.</param>
public sealed record BinnedBrierDecomposition(
    double Brier,
    double Reliability,
    double Resolution,
    double Uncertainty,
    double WithinBinVariance,
    double WithinBinCovariance,
    double GeneralisedResolution
);

/// <summary>Scores of yes-or-no forecasts.</summary>
/// <remarks>
/// <para>Model: forecasts p_i of an event y_i in {0, 1}. Brier = mean (p - y)^2 = sum_k n_k (p_k - o_k)^2/n
/// - sum_k n_k (o_k - o)^2/n + o (1 - o); in bins also - sum (p - p_k)^2/n + 2 sum (y - o_k)(p - p_k)/n.
/// Log score = -mean log of the probability given to what happened.</para>
/// <para>Parameters: p no unit, 0 &lt;= p &lt;= 1; bins [low, high), the last closed, breaks rising; clip below 1/2.</para>
/// <para>Method: closed form with compensated sums; groups are formed from equal values, or by the breaks.</para>
/// <para>Reference: Murphy 1973, J. Applied Meteorology 12:595-600; Stephenson, Coelho and Jolliffe 2008, Weather and Forecasting
/// 23:752-757; Wilks, Statistical Methods in the Atmospheric Sciences, ch. 7 (from memory).</para>
/// <para>Accuracy: within 3e-15 of R on d_brier.</para>
/// </remarks>
public static class ProbabilityScore
{
    /// <summary>Brier score, decomposed by groups of equal forecasts.</summary>
    public static BrierDecomposition Brier(ReadOnlySpan<double> forecasts, ReadOnlySpan<bool> outcomes)
    {
        Check(forecasts, outcomes);
        var p = forecasts.ToArray();
        var (reliability, resolution, uncertainty, _, _) = Parts(p, outcomes.ToArray(), p);
        var brier = MeanSquare(p, outcomes);
        return new BrierDecomposition(
            brier,
            reliability,
            resolution,
            uncertainty,
            uncertainty > 0 ? 1 - brier / uncertainty : null
        );
    }

    /// <summary>Brier score, decomposed by bins. Every forecast must lie between the first and the last break.</summary>
    public static BinnedBrierDecomposition Brier(
        ReadOnlySpan<double> forecasts,
        ReadOnlySpan<bool> outcomes,
        ReadOnlySpan<double> breaks
    )
    {
        Check(forecasts, outcomes);
        Refuse.NotFinite(breaks, nameof(breaks));
        for (var i = 1; i < breaks.Length; i++)
        {
            if (breaks[i] <= breaks[i - 1])
            {
                throw new InvalidSampleException(SampleFault.ReversedInterval, nameof(breaks), "breaks must rise");
            }
        }

        if (breaks.Length < 2)
        {
            throw new InvalidSampleException(SampleFault.OutOfRange, nameof(breaks), "at least two breaks");
        }

        var bins = new double[forecasts.Length];
        for (var i = 0; i < forecasts.Length; i++)
        {
            var p = forecasts[i];
            if (p < breaks[0] || p > breaks[^1])
            {
                throw new InvalidSampleException(SampleFault.OutOfRange, nameof(breaks), $"no bin holds {p}");
            }

            var bin = 0;
            while (bin < breaks.Length - 2 && p >= breaks[bin + 1])
            {
                bin++;
            }

            bins[i] = bin;
        }

        var values = forecasts.ToArray();
        var (reliability, resolution, uncertainty, variance, covariance) = Parts(values, outcomes.ToArray(), bins);
        return new BinnedBrierDecomposition(
            MeanSquare(values, outcomes),
            reliability,
            resolution,
            uncertainty,
            variance,
            covariance,
            resolution - variance + covariance
        );
    }

    /// <summary>
    /// Mean negative logarithm of the probability given to what happened. With a clip, forecasts are first kept within
    /// [clip, 1 - clip]; without one, a certain forecast that fails scores infinity.
    /// </summary>
    public static double LogScore(ReadOnlySpan<double> forecasts, ReadOnlySpan<bool> outcomes, double clip = 0)
    {
        Check(forecasts, outcomes);
        if (!(clip >= 0 && clip < 0.5))
        {
            throw new InvalidSampleException(SampleFault.OutOfRange, nameof(clip), "must be at least 0 and below 1/2");
        }

        var sum = new CompensatedSum();
        for (var i = 0; i < forecasts.Length; i++)
        {
            var p = Math.Clamp(forecasts[i], clip, 1 - clip);
            sum.Add(outcomes[i] ? -Math.Log(p) : -Saddlepoint.Log1p(-p));
        }

        return sum.Value / forecasts.Length;
    }

    private static double MeanSquare(double[] p, ReadOnlySpan<bool> y)
    {
        var sum = new CompensatedSum();
        for (var i = 0; i < p.Length; i++)
        {
            var d = p[i] - (y[i] ? 1 : 0);
            sum.Add(d * d);
        }

        return sum.Value / p.Length;
    }

    private static (
        double Reliability,
        double Resolution,
        double Uncertainty,
        double Variance,
        double Covariance
    ) Parts(double[] p, bool[] y, double[] group)
    {
        double n = p.Length;
        var rate = y.Count(v => v) / n;
        var (reliability, resolution) = (new CompensatedSum(), new CompensatedSum());
        var (variance, covariance) = (new CompensatedSum(), new CompensatedSum());
        foreach (var members in Enumerable.Range(0, p.Length).GroupBy(i => group[i]))
        {
            var inside = members.ToArray();
            double size = inside.Length;
            var observed = inside.Count(i => y[i]) / size;
            // Equal forecasts have that forecast as their mean, without rounding.
            var forecast = inside.All(i => p[i] == p[inside[0]]) ? p[inside[0]] : inside.Sum(i => p[i]) / size;
            reliability.Add(size * (forecast - observed) * (forecast - observed));
            resolution.Add(size * (observed - rate) * (observed - rate));
            foreach (var i in inside)
            {
                variance.Add((p[i] - forecast) * (p[i] - forecast));
                covariance.Add(2 * ((y[i] ? 1 : 0) - observed) * (p[i] - forecast));
            }
        }

        return (
            reliability.Value / n,
            resolution.Value / n,
            rate * (1 - rate),
            variance.Value / n,
            covariance.Value / n
        );
    }

    internal static void Check(ReadOnlySpan<double> forecasts, ReadOnlySpan<bool> outcomes)
    {
        Refuse.Empty(forecasts.Length, nameof(forecasts));
        Refuse.LengthMismatch(forecasts.Length, outcomes.Length, nameof(outcomes));
        Refuse.NotFinite(forecasts, nameof(forecasts));
        foreach (var p in forecasts)
        {
            if (p is < 0 or > 1)
            {
                throw new InvalidSampleException(
                    SampleFault.OutOfRange,
                    nameof(forecasts),
                    "a probability lies outside 0 to 1"
                );
            }
        }
    }
}
