using System.Numerics;

namespace Reports.Statistics;

/// <summary>
/// The likelihood of one boat's summary as a function of the mean, for one k. Made once per k; each mean then costs a few
/// logarithms.
/// </summary>
/// <remarks>
/// <para>Model: N anglers, independent, negative binomial (mean m e, k), e the effort; with bag limit B the probability of B is
/// P(X >= B). P(T, Z, M) = C(N, Z) p_0^Z [C_n(T; M) - C_n(T; M - 1)], n = N - Z, C_n(T; M) the coefficient of x^T in
/// (p_1 x + ... + p_M x^M)^n, not renormalised. What is not told is summed over: Z unknown takes p_0 into the sum with n = N;
/// M unknown takes all sizes.</para>
/// <para>Parameters: m fish per angler and unit of effort, m >= 0; k no unit, 0 &lt; k &lt;= infinity.</para>
/// <para>Method: the difference is the sum over the number j >= 1 of anglers that tie for the top, all terms positive:
/// C(n, j) p_M^j C_(n-j)(T - jM; M - 1). Since p_x(m) = p_x(r) (m/r)^x ((k + r)/(k + m))^(k + x), each coefficient is computed
/// at one reference mean r = T/n and carried to any m by that factor, so nothing underflows. The anglers at the bag limit
/// are the only ones whose probability is not of that form: one term per possible number of them.</para>
/// <para>Reference: convolution of discrete distributions, Feller, An Introduction to Probability Theory I, ch. XI (from memory);
/// the summary's likelihood is this library's own.</para>
/// <para>Accuracy: each log-likelihood of c_trip within 2e-13; sums to 1 over all summaries of boats of up to 6 anglers to 1e-12
/// (TripTests).</para>
/// </remarks>
internal sealed class BoatLikelihood
{
    private readonly BoatSummary boat;
    private readonly double k;
    private readonly double reference;

    /// <summary>ln(reference mean / effort), the reference on the scale of the mean.</summary>
    private readonly double logUnit;

    /// <summary>Number of anglers at the bag limit, and the logarithm of everything at the reference mean except their probability.</summary>
    private readonly (int AtBag, double LogTerm)[] terms;

    internal BoatLikelihood(BoatSummary boat, double k)
    {
        this.boat = boat;
        this.k = k;
        reference = Math.Max(boat.Total, 0.5) / Math.Max(1, boat.Anglers - (boat.Blanks ?? 0));
        logUnit = Math.Log(reference / boat.Effort);
        terms = boat.StoppedAtLimit ? [] : [.. Terms(boat, new CountDistribution(reference, k))];
    }

    /// <summary>False when no mean gives the summary a positive probability (top rod above the total, for example).</summary>
    internal bool Possible => boat.StoppedAtLimit || terms.Length > 0;

    internal BoatSummary Boat => boat;

    /// <summary>How sharply the likelihood bends in ln(mean): minus its second derivative, bag limits left out.</summary>
    internal double Curvature(double mean)
    {
        var m = mean * boat.Effort;
        return double.IsPositiveInfinity(k)
            ? boat.Anglers * m
            : (boat.Total + k * boat.Anglers) * (k / (k + m)) * (m / (k + m));
    }

    /// <summary>log P(summary | mean), not weighted.</summary>
    internal double LogLikelihood(double mean) => LogLikelihood(mean, Math.Log(mean));

