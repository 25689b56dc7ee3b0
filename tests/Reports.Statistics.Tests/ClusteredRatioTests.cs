using MathNet.Numerics.Distributions;
using MathNet.Numerics.Random;

namespace Reports.Statistics.Tests;

public class ClusteredRatioTests
{
    [Fact]
    public void ARateByHand()
    {
        // R = 140/8; cluster residuals -30 and 30; Var = 2/1 (900 + 900)/8^2 = 56.25. Student t(.9, 1) = 3.0777 (table value).
        var ratio = ClusteredRatio.Rate([10, 30, 40, 60], [2, 2, 2, 2], [1, 1, 1, 1], [1, 1, 2, 2]);
        Assert.Equal(17.5, ratio.Estimate, 12);
        Assert.Equal(7.5, ratio.StandardError, 12);
        Assert.Equal(1, ratio.DegreesOfFreedom, 12);
        Assert.Equal(17.5 * Math.Exp(-3.0777 * 7.5 / 17.5), ratio.Interval().Low, 2);
    }

    [Fact]
    public void ChanceIsTheFloor()
    {
        // Four rows that agree exactly: Poisson error sqrt(R sum x)/sum x = sqrt(16)/8.
        var ratio = ClusteredRatio.Rate([4, 4, 4, 4], [2, 2, 2, 2], [1, 1, 1, 1], [1, 1, 2, 2]);
        Assert.Equal(0.5, ratio.StandardError, 12);
    }

    [Fact]
    public void NothingAndEverythingHaveIntervals()
    {
        var none = ClusteredRatio.Rate([0, 0], [20, 30], [1, 1], [1, 2]).Interval();
        Assert.Equal(0, none.Low);
        Assert.InRange(none.High, 0.001, 0.2);
        var all = ClusteredRatio.Proportion([20, 30], [20, 30], [1, 1], [1, 2]).Interval();
        Assert.Equal(1, all.High);
        Assert.InRange(all.Low, 0.1, 0.9);
    }

    [Fact]
    public void NextToNothingIsAsUnsureAsNothing()
    {
        // Forty reports of twenty fish, on twenty days; what is counted is an expectation, so it may be a millionth of a fish.
        double[] fish = [.. Enumerable.Repeat(20.0, 40)];
        int[] days = [.. Enumerable.Range(0, 40).Select(i => i / 2)];
        (double Low, double High) Of(double each, double among) =>
            ClusteredRatio
                .Proportion([.. fish.Select((_, i) => i == 7 ? each : among)], fish, default, days)
                .Interval();
        var none = Of(0, 0);
        foreach (var each in new[] { 1e-12, 1e-6, 0.01, 0.3, 0.9 })
        {
            var (low, high) = Of(each, 0);
            Assert.InRange(low, 0, each / 800);
            // Jeffreys at 40 rows is 0.033; a share of a fish more moves it by less than that share of a row would.
            Assert.InRange(high, each / 800, none.High + 0.002);
        }

        var (least, all) = Of(20 - 1e-6, 20);
        Assert.Equal(
            (1 - none.High, 1),
            (least, all),
            (a, b) => Math.Abs(a.Item1 - b.Item1) < 1e-3 && a.Item2 >= 1 - 1e-9
        );
        // As much with rates: 800 angler-days, nearly no fish.
        var rate = ClusteredRatio.Rate([1e-6, .. Enumerable.Repeat(0.0, 39)], fish, default, days).Interval();
        Assert.Equal(ClusteredRatio.Rate(new double[40], fish, default, days).Interval().High, rate.High, 5);
    }

    [Fact]
    public void WeightsOfZeroAndScaleDoNotMatter()
    {
        var plain = ClusteredRatio.Rate([3, 9, 4], [2, 3, 4], [0.5, 1, 1], [1, 2, 3]);
        var more = ClusteredRatio.Rate([3, 9, 4, 700], [2, 3, 4, 1], [5, 10, 10, 0], [1, 2, 3, 3]);
        Assert.Equal(plain.Estimate, more.Estimate, 12);
        Assert.Equal(plain.StandardError, more.StandardError, 12);
    }

    [Fact]
    public void RefusesNonsense()
    {
        Assert.Equal(
            SampleFault.Empty,
            Assert.Throws<InvalidSampleException>(() => ClusteredRatio.Rate([], [], [], [])).Fault
        );
        Assert.Equal(
            SampleFault.NoWeight,
            Assert.Throws<InvalidSampleException>(() => ClusteredRatio.Rate([1], [0], [1], [1])).Fault
        );
        Assert.Equal(
            SampleFault.OutOfRange,
            Assert.Throws<InvalidSampleException>(() => ClusteredRatio.Proportion([2], [1], [1], [1])).Fault
        );
    }

    [Theory]
    [InlineData(20, 0.74, 0.86)]
    [InlineData(6, 0.72, 0.9)]
    public void TheIntervalCoversAsOftenAsItSays(int clusters, double low, double high)
    {
        var random = new Xoshiro256StarStar(11);
        var covered = 0;
        const int Runs = 2000;
        for (var run = 0; run < Runs; run++)
        {
            var y = new double[3 * clusters];
            var x = new double[3 * clusters];
            var day = new int[3 * clusters];
            for (var c = 0; c < clusters; c++)
            {
                var sea = Gamma.Sample(random, 4, 4);
                for (var i = 3 * c; i < 3 * c + 3; i++)
                {
                    x[i] = 10 + random.Next(20);
                    y[i] = Poisson.Sample(random, 1.4 * sea * x[i]);
                    day[i] = c;
                }
            }

            var (from, to) = ClusteredRatio.Rate(y, x, default, day).Interval();
            covered += from <= 1.4 && 1.4 <= to ? 1 : 0;
        }

        Assert.InRange(covered / (double)Runs, low, high);
    }
}
