using MathNet.Numerics.Random;

namespace Reports.Statistics;

/// <summary>Maximum-likelihood lognormal mixtures from exact, interval-censored and one-sided observations with weights.</summary>
/// <remarks>
/// <para>
/// <b>Model.</b> sum_i w_i ln(F(u_i) - F(l_i)) for an interval, ln f(x_i) for an exact value (f the density in the unit of
/// the sizes), F = sum_k pi_k Phi((ln x - mu_k) / s_k), s_k &gt;= floor.
/// </para>
/// <para>
/// <b>Parameters.</b> See <see cref="LognormalMixture"/>; K: number of groups, 1 or more; floor: see
/// <see cref="MixtureOptions.SpreadFloor"/>.
/// </para>
/// <para>
/// <b>Method.</b> Starts: quantiles of the sample, the best fit of K - 1 groups with one more group set at each of many places
/// (wide and narrow), and seeded random ones. Each runs a few EM steps (Dempster, Laird and Rubin 1977, with the truncated
/// normal's moments for intervals) and BFGS; the best few are polished to the end.
/// </para>
/// <para>
/// <b>Reference.</b> Macdonald and Pitcher 1979, J. Fish. Res. Board Can. 36:987-1001; McLachlan and Peel 2000, Finite Mixture
/// Models, chapter 9 (from memory); BIC: Schwarz 1978, Ann. Stat. 6:461-464.
/// </para>
/// <para>
/// <b>Accuracy.</b> Reference cases a2_mixture: log-likelihood within 1e-6 or higher (higher by 0.04 to 0.8 in four fits with
/// three or four groups, where the reference stopped at a lower maximum). More in docs/method/sizes.md.
/// </para>
/// </remarks>
public static class MixtureFit
{
    /// <summary>Fits K = <paramref name="components"/> groups.</summary>
    public static SizeFit Fit(
        IReadOnlyList<IntervalObservation> observations,
        int components,
        MixtureOptions? options = null
    )
    {
        var checkedOptions = MixtureOptions.Checked(options, components);
        return Chain(new(observations, nameof(observations)), components, checkedOptions)[^1].Fit;
    }

    /// <summary>Fits 1 to <paramref name="maximumComponents"/> groups; BIC chooses.</summary>
    public static SizeChoice Choose(
        IReadOnlyList<IntervalObservation> observations,
        int maximumComponents,
        MixtureOptions? options = null
    )
    {
        var checkedOptions = MixtureOptions.Checked(options, maximumComponents);
        return SizeChoice.Of([
            .. Chain(new(observations, nameof(observations)), maximumComponents, checkedOptions).Select(x => x.Fit),
        ]);
    }

    /// <summary>The log-likelihood after each of some EM steps from a given mixture; it never falls.</summary>
    public static IReadOnlyList<double> EmPath(
        IReadOnlyList<IntervalObservation> observations,
        LognormalMixture start,
        int steps,
        double spreadFloor = 0.03
    )
    {
        ArgumentNullException.ThrowIfNull(start);
        List<double> path = [];
        new ObservationLikelihood(observations, nameof(observations)).Em(
            [.. start.Weights],
            [.. start.MeanLog],
            [.. start.SdLog],
            spreadFloor,
            steps,
            path
        );
        return path;
    }

