namespace Reports.Statistics;

/// <summary>Value of a function at a point; fills the gradient and the Hessian (row-major) unless they are empty.</summary>
internal delegate double SmoothFunction(ReadOnlySpan<double> at, Span<double> gradient, Span<double> hessian);

/// <summary>Where an ascent ended.</summary>
internal sealed record Ascent(double[] Point, double Value, int Iterations, bool Converged, double[] Hessian);

/// <summary>
/// Climbs a smooth function to a local maximum by Newton steps with a line search.
/// <para>Model: max f(x), x in R^p.</para>
/// <para>Parameters: start (finite), tolerance on the largest gradient entry, iteration limit.</para>
/// <para>Method: step d = (-H + λI)^-1 g with the smallest λ of a geometric ladder that makes the matrix positive
/// definite; halving until the value rises enough and, close to the top, until the gradient falls; ends when the
/// gradient is within the tolerance or can't be lowered although the step promises no visible rise.</para>
/// <para>Reference: Nocedal &amp; Wright 2006, Numerical Optimization, algorithms 3.2 and 3.3.</para>
/// <para>Accuracy: gradients of 1e-10 or the rounding of the function on the reference cases. MathNet's NewtonMinimizer is not used because it takes the
/// raw Hessian, which is indefinite away from the optimum of the overdispersion and mixed models.</para>
/// </summary>
internal static class NewtonAscent
{
    /// <summary>A promised rise below this share of |f| counts as none: the answer is as good as f can tell.</summary>
    private const double Visible = 1e-10;

    internal static Ascent Climb(
        SmoothFunction f,
        ReadOnlySpan<double> start,
        double tolerance = 1e-10,
        int limit = 200,
        double longestStep = 4
    )
    {
        var p = start.Length;
        var x = start.ToArray();
        var (g, h) = (new double[p], new double[p * p]);
        var (trialG, trialH) = (new double[p], new double[p * p]);
        var (trial, step, factor) = (new double[p], new double[p], new double[p * p]);
        var value = f(x, g, h);
        for (var iteration = 0; iteration < limit; iteration++)
        {
            var largest = Largest(g);
            if (largest <= tolerance)
            {
                return new Ascent(x, value, iteration, true, h);
            }

            Step(h, g, factor, step);
            var promise = Dot(g, step);
            var longest = Largest(step);
            var scale = longest > longestStep ? longestStep / longest : 1;
            // Close to the top the rise drowns in the rounding of f; the gradient still shows the way.
            var polishing = promise <= Visible * (1 + Math.Abs(value));
            var next = double.NaN;
            var moved = false;
            for (var halvings = 0; !moved && halvings < (polishing ? 8 : 60); halvings++, scale /= 2)
            {
                for (var i = 0; i < p; i++)
                {
                    trial[i] = x[i] + scale * step[i];
                }

                if (polishing)
                {
                    next = f(trial, trialG, trialH);
                    moved = Largest(trialG) < largest && next >= value - Visible * (1 + Math.Abs(value));
                }
                else
                {
                    moved = f(trial, default, default) >= value + 1e-4 * scale * promise;
                }
            }

            if (!moved)
            {
                return new Ascent(x, value, iteration, polishing, h);
            }

            trial.CopyTo(x, 0);
            if (polishing)
            {
                value = next;
                (g, trialG) = (trialG, g);
                (h, trialH) = (trialH, h);
            }
            else
            {
                value = f(x, g, h);
            }
        }

        return new Ascent(x, value, limit, Largest(g) <= tolerance, h);
    }

    /// <summary>The best of several climbs.</summary>
    internal static Ascent ClimbFrom(SmoothFunction f, IEnumerable<double[]> starts, double tolerance = 1e-10)
    {
        Ascent? best = null;
        foreach (var start in starts)
        {
            var one = Climb(f, start, tolerance);
            if (best is null || one.Value > best.Value)
            {
                best = one;
            }
        }

        return best ?? throw new ArgumentException("at least one start is needed", nameof(starts));
    }

