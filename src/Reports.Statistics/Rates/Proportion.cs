using MathNet.Numerics.Distributions;

namespace Reports.Statistics;

/// <summary>A rate with its interval. 0 &lt;= Low &lt;= Estimate &lt;= High &lt;= 1 for the intervals of this library.</summary>
public readonly record struct RateInterval(double Estimate, double Low, double High, double Level);

/// <summary>
/// Interval for one rate p from y successes in n trials.
/// <para>Model: y ~ Binomial(n, p). Wilson: all p with (y/n - p)^2 &lt;= z^2 p(1-p)/n. Jeffreys: the central part of
/// p | y ~ Beta(y + 1/2, n - y + 1/2), with Low = 0 at y = 0 and High = 1 at y = n.</para>
/// <para>Parameters: y successes (0 &lt;= y &lt;= n) and n trials (> 0), both counts that may be broken numbers (weighted
/// evidence: pass Kish's effective n and y = n times the weighted rate); level in (0, 1).</para>
/// <para>Method: closed form; beta quantiles.</para>
/// <para>Reference: Wilson 1927, JASA 22:209-212; Newcombe 1998, Stat. Med. 17:857-872, method 3; Brown, Cai &amp;
/// DasGupta 2001, Stat. Sci. 16:101-133, sections 3.1.1 and 4.1.</para>
/// <para>Accuracy: Wilson 6e-16 against R 4.2.2 prop.test(correct = FALSE) on the reference cases; Jeffreys as its beta
/// quantiles, 4e-15 against qbeta.</para>
/// </summary>
public static class Proportion
{
    /// <exception cref="InvalidSampleException">No trials, negative or not finite counts, successes over trials.</exception>
    public static RateInterval Wilson(double successes, double trials, double level = 0.95)
    {
        var (y, n) = Checked(successes, trials, level);
        var z = Normal.InvCDF(0, 1, 0.5 + level / 2);
        var z2 = z * z;
        var half = z * Math.Sqrt(y * (n - y) / n + z2 / 4);
        var centre = y + z2 / 2;
        // Low is y^2/(n + z^2) over the upper root of the quadratic: no cancellation when y is small against n; High likewise.
        var low = y * y / n / (centre + half);
        var high = 1 - (n - y) * (n - y) / n / (n - y + z2 / 2 + half);
        var p = y / n;
        return new RateInterval(p, Math.Clamp(low, 0, p), Math.Clamp(high, p, 1), level);
    }

    /// <exception cref="InvalidSampleException">No trials, negative or not finite counts, successes over trials.</exception>
    public static RateInterval Jeffreys(double successes, double trials, double level = 0.95)
    {
        var (y, n) = Checked(successes, trials, level);
        var tail = (1 - level) / 2;
        var (a, b) = (y + 0.5, n - y + 0.5);
        var p = y / n;
        var low = y.Equals(0.0) ? 0 : BetaTails.Quantile(tail, a, b);
        var high = y.Equals(n) ? 1 : BetaTails.UpperQuantile(tail, a, b);
        return new RateInterval(p, Math.Min(low, p), Math.Max(high, p), level);
    }

    private static (double Successes, double Trials) Checked(double successes, double trials, double level)
    {
        RateInput.Level(level);
        var y = RateInput.Successes(successes, trials);
        return trials > 0
            ? (y, trials)
            : throw new InvalidSampleException(SampleFault.NoWeight, nameof(trials), "is 0");
    }
}
