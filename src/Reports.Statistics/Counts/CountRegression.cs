using MathNet.Numerics;
using MathNet.Numerics.LinearAlgebra;

namespace Reports.Statistics;

/// <summary>A fitted log-linear model of counts.</summary>
/// <param name="Coefficients">Intercept first, then one per column; log rate ratios.</param>
/// <param name="StandardErrors">From the expected information (at the fitted theta); infinite where a coefficient has no finite estimate.</param>
/// <param name="Theta">Dispersion: variance = mu + mu^2/theta; infinite for the Poisson and at the boundary.</param>
/// <param name="AtPoissonBoundary">For the negative binomial: the likelihood is highest without overdispersion.</param>
/// <param name="Deviance">Twice the distance of the log-likelihood from the saturated one.</param>
/// <param name="PearsonChiSquare">Sum of squared residuals over their variance.</param>
/// <param name="DegreesOfFreedom">Observations of positive weight minus coefficients.</param>
/// <param name="PoissonLogLikelihood">What the Poisson model reaches.</param>
/// <param name="Fit">How the fit ended; Separated when a group has only zeros, so that its coefficient runs away.</param>
public sealed record CountRegressionFit(
    double[] Coefficients,
    double[] StandardErrors,
    double Theta,
    bool AtPoissonBoundary,
    double Deviance,
    double PearsonChiSquare,
    int DegreesOfFreedom,
    double PoissonLogLikelihood,
    FitSummary Fit
);

/// <summary>Standardised catch rates: counts with effort as offset, Poisson or negative binomial.</summary>
/// <remarks>
/// <para>Model: y_i ~ Poisson or negative binomial with mu_i = exposure_i exp(b_0 + x_i b), variance mu + mu^2/theta.</para>
/// <para>Parameters: b log rate ratios per unit of the column; exposure in anglers, hours or angler-days, > 0; theta no unit,
/// 0 &lt; theta &lt;= infinity; weights >= 0.</para>
/// <para>Method: for a given theta Newton steps in b with halving (the log-likelihood is concave in b); theta from a grid of the
/// profile, refined by joint Newton steps in (b, ln theta); the boundary is kept unless theta gains more than 1e-6 in
/// log-likelihood and stays below 1e5.</para>
/// <para>Reference: McCullagh and Nelder 1989, Generalized Linear Models, sections 2.5 and 6.3; Lawless 1987, Canadian J. Statistics
/// 15:209-225; Venables and Ripley, MASS, section 7.4 (from memory).</para>
/// <para>Accuracy: Poisson coefficients within 3e-11, relative, of R's glm; theta within 1e-11, relative, of MASS::glm.nb on the
/// cases of c_glm (the joint optimum listed there stops up to 3e-6 short of both).</para>
/// </remarks>
public static class CountRegression
{
    private const int MaxIterations = 100;
    private const double LargestTheta = 1e5;

    /// <summary>A step that gains less log-likelihood than this, yet changes an expected count by a third, leads to infinity.</summary>
    private const double NoGain = 1e-7;

    private const double Precise = 1e-20;

    /// <summary>Poisson regression. <paramref name="rows"/>: one array of columns per observation, without intercept.</summary>
    /// <exception cref="InvalidSampleException">Empty, lengths differ, negative count, exposure not positive, columns linearly dependent.</exception>
    public static CountRegressionFit FitPoisson(
        double[][] rows,
        int[] counts,
        double[] exposure,
        double[]? weights = null
    )
    {
        var data = new Design(rows, counts, exposure, weights);
        var fit = Climb(data, double.PositiveInfinity, data.Start());
        return Report(data, fit, double.PositiveInfinity, false, fit.LogLikelihood);
    }

    /// <summary>Negative binomial regression. <paramref name="rows"/>: one array of columns per observation, without intercept.</summary>
    /// <exception cref="InvalidSampleException">Empty, lengths differ, negative count, exposure not positive, columns linearly dependent.</exception>
    public static CountRegressionFit FitNegativeBinomial(
        double[][] rows,
        int[] counts,
        double[] exposure,
        double[]? weights = null
    )
    {
        var data = new Design(rows, counts, exposure, weights);
        var poisson = Climb(data, double.PositiveInfinity, data.Start());
        Climbed? best = null;
        var bestLogTheta = 0.0;
        var from = poisson.Coefficients;
        // The grid needs no more than the right neighbourhood; a runaway coefficient is told by precise steps only.
        var enough = poisson.Separated ? Precise : 1e-8;
        for (var logTheta = 12.0; logTheta >= -8; logTheta -= 1)
        {
            var fit = Climb(data, Math.Exp(logTheta), from, enough);
            from = fit.Coefficients;
            if (best is null || fit.LogLikelihood > best.LogLikelihood)
            {
                (best, bestLogTheta) = (fit, logTheta);
            }
        }

        var (polished, theta) = Polish(data, best!, bestLogTheta);
        return theta > LargestTheta || polished.LogLikelihood <= poisson.LogLikelihood + 1e-6
            ? Report(data, poisson, double.PositiveInfinity, true, poisson.LogLikelihood)
            : Report(data, polished, theta, false, poisson.LogLikelihood);
    }

