namespace Reports.Domain.Rigs;

/// <summary>
/// Standard normal points for averaging over what is not known: fixed, the same everywhere. Kronecker's sequence (fractional
/// parts of i sqrt(prime)) through Box and Muller's transform, each point with its mirror image, each column scaled to
/// variance 1, so that means and variances are exact (Niederreiter 1992, Random Number Generation and Quasi-Monte Carlo
/// Methods, chapter 3).
/// </summary>
internal static class Draws
{
    /// <summary>A standard normal at three nodes (Gauss and Hermite).</summary>
    public static IReadOnlyList<(double Node, double Weight)> Nodes { get; } =
    [(-1.7320508075688772, 1 / 6.0), (0, 2 / 3.0), (1.7320508075688772, 1 / 6.0)];

    public static double[][] Normal(int points, int columns)
    {
        var half = points / 2;
        var draws = new double[2 * half][];
        for (var p = 0; p < draws.Length; p++)
        {
            draws[p] = new double[columns];
        }

        var primes = Primes(2 * columns);
        for (var k = 0; k < columns; k++)
        {
            var squares = 0.0;
            for (var i = 0; i < half; i++)
            {
                var (u, v) = (Part((i + 1) * Math.Sqrt(primes[2 * k])), Part((i + 1) * Math.Sqrt(primes[2 * k + 1])));
                var z = Math.Sqrt(-2 * Math.Log(Math.Max(u, 1e-12))) * Math.Cos(2 * Math.PI * v);
                (draws[i][k], draws[half + i][k]) = (z, -z);
                squares += z * z;
            }

            foreach (var draw in draws)
            {
                draw[k] *= Math.Sqrt(half / squares);
            }
        }

        return draws;
    }

    private static double Part(double x) => x - Math.Floor(x);

    private static List<int> Primes(int count)
    {
        var primes = new List<int>(count);
        for (var n = 2; primes.Count < count; n++)
        {
            if (primes.TrueForAll(p => n % p != 0))
            {
                primes.Add(n);
            }
        }

        return primes;
    }
}
