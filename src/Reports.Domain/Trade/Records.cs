using System.Collections.Frozen;

namespace Reports.Domain.Trade;

/// <summary>
/// All-tackle record weights in kg, from memory of the IGFA list and rounded up to the next tenth: used only to hold a weight
/// that nobody has ever landed on rod and line, never as advice.
/// </summary>
public static class Records
{
    public static readonly FrozenDictionary<string, decimal> AllTackleKg = new Dictionary<string, decimal>
    {
        ["SBF"] = 167.5m,
        ["PBF"] = 411.6m,
        ["BFT"] = 678.6m,
        ["YFT"] = 193.7m,
        ["BET"] = 197.4m,
        ["ALB"] = 40.0m,
        ["SKJ"] = 20.6m,
        ["BLF"] = 22.4m,
        ["LTA"] = 16.4m,
        ["KAW"] = 15.0m,
        ["YTC"] = 52.0m,
        ["AMB"] = 70.7m,
        ["YTL"] = 60.0m,
        ["DOL"] = 39.9m,
        ["WAH"] = 83.5m,
        ["MLS"] = 224.1m,
        ["SWO"] = 536.2m,
    }.ToFrozenDictionary();
}
