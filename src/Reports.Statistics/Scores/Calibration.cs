using MathNet.Numerics;

namespace Reports.Statistics;

/// <summary>Whether forecasts mean what they say: outcomes regressed on the forecasts' log-odds.</summary>
/// <param name="Intercept">Log-odds by which events outnumber what was said, at said odds of even; 0 is right.</param>
/// <param name="Slope">1 is right; below 1 the forecasts were too bold, above 1 too timid.</param>
/// <param name="InterceptError">Standard error of the intercept; infinite when separated.</param>
/// <param name="SlopeError">Standard error of the slope; infinite when separated.</param>
/// <param name="InTheLarge">Intercept with the slope held at 1: the overall bias, in log-odds.</param>
/// <param name="Fit">Separated when a threshold on the forecasts splits the outcomes perfectly, or all outcomes are the same:
/// then no finite slope is best and the values shown are where the fit was stopped.</param>
public sealed record CalibrationFit(
    double Intercept,
    double Slope,
    double InterceptError,
    double SlopeError,
    double InTheLarge,
    FitSummary Fit
);

/// <summary>Calibration intercept and slope of yes-or-no forecasts.</summary>
/// <remarks>
/// <para>Model: logit P(y_i = 1) = a + b logit(p_i).</para>
/// <para>Parameters: a log-odds, any; b no unit, any; p in (0, 1) after clipping (default 1e-6).</para>
/// <para>Method: Newton with halving on the two-parameter logistic likelihood; the bias with b = 1 by Newton in a alone.</para>
/// <para>Reference: Cox 1958, Biometrika 45:562-565 (from memory).</para>
/// <para>Accuracy: within 1e-9 of R's glm(y ~ qlogis(p), binomial) in ScoreTests.</para>
/// </remarks>
public static class Calibration
{
    private const int MaxIterations = 60;

    public static CalibrationFit Fit(ReadOnlySpan<double> forecasts, ReadOnlySpan<bool> outcomes, double clip = 1e-6)
    {
        ProbabilityScore.Check(forecasts, outcomes);
        if (!(clip > 0 && clip < 0.5))
        {
            throw new InvalidSampleException(SampleFault.OutOfRange, nameof(clip), "must lie between 0 and 1/2");
        }

        var n = forecasts.Length;
        var x = new double[n];
        for (var i = 0; i < n; i++)
        {
            x[i] = SpecialFunctions.Logit(Math.Clamp(forecasts[i], clip, 1 - clip));
        }

        if (x.All(v => v == x[0]))
        {
            throw new InvalidSampleException(
                SampleFault.OutOfRange,
                nameof(forecasts),
                "all forecasts are equal: a slope can't be estimated"
            );
        }

        var y = outcomes.ToArray();
        var separated = Separated(x, y);
        var (a, b) = (0.0, 1.0);
        var value = LogLikelihood(x, y, a, b);
        var converged = false;
        double h00 = 0;
        double h01 = 0;
        double h11 = 0;
        var iteration = 0;
        while (iteration < MaxIterations && !converged)
        {
            iteration++;
            double g0 = 0;
            double g1 = 0;
            (h00, h01, h11) = (0, 0, 0);
            for (var i = 0; i < n; i++)
            {
                var p = SpecialFunctions.Logistic(a + b * x[i]);
                var r = (y[i] ? 1 : 0) - p;
                var v = p * (1 - p);
                g0 += r;
                g1 += r * x[i];
                h00 += v;
                h01 += v * x[i];
                h11 += v * x[i] * x[i];
            }

            var det = h00 * h11 - h01 * h01;
            if (!(det > 1e-14 * h00 * h11))
            {
                break; // the information has run out: the fit is running away
            }

            var s0 = (h11 * g0 - h01 * g1) / det;
            var s1 = (h00 * g1 - h01 * g0) / det;
            converged = g0 * s0 + g1 * s1 < 1e-20 * Math.Max(1, Math.Abs(value));
            for (var scale = 1.0; scale > 1e-9 && !converged; scale /= 2)
            {
                var there = LogLikelihood(x, y, a + scale * s0, b + scale * s1);
                if (there > value)
                {
                    (a, b, value) = (a + scale * s0, b + scale * s1, there);
                    break;
                }

                converged = scale < 1e-6;
            }

            if (separated && value > -1e-6)
            {
                break;
            }
        }

        var information = h00 * h11 - h01 * h01;
        return new CalibrationFit(
            a,
            b,
            separated ? double.PositiveInfinity : Math.Sqrt(h11 / information),
            separated ? double.PositiveInfinity : Math.Sqrt(h00 / information),
            InTheLarge(x, y),
            new FitSummary(
                separated ? StopReason.Separated
                    : converged ? StopReason.Converged
                    : StopReason.IterationLimit,
                iteration,
                value
            )
        );
    }

    /// <summary>True when the outcomes can be told from the forecasts by a threshold (ties at the threshold included).</summary>
    private static bool Separated(double[] x, bool[] y)
    {
        var (lowYes, highYes) = (double.PositiveInfinity, double.NegativeInfinity);
        var (lowNo, highNo) = (double.PositiveInfinity, double.NegativeInfinity);
        for (var i = 0; i < x.Length; i++)
        {
            if (y[i])
            {
                (lowYes, highYes) = (Math.Min(lowYes, x[i]), Math.Max(highYes, x[i]));
            }
            else
            {
                (lowNo, highNo) = (Math.Min(lowNo, x[i]), Math.Max(highNo, x[i]));
            }
        }

        return lowYes >= highNo || lowNo >= highYes;
    }

    private static double InTheLarge(double[] x, bool[] y)
    {
        // Sum of expected events rises in a: bracketed Newton. All events, or none: no finite bias.
        var events = y.Count(v => v);
        if (events == 0 || events == y.Length)
        {
            return events == 0 ? double.NegativeInfinity : double.PositiveInfinity;
        }

        var (low, high) = (-60.0, 60.0);
        var a = 0.0;
        for (var i = 0; i < 200; i++)
        {
            double excess = -events;
            double slope = 0;
            foreach (var v in x)
            {
                var p = SpecialFunctions.Logistic(a + v);
                excess += p;
                slope += p * (1 - p);
            }

            (low, high) = excess > 0 ? (low, a) : (a, high);
            var next = a - excess / slope;
            if (!(next > low && next < high))
            {
                next = (low + high) / 2;
            }

            if (Math.Abs(next - a) < 1e-13)
            {
                return next;
            }

            a = next;
        }

        return a;
    }

    private static double LogLikelihood(double[] x, bool[] y, double a, double b)
    {
        var sum = new CompensatedSum();
        for (var i = 0; i < x.Length; i++)
        {
            var e = y[i] ? -(a + b * x[i]) : a + b * x[i];
            sum.Add(e > 0 ? -e - Saddlepoint.Log1p(Math.Exp(-e)) : -Saddlepoint.Log1p(Math.Exp(e)));
        }

        return sum.Value;
    }
}
