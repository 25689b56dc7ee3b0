using MathNet.Numerics.Distributions;

namespace Reports.Statistics;

/// <summary>
/// Non-parametric maximum likelihood estimate of a distribution from exact, interval-censored and one-sided censored
/// observations with weights.
/// </summary>
/// <remarks>
/// <para>
/// <b>Model.</b> Maximise sum_i w_i ln P_i, P_i = mass of F inside observation i, over all distributions F. F can be taken to
/// put its mass on the maximal intersections (Turnbull sets) j of the observations: P_i = sum_j A_ij p_j.
/// </para>
/// <para>
/// <b>Parameters.</b> p_j in [0, 1], sum 1: mass of set j, in shares of the total weight W = sum_i w_i. Sizes in the unit given.
/// </para>
/// <para>
/// <b>Method.</b> Identical observations are merged; EM by running sums from equal masses, then Newton steps under
/// p &gt;= 0 on the same running sums (no n x m matrix), until the Karush-Kuhn-Tucker gap max_j (1/W) sum_i w_i A_ij / P_i - 1 is below
/// <see cref="GapTolerance"/>. The problem is concave, so a gap of g proves the log-likelihood within W ln(1 + g) of the maximum.
/// A self-consistent point that is not the maximum (EM can stop at one) does not pass.
/// </para>
/// <para>
/// On a line the masses are unique: some observation ends in each set, so the rows that end in sets 1, 2, ... form a triangle
/// with ones on its diagonal, the columns A_j are independent, and the P_i, which are unique because ln is strictly concave, fix
/// p. (In two dimensions they need not be.) What the data leave open is the place of a mass inside its set: every answer that
/// depends on it comes as a low and a high value.
/// </para>
/// <para>
/// <b>Reference.</b> Turnbull 1976, J. R. Stat. Soc. B 38:290-295; Gentleman and Geyer 1994, Biometrika 81:618-623; Wellner
/// and Zhan 1997, JASA 92:945-959; profile intervals: Owen 2001, Empirical Likelihood, section 2.
/// </para>
/// <para>
/// <b>Accuracy.</b> Reference cases a1_npmle: log-likelihood within 6e-14, fitted probabilities within 1.2e-9, gap at most 1.1e-11;
/// a3_shares: profile intervals within 8e-10. More in docs/method/sizes.md.
/// </para>
/// </remarks>
public sealed class IntervalNpmle
{
    /// <summary>The gap at which iteration stops; the requirement for an answer to be right is 1e-6.</summary>
    public const double GapTolerance = 1e-10;

    private const int IterationLimit = 500;
    private readonly Sets sets;
    private readonly double[] mass;
    private readonly double[] cumulative;

    private IntervalNpmle(
        Sets sets,
        double[] mass,
        FitSummary summary,
        double gap,
        double[] fitted,
        IReadOnlyList<double> path
    )
    {
        (this.sets, this.mass) = (sets, mass);
        (Summary, Gap, FittedProbabilities, LogLikelihoodPath) = (summary, gap, fitted, path);
        cumulative = new double[mass.Length + 1];
        for (var j = 0; j < mass.Length; j++)
        {
            cumulative[j + 1] = cumulative[j] + mass[j];
        }

        Support =
        [
            .. Enumerable
                .Range(0, mass.Length)
                .Where(j => mass[j] > 1e-10)
                .Select(j => new SupportSet(
                    sets.Left[j].Value,
                    sets.Right[j].Value,
                    sets.Left[j].Side > 0,
                    sets.Right[j].Side < 0,
                    mass[j]
                )),
        ];
    }

    /// <summary>Why the fit stopped, Newton iterations, sum_i w_i ln P_i.</summary>
    public FitSummary Summary { get; }

    /// <summary>max_j (1/W) sum_i w_i A_ij / P_i - 1 at the answer, 0 or more.</summary>
    public double Gap { get; }

    /// <summary>W, the sum of weights.</summary>
    public double TotalWeight => sets.Likelihood.TotalWeight;

    /// <summary>
    /// P_i for each observation in the order given. For an observation of weight 0, which shapes nothing, the mass of the
    /// sets inside it.
    /// </summary>
    public IReadOnlyList<double> FittedProbabilities { get; }

