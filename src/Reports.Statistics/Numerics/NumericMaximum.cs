using MathNet.Numerics.LinearAlgebra;

namespace Reports.Statistics;

/// <summary>Where a smooth function of a few parameters is largest, and its curvature there.</summary>
/// <param name="At">The parameters.</param>
/// <param name="Value">The function there.</param>
/// <param name="Hessian">Second derivatives there.</param>
/// <param name="Iterations">Newton steps taken.</param>
/// <param name="Converged">False when the step limit came first.</param>
/// <remarks>
/// Newton with derivatives by central differences, a damped Hessian where it is not negative definite, and halving until the
/// value grows: the value never falls. Nocedal and Wright, Numerical Optimization, sections 3.2-3.4 (from memory). MathNet's
/// NewtonMinimizer wants analytic derivatives and its BFGS stops on the size of the gradient, which differences can't promise.
/// Parameters are logarithms of order one, so one step width serves all.
/// </remarks>
internal sealed record NumericMaximum(double[] At, double Value, Matrix<double> Hessian, int Iterations, bool Converged)
{
    private const double Width = 3e-4;
    private const int MaxIterations = 60;

    internal static NumericMaximum Find(Func<double[], double> function, double[] start, double low, double high)
    {
        var at = (double[])start.Clone();
        var n = at.Length;
        var value = function(at);
        for (var iteration = 1; ; iteration++)
        {
            var (gradient, hessian) = Derivatives(function, at, value);
            if (!gradient.Concat(hessian.Enumerate()).All(double.IsFinite))
            {
                // Beside the point the function is out of reach, so no step can be named: what is known is returned as unfinished.
                return new NumericMaximum(at, value, hessian, iteration - 1, Converged: false);
            }

            var step = Ascent(gradient, hessian);
            var gain = 0.5 * gradient.DotProduct(step);
            if (gain < 1e-12 || iteration > MaxIterations)
            {
                return new NumericMaximum(at, value, hessian, iteration - 1, gain < 1e-12);
            }

            var scale = Math.Min(1, 2 / step.InfinityNorm());
            var moved = false;
            for (var halving = 0; halving < 30 && !moved; halving++, scale /= 2)
            {
                var next = new double[n];
                for (var i = 0; i < n; i++)
                {
                    next[i] = Math.Clamp(at[i] + scale * step[i], low, high);
                }

                var there = function(next);
                if (there > value)
                {
                    (at, value, moved) = (next, there, true);
                }
            }

            if (!moved)
            {
                // No step grows the value: the top, as far as rounding lets it be seen.
                return new NumericMaximum(at, value, hessian, iteration, gain < 1e-7);
            }
        }
    }

    internal static (Vector<double> Gradient, Matrix<double> Hessian) Derivatives(
        Func<double[], double> function,
        double[] at,
        double value
    )
    {
        var n = at.Length;
        var x = (double[])at.Clone();
        var gradient = Vector<double>.Build.Dense(n);
        var hessian = Matrix<double>.Build.Dense(n, n);
        for (var i = 0; i < n; i++)
        {
            x[i] = at[i] + Width;
            var up = function(x);
            x[i] = at[i] - Width;
            var down = function(x);
            x[i] = at[i];
            gradient[i] = (up - down) / (2 * Width);
            hessian[i, i] = (up - 2 * value + down) / (Width * Width);
        }

        for (var i = 0; i < n; i++)
        {
            for (var j = 0; j < i; j++)
            {
                var sum = 0.0;
                for (var corner = 0; corner < 4; corner++)
                {
                    var (a, b) = ((corner & 1) == 0 ? 1 : -1, (corner & 2) == 0 ? 1 : -1);
                    x[i] = at[i] + a * Width;
                    x[j] = at[j] + b * Width;
                    sum += a * b * function(x);
                }

                (x[i], x[j]) = (at[i], at[j]);
                hessian[i, j] = hessian[j, i] = sum / (4 * Width * Width);
            }
        }

        return (gradient, hessian);
    }

    private static Vector<double> Ascent(Vector<double> gradient, Matrix<double> hessian)
    {
        // Eigenvalues turned negative: the Newton step where the surface is a hill, a scaled gradient step where it is not.
        var eigen = (-hessian).Evd(Symmetricity.Symmetric);
        var floor = 1e-6 * Math.Max(1e-6, eigen.EigenValues.Real().AbsoluteMaximum());
        var along = eigen.EigenVectors.TransposeThisAndMultiply(gradient);
        for (var i = 0; i < along.Count; i++)
        {
            along[i] /= Math.Max(Math.Abs(eigen.EigenValues[i].Real), floor);
        }

        return eigen.EigenVectors * along;
    }
}
