using MathNet.Numerics.Distributions;

namespace Reports.Statistics.Tests;

public sealed class PairedRateRatioTests
{
    [Fact]
    public void One_stratum_of_equal_exposures_is_the_plain_ratio_with_half_an_event_each()
    {
        // By hand: P = 8/2 + 1/4, Q = 3/2 + 1/4, so R = 8.5/3.5; chance (8 + 3)/4 / (P Q) = 11 / (8.5 * 3.5).
        var got = PairedRateRatio.Of([new(8, 4, 3, 4, 1, 0)])!.Value;
        Assert.Equal(Math.Log(8.5 / 3.5), got.LogRatio, 1e-14);
        Assert.Equal(Math.Sqrt(11 / (8.5 * 3.5)), got.ChanceError, 1e-14);
        Assert.Equal(0, got.StandardError);
        Assert.Equal(1, got.DegreesOfFreedom);
    }

    [Fact]
    public void What_a_stratum_shares_cancels()
    {
        // Twice the rate in each stratum, but the second is fished where fish are ten times as many.
        RatePair[] strata = [new(200, 10, 10, 1, 1, 1), new(200, 1, 1000, 10, 1, 2)];
        Assert.Equal(Math.Log(2), PairedRateRatio.Of(strata)!.Value.LogRatio, 0.01);
    }

    [Fact]
    public void Swapping_the_two_inverts()
    {
        RatePair[] strata = [new(5, 3, 2, 4, 1, 1), new(0, 2, 1, 1, 0.5, 1), new(7, 6, 3, 2, 0.7, 2)];
        var got = PairedRateRatio.Of(strata)!.Value;
        var swapped = PairedRateRatio
            .Of([
                .. strata.Select(s => new RatePair(
                    s.Events2,
                    s.Exposure2,
                    s.Events1,
                    s.Exposure1,
                    s.Weight,
                    s.Cluster
                )),
            ])!
            .Value;
        Assert.Equal(-got.LogRatio, swapped.LogRatio, 1e-14);
        Assert.Equal(got.StandardError, swapped.StandardError, 1e-14);
        Assert.Equal(got.ProbabilityAbove(1), 1 - swapped.ProbabilityAbove(1), 1e-12);
    }

    [Fact]
    public void Nothing_is_said_of_rates_that_never_met()
    {
        Assert.Null(PairedRateRatio.Of([new(8, 4, 0, 0, 1, 0), new(0, 0, 3, 4, 1, 1)]));
        Assert.Null(PairedRateRatio.Of([new(0, 4, 0, 4, 1, 0)]));
        Assert.Null(PairedRateRatio.Of([]));
    }

    [Fact]
    public void None_against_many_is_clear_and_one_against_none_is_not()
    {
        RatePair[] many = [.. Enumerable.Range(0, 8).Select(day => new RatePair(4, 3, 0, 3, 1, day))];
        Assert.True(PairedRateRatio.Of(many)!.Value.ProbabilityAbove(1.1) > 0.975);
        Assert.True(PairedRateRatio.Of([new(1, 3, 0, 3, 1, 0)])!.Value.ProbabilityAbove(1.1) < 0.9);
    }

    [Fact]
    public void Equal_rates_are_seldom_ranked_though_strata_and_days_differ_widely()
    {
        // 14 days of three boats, gamma rates of days (shape 3) and of each rate on a boat (shape 4): the nominal 2 x 2.5 %, and
        // seed 3's binomial error of 0.5 points.
        var random = new Random(3);
        var ranked = 0;
        const int replicates = 2000;
        for (var r = 0; r < replicates; r++)
        {
            var strata = new List<RatePair>();
            for (var day = 0; day < 14; day++)
            {
                var sea = Gamma.Sample(random, 3, 3);
                for (var boat = 0; boat < 3; boat++)
                {
                    int Events(int rods) => Poisson.Sample(random, 0.8 * rods * sea * Gamma.Sample(random, 4, 4));
                    var (rods1, rods2) = (random.Next(2, 9), random.Next(2, 9));
                    strata.Add(new(Events(rods1), rods1, Events(rods2), rods2, 1, day));
                }
            }

            var probability = PairedRateRatio.Of([.. strata])!.Value.ProbabilityAbove(1);
            ranked += probability is > 0.975 or < 0.025 ? 1 : 0;
        }

        Assert.InRange(ranked / (double)replicates, 0.02, 0.065);
    }
}