    /// <summary>Newton in the coefficients at a fixed theta, until a step gains less than enough of the log-likelihood.</summary>
    private static Climbed Climb(Design data, double theta, Vector<double> start, double enough = Precise)
    {
        var b = start;
        var value = data.LogLikelihood(b, theta);
        for (var iteration = 1; iteration <= MaxIterations; iteration++)
        {
            var (gradient, information) = data.Derivatives(b, theta);
            var step = information.Cholesky().Solve(gradient);
            var decrement = gradient.DotProduct(step);
            if (!(decrement > enough * Math.Max(1, Math.Abs(value))))
            {
                return new Climbed(b, value, iteration, true);
            }

            if (decrement < NoGain && data.Reach(step) > 0.3)
            {
                return new Climbed(b, value, iteration, false, Separated: true);
            }

            var scale = 1.0;
            var next = b + step;
            var there = data.LogLikelihood(next, theta);
            while (!(there > value) && scale > 1e-9)
            {
                scale /= 2;
                next = b + scale * step;
                there = data.LogLikelihood(next, theta);
            }

            if (!(there > value))
            {
                // The last full step gains less than rounding shows: take it when small, it halves the error of b again.
                return new Climbed(decrement < 1e-9 ? b + step : b, value, iteration, decrement < 1e-6);
            }

            (b, value) = (next, there);
        }

        return new Climbed(b, value, MaxIterations, false);
    }

    /// <summary>Joint Newton steps in (b, ln theta) from the best point of the grid.</summary>
    private static (Climbed Fit, double Theta) Polish(Design data, Climbed start, double logTheta)
    {
        if (start.Separated)
        {
            return (start, Math.Exp(logTheta));
        }

        var (b, value) = (start.Coefficients, start.LogLikelihood);
        var p = b.Count;
        for (var iteration = 1; iteration <= MaxIterations; iteration++)
        {
            var theta = Math.Exp(logTheta);
            var (gradient, information) = data.Derivatives(b, theta);
            var (slope, curvature, cross) = data.ThetaDerivatives(b, theta);
            // In ln theta: d = theta d/dtheta, d2 = theta d + theta^2 d2.
            var (g, h, c) = (theta * slope, -(theta * slope + theta * theta * curvature), -theta * cross);
            var schur = h - c.DotProduct(information.Cholesky().Solve(c));
            double thetaStep;
            if (schur > 1e-12)
            {
                thetaStep = (g - c.DotProduct(information.Cholesky().Solve(gradient))) / schur;
            }
            else
            {
                thetaStep = Math.Sign(g);
            }

            thetaStep = Math.Clamp(thetaStep, -1, 1);
            var step = information.Cholesky().Solve(gradient - thetaStep * c);
            var gain = gradient.DotProduct(step) + g * thetaStep;
            if (Math.Abs(thetaStep) < 1e-11 && step.AbsoluteMaximum() < 1e-11)
            {
                return (new Climbed(b, value, start.Iterations + iteration, true), theta);
            }

            var moved = false;
            for (var scale = 1.0; scale > 1e-9 && !moved; scale /= 2)
            {
                var next = b + scale * step;
                var nextLog = logTheta + scale * thetaStep;
                var there = data.LogLikelihood(next, Math.Exp(nextLog));
                if (there > value)
                {
                    (b, logTheta, value, moved) = (next, nextLog, there, true);
                }
            }

            if (logTheta > Math.Log(LargestTheta) + 1)
            {
                return (new Climbed(b, value, start.Iterations + iteration, true), Math.Exp(logTheta));
            }

            if (!moved)
            {
                var close = gain < 1e-8;
                return (
                    new Climbed(close ? b + step : b, value, start.Iterations + iteration, close),
                    Math.Exp(close ? logTheta + thetaStep : logTheta)
                );
            }
        }

        return (new Climbed(b, value, MaxIterations, false), Math.Exp(logTheta));
    }