    /// <summary>The sets that hold mass (over 1e-10), in order.</summary>
    public IReadOnlyList<SupportSet> Support { get; }

    /// <summary>The log-likelihood after every step; it never falls.</summary>
    public IReadOnlyList<double> LogLikelihoodPath { get; }

    /// <summary>Fits the estimate.</summary>
    /// <exception cref="InvalidSampleException">
    /// No observations, all weights zero, a negative weight, a reversed or empty interval, NaN.
    /// </exception>
    public static IntervalNpmle Fit(IReadOnlyList<IntervalObservation> observations)
    {
        IntervalObservation.Validate(observations, nameof(observations));
        var sets = new Sets(observations);
        var likelihood = sets.Likelihood;
        var m = sets.Count;
        var p = new double[m];
        Array.Fill(p, 1.0 / m);
        var price = new double[m];
        Array.Fill(price, likelihood.TotalWeight);
        List<double> path = [];
        var (stopped, iterations, gap) = likelihood.Maximise(p, price, 30, GapTolerance, IterationLimit, path);
        var fitted = new double[observations.Count];
        var running = new double[m + 1];
        for (var j = 0; j < m; j++)
        {
            running[j + 1] = running[j] + p[j];
        }

        for (var i = 0; i < fitted.Length; i++)
        {
            fitted[i] =
                sets.Merged[i] >= 0 ? likelihood.Fitted[sets.Merged[i]]
                : sets.Inside(observations[i].Left, observations[i].Right) is var (a, b) && a < b
                    ? running[b] - running[a]
                : 0;
        }

        return new(sets, p, new(stopped, iterations, likelihood.LogLikelihood()), gap, fitted, path);
    }

    /// <summary>
    /// Lower and upper value of F(x) = Pr(X &lt;= x) over all places of the mass inside its sets. Both are non-decreasing
    /// in x.
    /// </summary>
    public (double Low, double High) Cdf(double x)
    {
        Refuse(double.IsNaN(x), SampleFault.NotFinite, nameof(x));
        var below = Count(sets.Right, (x, 0), inclusive: true);
        var begun = Count(sets.Left, (x, 0), inclusive: true);
        return (Between(0, below), Between(0, begun));
    }

    /// <summary>
    /// Lower and upper value of the share in [<paramref name="from"/>, <paramref name="to"/>) over all places of the mass
    /// inside its sets; <paramref name="to"/> may be Infinity.
    /// </summary>
    public (double Low, double High) Share(double from, double to)
    {
        var (inside, touching) = Grade(from, to);
        return (
            inside.First < inside.End ? Between(inside.First, inside.End) : 0,
            touching.First < touching.End ? Between(touching.First, touching.End) : 0
        );
    }

    /// <summary>
    /// Lower and upper <paramref name="q"/> quantile: the smallest x with F(x) &gt;= q, taking each set's mass at its left and
    /// at its right end.
    /// </summary>
    public (double Low, double High) Quantile(double q)
    {
        Refuse(!(q >= 0 && q <= 1), SampleFault.OutOfRange, nameof(q));
        // The running sum of masses can fall short of q by rounding alone.
        var j = 0;
        while (j < mass.Length - 1 && cumulative[j + 1] < q - 1e-9)
        {
            j++;
        }

        return (sets.Left[j].Value, sets.Right[j].Value);
    }

    /// <summary>
    /// Profile-likelihood interval of the share in [<paramref name="from"/>, <paramref name="to"/>): all s whose best
    /// log-likelihood times <paramref name="rescale"/> is within half a chi-square(1) quantile of the maximum. Where a set
    /// straddles an edge, the low end leaves it out and the high end counts it.
    /// </summary>
    /// <param name="level">Confidence level in (0, 1).</param>
    /// <param name="rescale">
    /// sum w / sum w^2 of the lines' weights, which makes a weighted likelihood carry the information of its Kish size
    /// (<see cref="Evidence.Rescale"/>); 1 leaves the weights as counts.
    /// </param>
    public (double Low, double High) ShareInterval(double from, double to, double level, double rescale = 1)
    {
        Refuse(!(level > 0 && level < 1), SampleFault.OutOfRange, nameof(level));
        Refuse(!(rescale > 0 && double.IsFinite(rescale)), SampleFault.OutOfRange, nameof(rescale));
        var (inside, touching) = Grade(from, to);
        var z = Normal.InvCDF(0, 1, (1 + level) / 2);
        var drop = z * z / 2 / rescale;
        return (ProfileEnd(inside.First, inside.End, drop, -1), ProfileEnd(touching.First, touching.End, drop, +1));
    }

