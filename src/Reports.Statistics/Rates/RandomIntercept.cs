namespace Reports.Statistics;

/// <summary>A logistic regression with a random intercept per group.</summary>
/// <param name="Fixed">Intercept and slopes with their covariance, the spread's uncertainty included.</param>
/// <param name="Spread">σ, standard deviation of the groups in log odds; 0 when none can be seen.</param>
/// <param name="Groups">Names of the groups, in ordinal order.</param>
/// <param name="Modes">Most probable deviation of each group in log odds, given the fitted values.</param>
/// <param name="Summary">How the fit ended: <see cref="StopReason.Boundary"/> at σ = 0.</param>
public sealed record RandomInterceptFit(
    CoefficientFit Fixed,
    double Spread,
    IReadOnlyList<string> Groups,
    double[] Modes,
    FitSummary Summary
);

/// <summary>
/// Success rates of boats that differ: a logistic regression whose intercept varies from group to group.
/// <para>Model: ln(p / (1 - p)) = o_i + b'x_i + σ u_g, u_g ~ Normal(0, 1), y_i ~ Binomial(n_i, p_i).</para>
/// <para>Parameters: b in log odds; σ >= 0 in log odds; u_g without unit; log-likelihood without binomial coefficients;
/// optional Gaussian prior on b.</para>
/// <para>Method: the integral over each u_g by adaptive Gauss-Hermite quadrature (61 nodes centred on the group's mode,
/// scaled by its curvature); gradient and Hessian by differentiating under the integral; Newton ascent from several σ,
/// compared with σ = 0, which is returned and said when it is as good (gain up to 1e-6, or σ under 0.005). Separated fixed
/// effects get a Normal(0, 5²) prior each and <see cref="StopReason.Separated"/>. Where every group is all or nothing σ has
/// no finite maximum: the climb ends with <see cref="StopReason.IterationLimit"/>. Weights act on the rows.</para>
/// <para>Reference: Breslow &amp; Clayton 1993, JASA 88:9-25 (data of the reference case); Pinheiro &amp; Bates 1995,
/// J. Comp. Graph. Stat. 4:12-35, section 2.4.</para>
/// <para>Accuracy: log-likelihood 2e-9, coefficients, σ and modes 7e-6 against a 61-point maximum in R 4.2.2 on the
/// reference cases (R's optimiser stops there).</para>
/// </summary>
public static class RandomIntercept
{
    private const int NodeCount = 61;
    private const double SmallestGain = 1e-6;
    private const double SmallestSpread = 5e-3;
    private static readonly GaussHermite Quadrature = new(NodeCount);

    /// <exception cref="InvalidSampleException">Lengths differ or the columns are linearly dependent.</exception>
    public static RandomInterceptFit Fit(BinomialRows rows, IReadOnlyList<string> groups, GaussianPrior? prior = null)
    {
        RateInput.SameLength(rows.Count, groups.Count, nameof(groups));
        var p = rows.Columns;
        var given = prior ?? GaussianPrior.None(p);
        given.Check(p);
        Logistic.CheckRank(rows, given);
        var separated = Logistic.Separation(rows, given);
        var used = separated
            ? new GaussianPrior(given.Mean, [.. given.Precision.Select(k => k > 0 ? k : 1 / 25.0)])
            : given;
        var names = groups.Distinct(StringComparer.Ordinal).Order(StringComparer.Ordinal).ToArray();
        var members = names.Select(name => Members(rows, groups, name)).ToArray();
        var none = Logistic.WithPrior(rows, used);
        var sized = p + 1;
        var predictors = new double[rows.Count];
        double[] spreads = [0.15, 0.7, 2.5];
        var best = NewtonAscent.ClimbFrom(Value, spreads.Select(s => none.Coefficients.Append(s).ToArray()));
        var spread = Math.Abs(best.Point[p]);
        if (spread < SmallestSpread || best.Value <= none.PenalisedLogLikelihood + SmallestGain)
        {
            var boundary = none.Summary with { Stopped = separated ? StopReason.Separated : StopReason.Boundary };
            return new RandomInterceptFit(
                none with
                {
                    Summary = boundary,
                },
                0,
                names,
                new double[names.Length],
                boundary
            );
        }

        var coefficients = best.Point[..p];
        var all = NewtonAscent.Covariance(best.Hessian, sized);
        var covariance = new double[p * p];
        for (var j = 0; j < p; j++)
        {
            for (var k = 0; k < p; k++)
            {
                // At a maximum the Hessian is negative definite; where rounding denies it there is no standard error.
                covariance[j * p + k] = all is null ? double.PositiveInfinity : all[j * sized + k];
            }
        }

        var reason =
            separated ? StopReason.Separated
            : best.Converged && all is not null ? StopReason.Converged
            : StopReason.IterationLimit;
        var summary = new FitSummary(reason, best.Iterations, best.Value - used.Add(coefficients, default, default, p));
        Predict(coefficients);
        var modes = members.Select(m => spread * Mode(rows, m, predictors, spread).U).ToArray();
        return new RandomInterceptFit(
            new CoefficientFit(coefficients, covariance, summary, best.Value),
            spread,
            names,
            modes,
            summary
        );

        double Value(ReadOnlySpan<double> at, Span<double> gradient, Span<double> hessian)
        {
            gradient.Clear();
            hessian.Clear();
            Predict(at);
            var log = 0.0;
            foreach (var group in members)
            {
                log += Integrate(rows, group, predictors, at[p], gradient, hessian);
            }

            return log + used.Add(at, gradient, hessian, sized);
        }

        void Predict(ReadOnlySpan<double> b)
        {
            for (var i = 0; i < predictors.Length; i++)
            {
                predictors[i] = rows.Predictor(i, b[..p]);
            }
        }
    }

