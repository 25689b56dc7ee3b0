using MathNet.Numerics;

namespace Reports.Statistics;

/// <summary>
/// Logarithms of Poisson, binomial and negative binomial probabilities without cancellation.
/// </summary>
/// <remarks>
/// <para>Model: log p = -(deviance part) + (Stirling errors) - 0.5 log(2 pi variance part); no large log-gammas are subtracted.</para>
/// <para>Parameters: x >= 0 and n >= x in fish or anglers; probabilities in (0, 1).</para>
/// <para>Method: saddle-point expansion; Stirling errors from log-gamma below 16, from their asymptotic series above.</para>
/// <para>Reference: C. Loader 2000, "Fast and accurate computation of binomial probabilities", sections 2 and 3 (from memory).</para>
/// <para>Accuracy: the logarithm within 2e-14 (absolute below 1, relative above) for means up to 1e6 and k from 1e-3 to
/// 1e12, against 60-digit arithmetic (SaddlepointTests). The log-gamma form of MathNet.Numerics 5.0
/// (NegativeBinomial.ProbabilityLn) is off by 1.7e-8 at mean 24, k 1e10, x 24, for it subtracts log-gammas near 2e11.</para>
/// </remarks>
internal static class Saddlepoint
{
    private const double LogTwoPi = 1.8378770664093454836;

    /// <summary>log(n!) minus Stirling's formula, for real n >= 0.</summary>
    internal static double StirlingError(double n)
    {
        if (n < 16)
        {
            return n == Math.Floor(n) ? WholeErrors[(int)n] : SmallError(n);
        }

        var r = 1 / (n * n);
        return (1 / 12.0 - (1 / 360.0 - (1 / 1260.0 - (1 / 1680.0 - 1 / 1188.0 * r) * r) * r) * r) / n;
    }

    /// <summary>Most counts are small and whole.</summary>
    private static readonly double[] WholeErrors = [.. Enumerable.Range(0, 16).Select(n => SmallError(n))];

    private static double SmallError(double n) =>
        n == 0
            ? double.PositiveInfinity
            : SpecialFunctions.GammaLn(n + 1) - (n + 0.5) * Math.Log(n) + n - 0.5 * LogTwoPi;

    /// <summary>x log(x/m) + m - x, given the difference x - m that the caller knows without cancellation.</summary>
    internal static double Deviance(double x, double m, double difference)
    {
        if (x == 0)
        {
            return m;
        }

        if (Math.Abs(difference) > 0.1 * (x + m))
        {
            return x * Math.Log(x / m) - difference;
        }

        // Both near: series in v = (x - m)/(x + m), where the closed form would lose its digits.
        var v = difference / (x + m);
        var sum = difference * v;
        var term = 2 * x * v;
        for (var j = 1; j < 100; j++)
        {
            term *= v * v;
            var next = sum + term / (2 * j + 1);
            if (next == sum)
            {
                break;
            }

            sum = next;
        }

        return sum;
    }

    /// <summary>log of the Poisson probability of x at mean m > 0.</summary>
    internal static double LogPoisson(double x, double m) =>
        x == 0 ? -m : -StirlingError(x) - Deviance(x, m, x - m) - 0.5 * (LogTwoPi + Math.Log(x));

    /// <summary>log of the binomial probability of x successes in n trials at success probability p in (0, 1).</summary>
    internal static double LogBinomial(double x, double n, double p)
    {
        if (x < 0 || x > n)
        {
            return double.NegativeInfinity;
        }

        if (x == 0)
        {
            return n * Log1p(-p);
        }

        if (x == n)
        {
            return n * Math.Log(p);
        }

        var difference = x - n * p;
        return StirlingError(n)
            - StirlingError(x)
            - StirlingError(n - x)
            - Deviance(x, n * p, difference)
            - Deviance(n - x, n * (1 - p), -difference)
            - 0.5 * (LogTwoPi + Math.Log(x) + Log1p(-x / n));
    }

    /// <summary>log of the negative binomial probability of x at mean m > 0 and finite k > 0 (variance m + m^2/k).</summary>
    internal static double LogNegativeBinomial(double x, double m, double k)
    {
        if (x == 0)
        {
            return -k * Log1p(m / k);
        }

        // k/(k+x) times the binomial probability of k in n = x + k at p = k/(k+m); the differences are formed from x - m.
        var n = x + k;
        var difference = (x - m) / (1 + m / k);
        var deviance =
            k > 1e8 * (x + m)
                ? difference * difference / (2 * k) // the first term of the series; the next is smaller by (x-m)/k
                : Deviance(k, n * (k / (k + m)), -difference);
        var stirling = k > 1e8 * x ? -x / (12 * k * n) : StirlingError(n) - StirlingError(k);
        return stirling
            - StirlingError(x)
            - deviance
            - Deviance(x, n * (m / (k + m)), difference)
            - 0.5 * (LogTwoPi + Math.Log(x))
            - 0.5 * Log1p(x / k);
    }

    /// <summary>log(1 + x) with full relative accuracy near zero (the platform's LogP1 is the plain logarithm of 1 + x).</summary>
    internal static double Log1p(double x)
    {
        // Goldberg 1991, ACM Computing Surveys 23:5-48, theorem 4.
        var u = 1 + x;
        return u == 1 ? x
            : double.IsInfinity(u) ? u
            : Math.Log(u) * x / (u - 1);
    }
}
