using CsCheck;

namespace Reports.Statistics.Tests;

public sealed class RangeTests
{
    private static readonly LognormalMixture Two = new([0.75, 0.25], [Math.Log(32), Math.Log(205)], [0.25, 0.12]);

    private static readonly Gen<SizeLine> Line = Gen.Select(
        Gen.Int[1, 12],
        Gen.Int[3, 12],
        Gen.Int[0, 9],
        Gen.Int[1, 3],
        (n, a, width, weight) => new SizeLine(n, 5 * a, n == 1 ? 5 * a : 5 * (a + width), weight, 5)
    );

    [Theory]
    [InlineData(1, double.PositiveInfinity)]
    [InlineData(2, double.PositiveInfinity)]
    [InlineData(7, double.PositiveInfinity)]
    [InlineData(1, 1.2)]
    [InlineData(2, 0.1)]
    [InlineData(7, 1.2)]
    [InlineData(30, 5)]
    public void Probabilities_of_all_outcomes_sum_to_one(int n, double phi)
    {
        var sum = 0.0;
        for (var a = 0; a <= 800; a += 20)
        {
            for (var b = n == 1 ? a : 800; b >= a; b -= 20)
            {
                sum += Math.Exp(RangeFit.LogProbability(new(n, a, b, 1, 20), Two, phi));
            }
        }

        Assert.Equal(1, sum, 1e-9);
    }

    [Fact]
    public void A_line_with_a_range_of_most_is_a_probability_too()
    {
        // n = 11: nine in 20..40, two others, the larger of them the largest: sums over b to Pr(nine inside).
        var most = Math.Pow(Two.Share(17.5, 42.5), 9);
        var sum = 0.0;
        for (var b = 40; b <= 500; b += 5)
        {
            sum += Math.Exp(RangeFit.LogProbability(new(11, 20, b, 1, 5, 20, 40), Two));
        }

        // What is missing is that both others lie below the cell of 40.
        Assert.Equal(most * (1 - Math.Pow(Two.Cdf(37.5), 2)), sum, 2e-3 * most);
    }

    [Theory]
    [InlineData(1e-12, 2)]
    [InlineData(1e-12, 5000)]
    [InlineData(1e-7, 40)]
    public void Improbable_ends_lose_no_digits(double cell, int n)
    {
        // Narrow cells of mass x and y: P = n (n-1) x y z^(n-2) (1 + O(n x)), z the mass between them.
        var one = new LognormalMixture([1], [Math.Log(30)], [0.3]);
        var line = new SizeLine(n, 20, 45, 1, 20 * cell);
        var x = one.Density(20) * 20 * cell;
        var y = one.Density(45) * 20 * cell;
        var expected =
            Math.Log(n) + Math.Log(n - 1) + Math.Log(x) + Math.Log(y) + (n - 2) * Math.Log(one.Share(20, 45));
        Assert.Equal(expected, RangeFit.LogProbability(line, one), 1e-3 * Math.Max(1, n * cell * 1e3));
        // The hierarchical form of two equal groups is the same model.
        var twins = new LognormalMixture([0.5, 0.5], [Math.Log(30), Math.Log(30)], [0.3, 0.3]);
        if (n < 100)
        {
            Assert.Equal(
                RangeFit.LogProbability(line, one),
                RangeFit.LogProbability(line, twins, 2),
                1e-8 * Math.Abs(expected)
            );
        }
    }

    [Fact]
    public void Phi_to_infinity_is_the_pooled_model() =>
        Line.Sample(
            line =>
            {
                var pooled = RangeFit.LogProbability(line, Two);
                Assert.Equal(pooled, RangeFit.LogProbability(line, Two, 1e9), 1e-5 * (1 + Math.Abs(pooled)));
                // And the gap closes as 1/phi.
                var far = Math.Abs(RangeFit.LogProbability(line, Two, 1e4) - pooled);
                var near = Math.Abs(RangeFit.LogProbability(line, Two, 1e6) - pooled);
                Assert.True(near <= 0.02 * far + 1e-7, $"{far} {near}");
            },
            iter: 300,
            seed: "0000KOIPe2g5",
            threads: 1
        );

    [Fact]
    public void Three_groups_of_which_two_are_equal_are_two_groups() =>
        // Dirichlet aggregation: splitting a group into equal halves changes nothing.
        Gen.Select(Line, Gen.Double[0.2, 20])
            .Sample(
                (line, phi) =>
                {
                    var three = new LognormalMixture(
                        [0.45, 0.3, 0.25],
                        [Math.Log(32), Math.Log(32), Math.Log(205)],
                        [0.25, 0.25, 0.12]
                    );
                    var two = RangeFit.LogProbability(line, Two, phi);
                    Assert.Equal(two, RangeFit.LogProbability(line, three, phi), 1e-9 * (1 + Math.Abs(two)));
                },
                iter: 200,
                seed: "0000KOIPe2g5",
                threads: 1
            );