    /// <summary>The same where the caller has the logarithm of the mean at hand.</summary>
    internal double LogLikelihood(double mean, double logMean)
    {
        var m = mean * boat.Effort;
        if (boat.StoppedAtLimit)
        {
            return Math.Log(new CountDistribution(m, k).Times(boat.Anglers).AtLeast(boat.Total));
        }

        if (terms.Length == 0)
        {
            return double.NegativeInfinity;
        }

        if (m == 0)
        {
            return boat.Total == 0 ? 0 : double.NegativeInfinity;
        }

        if (terms is [(0, var only)])
        {
            return only + Carry(m, logMean, boat.Total, boat.Anglers);
        }

        var bag = boat.BagLimit!.Value;
        var logBag = Math.Log(new CountDistribution(m, k).AtLeast(bag));
        var best = double.NegativeInfinity;
        Span<double> logs = terms.Length <= 128 ? stackalloc double[terms.Length] : new double[terms.Length];
        for (var i = 0; i < terms.Length; i++)
        {
            var (j, term) = terms[i];
            logs[i] = term + Carry(m, logMean, boat.Total - j * bag, boat.Anglers - j) + (j > 0 ? j * logBag : 0);
            best = Math.Max(best, logs[i]);
        }

        if (double.IsNegativeInfinity(best))
        {
            return best;
        }

        var sum = 0.0;
        foreach (var l in logs)
        {
            sum += Math.Exp(l - best);
        }

        return best + Math.Log(sum);
    }

    /// <summary>log of (m/r)^T ((k + r)/(k + m))^(T + kN): from the reference mean to m.</summary>
    private double Carry(double m, double logMean, int total, int anglers)
    {
        var growth = total == 0 ? 0 : total * (logMean - logUnit);
        return double.IsPositiveInfinity(k)
            ? growth - anglers * (m - reference)
            : growth - (total + k * anglers) * Saddlepoint.Log1p((m - reference) / (k + reference));
    }

    private static IEnumerable<(int AtBag, double LogTerm)> Terms(BoatSummary boat, CountDistribution at)
    {
        var (total, bag) = (boat.Total, boat.BagLimit);
        var anglers = boat.Anglers;
        var least = 0;
        double outside = 0;
        if (boat.Blanks is { } blanks)
        {
            if (blanks > anglers)
            {
                return [];
            }

            outside = LogChoose(anglers, blanks) + (blanks > 0 ? blanks * at.LogProbability(0) : 0);
            anglers -= blanks;
            least = 1;
        }

        if (anglers == 0)
        {
            return total == 0 && boat.Top is null or 0 ? [(0, outside)] : [];
        }

        if (boat.Top is { } top)
        {
            return top > total || top > bag || top < least ? []
                : top == 0 ? (total == 0 ? [(0, outside + anglers * at.LogProbability(0))] : [])
                : top == bag ? Tied(at, anglers, total, least, top, outside, carryTop: false)
                : Merge(Tied(at, anglers, total, least, top, outside, carryTop: true));
        }

        if (bag is { } limit && limit <= total)
        {
            var none = Power(at, anglers, total, least, limit - 1);
            var others = Tied(at, anglers, total, least, limit, outside, carryTop: false);
            return none > double.NegativeInfinity ? others.Prepend((0, outside + none)) : others;
        }

        if (least == 0)
        {
            // The total alone: the sum of N anglers has a closed form.
            return [(0, outside + at.Times(anglers).LogProbability(total))];
        }

        var all = Power(at, anglers, total, least, total);
        return all > double.NegativeInfinity ? [(0, outside + all)] : [];
    }

    /// <summary>
    /// One term per number j >= 1 of anglers with exactly <paramref name="top"/> fish, the others below. The probability of the
    /// top itself is left out unless <paramref name="carryTop"/>.
    /// </summary>
    private static List<(int AtBag, double LogTerm)> Tied(
        CountDistribution at,
        int anglers,
        int total,
        int least,
        int top,
        double outside,
        bool carryTop
    )
    {
        var result = new List<(int, double)>();
        var most = Math.Min(anglers, total / top);
        var fewest = Math.Max(1, FewestAtTop(anglers, total, top));
        if (fewest > most)
        {
            return result;
        }

        var logTop = carryTop ? at.LogProbability(top) : 0;
        var powers = new Powers(at, least, top - 1, total - fewest * top);
        powers.Raise(anglers - most);
        for (var j = most; j >= fewest; j--)
        {
            var rest = powers.LogCoefficient(total - j * top);
            if (rest > double.NegativeInfinity)
            {
                result.Add((j, outside + LogChoose(anglers, j) + j * logTop + rest));
            }

            if (j > fewest)
            {
                powers.RaiseByOne();
            }
        }

        return result;
    }