    /// <summary>Inverse of -H, the covariance at a maximum; null where -H is not positive definite.</summary>
    internal static double[]? Covariance(double[] hessian, int p)
    {
        var (factor, column) = (new double[p * p], new double[p]);
        if (!Factorise(hessian, factor, 0))
        {
            return null;
        }

        var inverse = new double[p * p];
        for (var j = 0; j < p; j++)
        {
            Array.Clear(column);
            column[j] = 1;
            Solve(factor, column, column);
            for (var i = 0; i < p; i++)
            {
                inverse[i * p + j] = column[i];
            }
        }

        return inverse;
    }

    /// <summary>ln det(-H), or null where -H is not positive definite.</summary>
    internal static double? LogDeterminant(double[] hessian, int p)
    {
        var factor = new double[p * p];
        if (!Factorise(hessian, factor, 0))
        {
            return null;
        }

        var sum = 0.0;
        for (var i = 0; i < p; i++)
        {
            sum += 2 * Math.Log(factor[i * p + i]);
        }

        return sum;
    }

    private static void Step(double[] h, double[] g, double[] factor, double[] step)
    {
        var p = g.Length;
        var diagonal = 0.0;
        for (var i = 0; i < p; i++)
        {
            diagonal = Math.Max(diagonal, Math.Abs(h[i * p + i]));
        }

        diagonal = diagonal > 0 ? diagonal : 1;
        for (var shift = 0.0; ; shift = shift > 0 ? shift * 10 : 1e-8 * diagonal)
        {
            if (Factorise(h, factor, shift))
            {
                Solve(factor, g, step);
                return;
            }
        }
    }

    /// <summary>Cholesky factor of -H + shift I in place of a new array; false where it is not positive definite.</summary>
    private static bool Factorise(double[] h, double[] factor, double shift)
    {
        var p = (int)Math.Round(Math.Sqrt(h.Length));
        for (var i = 0; i < p; i++)
        {
            for (var j = 0; j <= i; j++)
            {
                var sum = -h[i * p + j] + (i == j ? shift : 0);
                for (var k = 0; k < j; k++)
                {
                    sum -= factor[i * p + k] * factor[j * p + k];
                }

                if (i == j)
                {
                    if (!(sum > 1e-14 * Math.Abs(h[i * p + i])) || !(sum > 0))
                    {
                        // A NaN Hessian would never become positive definite: stop here rather than loop.
                        return double.IsFinite(sum)
                            ? false
                            : throw new ArithmeticException("the curvature of the likelihood is not finite");
                    }

                    factor[i * p + i] = Math.Sqrt(sum);
                }
                else
                {
                    factor[i * p + j] = sum / factor[j * p + j];
                }
            }
        }

        return true;
    }

    private static void Solve(double[] factor, double[] right, double[] answer)
    {
        var p = right.Length;
        for (var i = 0; i < p; i++)
        {
            var sum = right[i];
            for (var k = 0; k < i; k++)
            {
                sum -= factor[i * p + k] * answer[k];
            }

            answer[i] = sum / factor[i * p + i];
        }

        for (var i = p - 1; i >= 0; i--)
        {
            var sum = answer[i];
            for (var k = i + 1; k < p; k++)
            {
                sum -= factor[k * p + i] * answer[k];
            }

            answer[i] = sum / factor[i * p + i];
        }
    }

    private static double Dot(double[] a, double[] b)
    {
        var sum = 0.0;
        for (var i = 0; i < a.Length; i++)
        {
            sum += a[i] * b[i];
        }

        return sum;
    }

    private static double Largest(double[] values)
    {
        var largest = 0.0;
        foreach (var value in values)
        {
            largest = Math.Max(largest, Math.Abs(value));
        }

        return largest;
    }
}