    [Fact]
    public void Fits_do_not_depend_on_order_and_count_weights_as_repeats()
    {
        var lines = Sizes.Simulate(30, 1.2, 5, seed: 3).Select((l, i) => l with { Weight = 1 + i % 3 }).ToArray();
        var repeated = lines
            .SelectMany(l => Enumerable.Repeat(l with { Weight = 1 }, (int)l.Weight))
            .Reverse()
            .ToArray();
        var (a, b) = (RangeFit.Fit(lines, 2), RangeFit.Fit(repeated, 2));
        Assert.Equal(a.Summary.LogLikelihood, b.Summary.LogLikelihood, 1e-6);
        Assert.Equal(a.Mixture.Median, b.Mixture.Median, 1e-3);
        var shuffled = (SizeLine[])lines.Clone();
        new Random(5).Shuffle(shuffled);
        var c = RangeFit.Fit(shuffled, 2);
        Assert.Equal(a.Summary, c.Summary);
        Assert.Equal(a.Mixture.MeanLog, c.Mixture.MeanLog);
    }

    [Fact]
    public void Kilograms_give_the_same_fit_as_pounds()
    {
        const double Kilogram = 0.45359237;
        var pounds = Sizes.Simulate(40, 1.2, 5, seed: 4);
        var kilograms = pounds
            .Select(l =>
                l with
                {
                    Smallest = l.Smallest * Kilogram,
                    Largest = l.Largest * Kilogram,
                    Rounding = l.Rounding * Kilogram,
                }
            )
            .ToArray();
        var (a, b) = (RangeFit.Fit(pounds, 2), RangeFit.Fit(kilograms, 2));
        Assert.Equal(a.Summary.LogLikelihood, b.Summary.LogLikelihood, 1e-6);
        Assert.Equal(a.Mixture.ShareOver(100), b.Mixture.ShareOver(100 * Kilogram), 1e-4);
        Assert.Equal(a.Concentration, b.Concentration, 1e-2 * a.Concentration);
    }

    [Fact]
    public void The_hierarchical_form_finds_the_true_share_where_the_pooled_one_does_not()
    {
        // True share of heavy fish .25, phi 1.2 (design value: pooled reads .18). Seeds fixed; mean of 12 sets of 100 lines.
        var (hierarchical, pooled) = (0.0, 0.0);
        for (var seed = 0; seed < 12; seed++)
        {
            var lines = Sizes.Simulate(100, 1.2, 1, 100 + seed);
            hierarchical += RangeFit.Fit(lines, 2, new(Starts: 3)).Mixture.ShareOver(100) / 12;
            pooled += RangeFit.FitPooled(lines, 2, new(Starts: 3)).Mixture.ShareOver(100) / 12;
        }

        Assert.InRange(hierarchical, 0.22, 0.28);
        Assert.True(pooled < hierarchical - 0.02, $"pooled {pooled}, hierarchical {hierarchical}");
    }

    [Fact]
    public void Two_groups_are_chosen_where_there_are_two_and_large_lines_stop_at_two()
    {
        var lines = Sizes.Simulate(60, 1.2, 5, seed: 9);
        var choice = RangeFit.Choose(lines, 3, new(Starts: 4));
        Assert.Equal([1, 2, 3], choice.Fits.Select(f => f.Mixture.Components));
        Assert.Equal(2, choice.Best.Mixture.Components);
        var large = RangeFit.Choose([.. lines, new(4000, 15, 250, 1, 5)], 3, new(Starts: 0));
        Assert.Equal([1, 2], large.Fits.Select(f => f.Mixture.Components));
    }

    [Fact]
    public void Groups_met_agrees_with_what_a_line_shows()
    {
        var fit = RangeFit.Fit(Sizes.Simulate(80, 1.2, 5, seed: 7), 2);
        var both = RangeFit.GroupsMet(new(9, 25, 210, 1, 5), fit);
        Assert.True(both[0] > 0.99 && both[1] > 0.99);
        var small = RangeFit.GroupsMet(new(9, 20, 40, 1, 5), fit);
        Assert.True(small[0] > 0.99 && small[1] < 0.01);
    }

    [Fact]
    public void Chance_over_is_one_less_the_chance_that_all_are_under()
    {
        var pooled = new SizeFit(
            Two,
            double.PositiveInfinity,
            new(StopReason.Converged, 0, 0),
            0,
            1,
            SpreadAtFloor: false
        );
        Assert.Equal(1 - Math.Pow(Two.Cdf(100), 6), RangeFit.ChanceOver(100, 6, pooled), 1e-12);
        Assert.True(
            RangeFit.ChanceOver(100, 6, pooled with { Concentration = 1 }) < RangeFit.ChanceOver(100, 6, pooled)
        );
    }