    /// <summary>
    /// The share of sets first..end-1 at which the profile has fallen by <paramref name="drop"/>, below (-1) or above (+1)
    /// the estimate.
    /// </summary>
    private double ProfileEnd(int first, int end, double drop, int direction)
    {
        var m = mass.Length;
        var all = end - first == m;
        if (first >= end || all)
        {
            // Nothing (or everything) was seen there. A share s > 0 elsewhere costs -W ln(1 - s), the binomial's answer.
            var tail = 1 - Math.Exp(-drop / TotalWeight);
            return all ? (direction > 0 ? 1 : 1 - tail) : (direction < 0 ? 0 : tail);
        }

        // Sets that must empty as the share goes to its limit; if that costs less than the drop, the limit is the answer.
        var limit = direction < 0 ? 0.0 : 1.0;
        var target = Summary.LogLikelihood - drop;
        if (sets.LogLikelihoodWithout(first, end, direction < 0) is { } best && best >= target)
        {
            return limit;
        }

        var likelihood = sets.NewLikelihood();
        var W = likelihood.TotalWeight;
        var price = new double[m];
        var p = new double[m];
        var share = 0.0;
        double Excess(double tilt)
        {
            for (var j = 0; j < m; j++)
            {
                // From the estimate each time, so that the answer does not depend on the path of the root search.
                p[j] = Math.Max(mass[j], 1e-9);
                price[j] = W * Math.Exp((j >= first && j < end ? -0.5 : 0.5) * direction * tilt);
            }

            likelihood.Maximise(p, price, 5, 1e-10, IterationLimit);
            var (total, part) = (0.0, 0.0);
            for (var j = 0; j < m; j++)
            {
                total += p[j];
                part += j >= first && j < end ? p[j] : 0;
            }

            share = part / total;
            return likelihood.LogLikelihood() - W * Math.Log(total) - target;
        }

        var (near, far) = (0.0, 0.25);
        while (Excess(far) > 0)
        {
            (near, far) = (far, 2 * far);
            // A share of e^-40 is the limit for any purpose; only an observation of next to no weight asks for it.
            if (far > 40)
            {
                return limit;
            }
        }

        Excess(MathNet.Numerics.RootFinding.Brent.FindRoot(Excess, near, far, 1e-9, 200));
        return share;
    }

    private double Between(int a, int b) => Math.Clamp(cumulative[b] - cumulative[a], 0, 1);

    private ((int First, int End) Inside, (int First, int End) Touching) Grade(double from, double to)
    {
        Refuse(double.IsNaN(from) || double.IsNaN(to), SampleFault.NotFinite, nameof(from));
        Refuse(to <= from, SampleFault.ReversedInterval, nameof(to));
        // Half-open grade: its last position is just before `to`; an infinite end includes everything.
        var edge = double.IsPositiveInfinity(to) ? (to, 1) : (to, -1);
        var inside = (Count(sets.Left, (from, 0), inclusive: false), Count(sets.Right, edge, inclusive: true));
        var touching = (Count(sets.Right, (from, 0), inclusive: false), Count(sets.Left, edge, inclusive: true));
        return (inside, touching);
    }

    private static void Refuse(bool when, SampleFault fault, string parameter)
    {
        if (when)
        {
            throw new InvalidSampleException(fault, parameter, "outside its range");
        }
    }

    /// <summary>How many of the sorted ends lie before (or at, if inclusive) a position.</summary>
    private static int Count((double Value, int Side)[] ends, (double Value, int Side) position, bool inclusive)
    {
        var (low, high) = (0, ends.Length);
        while (low < high)
        {
            var middle = (low + high) / 2;
            var order = ends[middle].CompareTo(position);
            if (order < 0 || (inclusive && order == 0))
            {
                low = middle + 1;
            }
            else
            {
                high = middle;
            }
        }

        return low;
    }

    /// <summary>The maximal intersections of a sample, and the distinct observations as stretches of them.</summary>
    private sealed class Sets
    {
        private readonly int[] first;
        private readonly int[] end;
        private readonly double[] weight;

