using MathNet.Numerics.Distributions;

namespace Reports.Statistics;

/// <summary>Scores of forecasts that give a whole distribution; smaller is better.</summary>
/// <remarks>
/// <para>Model: CRPS = integral of (F(x) - 1{y &lt;= x})^2 dx; of a count the same as a sum over whole x; of classes the ranked
/// probability score, sum over the first J - 1 cumulative probabilities, not divided by J - 1; of an ensemble
/// mean |x - y| - mean |x - x'| / 2 over all pairs. Pinball loss of a quantile q at level t: (y - q)(t - 1{y &lt; q}).</para>
/// <para>Parameters: y and x in the unit of the quantity, and so is the CRPS; levels in (0, 1).</para>
/// <para>Method: closed forms; for counts the cumulative probability is summed up from 0 and the
/// tail down from where it can no longer show; the ensemble by sorting.</para>
/// <para>Reference: Gneiting and Raftery 2007, J. American Statistical Association 102:359-378, sections 4.2, 6; Epstein 1969, J.
/// Applied Meteorology 8:985-987; Czado, Gneiting and Held 2009, Biometrics 65:1254-1261 (from memory).</para>
/// <para>Accuracy: within 1e-14, relative, of R's direct sums on d_scores.</para>
/// </remarks>
public static class DistributionScore
{
    /// <summary>Ranked probability score of class probabilities that sum to 1; <paramref name="observed"/> counts from 0.</summary>
    public static double RankedProbability(ReadOnlySpan<double> probabilities, int observed)
    {
        CheckClasses(probabilities, observed);
        var sum = new CompensatedSum();
        var cumulative = new CompensatedSum();
        for (var j = 0; j < probabilities.Length - 1; j++)
        {
            cumulative.Add(probabilities[j]);
            var d = cumulative.Value - (j >= observed ? 1 : 0);
            sum.Add(d * d);
        }

        return sum.Value;
    }

    /// <summary>-log of the probability given to the class that came; infinite when it was given none.</summary>
    public static double LogScore(ReadOnlySpan<double> probabilities, int observed)
    {
        CheckClasses(probabilities, observed);
        return -Math.Log(probabilities[observed]);
    }

    /// <summary>-log probability of the observed count.</summary>
    public static double LogScore(CountDistribution forecast, int observed)
    {
        Refuse.Negative([observed], nameof(observed));
        return -forecast.LogProbability(observed);
    }

    /// <summary>CRPS of a count forecast.</summary>
    public static double Crps(CountDistribution forecast, int observed)
    {
        Refuse.Negative([observed], nameof(observed));
        var sum = new CompensatedSum();
        var below = new CompensatedSum();
        for (var x = 0; x < observed; x++)
        {
            below.Add(forecast.Probability(x));
            sum.Add(below.Value * below.Value);
        }

        // From the observation on, the tail; a tail summed from far out keeps its digits.
        var end = observed;
        var jump = 1;
        while (forecast.AtLeast(end + 1) > 1e-12)
        {
            end += jump;
            jump *= 2;
        }

        var tail = forecast.AtLeast(end + 1);
        var p = forecast.Probability(end);
        for (var x = end; x >= observed; x--)
        {
            sum.Add(tail * tail);
            tail += p;
            p = p > 0 ? p / forecast.Step(x - 1) : forecast.Probability(x - 1);
        }

        return sum.Value;
    }

    /// <summary>CRPS of a normal forecast with this mean and standard deviation.</summary>
    public static double CrpsNormal(double mean, double standardDeviation, double observed)
    {
        Refuse.NotFinite([mean, standardDeviation, observed], nameof(observed));
        Refuse.NotPositive(standardDeviation, nameof(standardDeviation));
        var z = (observed - mean) / standardDeviation;
        return standardDeviation
            * (
                z * (2 * Normal.CDF(0, 1, z) - 1)
                + 2 * Math.Exp(-0.5 * z * z) / Math.Sqrt(2 * Math.PI)
                - 1 / Math.Sqrt(Math.PI)
            );
    }

