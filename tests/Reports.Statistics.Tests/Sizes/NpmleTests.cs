using CsCheck;

namespace Reports.Statistics.Tests;

public sealed class NpmleTests
{
    private static readonly Gen<IntervalObservation> Observation = Gen.Select(
        Gen.Int[1, 40],
        Gen.Int[0, 25],
        Gen.Int[1, 4],
        Gen.Int[0, 5],
        (lower, width, weight, kind) =>
            kind switch
            {
                0 => IntervalObservation.Exact(lower, weight),
                1 => IntervalObservation.Closed(lower, lower + width, weight),
                2 => IntervalObservation.RightOpen(lower, lower + width + 1, weight),
                3 => IntervalObservation.LeftOpen(lower, lower + width + 1, weight),
                4 => IntervalObservation.Closed(lower, double.PositiveInfinity, weight),
                _ => IntervalObservation.Closed(0, lower, weight),
            }
    );

    private static readonly Gen<IntervalObservation[]> Sample = Observation.Array[1, 40];

    [Fact]
    public void The_optimality_condition_holds_on_random_samples() =>
        Sample.Sample(
            sample =>
            {
                var fit = IntervalNpmle.Fit(sample);
                Assert.Equal(StopReason.Converged, fit.Summary.Stopped);
                Assert.InRange(fit.Gap, 0, 1e-9);
                Assert.InRange(fit.Support.Sum(s => s.Mass), 1 - 1e-9, 1 + 1e-9);
                Assert.All(fit.FittedProbabilities, p => Assert.InRange(p, 1e-12, 1 + 1e-9));
            },
            iter: 2000,
            seed: "0000KOIPe2g5",
            threads: 1
        );

    [Fact]
    public void Weights_of_many_sizes_do_not_stop_it_short() =>
        Gen.Select(Sample, Gen.Int[-6, 4].Array[40])
            .Sample(
                (sample, powers) =>
                {
                    var uneven = sample.Select((o, i) => o with { Weight = Math.Pow(10, powers[i]) }).ToArray();
                    var fit = IntervalNpmle.Fit(uneven);
                    Assert.InRange(fit.Gap, 0, 1e-9);
                    var (low, high) = fit.ShareInterval(20, double.PositiveInfinity, 0.8);
                    var share = fit.Share(20, double.PositiveInfinity);
                    Assert.True(low <= share.Low + 1e-7 && share.High <= high + 1e-7);
                },
                iter: 500,
                seed: "0000KOIPe2g5",
                threads: 1
            );

    [Fact]
    public void The_log_likelihood_never_falls() =>
        Sample.Sample(
            sample =>
            {
                var path = IntervalNpmle.Fit(sample).LogLikelihoodPath;
                for (var i = 1; i < path.Count; i++)
                {
                    Assert.True(path[i] >= path[i - 1] - 1e-9 * (1 + Math.Abs(path[i])), $"step {i} fell");
                }
            },
            iter: 500,
            seed: "0000KOIPe2g5",
            threads: 1
        );

    [Fact]
    public void Integer_weights_are_repeats() =>
        Sample.Sample(
            sample =>
            {
                var repeated = sample
                    .SelectMany(o => Enumerable.Repeat(o with { Weight = 1 }, (int)o.Weight))
                    .ToArray();
                var (weighted, plain) = (IntervalNpmle.Fit(sample), IntervalNpmle.Fit(repeated));
                Assert.Equal(plain.Summary.LogLikelihood, weighted.Summary.LogLikelihood, 1e-8);
                for (var x = 0.5; x < 70; x += 3)
                {
                    Assert.Equal(plain.Cdf(x).Low, weighted.Cdf(x).Low, 1e-5);
                    Assert.Equal(plain.Cdf(x).High, weighted.Cdf(x).High, 1e-5);
                }
            },
            iter: 300,
            seed: "0000KOIPe2g5",
            threads: 1
        );