        internal Sets(IReadOnlyList<IntervalObservation> observations)
        {
            // Sorted first: the sums below must not depend on the order of the input.
            var order = Enumerable
                .Range(0, observations.Count)
                .Where(i => observations[i].Weight > 0)
                .OrderBy(i => observations[i].Left)
                .ThenBy(i => observations[i].Right)
                .ThenBy(i => observations[i].Weight)
                .ToArray();

            // A left end followed directly by a right end bounds a maximal intersection; at one place left comes first.
            var ends = new List<((double Value, int Side) At, bool IsRight)>(2 * order.Length);
            foreach (var i in order)
            {
                ends.Add((observations[i].Left, false));
                ends.Add((observations[i].Right, true));
            }

            ends.Sort();
            List<(double Value, int Side)> lefts = [];
            List<(double Value, int Side)> rights = [];
            for (var k = 1; k < ends.Count; k++)
            {
                if (ends[k].IsRight && !ends[k - 1].IsRight)
                {
                    lefts.Add(ends[k - 1].At);
                    rights.Add(ends[k].At);
                }
            }

            (Left, Right) = ([.. lefts], [.. rights]);

            Merged = new int[observations.Count];
            Array.Fill(Merged, -1);
            Dictionary<(int, int), int> distinct = [];
            List<int> firsts = [];
            List<int> endsOf = [];
            List<double> weights = [];
            foreach (var i in order)
            {
                var key = Inside(observations[i].Left, observations[i].Right);
                if (!distinct.TryGetValue(key, out var at))
                {
                    distinct[key] = at = weights.Count;
                    firsts.Add(key.First);
                    endsOf.Add(key.End);
                    weights.Add(0);
                }

                weights[at] += observations[i].Weight;
                Merged[i] = at;
            }

            (first, end, weight) = ([.. firsts], [.. endsOf], [.. weights]);
            Likelihood = NewLikelihood();
        }

        internal (double Value, int Side)[] Left { get; }
        internal (double Value, int Side)[] Right { get; }
        internal int Count => Left.Length;
        internal ReadOnlySpan<int> First => first;
        internal ReadOnlySpan<int> End => end;

        /// <summary>For each observation its distinct stretch, -1 for weight 0.</summary>
        internal int[] Merged { get; }

        internal IntervalLikelihood Likelihood { get; }

        internal IntervalLikelihood NewLikelihood() => new(Count, first, end, weight);

        /// <summary>The sets inside [left, right]: first, and one past the last.</summary>
        internal (int First, int End) Inside((double, int) left, (double, int) right) =>
            (IntervalNpmle.Count(Left, left, inclusive: false), IntervalNpmle.Count(Right, right, inclusive: true));

        /// <summary>Best log-likelihood with no mass on sets a..b-1 (or none on the others); null if an observation needs them.</summary>
        internal double? LogLikelihoodWithout(int a, int b, bool dropThese)
        {
            var kept = new int[Count + 1];
            for (var j = 0; j < Count; j++)
            {
                kept[j + 1] = kept[j] + ((j >= a && j < b) == dropThese ? 0 : 1);
            }

            var f = Array.ConvertAll(first, j => kept[j]);
            var e = Array.ConvertAll(end, j => kept[j]);
            if (f.Where((x, i) => x == e[i]).Any())
            {
                return null;
            }

            var rest = new IntervalLikelihood(kept[Count], f, e, weight);
            var p = new double[kept[Count]];
            Array.Fill(p, 1.0 / p.Length);
            var price = new double[p.Length];
            Array.Fill(price, rest.TotalWeight);
            rest.Maximise(p, price, 30, GapTolerance, IterationLimit);
            return rest.LogLikelihood();
        }
    }
}

/// <summary>A set that holds mass: the estimate says how much lies between its ends, not where.</summary>
/// <param name="Lower">Left end, the unit of the sizes.</param>
/// <param name="Upper">Right end.</param>
/// <param name="Mass">Its share, in (0, 1].</param>
public sealed record SupportSet(double Lower, double Upper, bool LowerOpen, bool UpperOpen, double Mass)
{
    /// <summary>The place of the mass is determined: a single point.</summary>
    public bool PlaceUnique => Lower.Equals(Upper);
}
