using CsCheck;

namespace Reports.Statistics.Tests;

public sealed class MomentTests
{
    [Fact]
    public void Shifting_moves_the_mean_and_leaves_the_spread() =>
        Gen.Int[-1000, 1000]
            .Array[2, 40]
            .Sample(
                x =>
                {
                    // Whole numbers and a power of two: the shift itself is exact.
                    double[] plain = [.. x.Select(v => (double)v)];
                    double[] shifted = [.. x.Select(v => v + 1099511627776.0)];
                    var (a, b) = (Moments.Of(plain), Moments.Of(shifted));
                    Assert.Equal(
                        a.StandardDeviation!.Value,
                        b.StandardDeviation!.Value,
                        1e-9 * a.StandardDeviation.Value + 1e-12
                    );
                    Assert.Equal(a.Mean + 1099511627776.0, b.Mean, 1e-3);
                },
                seed: "0000KOIPe036",
                iter: 300
            );

    [Fact]
    public void One_value_has_no_spread_and_none_is_refused()
    {
        Assert.Null(Moments.Of([3]).StandardDeviation);
        Assert.Equal(SampleFault.Empty, CountTests.Fault(() => Moments.Of([])));
        Assert.Equal(SampleFault.NotFinite, CountTests.Fault(() => Moments.Of([1, double.NaN])));
    }
}