    /// <summary>
    /// Best fits of 1..K groups, each with its further local maxima as points, best first. <paramref name="quick"/> leaves the
    /// points as EM found them: starts for another likelihood.
    /// </summary>
    internal static List<(SizeFit Fit, List<double[]> Points)> Chain(
        ObservationLikelihood likelihood,
        int components,
        MixtureOptions options,
        bool quick = false
    )
    {
        var floor = options.SpreadFloor;
        var order = Enumerable.Range(0, likelihood.Count).OrderBy(i => likelihood.Middle[i]).ToArray();
        var cumulative = new double[order.Length];
        var running = 0.0;
        for (var i = 0; i < order.Length; i++)
        {
            cumulative[i] = running += likelihood.Weight[order[i]];
        }

        double Quantile(double q)
        {
            var at = Array.BinarySearch(cumulative, q * running);
            return likelihood.Middle[order[Math.Min(at < 0 ? ~at : at, order.Length - 1)]];
        }

        double Near(double y, double width) =>
            Enumerable
                .Range(0, order.Length)
                .Sum(i => Math.Abs(likelihood.Middle[i] - y) < width ? likelihood.Weight[i] : 0) / running;

        var mean = Enumerable.Range(0, order.Length).Sum(i => likelihood.Weight[i] * likelihood.Middle[i]) / running;
        var spread = Math.Sqrt(
            Enumerable.Range(0, order.Length).Sum(i => likelihood.Weight[i] * Math.Pow(likelihood.Middle[i] - mean, 2))
                / running
        );
        spread = Math.Max(spread, 2 * floor);

        List<(SizeFit, List<double[]>)> fits = [];
        LognormalMixture? smaller = null;
        for (var K = 1; K <= components; K++)
        {
            var random = new Xoshiro256StarStar(options.Seed + K);
            List<(double[] Pi, double[] Mu, double[] Sigma)> starts = [];
            void Start(IEnumerable<double> pi, IEnumerable<double> mu, IEnumerable<double> sigma) =>
                starts.Add(([.. pi], [.. mu], [.. sigma]));
            var equal = Enumerable.Repeat(1.0 / K, K);
            var centres = Enumerable.Range(0, K).Select(k => Quantile((k + 0.5) / K)).ToArray();
            Start(equal, centres, Enumerable.Repeat(Math.Max(spread / K, 1.5 * floor), K));
            if (smaller is null)
            {
                Start([1], [mean], [spread]);
                Start([1], [mean], [3 * floor]);
            }
            else
            {
                Start(equal, centres, Enumerable.Repeat(Math.Max(spread, 1.5 * floor), K));
                var places = Math.Min(quick ? 5 : 8 + 2 * options.Starts, order.Length);
                for (var i = 0; i < places; i++)
                {
                    // Places by weight and places by value, alternately: a rare group holds little weight.
                    var q = (i + 0.5) / places;
                    var at = i % 2 == 0 ? Quantile(q) : likelihood.Middle[order[(int)(q * order.Length)]];
                    foreach (var s in quick ? [spread / K] : new[] { 1.3 * floor, spread / K })
                    {
                        // A narrow group takes what lies there, a wide one its part.
                        var share = s > 2 * floor ? 1.0 / (K + 1) : Math.Clamp(Near(at, 2 * floor), 0.01, 0.5);
                        Start(
                            smaller.Weights.Select(w => w * (1 - share)).Append(share),
                            smaller.MeanLog.Append(at),
                            smaller.SdLog.Append(Math.Max(s, 1.1 * floor))
                        );
                    }
                }
            }

            for (var i = 0; i < (quick ? 2 : options.Starts) && K > 1; i++)
            {
                var width = Math.Max(spread / K * (0.2 + 1.2 * random.NextDouble()), 1.1 * floor);
                Start(
                    equal,
                    [
                        .. Enumerable
                            .Range(0, K)
                            .Select(_ => Quantile(random.NextDouble()) + 0.1 * spread * (random.NextDouble() - 0.5)),
                    ],
                    Enumerable.Repeat(width, K)
                );
            }

            var parameters = new MixtureParameters(K, floor, varying: false);
            double Objective(double[] v, double[] g) => likelihood.Evaluate(parameters, v, g);
            List<QuasiNewton.Result> found = [];
            foreach (var (pi, mu, sigma) in starts)
            {
                var reached = likelihood.Em(pi, mu, sigma, floor, K == 1 ? 5 : 15);
                if (double.IsFinite(reached))
                {
                    var point = parameters.Point(pi, mu, sigma);
                    found.Add(
                        quick
                            ? new(point, -reached, 15, StopReason.IterationLimit)
                            : QuasiNewton.Minimise(Objective, point, 25, 1e-6)
                    );
                }
            }

            var best = found
                .OrderBy(r => r.Value)
                .Aggregate(
                    new List<QuasiNewton.Result>(),
                    (kept, r) =>
                    {
                        // Starts that met on the way need no second polish.
                        if (kept.Count < 8 && (kept.Count == 0 || r.Value - kept[^1].Value > 1e-6))
                        {
                            kept.Add(r);
                        }

                        return kept;
                    }
                )
                .Select(r => quick ? r : QuasiNewton.Minimise(Objective, r.Point, 1000))
                .Where(r => double.IsFinite(r.Value))
                .OrderBy(r => r.Value)
                .ToList();
            if (best.Count == 0)
            {
                throw new InvalidSampleException(
                    SampleFault.OutOfRange,
                    "observations",
                    "no mixture within reach of every observation: check for sizes in different units"
                );
            }

            var top = best[0];
            smaller = parameters.Mixture(top.Point);
            var atFloor = smaller.SdLog.Any(s => s < 1.001 * floor);
            fits.Add(
                (
                    new(
                        smaller,
                        double.PositiveInfinity,
                        new(
                            atFloor && top.Stopped == StopReason.Converged ? StopReason.Boundary : top.Stopped,
                            top.Iterations,
                            -top.Value
                        ),
                        -top.Value,
                        likelihood.TotalWeight,
                        atFloor
                    ),
                    [.. best.Select(r => r.Point)]
                )
            );
        }

        return fits;
    }
}
