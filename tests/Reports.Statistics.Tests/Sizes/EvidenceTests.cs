using CsCheck;

namespace Reports.Statistics.Tests;

public sealed class EvidenceTests
{
    [Fact]
    public void A_weight_halves_each_half_life()
    {
        Assert.Equal(1, Evidence.DecayWeight(0, 5));
        Assert.Equal(0.5, Evidence.DecayWeight(5, 5), 1e-15);
        Assert.Equal(0.125, Evidence.DecayWeight(15, 5), 1e-15);
    }

    [Fact]
    public void Kish_size_lies_between_one_and_the_count() =>
        Gen.Double[0.001, 10]
            .Array[1, 50]
            .Sample(
                w =>
                {
                    var kish = Evidence.KishSize(w);
                    Assert.InRange(kish, 1 - 1e-12, w.Length + 1e-9);
                    // Rescaled weights sum to the Kish size.
                    Assert.Equal(kish, Evidence.Rescale(w) * w.Sum(), 1e-9);
                    Assert.Equal(w.Length, Evidence.KishSize([.. w.Select(_ => 0.3)]), 1e-9);
                },
                iter: 300,
                seed: "0000KOIPe2g5",
                threads: 1
            );

    [Fact]
    public void The_bootstrap_of_a_mean_has_the_standard_error_of_textbooks()
    {
        // Clusters of one value each: s / sqrt(G), s with divisor G - 1.
        double[] x = [3, 5, 8, 1, 9, 4, 4, 7, 6, 2, 8, 5];
        double Mean(IReadOnlyList<int> times) => x.Select((v, i) => v * times[i]).Sum() / times.Sum();
        var a = Evidence.ClusterBootstrap(x.Length, Mean, 0.8, 20000, seed: 7);
        var s = Math.Sqrt(x.Sum(v => Math.Pow(v - x.Average(), 2)) / (x.Length - 1));
        Assert.Equal(x.Average(), a.Estimate, 1e-12);
        Assert.Equal(s / Math.Sqrt(x.Length), a.StandardError, 0.02 * a.StandardError);
        // And the interval of Student's t: 1.363430 = qt(.9, 11) in R.
        Assert.Equal(x.Average() + 1.363430 * a.StandardError, a.High, 0.05);
        Assert.Equal(a, Evidence.ClusterBootstrap(x.Length, Mean, 0.8, 20000, seed: 7));
    }

    [Fact]
    public void Undefined_draws_are_counted_not_hidden()
    {
        // The share among the heavy is undefined where no heavy day is drawn.
        var result = Evidence.ClusterBootstrap(4, t => t[0] > 0 ? t[1] : double.NaN, 0.8, 400, 1);
        Assert.InRange(result.Undefined, 400 * 0.2, 400 * 0.45);
    }

    [Fact]
    public void Nonsense_is_refused()
    {
        Assert.Equal(SampleFault.Empty, Assert.Throws<InvalidSampleException>(() => Evidence.KishSize([])).Fault);
        Assert.Equal(
            SampleFault.NoWeight,
            Assert.Throws<InvalidSampleException>(() => Evidence.KishSize([0, 0])).Fault
        );
        Assert.Equal(
            SampleFault.Negative,
            Assert.Throws<InvalidSampleException>(() => Evidence.Rescale([1, -1])).Fault
        );
        Assert.Equal(
            SampleFault.NotFinite,
            Assert.Throws<InvalidSampleException>(() => Evidence.Rescale([double.NaN])).Fault
        );
        Assert.Throws<InvalidSampleException>(() => Evidence.DecayWeight(-1, 5));
        Assert.Throws<InvalidSampleException>(() => Evidence.DecayWeight(1, 0));
        Assert.Throws<InvalidSampleException>(() => Evidence.ClusterBootstrap(1, _ => 0, 0.8));
    }

    [Theory]
    [InlineData(0.0)]
    [InlineData(0.3)]
    [InlineData(0.8)]
    [InlineData(1.0)]
    public void Heaping_is_recovered(double heaped)
    {
        var random = new Random(3);
        double[] values =
        [
            .. Enumerable
                .Range(0, 2000)
                .Select(_ =>
                    15 + 60 * random.NextDouble() is var x && random.NextDouble() < heaped
                        ? 5 * Math.Round(x / 5)
                        : Math.Round(x)
                ),
        ];
        var found = Heaping.Detect(values);
        Assert.Equal(heaped >= 0.5 ? 5 : 1, found.Rounding);
        if (heaped < 1)
        {
            Assert.Equal(1, found.Finest);
            Assert.Equal(heaped, Assert.Single(found.Heaped).Share, 0.04);
        }
        else
        {
            Assert.Equal(5, found.Finest);
        }

        Assert.Equal(heaped >= 0.5 ? 5 : 1, found.RoundingOf(20, 45));
        Assert.Equal(heaped == 1 ? 5 : 1, found.RoundingOf(20, 42));
    }

    [Fact]
    public void A_mixture_gives_its_own_quantiles_back() =>
        Gen.Select(Gen.Double[0.01, 0.99], Gen.Double[2, 4], Gen.Double[0.05, 0.6], Gen.Double[0.001, 0.999])
            .Sample(
                (w, mu, s, q) =>
                {
                    var mixture = new LognormalMixture([w, 1 - w], [mu, 5], [s, 0.1]);
                    var x = mixture.Quantile(q);
                    Assert.Equal(q, mixture.Cdf(x), 1e-10);
                    Assert.Equal(1 - q, mixture.ShareOver(x), 1e-10);
                },
                iter: 500,
                seed: "0000KOIPe2g5",
                threads: 1
            );
}
