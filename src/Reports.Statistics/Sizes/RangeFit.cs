using MathNet.Numerics;
using MathNet.Numerics.Random;

namespace Reports.Statistics;

/// <summary>
/// Maximum-likelihood size groups from report lines (n fish, smallest, largest, each rounded), with shares that differ from
/// line to line because a boat fishes one school at a time.
/// </summary>
/// <remarks>
/// <para>
/// <b>Model.</b> A line has P = T(a-,b+) - T(a+,b+) - T(a-,b-) + T(a+,b-), T(l,u) = E[(sum_k q_k (F_k(u) - F_k(l)))^n],
/// q ~ Dirichlet(phi pi); the log-likelihood is sum_i w_i ln P_i. With two groups the share is Beta(m phi, (1-m) phi) and T is
/// the beta-binomial sum. phi = Infinity is the pooled model, every line a draw from one mix.
/// </para>
/// <para>
/// <b>Parameters.</b> pi_k, mu_k, s_k as in <see cref="LognormalMixture"/> (pi_k: mean share over lines); phi &gt; 0,
/// concentration, no unit; r &gt; 0: rounding, unit of the sizes; w_i: weight of a line.
/// </para>
/// <para>
/// <b>Method.</b> Starts from EM on the lines taken as independent observations, from quantiles and at random; BFGS on the
/// exact likelihood with its analytic gradient (see RangeLikelihood); the hierarchical fit starts from the best pooled ones
/// at several phi.
/// </para>
/// <para>
/// <b>Reference.</b> Order statistics: David and Nagaraja 2003, section 2.2 (from memory); overdispersed shares: Mosimann
/// 1962, Biometrika 49:65-82; the mixture: Macdonald and Pitcher 1979, J. Fish. Res. Board Can. 36:987-1001.
/// </para>
/// <para>
/// <b>Accuracy.</b> Reference cases a2_minmax: log-likelihood within 2e-11; a2_hier: within 4e-12, phi within 2e-7 relative. Single
/// lines within 1.2e-12. More in docs/method/sizes.md.
/// </para>
/// </remarks>
public static class RangeFit
{
    /// <summary>ln Pr(line) under given groups; <paramref name="concentration"/> Infinity is the pooled model.</summary>
    public static double LogProbability(
        SizeLine line,
        LognormalMixture mixture,
        double concentration = double.PositiveInfinity
    )
    {
        ArgumentNullException.ThrowIfNull(mixture);
        SizeLine.Validate([line with { Weight = 1 }], nameof(line));
        CheckConcentration(concentration);
        return RangeLikelihood.LogProbability(line, mixture, concentration);
    }

    /// <summary>
    /// Probability that a line of <paramref name="fish"/> fish holds at least one over <paramref name="size"/>.
    /// </summary>
    public static double ChanceOver(double size, int fish, SizeFit fit)
    {
        ArgumentNullException.ThrowIfNull(fit);
        // All fish in the one cell [0, size).
        var none = LogProbability(new(fish, size / 2, size / 2, 1, size), fit.Mixture, fit.Concentration);
        return -NormalMass.ExpMinusOne(none);
    }

    /// <summary>For each group the probability that the line, as reported, held at least one of its fish.</summary>
    public static double[] GroupsMet(SizeLine line, SizeFit fit)
    {
        ArgumentNullException.ThrowIfNull(fit);
        var log = LogProbability(line, fit.Mixture, fit.Concentration);
        if (!double.IsFinite(log))
        {
            throw new InvalidSampleException(SampleFault.OutOfRange, nameof(line), "out of reach of every group");
        }

        return
        [
            .. Enumerable
                .Range(0, fit.Mixture.Components)
                .Select(k =>
                    1
                    - Math.Min(
                        1,
                        Math.Exp(RangeLikelihood.LogProbability(line, fit.Mixture, fit.Concentration, k) - log)
                    )
                ),
        ];
    }

    /// <summary>
    /// Expected share of each group among the fish of a line, given what it reports: the mean of j_k / n over the compositions j
    /// of the line. Weighted by fish over many lines these are the shares of the fish landed, where <see cref="LognormalMixture.Weights"/>
    /// are the shares of a line. Null where the line is out of reach of every group.
    /// </summary>
    public static double[]? ExpectedShares(SizeLine line, SizeFit fit)
    {
        ArgumentNullException.ThrowIfNull(fit);
        SizeLine.Validate([line with { Weight = 1 }], nameof(line));
        // A concentration of a million can't be told from an infinite one, and has compositions to sum over.
        return RangeLikelihood.ExpectedShares(line, fit.Mixture, Math.Min(fit.Concentration, 1e6));
    }

