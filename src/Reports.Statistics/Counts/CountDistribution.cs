namespace Reports.Statistics;

/// <summary>How many fish one angler lands, or how many hooks a shop sells: negative binomial, or Poisson when k is infinite.</summary>
/// <remarks>
/// <para>Model: X given a gamma rate of mean m and shape k is Poisson; P(X = x) = Gamma(x+k)/(x! Gamma(k)) (k/(k+m))^k (m/(k+m))^x.
/// Variance m + m^2/k. k infinite: P(X = x) = e^-m m^x / x!.</para>
/// <para>Parameters: mean m, fish per angler, m >= 0; k, no unit, 0 &lt; k &lt;= infinity (small k: a few anglers take most).</para>
/// <para>Method: saddle-point logarithm of the probability; sums of probabilities by the ratio of neighbours, from the side
/// where they are small, so that neither tail is formed as one minus the other.</para>
/// <para>Reference: C. Loader 2000, "Fast and accurate computation of binomial probabilities", sections 2-3 (from memory);
/// Johnson, Kemp and Kotz, Univariate Discrete Distributions, ch. 5 (from memory).</para>
/// <para>Accuracy: see <see cref="Saddlepoint"/>; tails within 1e-14 of R's pnbinom and ppois, quantiles equal to qnbinom's and qpois's, on e_stock and d_scores.</para>
/// </remarks>
public readonly record struct CountDistribution
{
    public CountDistribution(double mean, double k)
    {
        if (double.IsNaN(mean) || double.IsInfinity(mean))
        {
            throw new InvalidSampleException(SampleFault.NotFinite, nameof(mean), "the mean must be a finite number");
        }

        if (mean < 0)
        {
            throw new InvalidSampleException(SampleFault.Negative, nameof(mean), "the mean must not be negative");
        }

        Refuse.NotPositive(k, nameof(k));
        Mean = mean;
        K = k;
    }

    /// <summary>Poisson with this mean.</summary>
    public static CountDistribution Poisson(double mean) => new(mean, double.PositiveInfinity);

    /// <summary>Expected count, >= 0.</summary>
    public double Mean { get; }

    /// <summary>Dispersion: variance = mean + mean^2/K. Infinite means Poisson.</summary>
    public double K { get; }

    public bool IsPoisson => double.IsPositiveInfinity(K);

    public double Variance => Mean + Mean * Mean / K;

    /// <summary>The sum over several independent periods, or several independent anglers: mean and k both grow by the number.</summary>
    public CountDistribution Times(double number)
    {
        Refuse.NotPositive(number, nameof(number));
        return new(Mean * number, K * number);
    }

    /// <summary>Natural logarithm of P(X = x); -infinity where impossible.</summary>
    public double LogProbability(int x) =>
        x < 0 ? double.NegativeInfinity
        : Mean == 0 ? (x == 0 ? 0 : double.NegativeInfinity)
        : IsPoisson ? Saddlepoint.LogPoisson(x, Mean)
        : Saddlepoint.LogNegativeBinomial(x, Mean, K);

    public double Probability(int x) => Math.Exp(LogProbability(x));

    /// <summary>P(X = 0), the share that goes home without.</summary>
    public double ProbabilityOfNone => Probability(0);

    /// <summary>P(X &lt;= x).</summary>
    public double Cumulative(int x) =>
        x < 0 ? 0
        : x < Mean ? Math.Min(1, SumDown(x))
        : 1 - SumUp(x + 1);

    /// <summary>P(X >= x), for example the chance that an angler reaches a limit of x.</summary>
    public double AtLeast(int x) =>
        x <= 0 ? 1
        : x > Mean ? Math.Min(1, SumUp(x))
        : 1 - SumDown(x - 1);

    /// <summary>E max(X - x, 0): by how much demand exceeds x on average. x >= 0.</summary>
    public double ExpectedExcess(int x)
    {
        if (x < 0)
        {
            throw new InvalidSampleException(SampleFault.Negative, nameof(x), "must not be negative");
        }

        if (x >= Mean)
        {
            return ExcessUp(x);
        }

        // E(X - x)+ = m - x + E(x - X)+, and the last is a short sum of positive terms.
        var p = Probability(x);
        var total = 0.0;
        for (var i = x; i > 0 && p > 0; i--)
        {
            p *= i / Rising(i - 1);
            total += (x - i + 1) * p;
        }

        return Mean - x + total;
    }

    /// <summary>
    /// Smallest x with P(X &lt;= x) >= probability, 0 &lt;= probability &lt; 1. A cumulative probability that equals the asked one
    /// but for rounding (1e-13, relative) counts as reached: a service level met exactly needs no further piece.
    /// </summary>
    public int Quantile(double probability)
    {
        if (!(probability >= 0 && probability < 1))
        {
            throw new InvalidSampleException(
                SampleFault.OutOfRange,
                nameof(probability),
                "must be at least 0 and below 1"
            );
        }

        if (probability == 0 || Mean == 0)
        {
            return 0;
        }

        var goal = probability * (1 - 1e-13);
        // Start well below the quantile (Cantelli: P(X <= m - c sd) <= 1/(1 + c^2)), then walk up with a compensated sum.
        var reach = Math.Sqrt(1 / probability - 1);
        var x = (int)Math.Max(0, Math.Floor(Mean - reach * Math.Sqrt(Variance)) - 1);
        var sum = new CompensatedSum();
        sum.Add(Cumulative(x));
        var p = Probability(x);
        while (sum.Value < goal)
        {
            if (p == 0 && x > Mean)
            {
                break; // nothing more to come: the sum fell short of the goal by rounding alone
            }

            p = p > 0 ? p * Rising(x) / (x + 1) : Probability(x + 1);
            x++;
            sum.Add(p);
        }

        return x;
    }

    /// <summary>P(X = x + 1) / P(X = x), x >= 0; positive for a positive mean.</summary>
    internal double Step(int x) => Rising(x) / (x + 1.0);

    /// <summary>p(x+1)/p(x) times (x+1).</summary>
    private double Rising(double x) => IsPoisson ? Mean : (x + K) * (Mean / (Mean + K));

    private double SumDown(int x)
    {
        var p = Probability(x);
        var sum = p;
        for (var i = x; i > 0; i--)
        {
            p *= i / Rising(i - 1);
            sum += p;
            if (p < sum * 1e-18 && Rising(i - 1) > i)
            {
                break;
            }
        }

        return sum;
    }

    private double SumUp(int x)
    {
        var p = Probability(x);
        var sum = 0.0;
        // Beyond the mean the terms fall at least geometrically once their ratio is below one.
        for (var i = x; p > sum * 1e-18; i++)
        {
            sum += p;
            p *= Rising(i) / (i + 1);
        }

        return sum;
    }

    private double ExcessUp(int x)
    {
        var p = Probability(x);
        var total = 0.0;
        for (var i = x; ; i++)
        {
            p *= Rising(i) / (i + 1);
            var term = (i + 1 - x) * p;
            total += term;
            if (term <= total * 1e-18)
            {
                return total;
            }
        }
    }
}
