namespace Reports.Web.Demo;

/// <summary>
/// A stream of random numbers that depends only on the demo's seed, a purpose and some keys (a day, a boat), so that a day's
/// draws never depend on which other days were drawn before it. SplitMix64 (Steele, Lea and Flood 2014), seeded by an FNV-1a
/// hash: enough for a demonstration, and the same on every run.
/// </summary>
internal sealed class Draws
{
    private ulong state;

    public Draws(string purpose, params ReadOnlySpan<long> keys)
        : this(Hash(purpose), keys) { }

    private Draws(ulong purpose, params ReadOnlySpan<long> keys)
    {
        state = purpose;
        foreach (var key in keys)
        {
            state ^= (ulong)key;
            state = Bits();
        }
    }

    private static ulong Hash(string purpose)
    {
        var hash = DemoCoast.Seed ^ 14695981039346656037UL;
        foreach (var c in purpose)
        {
            hash = (hash ^ c) * 1099511628211UL;
        }

        return hash;
    }

    /// <summary>64 random bits.</summary>
    public ulong Bits()
    {
        state += 0x9E3779B97F4A7C15UL;
        var z = state;
        z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9UL;
        z = (z ^ (z >> 27)) * 0x94D049BB133111EBUL;
        return z ^ (z >> 31);
    }

    /// <summary>Uniform on the open interval from 0 to 1.</summary>
    public double Uniform() => ((Bits() >> 11) + 0.5) * (1.0 / (1UL << 53));

    public double Uniform(double from, double to) => from + (to - from) * Uniform();

    public bool Chance(double probability) => Uniform() < probability;

    /// <summary>A whole number from 0 up to <paramref name="count"/>, exclusive.</summary>
    public int Below(int count) => (int)(Uniform() * count);

    /// <summary>Standard normal (Box and Muller 1958).</summary>
    public double Normal() => Math.Sqrt(-2 * Math.Log(Uniform())) * Math.Cos(2 * Math.PI * Uniform());

    /// <summary>Gamma of the given shape with mean 1 (Marsaglia and Tsang 2000).</summary>
    public double Gamma(double shape)
    {
        if (shape < 1)
        {
            // X(a) = X(a + 1) U^(1/a), both of scale 1.
            return Gamma(shape + 1) * (shape + 1) / shape * Math.Pow(Uniform(), 1 / shape);
        }

        var d = shape - 1.0 / 3;
        var c = 1 / Math.Sqrt(9 * d);
        while (true)
        {
            var x = Normal();
            var v = Math.Pow(1 + c * x, 3);
            if (v > 0 && Math.Log(Uniform()) < 0.5 * x * x + d - d * v + d * Math.Log(v))
            {
                return d * v / shape;
            }
        }
    }

    /// <summary>Poisson, by counting exponential waits.</summary>
    public int Poisson(double mean)
    {
        var count = 0;
        for (var waited = -Math.Log(Uniform()); waited < mean; waited -= Math.Log(Uniform()))
        {
            count++;
        }

        return count;
    }

    /// <summary>Index drawn with chance in proportion to its weight.</summary>
    public int Pick(IReadOnlyList<double> weights)
    {
        var total = 0.0;
        for (var i = 0; i < weights.Count; i++)
        {
            total += weights[i];
        }

        var left = Uniform() * total;
        for (var i = 0; i < weights.Count - 1; i++)
        {
            left -= weights[i];
            if (left < 0)
            {
                return i;
            }
        }

        return weights.Count - 1;
    }

    public void Shuffle<T>(IList<T> items)
    {
        for (var i = items.Count - 1; i > 0; i--)
        {
            var j = Below(i + 1);
            (items[i], items[j]) = (items[j], items[i]);
        }
    }

    /// <summary>An RFC 9562 version 8 UUID.</summary>
    public Guid Uuid()
    {
        Span<byte> bytes = stackalloc byte[16];
        BitConverter.TryWriteBytes(bytes, Bits());
        BitConverter.TryWriteBytes(bytes[8..], Bits());
        bytes[6] = (byte)((bytes[6] & 0x0F) | 0x80);
        bytes[8] = (byte)((bytes[8] & 0x3F) | 0x80);
        return new Guid(bytes, bigEndian: true);
    }

    /// <summary>
    /// A stationary series of standard normal values with autocorrelation exp(-lag / <paramref name="memoryDays"/>): an AR(1)
    /// written as a moving average over six memories, so that any day can be drawn without the days before it.
    /// </summary>
    public static double Drift(string series, int day, double memoryDays)
    {
        var purpose = Hash(series);
        var rho = Math.Exp(-1 / memoryDays);
        var (sum, squares, weight) = (0.0, 0.0, 1.0);
        for (var lag = 0; lag <= 6 * memoryDays; lag++, weight *= rho)
        {
            sum += weight * new Draws(purpose, day - lag).Normal();
            squares += weight * weight;
        }

        return sum / Math.Sqrt(squares);
    }
}
