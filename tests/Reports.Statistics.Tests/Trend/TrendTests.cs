using CsCheck;

namespace Reports.Statistics.Tests;

public sealed class TrendTests
{
    private const string Seed = "0000KOIPe036";

    [Fact]
    public void Turning_time_around_turns_the_trend_around() =>
        Gen.Select(Gen.Int[0, 20].Array[3, 25], Gen.Int[0, 15].Array[25, 25])
            .Sample(
                (values, drawn) =>
                {
                    double[] x = [.. values.Select(v => (double)v)];
                    double[] t = [.. x.Select((_, i) => (double)drawn[i])];
                    if (t.Distinct().Count() < 2)
                    {
                        return;
                    }

                    var one = MannKendall.Test(t, x);
                    var turned = MannKendall.Test([.. t.Select(v => -v)], x);
                    Assert.Equal(-one.S, turned.S);
                    Assert.Equal(one.P, turned.P, 1e-14);
                    Assert.Equal(-one.Slope, turned.Slope, 1e-12);
                    Assert.InRange(one.Slope, one.SlopeLow, one.SlopeHigh);
                    // The order in which the pairs are listed says nothing.
                    Assert.Equal(one, MannKendall.Test([.. t.Reverse()], [.. x.Reverse()]));
                },
                seed: Seed,
                iter: 200
            );

    [Fact]
    public void Exact_p_is_the_share_of_orders()
    {
        // All 120 orders of five values.
        var scores = Orders([1, 2, 3, 4, 5]).Select(o => MannKendall.Test([1, 2, 3, 4, 5], o)).ToArray();
        foreach (var one in scores)
        {
            var share = scores.Count(o => Math.Abs(o.S) >= Math.Abs(one.S)) / 120.0;
            Assert.Equal(share, one.PExact!.Value, 1e-12);
        }

        static IEnumerable<double[]> Orders(double[] of) =>
            of.Length == 1
                ? [of]
                : of.SelectMany(v => Orders([.. of.Where(o => o != v)]).Select(rest => (double[])[v, .. rest]));
    }

    [Fact]
    public void Rate_ratio_turns_with_its_weeks() =>
        Gen.Select(Gen.Int[0, 60], Gen.Int[0, 60], Gen.Double[0.5, 50], Gen.Double[0.5, 50])
            .Sample(
                (x1, x2, t1, t2) =>
                {
                    var one = RateRatio.Test(x1, t1, x2, t2);
                    var turned = RateRatio.Test(x2, t2, x1, t1);
                    Assert.Equal(1 / one.Low, turned.High, 1e-9 * turned.High);
                    Assert.Equal(one.PMid, turned.PMid, 1e-12);
                    Assert.Equal(one.PDoubledTail, turned.PDoubledTail, 1e-12);
                    Assert.True(one.PMid <= one.PDoubledTail);
                    if (one.Ratio is { } ratio)
                    {
                        Assert.InRange(ratio, one.Low, one.High);
                    }

                    if (x1 > 0 && x2 > 0)
                    {
                        // At the bound, the tail is half of what the level leaves.
                        var share = one.Low * t1 / (one.Low * t1 + t2);
                        var tail = 0.0;
                        for (var x = x1; x <= x1 + x2; x++)
                        {
                            tail += MathNet.Numerics.Distributions.Binomial.PMF(share, x1 + x2, x);
                        }

                        Assert.Equal(0.025, tail, 1e-11);
                    }
                },
                seed: Seed,
                iter: 200
            );

    [Fact]
    public void Two_weeks_without_fish_say_nothing()
    {
        var none = RateRatio.Test(0, 5, 0, 7);
        Assert.Null(none.Ratio);
        Assert.Equal((0, double.PositiveInfinity, 1), (none.Low, none.High, none.PMid));
        Assert.Null(RateChange.Between([new(0, 5), new(0, 6)], [new(0, 5), new(0, 3)]).ProbabilityAbove(1.1));
    }

    [Fact]
    public void Change_between_weeks_by_hand()
    {
        // Rates 60/60 and 20/40; residuals of the first week 10, -10: variance 2/1 * 200/3600 = 1/9;
        // of the second 0, 0: the Poisson floor 1/20.
        var change = RateChange.Between([new(40, 30), new(20, 30)], [new(10, 20), new(10, 20)]);
        Assert.Equal(2, change.Ratio);
        Assert.Equal(Math.Sqrt(1 / 9.0 + 1 / 20.0), change.LogRatioError!.Value, 1e-12);
        Assert.Equal(2, change.DegreesOfFreedom);
        Assert.Equal(0.5, change.ProbabilityAbove(2)!.Value, 1e-9);
        var (low, high) = change.Interval()!.Value;
        Assert.InRange(2, low, high);
    }

    [Fact]
    public void A_change_is_seldom_named_where_there_is_none()
    {
        // 2,000 seeded pairs of weeks, seven days each, days apart by a gamma of shape 2, nothing changed. "Up" is named at a
        // probability of 0.9 that the ratio exceeds 1.1: less than one in ten may be false.
        var random = new MathNet.Numerics.Random.Xoshiro256StarStar(21);
        DayCatch[] Week() =>
            [.. Enumerable.Range(0, 7).Select(_ => new DayCatch(CountTests.Draw(random, 60 * 1.4, 2), 60))];
        var named = Enumerable
            .Range(0, 2000)
            .Count(_ => RateChange.Between(Week(), Week()).ProbabilityAbove(1.1) >= 0.9);
        Assert.InRange(named / 2000.0, 0.02, 0.1);
    }

    [Fact]
    public void Bad_series_are_refused()
    {
        Assert.Equal(SampleFault.Empty, CountTests.Fault(() => MannKendall.Test([], [])));
        Assert.Equal(SampleFault.OutOfRange, CountTests.Fault(() => MannKendall.Test([1, 1], [2, 3])));
        Assert.Equal(SampleFault.NotFinite, CountTests.Fault(() => MannKendall.Test([1, 2], [2, double.NaN])));
        Assert.Equal(SampleFault.LengthMismatch, CountTests.Fault(() => MannKendall.Test([1, 2], [2])));
        Assert.Equal(SampleFault.Negative, CountTests.Fault(() => RateRatio.Test(-1, 1, 1, 1)));
        Assert.Equal(SampleFault.OutOfRange, CountTests.Fault(() => RateRatio.Test(1, 0, 1, 1)));
        Assert.Equal(SampleFault.Empty, CountTests.Fault(() => RateChange.Between([], [new(1, 1)])));
        Assert.Equal(SampleFault.Negative, CountTests.Fault(() => RateChange.Between([new(-1, 1)], [new(1, 1)])));
    }
}