    private static CountRegressionFit Report(Design data, Climbed fit, double theta, bool boundary, double poisson)
    {
        var (deviance, pearson) = data.Distances(fit.Coefficients, theta);
        return new CountRegressionFit(
            fit.Coefficients.ToArray(),
            data.StandardErrors(fit.Coefficients, theta, fit.Separated),
            theta,
            boundary,
            deviance,
            pearson,
            data.Used - fit.Coefficients.Count,
            poisson,
            new FitSummary(
                fit.Separated ? StopReason.Separated
                    : !fit.Converged ? StopReason.IterationLimit
                    : boundary ? StopReason.Boundary
                    : StopReason.Converged,
                fit.Iterations,
                fit.LogLikelihood
            )
        );
    }

    private sealed record Climbed(
        Vector<double> Coefficients,
        double LogLikelihood,
        int Iterations,
        bool Converged,
        bool Separated = false
    );

    /// <summary>The data with an intercept column, and the sums that the fits need.</summary>
    private sealed class Design
    {
        private readonly Matrix<double> x;
        private readonly int[] y;
        private readonly double[] exposure;
        private readonly double[] logExposure;
        private readonly double[] w;
        private readonly Vector<double> used;

        internal Design(double[][] rows, int[] counts, double[] exposure, double[]? weights)
        {
            Refuse.Empty(counts.Length, nameof(counts));
            Refuse.Negative(counts, nameof(counts));
            Refuse.LengthMismatch(counts.Length, rows.Length, nameof(rows));
            Refuse.LengthMismatch(counts.Length, exposure.Length, nameof(exposure));
            Refuse.NotFinite(exposure, nameof(exposure));
            foreach (var e in exposure)
            {
                Refuse.NotPositive(e, nameof(exposure));
            }

            y = counts;
            w = Refuse.UnusableWeights(weights, counts.Length, nameof(weights));
            this.exposure = exposure;
            logExposure = [.. exposure.Select(e => Math.Log(e))];
            foreach (var row in rows)
            {
                Refuse.LengthMismatch(rows[0].Length, row.Length, nameof(rows));
                Refuse.NotFinite(row, nameof(rows));
            }

            x = Matrix<double>.Build.Dense(rows.Length, rows[0].Length + 1, (i, j) => j == 0 ? 1 : rows[i][j - 1]);
            used = Vector<double>.Build.Dense(w.Length, i => w[i] > 0 ? 1 : 0);
            Used = w.Count(v => v > 0);
            if (Rank() < x.ColumnCount)
            {
                throw new InvalidSampleException(
                    SampleFault.OutOfRange,
                    nameof(rows),
                    "the columns (with the intercept) are linearly dependent: no single answer exists"
                );
            }
        }

        internal int Used { get; }

        internal Vector<double> Start()
        {
            var fish = 0.0;
            var effort = 0.0;
            for (var i = 0; i < y.Length; i++)
            {
                fish += w[i] * y[i];
                effort += w[i] * exposure[i];
            }

            var b = Vector<double>.Build.Dense(x.ColumnCount);
            b[0] = Math.Log(Math.Max(fish, 0.1) / effort);
            return b;
        }

        internal double LogLikelihood(Vector<double> b, double theta)
        {
            var eta = x * b;
            var sum = new CompensatedSum();
            for (var i = 0; i < y.Length; i++)
            {
                if (w[i] == 0)
                {
                    continue;
                }

                var log = eta[i] + logExposure[i];
                if (!(log < 300))
                {
                    return double.NegativeInfinity;
                }

                var mu = Math.Exp(log);
                sum.Add(
                    w[i]
                        * (
                            double.IsPositiveInfinity(theta)
                                ? Saddlepoint.LogPoisson(y[i], mu)
                                : Saddlepoint.LogNegativeBinomial(y[i], mu, theta)
                        )
                );
            }

            return sum.Value;
        }

        /// <summary>Gradient and observed information in b.</summary>
        internal (Vector<double> Gradient, Matrix<double> Information) Derivatives(Vector<double> b, double theta)
        {
            var mu = Expected(b);
            var score = Vector<double>.Build.Dense(y.Length, i => w[i] * (y[i] - mu[i]) / (1 + mu[i] / theta));
            return (
                x.TransposeThisAndMultiply(score),
                Weighted(i => w[i] * mu[i] * (1 + y[i] / theta) / Square(1 + mu[i] / theta))
            );
        }

