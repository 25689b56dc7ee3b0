namespace Reports.Statistics;

/// <summary>Two Poisson rates compared exactly: this week against last week.</summary>
/// <param name="Ratio">First rate over second; infinite when the second count is 0, null when both are.</param>
/// <param name="Low">Lower bound of the ratio.</param>
/// <param name="High">Upper bound of the ratio, possibly infinite.</param>
/// <param name="PMinimumLikelihood">Two-sided p: outcomes no more likely than the one seen.</param>
/// <param name="PDoubledTail">Two-sided p: twice the smaller tail, at most 1.</param>
/// <param name="PMid">Two-sided p: twice the smaller tail with half of the observed probability.</param>
/// <remarks>
/// <para>Model: x1, x2 Poisson with means r1 t1, r2 t2. Given n = x1 + x2, x1 ~ binomial(n, r t1/(r t1 + t2)), r = r1/r2.</para>
/// <para>Parameters: counts whole, >= 0; exposures in anglers or angler-days, > 0; level in (0, 1).</para>
/// <para>Method: Clopper-Pearson bounds of the binomial share, found on the log-odds by Newton inside a bracket from tails that are
/// summed term by term; outcomes within 1e-7, relative, of the observed probability count as equally likely.</para>
/// <para>Reference: Clopper and Pearson 1934, Biometrika 26:404-413; R's poisson.test; mid-p, Rothman and Greenland, Modern
/// Epidemiology (from memory); data of Boice and Monson 1977.</para>
/// <para>Accuracy: within 1e-13, relative, of R on f_rate. MathNet's Beta.InvCDF gives the same bounds to 1e-11 at 3 of 30,000 but is
/// off by 5e-7, relative, at 1 of 2,000,000.</para>
/// </remarks>
public sealed record RateRatio(
    double? Ratio,
    double Low,
    double High,
    double PMinimumLikelihood,
    double PDoubledTail,
    double PMid
)
{
    /// <summary>Probabilities closer than this are equal but for rounding (as in R's binom.test).</summary>
    private const double Equal = 1 + 1e-7;

    public static RateRatio Test(int count1, double exposure1, int count2, double exposure2, double level = 0.95)
    {
        Refuse.Negative([count1, count2], nameof(count1));
        Refuse.NotFinite([exposure1, exposure2], nameof(exposure1));
        Refuse.NotPositive(exposure1, nameof(exposure1));
        Refuse.NotPositive(exposure2, nameof(exposure2));
        Refuse.NotOpenProbability(level, nameof(level));
        var n = (double)count1 + count2;
        if (n == 0)
        {
            return new RateRatio(null, 0, double.PositiveInfinity, 1, 1, 1);
        }

        double x = count1;
        var share = exposure1 / (exposure1 + exposure2);
        var upTo = Down(x, n, share);
        var from = Up(x, n, share);
        var at = Math.Exp(Saddlepoint.LogBinomial(x, n, share));
        var alpha = (1 - level) / 2;
        return new RateRatio(
            count2 == 0 ? double.PositiveInfinity : x / exposure1 / (count2 / exposure2),
            count1 == 0 ? 0 : Math.Exp(LogOdds(x, n, alpha)) * (exposure2 / exposure1),
            // The upper bound is the lower one seen from the other side.
            count2 == 0
                ? double.PositiveInfinity
                : Math.Exp(-LogOdds(n - x, n, alpha)) * (exposure2 / exposure1),
            MinimumLikelihood(x, n, share, at),
            Math.Min(1, 2 * Math.Min(upTo, from)),
            Math.Min(1, 2 * Math.Min(upTo - at / 2, from - at / 2))
        );
    }

    private static double MinimumLikelihood(double x, double n, double share, double at)
    {
        var mean = n * share;
        if (x == mean)
        {
            return 1;
        }

        var below = x < mean;
        // The other tail starts at the first outcome beyond the mean that is no more likely than x.
        var other = below ? Math.Ceiling(mean) : Math.Floor(mean);
        var step = below ? 1 : -1;
        while (other >= 0 && other <= n && Math.Exp(Saddlepoint.LogBinomial(other, n, share)) > at * Equal)
        {
            other += step;
        }

        return Math.Min(1, below ? Down(x, n, share) + Up(other, n, share) : Up(x, n, share) + Down(other, n, share));
    }

    /// <summary>Log-odds of the share at which x or more of n has probability alpha, x >= 1.</summary>
    private static double LogOdds(double x, double n, double alpha)
    {
        var (low, high) = (-700.0, 700.0);
        var at = Math.Log((x - 0.4) / (n - x + 0.6));
        for (var i = 0; i < 300; i++)
        {
            var p = 1 / (1 + Math.Exp(-at));
            var tail = Up(x, n, p);
            (low, high) = tail > alpha ? (low, at) : (at, high);
            // d ln tail / d log-odds = n p (1 - p) b(x - 1; n - 1, p) / tail
            var slope = n * p * (1 - p) * Math.Exp(Saddlepoint.LogBinomial(x - 1, n - 1, p)) / tail;
            var next = at - Math.Log(tail / alpha) / slope;
            if (!(next > low && next < high))
            {
                next = (low + high) / 2;
            }

            if (Math.Abs(next - at) < 1e-14 * Math.Max(1, Math.Abs(at)))
            {
                return next;
            }

            at = next;
        }

        return at;
    }

    /// <summary>P(X >= x).</summary>
    private static double Up(double x, double n, double p)
    {
        if (x <= 0)
        {
            return 1;
        }

        if (x <= n * p)
        {
            return 1 - Down(x - 1, n, p);
        }

        var term = x > n ? 0 : Math.Exp(Saddlepoint.LogBinomial(x, n, p));
        var sum = 0.0;
        for (; term > sum * 1e-18; x++)
        {
            sum += term;
            term *= (n - x) / (x + 1) * (p / (1 - p));
        }

        return sum;
    }

    /// <summary>P(X &lt;= x).</summary>
    private static double Down(double x, double n, double p)
    {
        if (x < 0)
        {
            return 0;
        }

        if (x >= n)
        {
            return 1;
        }

        if (x >= n * p)
        {
            return 1 - Up(x + 1, n, p);
        }

        var term = Math.Exp(Saddlepoint.LogBinomial(x, n, p));
        var sum = 0.0;
        for (; term > sum * 1e-18; x--)
        {
            sum += term;
            term *= x / (n - x + 1) * ((1 - p) / p);
        }

        return sum;
    }
}