    /// <summary>CRPS of an ensemble of equally likely values.</summary>
    public static double CrpsEnsemble(ReadOnlySpan<double> ensemble, double observed)
    {
        Refuse.Empty(ensemble.Length, nameof(ensemble));
        Refuse.NotFinite(ensemble, nameof(ensemble));
        Refuse.NotFinite([observed], nameof(observed));
        var sorted = ensemble.ToArray();
        Array.Sort(sorted);
        double m = sorted.Length;
        var distance = new CompensatedSum();
        var pairs = new CompensatedSum();
        for (var i = 0; i < sorted.Length; i++)
        {
            distance.Add(Math.Abs(sorted[i] - observed));
            pairs.Add((2 * i + 1 - m) * sorted[i]); // half the sum of |x - x'| over all pairs
        }

        return distance.Value / m - pairs.Value / (m * m);
    }

    /// <summary>Pinball (quantile) loss of the forecast quantile at the level.</summary>
    public static double Pinball(double quantile, double level, double observed)
    {
        Refuse.NotFinite([quantile, observed], nameof(observed));
        Refuse.NotOpenProbability(level, nameof(level));
        return (observed - quantile) * (level - (observed < quantile ? 1 : 0));
    }

    private static void CheckClasses(ReadOnlySpan<double> probabilities, int observed)
    {
        Refuse.Empty(probabilities.Length, nameof(probabilities));
        Refuse.NotFinite(probabilities, nameof(probabilities));
        var sum = new CompensatedSum();
        foreach (var p in probabilities)
        {
            if (p < 0)
            {
                throw new InvalidSampleException(
                    SampleFault.Negative,
                    nameof(probabilities),
                    "a probability is negative"
                );
            }

            sum.Add(p);
        }

        if (Math.Abs(sum.Value - 1) > 1e-6)
        {
            throw new InvalidSampleException(SampleFault.OutOfRange, nameof(probabilities), "they do not sum to 1");
        }

        if (observed < 0 || observed >= probabilities.Length)
        {
            throw new InvalidSampleException(SampleFault.OutOfRange, nameof(observed), "no such class");
        }
    }
}

/// <summary>Probability integral transform of count forecasts: a straight line from (0, 0) to (1, 1) when they are calibrated.</summary>
/// <remarks>
/// <para>Model: F(u | y) = 0 for u &lt;= P(y - 1), 1 for u >= P(y), linear between; the mean over observations is returned.</para>
/// <para>Parameters: u no unit, 0 &lt;= u &lt;= 1.</para>
/// <para>Method: closed form, no random numbers.</para>
/// <para>Reference: Czado, Gneiting and Held 2009, Biometrics 65:1254-1261, section 2.1 (from memory).</para>
/// <para>Accuracy: within 1e-14 of R on d_scores.</para>
/// </remarks>
public static class CountPit
{
    /// <summary>Mean transform at each u.</summary>
    public static double[] At(
        ReadOnlySpan<double> u,
        ReadOnlySpan<CountDistribution> forecasts,
        ReadOnlySpan<int> observed
    )
    {
        Refuse.Empty(observed.Length, nameof(observed));
        Refuse.LengthMismatch(observed.Length, forecasts.Length, nameof(forecasts));
        Refuse.Negative(observed, nameof(observed));
        var result = new double[u.Length];
        for (var i = 0; i < observed.Length; i++)
        {
            var below = forecasts[i].Cumulative(observed[i] - 1);
            var upTo = forecasts[i].Cumulative(observed[i]);
            for (var j = 0; j < u.Length; j++)
            {
                if (!(u[j] >= 0 && u[j] <= 1))
                {
                    throw new InvalidSampleException(SampleFault.OutOfRange, nameof(u), "must lie between 0 and 1");
                }

                result[j] +=
                    u[j] <= below ? 0
                    : u[j] >= upTo ? 1
                    : (u[j] - below) / (upTo - below);
            }
        }

        for (var j = 0; j < result.Length; j++)
        {
            result[j] /= observed.Length;
        }

        return result;
    }
}