    [Fact]
    public void The_order_of_the_sample_changes_no_bit() =>
        Gen.Select(Sample, Gen.Int)
            .Sample(
                (sample, seed) =>
                {
                    var shuffled = (IntervalObservation[])sample.Clone();
                    new Random(seed).Shuffle(shuffled);
                    var (a, b) = (IntervalNpmle.Fit(sample), IntervalNpmle.Fit(shuffled));
                    Assert.Equal(a.Support, b.Support);
                    Assert.Equal(a.Summary, b.Summary);
                },
                iter: 300,
                seed: "0000KOIPe2g5",
                threads: 1
            );

    [Fact]
    public void A_change_of_unit_moves_the_sizes_and_nothing_else() =>
        Sample.Sample(
            sample =>
            {
                var scaled = sample.Select(o => o with { Lower = o.Lower * 0.5, Upper = o.Upper * 0.5 }).ToArray();
                var (pounds, halved) = (IntervalNpmle.Fit(sample), IntervalNpmle.Fit(scaled));
                Assert.Equal(
                    pounds.Support.Select(s => (s.Lower * 0.5, s.Upper * 0.5, s.Mass)),
                    halved.Support.Select(s => (s.Lower, s.Upper, s.Mass))
                );
            },
            iter: 300,
            seed: "0000KOIPe2g5",
            threads: 1
        );

    [Fact]
    public void Bounds_are_monotone_and_ordered() =>
        Sample.Sample(
            sample =>
            {
                var fit = IntervalNpmle.Fit(sample);
                var (low, high) = (0.0, 0.0);
                for (var x = -1.0; x < 80; x += 0.5)
                {
                    var cdf = fit.Cdf(x);
                    Assert.True(cdf.Low <= cdf.High + 1e-12);
                    Assert.True(cdf.Low >= low - 1e-9 && cdf.High >= high - 1e-9);
                    (low, high) = cdf;
                    var over = fit.Share(x, double.PositiveInfinity);
                    Assert.InRange(over.Low, 0, over.High + 1e-12);
                }

                for (var q = 0.1; q < 1; q += 0.1)
                {
                    var (a, b) = fit.Quantile(q);
                    Assert.True(a <= b);
                }
            },
            iter: 300,
            seed: "0000KOIPe2g5",
            threads: 1
        );

    [Fact]
    public void What_lies_inside_a_set_is_said_low_and_high()
    {
        // By hand: [20,40] and [30,60] share [30,40], which holds everything; where in it is unknown.
        var fit = IntervalNpmle.Fit([IntervalObservation.Closed(20, 40), IntervalObservation.Closed(30, 60, 3)]);
        var set = Assert.Single(fit.Support);
        Assert.Equal((30, 40, 1), (set.Lower, set.Upper, set.Mass));
        Assert.False(set.PlaceUnique);
        Assert.Equal((0, 1), fit.Cdf(35));
        Assert.Equal((0, 1), fit.Share(35, double.PositiveInfinity));
        Assert.Equal((1, 1), fit.Share(30, 40.5));
        Assert.Equal((30, 40), fit.Quantile(0.5));
        Assert.Equal((0, 0), fit.Cdf(29.9));
    }

    [Fact]
    public void Masses_are_unique_from_any_start() =>
        Gen.Select(Gen.Int[0, 8], Gen.Int[0, 8], (a, b) => IntervalObservation.Closed(Math.Min(a, b), Math.Max(a, b)))
            .Array[2, 12]
            .Sample(
                sample =>
                {
                    var fit = IntervalNpmle.Fit(sample);
                    var sets = fit.Support;
                    var covers = sample
                        .Select(o => sets.Select(s => o.Lower <= s.Lower && s.Upper <= o.Upper).ToArray())
                        .ToArray();
                    for (var seed = 1; seed < 4; seed++)
                    {
                        // Plain EM, written out, from random masses: slow, and sure on the sets that hold mass.
                        var random = new Random(seed);
                        var p = sets.Select(_ => random.NextDouble() + 1e-3).ToArray();
                        for (var step = 0; step < 1500; step++)
                        {
                            var next = new double[p.Length];
                            foreach (var c in covers)
                            {
                                var total = 0.0;
                                for (var j = 0; j < p.Length; j++)
                                {
                                    total += c[j] ? p[j] : 0;
                                }

                                for (var j = 0; j < p.Length; j++)
                                {
                                    next[j] += c[j] ? p[j] / total / covers.Length : 0;
                                }
                            }

                            p = next;
                        }

                        for (var j = 0; j < p.Length; j++)
                        {
                            Assert.Equal(sets[j].Mass, p[j], 2e-3);
                        }
                    }
                },
                iter: 60,
                seed: "0000KOIPe2g5",
                threads: 1
            );

