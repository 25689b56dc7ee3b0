using CsCheck;

namespace Reports.Statistics.Tests;

public sealed class TripTests
{
    private const string Seed = "0000KOIPe036";

    [Theory]
    [InlineData(4, 0.8, 0.7, null)]
    [InlineData(3, 1.5, double.PositiveInfinity, null)]
    [InlineData(4, 2.0, 0.5, 2)]
    [InlineData(5, 1.2, 3.0, 3)]
    public void The_summaries_of_a_boat_sum_to_one(int anglers, double mean, double k, int? bag)
    {
        var angler = new CountDistribution(mean, k);
        var most = bag * anglers ?? 150;
        double all = 0;
        double totals = 0;
        for (var total = 0; total <= most; total++)
        {
            totals += P(new BoatSummary(anglers, total, BagLimit: bag));
            for (var blanks = 0; blanks <= anglers; blanks++)
            {
                for (var top = 0; top <= Math.Min(total, bag ?? total); top++)
                {
                    all += P(new BoatSummary(anglers, total, blanks, top, bag));
                }
            }
        }

        Assert.Equal(1, all, 1e-12);
        Assert.Equal(1, totals, 1e-12);
        double P(BoatSummary boat) => Math.Exp(BoatCatch.LogProbability(boat, angler));
    }

    [Fact]
    public void What_is_not_told_is_summed_over() =>
        Gen.Select(Gen.Int[1, 7], Gen.Int[0, 25], Gen.Double[-1, 1.5], Gen.Double[-1.5, 2], Gen.Int[0, 6])
            .Sample(
                (anglers, total, logMean, logK, limit) =>
                {
                    var angler = new CountDistribution(Math.Exp(logMean), Math.Exp(logK));
                    int? bag = limit == 0 ? null : limit;
                    if (total > (bag ?? total) * anglers)
                    {
                        return;
                    }

                    double P(int? blanks, int? top) =>
                        Math.Exp(BoatCatch.LogProbability(new BoatSummary(anglers, total, blanks, top, bag), angler));
                    var everyBlanks = Enumerable.Range(0, anglers + 1).ToArray();
                    var everyTop = Enumerable.Range(0, total + 1).ToArray();
                    var alone = P(null, null);
                    Assert.Equal(alone, everyBlanks.Sum(z => P(z, null)), 1e-12);
                    Assert.Equal(alone, everyTop.Sum(t => P(null, t)), 1e-12);
                    Assert.Equal(P(anglers / 2, null), everyTop.Sum(t => P(anglers / 2, t)), 1e-12);
                },
                seed: Seed,
                iter: 100
            );

    [Fact]
    public void A_boat_stopped_at_its_limit_has_at_least_its_total()
    {
        var angler = new CountDistribution(1.3, 0.8);
        var below = Enumerable
            .Range(0, 20)
            .Sum(t => Math.Exp(BoatCatch.LogProbability(new BoatSummary(10, t), angler)));
        var stopped = Math.Exp(BoatCatch.LogProbability(new BoatSummary(10, 20, StoppedAtLimit: true), angler));
        Assert.Equal(1 - below, stopped, 1e-12);
    }

    [Fact]
    public void Enumeration_of_single_catches_gives_the_same()
    {
        // 4 anglers, each 0 to 6 fish: every combination with total 9, one blank, top rod 5.
        var angler = new CountDistribution(1.6, 1.1);
        var sum = 0.0;
        for (var code = 0; code < 7 * 7 * 7 * 7; code++)
        {
            int[] x = [code % 7, code / 7 % 7, code / 49 % 7, code / 343];
            if (x.Sum() == 9 && x.Count(v => v == 0) == 1 && x.Max() == 5)
            {
                sum += x.Aggregate(1.0, (p, v) => p * angler.Probability(v));
            }
        }

        Assert.Equal(Math.Log(sum), BoatCatch.LogProbability(new BoatSummary(4, 9, 1, 5), angler), 1e-12);
    }

    [Fact]
    public void Without_limits_the_mean_is_fish_over_anglers()
    {
        var fit = BoatCatch.Fit([new(20, 45, 6, 9), new(25, 30, 12, 7, Weight: 0.5), new(18, 52, 3, Weight: 0.25)]);
        Assert.Equal((45 + 15 + 13) / (20 + 12.5 + 4.5), fit.Mean, 1e-6);
    }

    [Fact]
    public void The_fit_is_at_the_top_and_order_does_not_matter()
    {
        BoatSummary[] boats =
        [
            new(20, 45, 6, 9),
            new(25, 30, 12),
            new(18, 52, Top: 8),
            new(30, 41),
            new(22, 33, 9, 5, 5),
        ];
        var fit = BoatCatch.Fit(boats);
        var turned = BoatCatch.Fit([.. boats.Reverse()]);
        Assert.Equal(StopReason.Converged, fit.Fit.Stopped);
        Assert.Equal(fit.Mean, turned.Mean, 1e-7);
        Assert.Equal(fit.K!.Value, turned.K!.Value, 1e-6);
        foreach (var (a, b) in new[] { (1.02, 1.0), (0.98, 1.0), (1.0, 1.03), (1.0, 0.97) })
        {
            var near = new CountDistribution(fit.Mean * a, fit.K!.Value * b);
            Assert.True(boats.Sum(x => BoatCatch.LogProbability(x, near)) < fit.Fit.LogLikelihood);
        }
    }

    [Fact]
    public void Nobody_caught_any_is_said() =>
        Assert.Equal(
            (0.0, null, true),
            BoatCatch.Fit([new(12, 0, 12, 0)]) is var f ? (f.Mean, f.K, f.AtPoissonBoundary) : default
        );

    [Fact]
    public void Everybody_at_the_limit_has_no_highest_mean() =>
        Assert.Equal(StopReason.Separated, BoatCatch.Fit([new(10, 20, 0, 2, 2)]).Fit.Stopped);

    [Fact]
    public void Bad_summaries_are_refused()
    {
        Assert.Equal(SampleFault.Empty, CountTests.Fault(() => BoatCatch.Fit([])));
        Assert.Equal(SampleFault.OutOfRange, CountTests.Fault(() => BoatCatch.Fit([new(0, 1)])));
        Assert.Equal(SampleFault.Negative, CountTests.Fault(() => BoatCatch.Fit([new(5, -1)])));
        Assert.Equal(SampleFault.OutOfRange, CountTests.Fault(() => BoatCatch.Fit([new(10, 3, 8, 5)])));
        Assert.Equal(SampleFault.NoWeight, CountTests.Fault(() => BoatCatch.Fit([new(10, 3, Weight: 0)])));
        Assert.Equal(SampleFault.OutOfRange, CountTests.Fault(() => BoatCatch.Fit([new(10, 3, Effort: double.NaN)])));
    }
}