    [Fact]
    public void Em_never_lowers_the_likelihood() =>
        Line.Array[3, 15]
            .Sample(
                lines =>
                {
                    foreach (var treatment in Enum.GetValues<LineTreatment>())
                    {
                        var path = MixtureFit.EmPath(
                            SizeLine.Expand(lines, treatment),
                            new([0.5, 0.5], [3, 4], [0.5, 0.3]),
                            40
                        );
                        for (var i = 1; i < path.Count; i++)
                        {
                            Assert.True(
                                path[i] >= path[i - 1] - 1e-7 * (1 + Math.Abs(path[i])),
                                $"{treatment} step {i}"
                            );
                        }
                    }
                },
                iter: 60,
                seed: "0000KOIPe2g5",
                threads: 1
            );

    [Theory]
    [InlineData(0, 20, 30, 1, 5, SampleFault.OutOfRange)]
    [InlineData(3, 30, 20, 1, 5, SampleFault.ReversedInterval)]
    [InlineData(3, -1, 20, 1, 5, SampleFault.Negative)]
    [InlineData(3, 10, 20, -1, 5, SampleFault.Negative)]
    [InlineData(3, 10, 20, 0, 5, SampleFault.NoWeight)]
    [InlineData(3, 10, double.NaN, 1, 5, SampleFault.NotFinite)]
    [InlineData(3, 10, 20, 1, 0, SampleFault.OutOfRange)]
    public void Nonsense_lines_are_refused(int n, double a, double b, double w, double r, SampleFault fault)
    {
        SizeLine[] lines = [new(n, a, b, w, r)];
        Assert.Equal(fault, Assert.Throws<InvalidSampleException>(() => RangeFit.Fit(lines, 2)).Fault);
        Assert.Equal(
            fault,
            Assert.Throws<InvalidSampleException>(() => SizeLine.Expand(lines, LineTreatment.EndsExact)).Fault
        );
    }

    [Fact]
    public void Few_lines_give_an_answer_with_its_limits_said()
    {
        var one = RangeFit.Fit([new(1, 30, 30)], 2);
        Assert.True(double.IsFinite(one.Mixture.Median));
        Assert.Equal(StopReason.Boundary, one.Summary.Stopped);
        Assert.Null(SizeUncertainty.Of(one, [new(1, 30, 30)], [0]));
    }

    [Fact]
    public void Intervals_hold_the_estimate_and_widen_with_fewer_days()
    {
        var lines = Sizes.Simulate(80, 1.2, 1, seed: 11);
        var fit = RangeFit.Fit(lines, 2);
        var share = fit.Mixture.ShareOver(100);
        var many = SizeUncertainty.Of(fit, lines, [.. lines.Select((_, i) => i)])!;
        var few = SizeUncertainty.Of(fit, lines, [.. lines.Select((_, i) => i / 20)])!;
        Assert.Equal(80, many.EffectiveDays, 1e-9);
        Assert.Equal(4, few.EffectiveDays, 1e-9);
        foreach (var u in new[] { many, few })
        {
            var (low, high) = u.ShareInterval(100, double.PositiveInfinity, 0.8);
            Assert.True(0 < low && low < share && share < high && high < 1);
            var (q05, q95) = u.QuantileInterval(0.5, 0.8);
            Assert.True(q05 < fit.Mixture.Median && fit.Mixture.Median < q95);
        }

        // Four days: t on 3 degrees of freedom (1.638) against 79 (1.292), at least.
        var width = many.ShareInterval(100, double.PositiveInfinity, 0.8);
        Assert.True(width.High - width.Low < 0.25);
    }
}

/// <summary>Lines from a known model: schools of heavy (205 lb) and ordinary (32 lb) fish.</summary>
internal static class Sizes
{
    internal static SizeLine[] Simulate(int lines, double phi, double rounding, int seed, double heavy = 0.25)
    {
        var random = new Random(seed);
        double Normal() => MathNet.Numerics.Distributions.Normal.Sample(random, 0, 1);
        return
        [
            .. Enumerable
                .Range(0, lines)
                .Select(_ =>
                {
                    var n =
                        1
                        + MathNet.Numerics.Distributions.Poisson.Sample(
                            random,
                            MathNet.Numerics.Distributions.Gamma.Sample(random, 2, 2 / 7.0)
                        );
                    var q = MathNet.Numerics.Distributions.Beta.Sample(random, heavy * phi, (1 - heavy) * phi);
                    var fish = Enumerable
                        .Range(0, n)
                        .Select(_ =>
                            random.NextDouble() < q ? 205 * Math.Exp(0.12 * Normal()) : 32 * Math.Exp(0.25 * Normal())
                        )
                        .ToArray();
                    double Round(double x) => Math.Max(rounding, rounding * Math.Round(x / rounding));
                    return new SizeLine(n, Round(fish.Min()), Round(fish.Max()), 1, rounding);
                }),
        ];
    }
}