        /// <summary>First and second derivative in theta, and the derivative of the gradient in theta.</summary>
        internal (double Slope, double Curvature, Vector<double> Cross) ThetaDerivatives(Vector<double> b, double theta)
        {
            var mu = Expected(b);
            var slope = new CompensatedSum();
            var curvature = new CompensatedSum();
            for (var i = 0; i < y.Length; i++)
            {
                var (first, second) = RisingDerivatives(theta, y[i]);
                var total = theta + mu[i];
                slope.Add(w[i] * (first - Saddlepoint.Log1p(mu[i] / theta) + (mu[i] - y[i]) / total));
                curvature.Add(w[i] * (second + mu[i] / (theta * total) - (mu[i] - y[i]) / (total * total)));
            }

            var cross = Vector<double>.Build.Dense(
                y.Length,
                i => w[i] * (y[i] - mu[i]) * mu[i] / Square(theta + mu[i])
            );
            return (slope.Value, curvature.Value, x.TransposeThisAndMultiply(cross));
        }

        /// <summary>Largest change of a log expected count that a step would make.</summary>
        internal double Reach(Vector<double> step) => (x * step).PointwiseMultiply(used).AbsoluteMaximum();

        internal double[] StandardErrors(Vector<double> b, double theta, bool separated)
        {
            var mu = Expected(b);
            var information = Weighted(i => w[i] * mu[i] / (1 + mu[i] / theta));
            var variances = information.Inverse().Diagonal();
            // A runaway coefficient has an information near zero: its standard error is unbounded, and is said so.
            return
            [
                .. variances.Select(v => separated && !(v > 0 && v < 1e6) ? double.PositiveInfinity : Math.Sqrt(v)),
            ];
        }

        internal (double Deviance, double Pearson) Distances(Vector<double> b, double theta)
        {
            var mu = Expected(b);
            var deviance = new CompensatedSum();
            var pearson = new CompensatedSum();
            for (var i = 0; i < y.Length; i++)
            {
                var d = Saddlepoint.Deviance(y[i], mu[i], y[i] - mu[i]);
                if (!double.IsPositiveInfinity(theta))
                {
                    var ratio = (mu[i] - y[i]) / (y[i] + theta);
                    d = (y[i] > 0 ? y[i] * Math.Log(y[i] / mu[i]) : 0) + (y[i] + theta) * Saddlepoint.Log1p(ratio);
                }

                deviance.Add(2 * w[i] * d);
                pearson.Add(w[i] * Square(y[i] - mu[i]) / (mu[i] + mu[i] * mu[i] / theta));
            }

            return (deviance.Value, pearson.Value);
        }

        private Vector<double> Expected(Vector<double> b)
        {
            var eta = x * b;
            return eta.MapIndexed((i, e) => exposure[i] * Math.Exp(e));
        }

        /// <summary>X' diag(v) X.</summary>
        private Matrix<double> Weighted(Func<int, double> v)
        {
            var result = Matrix<double>.Build.Dense(x.ColumnCount, x.ColumnCount);
            for (var i = 0; i < y.Length; i++)
            {
                var weight = v(i);
                for (var a = 0; a < x.ColumnCount && weight > 0; a++)
                {
                    for (var b = 0; b <= a; b++)
                    {
                        result[a, b] += weight * x[i, a] * x[i, b];
                    }
                }
            }

            for (var a = 0; a < x.ColumnCount; a++)
            {
                for (var b = 0; b < a; b++)
                {
                    result[b, a] = result[a, b];
                }
            }

            return result;
        }

        private int Rank()
        {
            var columns = x.MapIndexed((i, j, value) => w[i] > 0 ? value : 0, Zeros.Include);
            for (var j = 0; j < columns.ColumnCount; j++)
            {
                var norm = columns.Column(j).L2Norm();
                if (norm == 0)
                {
                    return 0;
                }

                columns.SetColumn(j, columns.Column(j) / norm);
            }

            return columns.Svd(false).S.Count(s => s > 1e-10);
        }

        /// <summary>psi(theta + n) - psi(theta) and its derivative, for whole n.</summary>
        private static (double First, double Second) RisingDerivatives(double theta, int n)
        {
            double first = 0;
            double second = 0;
            for (var j = 0; j < n; j++)
            {
                first += 1 / (theta + j);
                second -= 1 / Square(theta + j);
            }

            return (first, second);
        }

        private static double Square(double v) => v * v;
    }
}
