using CsCheck;

namespace Reports.Statistics.Tests;

public sealed class StockTests
{
    private const string Seed = "0000KOIPe036";

    private static readonly Gen<CountDistribution> Demands =
        from logMean in Gen.Double[-3, 5]
        from logK in Gen.Double[-3, 4]
        from poisson in Gen.Bool
        select new CountDistribution(Math.Exp(logMean), poisson ? double.PositiveInfinity : Math.Exp(logK));

    [Fact]
    public void A_higher_service_level_never_needs_less() =>
        Gen.Select(Demands, Gen.Double[0.01, 0.99], Gen.Double[0, 1], Gen.Int[1, 6])
            .Sample(
                (demand, level, up, periods) =>
                {
                    var low = OrderUpTo.ForServiceLevel(demand, level, periods);
                    var high = OrderUpTo.ForServiceLevel(demand, level + (0.999 - level) * up, periods);
                    Assert.True(high.Level >= low.Level);
                    Assert.True(high.ExpectedShortage <= low.ExpectedShortage + 1e-12);
                    Assert.True(low.ServiceLevel >= level * (1 - 1e-12));
                },
                seed: Seed,
                iter: 100
            );

    [Fact]
    public void No_other_stock_costs_less() =>
        Gen.Select(Demands, Gen.Double[0.1, 20], Gen.Double[0.1, 20])
            .Sample(
                (demand, under, over) =>
                {
                    var best = OrderUpTo.ForCosts(demand, under, over);
                    foreach (var stock in new[] { best.Level - 1, best.Level + 1, 2 * best.Level })
                    {
                        if (stock >= 0)
                        {
                            var other = OrderUpTo.ForStock(demand, stock);
                            Assert.True(
                                best.ExpectedCost(under, over) <= other.ExpectedCost(under, over) + 1e-9 * demand.Mean
                            );
                        }
                    }
                },
                seed: Seed,
                iter: 100
            );

    [Theory]
    // Geometric demand (mean (1 - p)/p, k 1): F(q) = 1 - (1 - p)^(q + 1), so these levels are met exactly.
    [InlineData(1, 1, 0.5, 0)]
    [InlineData(1, 1, 0.75, 1)]
    [InlineData(1, 1, 0.9990234375, 9)]
    [InlineData(3, 1, 0.25, 0)]
    [InlineData(3, 1, 0.4375, 1)]
    [InlineData(4, 1, 0.2, 0)]
    [InlineData(4, 1, 0.36, 1)]
    [InlineData(0.25, 1, 0.96, 1)]
    [InlineData(0.25, 1, 0.99968, 4)]
    public void A_level_that_is_met_exactly_needs_no_more(double mean, double k, double level, int expected) =>
        Assert.Equal(expected, OrderUpTo.ForServiceLevel(new CountDistribution(mean, k), level).Level);

    [Fact]
    public void Nothing_is_needed_where_nothing_is_asked_for()
    {
        var none = OrderUpTo.ForServiceLevel(CountDistribution.Poisson(0), 0.95);
        Assert.Equal((0, 0.0, null), (none.Level, none.ExpectedShortage, none.FillRate));
    }

    [Fact]
    public void Senseless_wishes_are_refused()
    {
        var demand = CountDistribution.Poisson(3);
        Assert.Equal(SampleFault.OutOfRange, CountTests.Fault(() => OrderUpTo.ForServiceLevel(demand, 1)));
        Assert.Equal(SampleFault.OutOfRange, CountTests.Fault(() => OrderUpTo.ForServiceLevel(demand, double.NaN)));
        Assert.Equal(SampleFault.OutOfRange, CountTests.Fault(() => OrderUpTo.ForCosts(demand, 0, 1)));
        Assert.Equal(SampleFault.OutOfRange, CountTests.Fault(() => OrderUpTo.ForServiceLevel(demand, 0.9, 0)));
        Assert.Equal(SampleFault.Negative, CountTests.Fault(() => OrderUpTo.ForStock(demand, -1)));
    }
}
