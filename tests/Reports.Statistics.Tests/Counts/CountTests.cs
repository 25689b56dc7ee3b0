using CsCheck;

namespace Reports.Statistics.Tests;

public sealed class CountTests
{
    private const string Seed = "0000KOIPe036";

    private static readonly Gen<int[]> Counts = Gen.Int[0, 30].Array[1, 25];

    private static readonly Gen<CountDistribution> Distributions =
        from logMean in Gen.Double[-3, 4]
        from logK in Gen.Double[-3, 6]
        from poisson in Gen.Bool
        select new CountDistribution(Math.Exp(logMean), poisson ? double.PositiveInfinity : Math.Exp(logK));

    [Fact]
    public void Probabilities_sum_to_one_and_have_the_stated_mean_and_variance() =>
        Distributions.Sample(
            d =>
            {
                double sum = 0;
                double mean = 0;
                double square = 0;
                for (var x = 0; x < 60_000 && (x < d.Mean || d.AtLeast(x) > 1e-15); x++)
                {
                    var p = d.Probability(x);
                    sum += p;
                    mean += x * p;
                    square += (x - d.Mean) * (x - d.Mean) * p;
                }

                Assert.Equal(1, sum, 1e-11);
                Assert.Equal(d.Mean, mean, 1e-9 * Math.Max(1, d.Mean));
                Assert.Equal(d.Variance, square, 1e-6 * Math.Max(1, d.Variance));
            },
            seed: Seed,
            iter: 40
        );

    [Fact]
    public void Both_tails_and_the_quantile_agree() =>
        Gen.Select(Distributions, Gen.Int[0, 80], Gen.Double[0.001, 0.999])
            .Sample(
                (d, x, p) =>
                {
                    Assert.Equal(1, d.Cumulative(x) + d.AtLeast(x + 1), 1e-13);
                    var q = d.Quantile(p);
                    Assert.True(d.Cumulative(q) >= p * (1 - 1e-12));
                    Assert.True(d.Cumulative(q - 1) < p);
                    // E(X - x)+ as the sum of the tail.
                    var excess = 0.0;
                    for (var i = x + 1; d.AtLeast(i) > 1e-14; i++)
                    {
                        excess += d.AtLeast(i);
                    }

                    Assert.Equal(excess, d.ExpectedExcess(x), 1e-9 * Math.Max(1, excess));
                },
                seed: Seed,
                iter: 60
            );

    [Fact]
    public void Weights_act_as_repeats() =>
        Counts.Sample(
            x =>
            {
                int[] weights = [.. x.Select((_, i) => i % 3)];
                if (weights.Sum() == 0)
                {
                    return;
                }

                int[] repeated = [.. x.SelectMany((v, i) => Enumerable.Repeat(v, weights[i]))];
                var weighted = NegativeBinomial.Fit(x, [.. weights.Select(w => (double)w)]);
                var plain = NegativeBinomial.Fit(repeated);
                AssertSame(plain, weighted);
            },
            seed: Seed,
            iter: 300
        );

    [Fact]
    public void Order_does_not_matter() =>
        Counts.Sample(
            x => AssertSame(NegativeBinomial.Fit(x), NegativeBinomial.Fit([.. x.Reverse()])),
            seed: Seed,
            iter: 300
        );

    [Fact]
    public void No_other_mean_and_k_fit_better() =>
        Gen.Select(Counts, Gen.Double[-0.5, 0.5], Gen.Double[-1, 1])
            .Sample(
                (x, up, spread) =>
                {
                    var fit = NegativeBinomial.Fit(x);
                    Assert.True(fit.Fit.LogLikelihood >= fit.PoissonLogLikelihood - 1e-12);
                    if (fit.Mean == 0)
                    {
                        return;
                    }

                    var k = double.IsInfinity(fit.K!.Value) ? Math.Exp(5 * spread) : fit.K.Value * Math.Exp(spread);
                    var other = new CountDistribution(fit.Mean * Math.Exp(up), k);
                    Assert.True(NegativeBinomial.LogLikelihood(x, default, other) <= fit.Fit.LogLikelihood + 1e-9);
                },
                seed: Seed,
                iter: 500
            );

    [Fact]
    public void The_fit_of_many_draws_is_the_truth_within_three_standard_errors()
    {
        // Seeded draws; the bound holds for this seed and would fail for one seed in some hundreds.
        var random = new MathNet.Numerics.Random.Xoshiro256StarStar(7);
        int[] x = [.. Enumerable.Range(0, 4000).Select(_ => Draw(random, 1.7, 0.9))];
        var fit = NegativeBinomial.Fit(x);
        Assert.InRange((fit.Mean - 1.7) / fit.StandardErrorOfMean, -3, 3);
        Assert.InRange((fit.K!.Value - 0.9) / fit.StandardErrorOfK!.Value, -3, 3);
    }

    [Theory]
    [InlineData(SampleFault.Empty, new int[0], new double[0])]
    [InlineData(SampleFault.Negative, new[] { 1, -1 }, new double[0])]
    [InlineData(SampleFault.Negative, new[] { 1, 2 }, new[] { 1.0, -1 })]
    [InlineData(SampleFault.NoWeight, new[] { 1, 2 }, new[] { 0.0, 0 })]
    [InlineData(SampleFault.NotFinite, new[] { 1, 2 }, new[] { 1, double.NaN })]
    [InlineData(SampleFault.LengthMismatch, new[] { 1, 2 }, new[] { 1.0 })]
    public void Samples_that_tell_nothing_are_refused(SampleFault fault, int[] counts, double[] weights) =>
        Assert.Equal(fault, Assert.Throws<InvalidSampleException>(() => NegativeBinomial.Fit(counts, weights)).Fault);

    [Fact]
    public void A_distribution_without_a_number_is_refused()
    {
        Assert.Equal(SampleFault.NotFinite, Fault(() => new CountDistribution(double.NaN, 1)));
        Assert.Equal(SampleFault.Negative, Fault(() => new CountDistribution(-1, 1)));
        Assert.Equal(SampleFault.OutOfRange, Fault(() => new CountDistribution(1, 0)));
        Assert.Equal(SampleFault.OutOfRange, Fault(() => new CountDistribution(1, 1).Quantile(1)));
    }

    internal static SampleFault Fault(Action action) => Assert.Throws<InvalidSampleException>(action).Fault;

    internal static SampleFault Fault(Func<object?> action) => Assert.Throws<InvalidSampleException>(action).Fault;

    internal static int Draw(Random random, double mean, double k) =>
        MathNet.Numerics.Distributions.Poisson.Sample(
            random,
            Math.Max(1e-300, mean * MathNet.Numerics.Distributions.Gamma.Sample(random, k, k))
        );

    private static void AssertSame(NegativeBinomialFit expected, NegativeBinomialFit got)
    {
        Assert.Equal(expected.Mean, got.Mean, 1e-12 * Math.Max(1, expected.Mean));
        Assert.Equal(expected.AtPoissonBoundary, got.AtPoissonBoundary);
        Assert.Equal(
            expected.Fit.LogLikelihood,
            got.Fit.LogLikelihood,
            1e-9 * Math.Max(1, -expected.Fit.LogLikelihood)
        );
        if (expected.K is { } k && double.IsFinite(k))
        {
            Assert.Equal(k, got.K!.Value, 1e-6 * k);
        }
        else
        {
            Assert.Equal(expected.K, got.K);
        }
    }
}