    /// <summary>The pooled model with K groups.</summary>
    public static SizeFit FitPooled(IReadOnlyList<SizeLine> lines, int components, MixtureOptions? options = null)
    {
        var checkedOptions = MixtureOptions.Checked(options, components);
        SizeLine.Validate(lines, nameof(lines));
        var (fit, _) = Pooled(lines, Starts(lines, components, checkedOptions), components, checkedOptions);
        return fit;
    }

    /// <summary>The hierarchical model with K groups (the pooled one for K = 1, where shares can't differ).</summary>
    public static SizeFit Fit(IReadOnlyList<SizeLine> lines, int components, MixtureOptions? options = null)
    {
        var checkedOptions = MixtureOptions.Checked(options, components);
        SizeLine.Validate(lines, nameof(lines));
        return Hierarchical(lines, components, checkedOptions);
    }

    /// <summary>The hierarchical model with 1 to <paramref name="maximumComponents"/> groups; BIC chooses.</summary>
    /// <param name="maximumTerms">
    /// Three and more groups are tried only while the likelihood has at most this many terms (a line of n fish has
    /// C(n+K-1, K-1)): lines of hundreds of fish would take seconds. <see cref="SizeChoice.Fits"/> shows what was tried.
    /// </param>
    /// <remarks>
    /// Give lines whose weights were multiplied by <see cref="Evidence.Rescale"/>: then the log-likelihood and the sample size
    /// in BIC are both those of the effective lines.
    /// </remarks>
    public static SizeChoice Choose(
        IReadOnlyList<SizeLine> lines,
        int maximumComponents,
        MixtureOptions? options = null,
        double maximumTerms = 60_000
    )
    {
        var checkedOptions = MixtureOptions.Checked(options, maximumComponents);
        SizeLine.Validate(lines, nameof(lines));
        var counts = lines
            .Where(l => l.Weight > 0)
            .Select(l => l with { Weight = 0 })
            .Distinct()
            .Select(l => l.Fish)
            .ToArray();
        double Terms(int K) => counts.Sum(n => SpecialFunctions.Binomial(n + K - 1, K - 1));
        return SizeChoice.Of([
            .. Enumerable
                .Range(1, maximumComponents)
                .TakeWhile(K => K <= 2 || Terms(K) <= maximumTerms)
                .Select(K => Hierarchical(lines, K, checkedOptions)),
        ]);
    }

    private static void CheckConcentration(double concentration)
    {
        if (!(concentration > 0))
        {
            throw new InvalidSampleException(
                SampleFault.OutOfRange,
                nameof(concentration),
                $"{concentration} is not above 0"
            );
        }
    }

    private static List<double[]> Starts(IReadOnlyList<SizeLine> lines, int components, MixtureOptions options)
    {
        var observations = new ObservationLikelihood(SizeLine.Expand(lines, LineTreatment.EndsRounded), nameof(lines));
        var starts = MixtureFit.Chain(observations, components, options, quick: true)[^1].Points.Take(3).ToList();
        var ends = lines
            .Where(l => l.Weight > 0)
            .SelectMany(l => new[] { l.Smallest, l.Largest })
            .Select(x => Math.Log(Math.Max(x, 1e-3)))
            .Order()
            .ToArray();
        double Quantile(double q) => ends[Math.Min((int)(q * ends.Length), ends.Length - 1)];
        var spread = Math.Max(Quantile(0.9) - Quantile(0.1), 4 * options.SpreadFloor) / 2;
        var random = new Xoshiro256StarStar(options.Seed);
        var parameters = new MixtureParameters(components, options.SpreadFloor, varying: false);
        var equal = Enumerable.Repeat(1.0 / components, components).ToArray();
        void Start(IEnumerable<double> pi, IEnumerable<double> mu, IEnumerable<double> sigma) =>
            starts.Add(parameters.Point([.. pi], [.. mu], [.. sigma]));
        double Wide(double factor) => Math.Max(spread / components * factor, 1.5 * options.SpreadFloor);
        Start(
            equal,
            Enumerable.Range(0, components).Select(k => Quantile((k + 0.5) / components)),
            Enumerable.Repeat(Wide(1), components)
        );
        for (var i = 0; i < (options.Starts + 1) / 2; i++)
        {
            Start(
                equal,
                Enumerable.Range(0, components).Select(_ => Quantile(random.NextDouble())),
                Enumerable.Repeat(Wide(0.5 + 0.8 * random.NextDouble()), components)
            );
        }

        // One narrow group beside wide ones, at places spread over the distinct ends.
        double[] distinct = components == 1 ? [] : [.. ends.Distinct()];
        var places = Math.Min(options.Starts / 2, distinct.Length);
        for (var i = 0; i < places; i++)
        {
            var rest = components - 1;
            Start(
                Enumerable.Repeat(0.85 / rest, rest).Append(0.15),
                Enumerable
                    .Range(0, rest)
                    .Select(k => Quantile((k + 0.5) / rest))
                    .Append(distinct[(int)((i + 0.5) / places * distinct.Length)]),
                Enumerable
                    .Repeat(Math.Max(spread / rest, 1.5 * options.SpreadFloor), rest)
                    .Append(1.5 * options.SpreadFloor)
            );
        }

        return starts;
    }

