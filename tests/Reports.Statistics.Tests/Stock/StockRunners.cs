namespace Reports.Statistics.Tests;

public static class StockRunners
{
    [ReferenceMethod("e_stock")]
    internal static void StockCase(ReferenceCase c)
    {
        var demand = new CountDistribution(c.Input["mean_per_period"].Number(), c.Input["k_per_period"].Number());
        var (under, over) = (c.Input["underage_cost"].Number(), c.Input["overage_cost"].Number());
        var got = OrderUpTo.ForCosts(demand, under, over, c.Input["periods"].Number());
        c.Expected["critical_ratio"].Check(got.AskedServiceLevel, "other");
        c.Expected["order_up_to"].Check(got.Level, "order_up_to");
        c.Expected["service_level"].Check(got.ServiceLevel, "other");
        c.Expected["expected_shortage"].Check(got.ExpectedShortage, "other");
        c.Expected["expected_leftover"].Check(got.ExpectedLeftover, "other");
        c.Expected["expected_cost"].Check(got.ExpectedCost(under, over), "other");
        c.Expected["fill_rate"].Check(got.FillRate ?? double.NaN, "other");
    }
}
