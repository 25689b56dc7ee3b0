namespace Reports.Statistics;

/// <summary>
/// BFGS with a weak Wolfe line search by bisection (Lewis and Overton 2013, Math. Program. 141:135-163). Values of
/// infinity mark points outside the domain and are stepped back from.
/// </summary>
/// <remarks>
/// MathNet's BfgsMinimizer throws ("Line search failed.", tried on a function with an infinite region) when a step leaves the
/// domain, here sizes out of reach of every group; this one steps back. It also returns the best point with the reason it
/// stopped, and allocates nothing in its loop.
/// </remarks>
internal static class QuasiNewton
{
    /// <summary>Returns f and its gradient in <paramref name="gradient"/>.</summary>
    internal delegate double Objective(double[] x, double[] gradient);

    internal sealed record Result(double[] Point, double Value, int Iterations, StopReason Stopped);

    /// <param name="tolerance">Stop when |g|_inf &lt;= tolerance (1 + |f|).</param>
    internal static Result Minimise(Objective f, double[] start, int maximumIterations, double tolerance = 1e-9)
    {
        var d = start.Length;
        var x = (double[])start.Clone();
        var g = new double[d];
        var value = f(x, g);
        if (!double.IsFinite(value))
        {
            return new(x, double.PositiveInfinity, 0, StopReason.IterationLimit);
        }

        var H = new double[d, d];
        var p = new double[d];
        var trial = new double[d];
        var trialGradient = new double[d];
        var y = new double[d];
        var Hy = new double[d];
        void Reset()
        {
            Array.Clear(H);
            for (var i = 0; i < d; i++)
            {
                H[i, i] = 1;
            }
        }

        Reset();
        var fresh = true;
        var small = 0;
        for (var iteration = 0; ; iteration++)
        {
            var largest = 0.0;
            foreach (var gi in g)
            {
                largest = Math.Max(largest, Math.Abs(gi));
            }

            if (largest <= tolerance * (1 + Math.Abs(value)) || small >= 3)
            {
                return new(x, value, iteration, StopReason.Converged);
            }

            if (iteration >= maximumIterations)
            {
                return new(x, value, iteration, StopReason.IterationLimit);
            }

            double slope = 0,
                norm = 0;
            for (var i = 0; i < d; i++)
            {
                p[i] = 0;
                for (var j = 0; j < d; j++)
                {
                    p[i] -= H[i, j] * g[j];
                }

                slope += p[i] * g[i];
                norm = Math.Max(norm, Math.Abs(p[i]));
            }

            if (!(slope < 0))
            {
                if (fresh)
                {
                    return new(x, value, iteration, StopReason.Converged);
                }

                Reset();
                fresh = true;
                continue;
            }

            // No parameter (a log, a log of a spread, a logit) needs more than 2 in one step.
            var t = fresh ? Math.Min(1, 0.3 / norm) : Math.Min(1, 2 / norm);
            double low = 0,
                high = double.PositiveInfinity,
                next = value;
            var found = false;
            for (var k = 0; k < 40; k++)
            {
                for (var i = 0; i < d; i++)
                {
                    trial[i] = x[i] + t * p[i];
                }

                next = f(trial, trialGradient);
                if (!(next <= value + 1e-4 * t * slope))
                {
                    high = t;
                }
                else
                {
                    found = true;
                    var newSlope = 0.0;
                    for (var i = 0; i < d; i++)
                    {
                        newSlope += p[i] * trialGradient[i];
                    }

                    if (newSlope >= 0.9 * slope || t * norm > 4)
                    {
                        break;
                    }

                    low = t;
                }

                t = double.IsInfinity(high) ? 2 * t : 0.5 * (low + high);
                if (high - low < 1e-14 * high)
                {
                    break;
                }
            }

            if (!found || !(next <= value))
            {
                if (fresh)
                {
                    // Not even steepest descent gains: the last digit is reached.
                    return new(
                        x,
                        value,
                        iteration,
                        largest <= 1e-4 * (1 + Math.Abs(value)) ? StopReason.Converged : StopReason.IterationLimit
                    );
                }

                Reset();
                fresh = true;
                continue;
            }

            var gained = value - next;
            small = gained <= 1e-13 * (1 + Math.Abs(value)) ? small + 1 : 0;
            double sy = 0,
                yHy = 0,
                yy = 0;
            for (var i = 0; i < d; i++)
            {
                y[i] = trialGradient[i] - g[i];
                p[i] = trial[i] - x[i];
                sy += p[i] * y[i];
                yy += y[i] * y[i];
            }

            if (sy > 1e-14 * Math.Sqrt(yy))
            {
                if (fresh)
                {
                    for (var i = 0; i < d; i++)
                    {
                        H[i, i] = sy / yy;
                    }
                }

                for (var i = 0; i < d; i++)
                {
                    Hy[i] = 0;
                    for (var j = 0; j < d; j++)
                    {
                        Hy[i] += H[i, j] * y[j];
                    }

                    yHy += y[i] * Hy[i];
                }

                for (var i = 0; i < d; i++)
                {
                    for (var j = 0; j < d; j++)
                    {
                        H[i, j] += (1 + yHy / sy) * p[i] * p[j] / sy - (Hy[i] * p[j] + p[i] * Hy[j]) / sy;
                    }
                }

                fresh = false;
            }

            Array.Copy(trial, x, d);
            Array.Copy(trialGradient, g, d);
            value = next;
        }
    }
}