    [Fact]
    public void Turnbull_1974_survival()
    {
        // Turnbull 1974, JASA 69:169-173, printed .538 .295 .210 .095; digits beyond: R survival 3.5-3 and an own solver.
        double[] printed = [.538, .295, .210, .095];
        double[] digits = [.5375678119, .2945939860, .2097601766, .0948457534];
        int[] exact = [12, 6, 2, 3];
        int[] right = [3, 2, 0, 3];
        int[] left = [2, 4, 2, 5];
        List<IntervalObservation> sample = [];
        for (var t = 1; t <= 4; t++)
        {
            sample.Add(IntervalObservation.Exact(t, exact[t - 1]));
            sample.Add(new(t, double.PositiveInfinity, right[t - 1], LowerOpen: true));
            sample.Add(IntervalObservation.Closed(double.NegativeInfinity, t, left[t - 1]));
        }

        var fit = IntervalNpmle.Fit(sample);
        for (var t = 1; t <= 4; t++)
        {
            Assert.Equal(printed[t - 1], 1 - fit.Cdf(t).Low, 6e-4);
            Assert.Equal(digits[t - 1], 1 - fit.Cdf(t).Low, 1e-9);
        }

        Assert.Equal(-44.4491488789, fit.Summary.LogLikelihood, 1e-9);
    }

    [Fact]
    public void Breast_cosmesis_in_half_open_intervals()
    {
        // Finkelstein and Wolfe 1985, Biometrics 41:933-945, radiotherapy alone; masses from R npsurv 0.5-0.
        double inf = double.PositiveInfinity;
        (double L, double R)[] data =
        [
            (45, inf),
            (6, 10),
            (0, 7),
            (46, inf),
            (46, inf),
            (7, 16),
            (17, inf),
            (7, 14),
            (37, 44),
            (0, 8),
            (4, 11),
            (15, inf),
            (11, 15),
            (22, inf),
            (46, inf),
            (46, inf),
            (25, 37),
            (46, inf),
            (26, 40),
            (46, inf),
            (27, 34),
            (36, 44),
            (46, inf),
            (36, 48),
            (37, inf),
            (40, inf),
            (17, 25),
            (46, inf),
            (11, 18),
            (38, inf),
            (5, 12),
            (37, inf),
            (0, 5),
            (18, inf),
            (24, inf),
            (36, inf),
            (5, 11),
            (19, 35),
            (17, 25),
            (24, inf),
            (32, inf),
            (33, inf),
            (19, 26),
            (37, inf),
            (34, inf),
            (36, inf),
        ];
        var fit = IntervalNpmle.Fit([.. data.Select(d => IntervalObservation.LeftOpen(d.L, d.R))]);
        (double L, double R, double Mass)[] expected =
        [
            (4, 5, .0463467740),
            (6, 7, .0333633709),
            (7, 8, .0886673681),
            (11, 12, .0707529218),
            (24, 25, .0926458366),
            (33, 34, .0817857649),
            (38, 40, .1208798274),
            (46, 48, .4655581364),
        ];
        Assert.Equal(expected.Length, fit.Support.Count);
        foreach (var (e, s) in expected.Zip(fit.Support))
        {
            Assert.Equal((e.L, e.R, true, false), (s.Lower, s.Upper, s.LowerOpen, s.UpperOpen));
            Assert.Equal(e.Mass, s.Mass, 1e-9);
            Assert.False(s.PlaceUnique);
        }

        Assert.Equal(-58.0600219540, fit.Summary.LogLikelihood, 1e-9);
    }