    private static (SizeFit Fit, List<double[]> Points) Pooled(
        IReadOnlyList<SizeLine> lines,
        List<double[]> starts,
        int components,
        MixtureOptions options
    )
    {
        var likelihood = new RangeLikelihood(lines, components, varying: false);
        var parameters = new MixtureParameters(components, options.SpreadFloor, varying: false);
        double Objective(double[] v, double[] g) => likelihood.Evaluate(parameters, v, g);
        var best = Polish(starts, Objective, 20, 3);
        var top = best[0];
        return (
            Result(parameters, top, likelihood.TotalWeight, -top.Value, options, StopReason.Converged),
            [.. best.Select(r => r.Point)]
        );
    }

    private static SizeFit Hierarchical(IReadOnlyList<SizeLine> lines, int components, MixtureOptions options)
    {
        var starts = Starts(lines, components, options);
        var (pooled, points) = Pooled(lines, starts, components, options);
        if (components == 1)
        {
            return pooled;
        }

        var likelihood = new RangeLikelihood(lines, components, varying: true);
        var parameters = new MixtureParameters(components, options.SpreadFloor, varying: true);
        double Objective(double[] v, double[] g) => likelihood.Evaluate(parameters, v, g);
        List<double[]> from =
        [
            .. points
                .Take(2)
                .Concat(starts.Take(1))
                .SelectMany(p => new[] { 0.0, 2, 5 }.Select(logPhi => (double[])[.. p, logPhi])),
        ];
        var top = Polish(from, Objective, 10, 2)[0];
        var fit = Result(
            parameters,
            top,
            likelihood.TotalWeight,
            pooled.Summary.LogLikelihood,
            options,
            StopReason.Converged
        );
        // The limit phi -> Infinity is never reached by a search in ln phi; where it is the maximum, it is the answer.
        return fit.Summary.LogLikelihood > pooled.Summary.LogLikelihood + 1e-6
            ? fit
            : pooled with
            {
                Summary = pooled.Summary with { Stopped = StopReason.Boundary },
            };
    }

    /// <summary>A short search from every start, then the best few to the end, best first.</summary>
    private static List<QuasiNewton.Result> Polish(
        List<double[]> starts,
        QuasiNewton.Objective objective,
        int shortIterations,
        int keep
    )
    {
        List<QuasiNewton.Result> kept = [];
        foreach (
            var r in starts.Select(p => QuasiNewton.Minimise(objective, p, shortIterations, 1e-6)).OrderBy(r => r.Value)
        )
        {
            if (double.IsFinite(r.Value) && kept.Count < keep && (kept.Count == 0 || r.Value - kept[^1].Value > 1e-5))
            {
                kept.Add(r);
            }
        }

        if (kept.Count == 0)
        {
            throw new InvalidSampleException(
                SampleFault.OutOfRange,
                "lines",
                "no size groups within reach of every line: check for sizes in different units"
            );
        }

        return [.. kept.Select(r => QuasiNewton.Minimise(objective, r.Point, 500)).OrderBy(r => r.Value)];
    }

    private static SizeFit Result(
        MixtureParameters parameters,
        QuasiNewton.Result top,
        double sampleSize,
        double pooled,
        MixtureOptions options,
        StopReason good
    )
    {
        var mixture = parameters.Mixture(top.Point);
        var atFloor = mixture.SdLog.Any(s => s < 1.001 * options.SpreadFloor);
        var edge =
            atFloor
            || (
                double.IsFinite(parameters.Concentration)
                && Math.Log(parameters.Concentration) is <= -6.99 or >= MixtureParameters.MaximumLogConcentration - 0.01
            );
        var stopped = top.Stopped == good && edge ? StopReason.Boundary : top.Stopped;
        return new(
            mixture,
            parameters.Concentration,
            new(stopped, top.Iterations, -top.Value),
            pooled,
            sampleSize,
            atFloor
        );
    }
}
