using MathNet.Numerics.LinearAlgebra;

namespace Reports.Statistics;

/// <summary>A measurement of the level of one group on one day. Variance > 0.</summary>
public readonly record struct LevelObservation(int Group, double Day, double Value, double Variance);

/// <summary>How a level lives: spreads are standard deviations (>= 0), half-lives in days (> 0).</summary>
/// <param name="Mean">Where it lies when nothing is known.</param>
/// <param name="MeanSpread">How well that is known.</param>
/// <param name="CommonSpread">Of what all groups share and which drifts.</param>
/// <param name="CommonHalfLife">Days after which half of a common excursion is left.</param>
/// <param name="GroupSpread">Of a group's lasting difference.</param>
/// <param name="OwnSpread">Of a group's own drifting difference.</param>
/// <param name="OwnHalfLife">Days after which half of it is left.</param>
public sealed record LevelPrior(
    double Mean,
    double MeanSpread,
    double CommonSpread,
    double CommonHalfLife,
    double GroupSpread,
    double OwnSpread,
    double OwnHalfLife
);

/// <summary>
/// A level that drifts from day to day and differs from group to group, seen through noise: kriging.
/// <para>Model: y_i = l(g_i, t_i) + e_i, e_i ~ Normal(0, v_i); l(g, t) = m + c(t) + z_g + d_g(t), m ~ Normal(mean, meanSpread²),
/// z_g ~ Normal(0, groupSpread²), c and d_g stationary Gauss-Markov processes with correlation 2^(-|t - t'|/half-life).</para>
/// <para>Parameters: as <see cref="LevelPrior"/>; variances > 0; groups any integers; days any finite numbers, later than the
/// last observation for a forecast. No observations: the prior.</para>
/// <para>Method: exact Gaussian conditioning, l | y = mean + k'(K + V)^-1 (y - mean), variance k_0 - k'(K + V)^-1 k, by Cholesky;
/// n³/3 operations.</para>
/// <para>Reference: Rasmussen &amp; Williams 2006, Gaussian Processes for Machine Learning, equations 2.25, 2.26 and 2.30; the
/// correlation is their equation 4.16 (Ornstein-Uhlenbeck).</para>
/// <para>Accuracy: equal to the normal-normal formula for one group and one day to 1e-12 (tests of this class).</para>
/// </summary>
public sealed class DriftingLevel
{
    private readonly LevelPrior prior;
    private readonly IReadOnlyList<LevelObservation> observations;
    private readonly MathNet.Numerics.LinearAlgebra.Factorization.Cholesky<double>? factor;
    private readonly Vector<double>? weights;

    /// <exception cref="InvalidSampleException">A value that is not finite, or a variance that is not positive.</exception>
    public DriftingLevel(LevelPrior prior, IReadOnlyList<LevelObservation> observations)
    {
        (this.prior, this.observations) = (prior, observations);
        foreach (var o in observations)
        {
            RateInput.Finite(o.Value, nameof(observations));
            RateInput.Finite(o.Day, nameof(observations));
            if (!(o.Variance > 0) || double.IsInfinity(o.Variance))
            {
                throw new InvalidSampleException(SampleFault.OutOfRange, nameof(observations), "variance not positive");
            }
        }

        var n = observations.Count;
        if (n == 0)
        {
            return;
        }

        var k = Matrix<double>.Build.Dense(n, n);
        var y = Vector<double>.Build.Dense(n);
        for (var i = 0; i < n; i++)
        {
            y[i] = observations[i].Value - prior.Mean;
            for (var j = 0; j <= i; j++)
            {
                k[i, j] = k[j, i] = Covariance(
                    observations[i].Group,
                    observations[i].Day,
                    observations[j].Group,
                    observations[j].Day
                );
            }

            k[i, i] += observations[i].Variance;
        }

        factor = k.Cholesky();
        weights = factor.Solve(y);
        LogLikelihood = -0.5 * (y.DotProduct(weights) + factor.DeterminantLn + n * Math.Log(2 * Math.PI));
    }

    /// <summary>ln density of the observations under the prior: what spreads and half-lives are compared by.</summary>
    public double LogLikelihood { get; }

    /// <summary>Mean and variance of the level, given what was seen.</summary>
    public (double Mean, double Variance) At(int group, double day)
    {
        var own = Covariance(group, day, group, day);
        if (factor is null)
        {
            return (prior.Mean, own);
        }

        var k = Vector<double>.Build.Dense(
            observations.Count,
            i => Covariance(group, day, observations[i].Group, observations[i].Day)
        );
        return (prior.Mean + k.DotProduct(weights!), Math.Max(0, own - k.DotProduct(factor.Solve(k))));
    }

    /// <summary>The level at each observation, cheaper than asking for one after another: y - V (K + V)^-1 (y - mean).</summary>
    public double[] AtObservations() => [.. observations.Select((o, i) => o.Value - o.Variance * weights![i])];

    private double Covariance(int group, double day, int otherGroup, double otherDay)
    {
        var lag = Math.Abs(day - otherDay);
        var c =
            prior.MeanSpread * prior.MeanSpread
            + prior.CommonSpread * prior.CommonSpread * Math.Pow(2, -lag / prior.CommonHalfLife);
        return group == otherGroup
            ? c
                + prior.GroupSpread * prior.GroupSpread
                + prior.OwnSpread * prior.OwnSpread * Math.Pow(2, -lag / prior.OwnHalfLife)
            : c;
    }
}
