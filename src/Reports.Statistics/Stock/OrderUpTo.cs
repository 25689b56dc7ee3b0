namespace Reports.Statistics;

/// <summary>How many to have on the hook at the start of a horizon, and what to expect of that many.</summary>
/// <param name="Level">Stock to order up to: the smallest number whose chance of no stock-out reaches what was asked.</param>
/// <param name="AskedServiceLevel">What was asked: the service level, or the critical ratio of the costs.</param>
/// <param name="ServiceLevel">Chance that the stock lasts the horizon, P(demand &lt;= level).</param>
/// <param name="ExpectedShortage">Pieces asked for in vain, on average.</param>
/// <param name="ExpectedLeftover">Pieces left, on average.</param>
/// <param name="FillRate">Share of the demand that is served; null when no demand is expected.</param>
/// <remarks>
/// <para>Model: demand D over L periods, each negative binomial (mean m, k) or Poisson: mean L m, k L. Level = smallest q with
/// P(D &lt;= q) >= service level; with costs the level is cu/(cu + co). Shortage E(D - q)+, leftover E(q - D)+ = q - L m + shortage;
/// cost = cu shortage + co leftover; fill rate = 1 - shortage/(L m).</para>
/// <para>Parameters: m pieces per period, >= 0; k no unit, 0 &lt; k &lt;= infinity; L periods, > 0; service level no unit, at least 0 and
/// below 1; cu > 0, co > 0 in any one currency.</para>
/// <para>Method: quantile with a compensated sum; a cumulative probability within 1e-13 of the asked level counts as reached.</para>
/// <para>Reference: newsvendor model, Silver, Pyke and Thomas, Inventory and Production Management in Supply Chains (not consulted;
/// the values follow from the definitions).</para>
/// <para>Accuracy: levels equal R's on every case of e_stock, ties included; the rest within 2e-14, relative. (R's own sum is cut
/// off at 60 means: for k near .05 it misses part of the shortage, this one does not.)</para>
/// </remarks>
public sealed record OrderUpTo(
    int Level,
    double AskedServiceLevel,
    double ServiceLevel,
    double ExpectedShortage,
    double ExpectedLeftover,
    double? FillRate
)
{
    /// <summary>For a service level that means "no stock-out over the horizon".</summary>
    public static OrderUpTo ForServiceLevel(CountDistribution demandPerPeriod, double serviceLevel, double periods = 1)
    {
        var demand = demandPerPeriod.Times(periods);
        return At(demand, demand.Quantile(serviceLevel), serviceLevel);
    }

    /// <summary>For the cost of one piece short and of one piece left over.</summary>
    public static OrderUpTo ForCosts(
        CountDistribution demandPerPeriod,
        double underageCost,
        double overageCost,
        double periods = 1
    ) => ForServiceLevel(demandPerPeriod, CriticalRatio(underageCost, overageCost), periods);

    /// <summary>cu/(cu + co): the service level at which one more piece costs as much as it saves.</summary>
    public static double CriticalRatio(double underageCost, double overageCost)
    {
        Refuse.NotFinite([underageCost, overageCost], nameof(underageCost));
        Refuse.NotPositive(underageCost, nameof(underageCost));
        Refuse.NotPositive(overageCost, nameof(overageCost));
        return underageCost / (underageCost + overageCost);
    }

    /// <summary>What to expect of a stock that is given (rounded up to packs, or what is on hand).</summary>
    public static OrderUpTo ForStock(CountDistribution demandPerPeriod, int stock, double periods = 1)
    {
        Refuse.Negative([stock], nameof(stock));
        var demand = demandPerPeriod.Times(periods);
        return At(demand, stock, demand.Cumulative(stock));
    }

    /// <summary>cu times the expected shortage plus co times the expected leftover.</summary>
    public double ExpectedCost(double underageCost, double overageCost)
    {
        _ = CriticalRatio(underageCost, overageCost);
        return underageCost * ExpectedShortage + overageCost * ExpectedLeftover;
    }

    private static OrderUpTo At(CountDistribution demand, int level, double asked)
    {
        var shortage = demand.ExpectedExcess(level);
        return new OrderUpTo(
            level,
            asked,
            demand.Cumulative(level),
            shortage,
            Math.Max(0, level - demand.Mean + shortage),
            demand.Mean > 0 ? Math.Clamp(1 - shortage / demand.Mean, 0, 1) : null
        );
    }
}
