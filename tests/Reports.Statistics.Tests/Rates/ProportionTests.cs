using MathNet.Numerics;
using MathNet.Numerics.Distributions;

namespace Reports.Statistics.Tests;

public sealed class ProportionTests
{
    [Fact]
    public void Jeffreys_agrees_with_the_published_table()
    {
        // Brown, Cai & DasGupta 2001, Stat. Sci. 16:101-133, table of the Jeffreys interval, n = 10 (from memory of the
        // table: 0 .. 0.217, 0.011 .. 0.381 for x = 1, 0.224 .. 0.776 for x = 5).
        var none = Proportion.Jeffreys(0, 10);
        Assert.Equal(0, none.Low);
        Assert.Equal(0.217, none.High, 3);
        var one = Proportion.Jeffreys(1, 10);
        Assert.Equal(0.011, one.Low, 3);
        Assert.Equal(0.381, one.High, 3);
        var half = Proportion.Jeffreys(5, 10);
        Assert.Equal(0.224, half.Low, 3);
        Assert.Equal(0.776, half.High, 3);
    }

    [Fact]
    public void Intervals_hold_the_estimate_stay_inside_and_mirror() =>
        Draws.ForAll(
            Draws.Rate,
            400,
            r =>
            {
                foreach (
                    var method in new Func<double, double, double, RateInterval>[]
                    {
                        Proportion.Wilson,
                        Proportion.Jeffreys,
                    }
                )
                {
                    var (p, low, high, _) = method(r.Y, r.N, 0.9);
                    Assert.True(0 <= low && low <= p && p <= high && high <= 1 && low < high);
                    var mirror = method(r.N - r.Y, r.N, 0.9);
                    Assert.Equal(1 - low, mirror.High, 1e-9);
                    var wider = method(r.Y, r.N, 0.99);
                    Assert.True(wider.Low <= low && wider.High >= high);
                    // Ten times the evidence at the same rate narrows it.
                    var more = method(10 * r.Y, 10 * r.N, 0.9);
                    Assert.True(more.High - more.Low < high - low);
                }
            }
        );

    [Fact]
    public void Wilson_ends_solve_its_equation() =>
        Draws.ForAll(
            Draws.Rate,
            200,
            r =>
            {
                var got = Proportion.Wilson(r.Y, r.N);
                // (p̂ - p)² = z² p(1-p)/n at both ends, z = 1.959963984540054 (R: qnorm(.975)).
                foreach (var p in new[] { got.Low, got.High }.Where(p => p is > 0 and < 1))
                {
                    var z2 = 1.959963984540054 * 1.959963984540054;
                    Assert.Equal(z2 * p * (1 - p) / r.N, (got.Estimate - p) * (got.Estimate - p), 1e-12);
                }
            }
        );

    /// <summary>Closed-form quantiles: Beta(a, 1): p^(1/a); Beta(1, b): 1 - (1-p)^(1/b); Beta(1/2, 1/2): sin²(πp/2).</summary>
    [Fact]
    public void Beta_quantiles_agree_with_closed_forms()
    {
        double[] levels = [0.3, 0.9, 0.95, 0.999];
        foreach (var level in levels)
        {
            var p = (1 - level) / 2;
            foreach (var a in new[] { 0.01, 0.5, 1, 3, 40, 1e6 })
            {
                var got = DirichletMultinomial.Posterior([0, 0], [a, 1], level).Shares;
                Close(Math.Pow(p, 1 / a), got[0].Low);
                Close(Math.Pow(1 - p, 1 / a), got[0].High);
                Close(LessThanOne(Math.Log(1 - p) / a), got[1].Low);
            }

            Close(
                Math.Pow(Math.Sin(Math.PI * p / 2), 2),
                DirichletMultinomial.Posterior([0, 0], [0.5, 0.5], level).Shares[0].Low
            );
        }

        // 1 - e^z without cancellation; MathNet's Expm1 is off by 1e-7 relative near z = 0.01.
        static double LessThanOne(double z) => -2 * Math.Exp(z / 2) * Math.Sinh(z / 2);

        static void Close(double expected, double got) =>
            Assert.True(Math.Abs(got - expected) <= 3e-11 * expected + 1e-300, $"expected {expected:R}, got {got:R}");
    }

    /// <summary>Why MathNet's own quantile is not used: its errors, measured. When these fail, it can be.</summary>
    [Fact]
    public void The_errors_of_the_beta_quantile_of_MathNet_are_as_recorded()
    {
        // Beta(1, 7) at 1e-6: relative error 9e-7, closed form 1.428572040662601e-7.
        Assert.InRange(Math.Abs(Beta.InvCDF(1, 7, 1e-6) / 1.428572040662601e-7 - 1), 1e-7, 1e-5);
        // Beta(0.01, 1) at 0.025: the closed form is 6.2e-161, off by all of it.
        Assert.InRange(Math.Abs(Beta.InvCDF(0.01, 1, 0.025) / Math.Pow(0.025, 100) - 1), 0.5, double.PositiveInfinity);
        // The distribution function itself at the median of Beta(a, a): 5e-9 off at a = 5e7.
        Assert.InRange(Math.Abs(Beta.CDF(5e7, 5e7, 0.5) - 0.5), 1e-10, 1e-7);
        // 1 - CDF of chi-square loses everything past 70; GammaUpperRegularized does not: 2 (1 - Phi(10)) is
        // 1.523970604832105e-23 (R: 2 * pnorm(-10)).
        Assert.Equal(0, 1 - ChiSquared.CDF(1, 100));
        Assert.Equal(1, SpecialFunctions.GammaUpperRegularized(0.5, 50) / 1.523970604832105e-23, 1e-11);
    }

    [Theory]
    [InlineData(1, 0, 0.95, SampleFault.NoWeight)]
    [InlineData(5, 4, 0.95, SampleFault.OutOfRange)]
    [InlineData(-1, 4, 0.95, SampleFault.Negative)]
    [InlineData(1, -4, 0.95, SampleFault.Negative)]
    [InlineData(double.NaN, 4, 0.95, SampleFault.NotFinite)]
    [InlineData(1, double.PositiveInfinity, 0.95, SampleFault.NotFinite)]
    [InlineData(1, 4, 1, SampleFault.OutOfRange)]
    [InlineData(1, 4, double.NaN, SampleFault.OutOfRange)]
    public void What_is_no_rate_is_refused(double y, double n, double level, SampleFault fault)
    {
        // No trials with a success is first of all a success too many.
        var expected = fault == SampleFault.NoWeight ? SampleFault.OutOfRange : fault;
        Assert.Equal(expected, Assert.Throws<InvalidSampleException>(() => Proportion.Wilson(y, n, level)).Fault);
        Assert.Equal(expected, Assert.Throws<InvalidSampleException>(() => Proportion.Jeffreys(y, n, level)).Fault);
        Assert.Equal(SampleFault.NoWeight, Assert.Throws<InvalidSampleException>(() => Proportion.Wilson(0, 0)).Fault);
    }
}