    private static int[] Members(BinomialRows rows, IReadOnlyList<string> groups, string name) =>
        [.. Enumerable.Range(0, rows.Count).Where(i => groups[i] == name && rows.Trials[i] > 0)];

    /// <summary>Mode of u and the curvature there; the log density is concave, so Newton with halving can't fail.</summary>
    private static (double U, double Curvature) Mode(BinomialRows rows, int[] group, double[] predictors, double sigma)
    {
        var u = 0.0;
        var (value, slope, curvature) = Density(rows, group, predictors, sigma, u);
        for (var iteration = 0; iteration < 200 && Math.Abs(slope / curvature) > 1e-13 * (1 + Math.Abs(u)); iteration++)
        {
            var step = slope / curvature;
            var next = Density(rows, group, predictors, sigma, u + step);
            for (var halving = 0; next.Value < value - 1e-12 * (1 + Math.Abs(value)) && halving < 60; halving++)
            {
                step /= 2;
                next = Density(rows, group, predictors, sigma, u + step);
            }

            u += step;
            (value, slope, curvature) = next;
        }

        return (u, curvature);
    }

    private static (double Value, double Slope, double Curvature) Density(
        BinomialRows rows,
        int[] group,
        double[] predictors,
        double sigma,
        double u
    )
    {
        var (value, slope, curvature) = (-0.5 * u * u, -u, 1.0);
        foreach (var i in group)
        {
            var (y, n) = (rows.Successes[i], rows.Trials[i]);
            var (rate, rest, logRate, logRest) = BetaTails.Odds(predictors[i] + sigma * u);
            value += y * logRate + (n - y) * logRest;
            slope += sigma * (y * rest - (n - y) * rate);
            curvature += sigma * sigma * n * rate * rest;
        }

        return (value, slope, curvature);
    }

    /// <summary>
    /// ln ∫ exp(l(u)) φ(u) du of one group; with g = ∂l, H = ∂²l under the group's posterior, the gradient is E g and the
    /// Hessian E H + E gg' - (E g)(E g)'.
    /// </summary>
    private static double Integrate(
        BinomialRows rows,
        int[] group,
        double[] predictors,
        double sigma,
        Span<double> gradient,
        Span<double> hessian
    )
    {
        var p = rows.Columns;
        var size = p + 1;
        var (mode, curvature) = Mode(rows, group, predictors, sigma);
        var scale = 1 / Math.Sqrt(curvature);
        Span<double> logs = stackalloc double[NodeCount];
        var peak = double.NegativeInfinity;
        for (var q = 0; q < NodeCount; q++)
        {
            var z = Quadrature.Nodes[q];
            var u = mode + scale * z;
            logs[q] = Density(rows, group, predictors, sigma, u).Value + Quadrature.LogWeights[q] + 0.5 * z * z;
            peak = Math.Max(peak, logs[q]);
        }

        var sum = 0.0;
        for (var q = 0; q < NodeCount; q++)
        {
            logs[q] = Math.Exp(logs[q] - peak);
            sum += logs[q];
        }

        var value = Math.Log(sum) + peak + Math.Log(scale);
        if (gradient.IsEmpty)
        {
            return value;
        }

        Span<double> mean = size <= 64 ? stackalloc double[size] : new double[size];
        Span<double> g = size <= 64 ? stackalloc double[size] : new double[size];
        mean.Clear();
        for (var q = 0; q < NodeCount; q++)
        {
            var share = logs[q] / sum;
            if (share < 1e-30)
            {
                continue;
            }

            var u = mode + scale * Quadrature.Nodes[q];
            g.Clear();
            foreach (var i in group)
            {
                var (y, n) = (rows.Successes[i], rows.Trials[i]);
                var row = rows.Row(i);
                var (rate, rest, _, _) = BetaTails.Odds(predictors[i] + sigma * u);
                var residual = y * rest - (n - y) * rate;
                var weight = share * n * rate * rest;
                g[p] += residual * u;
                for (var j = 0; j < p; j++)
                {
                    g[j] += residual * row[j];
                    var add = weight * row[j];
                    for (var k = 0; k < p; k++)
                    {
                        hessian[j * size + k] -= add * row[k];
                    }

                    hessian[j * size + p] -= add * u;
                    hessian[p * size + j] -= add * u;
                }

                hessian[p * size + p] -= weight * u * u;
            }

            for (var j = 0; j < size; j++)
            {
                mean[j] += share * g[j];
                for (var k = 0; k < size; k++)
                {
                    hessian[j * size + k] += share * g[j] * g[k];
                }
            }
        }

        for (var j = 0; j < size; j++)
        {
            gradient[j] += mean[j];
            for (var k = 0; k < size; k++)
            {
                hessian[j * size + k] -= mean[j] * mean[k];
            }
        }

        return value;
    }
}