    /// <summary>With fewer than this many at the top, the others could not reach the total below it.</summary>
    private static int FewestAtTop(int anglers, int total, int top) => total - anglers * (top - 1);

    private static List<(int AtBag, double LogTerm)> Merge(List<(int AtBag, double LogTerm)> tied)
    {
        if (tied.Count == 0)
        {
            return tied;
        }

        var best = tied.Max(t => t.LogTerm);
        return [(0, best + Math.Log(tied.Sum(t => Math.Exp(t.LogTerm - best))))];
    }

    /// <summary>log of the coefficient of x^total in (p_least x^least + ... + p_most x^most)^n.</summary>
    private static double Power(CountDistribution at, int n, int total, int least, int most)
    {
        var powers = new Powers(at, least, most, total);
        powers.Raise(n);
        return powers.LogCoefficient(total);
    }

    private static double LogChoose(int n, int j) => MathNet.Numerics.SpecialFunctions.BinomialLn(n, j);

    /// <summary>Powers of the polynomial sum of p_x x^x, least &lt;= x &lt;= most, truncated, scaled to keep clear of underflow.</summary>
    private sealed class Powers
    {
        // The factor x^least is taken out: coefficient i of the base belongs to least + i fish.
        private readonly double[] root;
        private readonly double logScale;
        private readonly int least;
        private readonly int degree;
        private double[] current = [1];
        private int exponent;

        internal Powers(CountDistribution at, int least, int most, int degree)
        {
            this.least = least;
            this.degree = degree;
            root = new double[Math.Max(0, Math.Min(most, degree) - least + 1)];
            var sum = 0.0;
            for (var i = 0; i < root.Length; i++)
            {
                sum += root[i] = at.Probability(least + i);
            }

            if (sum > 0)
            {
                for (var i = 0; i < root.Length; i++)
                {
                    root[i] /= sum;
                }
            }
            else
            {
                root = [];
            }

            logScale = Math.Log(sum);
        }

        internal void Raise(int n)
        {
            exponent = n;
            current = [1];
            for (var (square, m) = (root, n); m > 0; m >>= 1)
            {
                if ((m & 1) == 1)
                {
                    current = Multiply(current, square);
                }

                if (m > 1)
                {
                    square = Multiply(square, square);
                }
            }
        }

        internal void RaiseByOne()
        {
            exponent++;
            current = Multiply(current, root);
        }

        internal double LogCoefficient(int total)
        {
            var i = total - least * exponent;
            return i < 0 || i >= current.Length || current[i] == 0 ? double.NegativeInfinity
                : exponent == 0 ? 0
                : exponent * logScale + Math.Log(current[i]);
        }

        private double[] Multiply(double[] a, double[] b)
        {
            if (a.Length == 0 || b.Length == 0)
            {
                return [];
            }

            var result = new double[Math.Min(degree + 1, a.Length + b.Length - 1)];
            for (var i = 0; i < Math.Min(a.Length, result.Length); i++)
            {
                var length = Math.Min(b.Length, result.Length - i);
                AddScaled(result.AsSpan(i, length), b.AsSpan(0, length), a[i]);
            }

            return result;
        }

        private static void AddScaled(Span<double> to, ReadOnlySpan<double> from, double factor)
        {
            var i = 0;
            for (; i <= to.Length - Vector<double>.Count; i += Vector<double>.Count)
            {
                (new Vector<double>(to[i..]) + factor * new Vector<double>(from[i..])).CopyTo(to[i..]);
            }

            for (; i < to.Length; i++)
            {
                to[i] += factor * from[i];
            }
        }
    }
}