    [Fact]
    public void A_share_never_seen_has_an_interval_all_the_same()
    {
        // 20 exact values under 100: nothing over 100 has the likelihood (1 - s)^20, so high = 1 - exp(-q / 40),
        // q = 3.841459 the 95 % point of chi-square(1).
        var fit = IntervalNpmle.Fit([.. Enumerable.Range(20, 20).Select(x => IntervalObservation.Exact(x))]);
        var (low, high) = fit.ShareInterval(100, double.PositiveInfinity, 0.95);
        Assert.Equal(0, low);
        Assert.Equal(1 - Math.Exp(-3.841458820694124 / 40), high, 1e-9);
        Assert.Equal(1 - high, fit.ShareInterval(0, 100, 0.95).Low, 1e-9);
    }

    [Fact]
    public void Share_intervals_of_exact_values_are_the_binomial_likelihood_ratio()
    {
        // 7 of 20 over the edge: the profile is the binomial likelihood 7 ln s + 13 ln(1 - s); both ends solve its equation.
        var fit = IntervalNpmle.Fit([.. Enumerable.Range(1, 20).Select(x => IntervalObservation.Exact(x))]);
        var (low, high) = fit.ShareInterval(14, double.PositiveInfinity, 0.8);
        double Drop(double s) => 7 * Math.Log(0.35 / s) + 13 * Math.Log(0.65 / (1 - s)) - 1.642374415149818 / 2;
        Assert.Equal(0, Drop(low), 1e-6);
        Assert.Equal(0, Drop(high), 1e-6);
        Assert.True(low < 0.35 && 0.35 < high);
    }

    public static TheoryData<double, double, double, SampleFault> Faulty =>
        new()
        {
            { double.NaN, 1, 1, SampleFault.NotFinite },
            { 1, double.NaN, 1, SampleFault.NotFinite },
            { 1, 2, double.NaN, SampleFault.NotFinite },
            { 1, 2, double.PositiveInfinity, SampleFault.NotFinite },
            { 2, 1, 1, SampleFault.ReversedInterval },
            { 1, 2, -1, SampleFault.Negative },
            { 1, 2, 0, SampleFault.NoWeight },
        };

    [Theory]
    [MemberData(nameof(Faulty))]
    public void Nonsense_is_refused_by_name(double lower, double upper, double weight, SampleFault fault)
    {
        IntervalObservation[] sample = [new(lower, upper, weight)];
        Assert.Equal(fault, Assert.Throws<InvalidSampleException>(() => IntervalNpmle.Fit(sample)).Fault);
        Assert.Equal(fault, Assert.Throws<InvalidSampleException>(() => MixtureFit.Fit(sample, 1)).Fault);
    }

    [Fact]
    public void Nothing_and_an_empty_interval_are_refused()
    {
        Assert.Equal(SampleFault.Empty, Assert.Throws<InvalidSampleException>(() => IntervalNpmle.Fit([])).Fault);
        Assert.Equal(
            SampleFault.ReversedInterval,
            Assert.Throws<InvalidSampleException>(() => IntervalNpmle.Fit([IntervalObservation.RightOpen(3, 3)])).Fault
        );
    }

    [Fact]
    public void An_observation_of_no_weight_shapes_nothing()
    {
        IntervalObservation[] sample =
        [
            IntervalObservation.Exact(10),
            IntervalObservation.Exact(20),
            IntervalObservation.Closed(15, 30, 0),
            IntervalObservation.Closed(50, 60, 0),
        ];
        var fit = IntervalNpmle.Fit(sample);
        Assert.Equal(2, fit.Support.Count);
        Assert.Equal([0.5, 0.5, 0.5, 0], fit.FittedProbabilities);
    }
}
