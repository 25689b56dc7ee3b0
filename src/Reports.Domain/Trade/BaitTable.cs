namespace Reports.Domain.Trade;

/// <summary>
/// Hooks by the length of the bait: the bait decides the hook. Common practice, no source; figures from memory of the trade.
/// Steps are <see cref="Measures.HookSize.Step"/> (4 is -3, 1/0 is 1).
/// </summary>
public static class BaitTable
{
    /// <summary>Bait kinds with rows of their own, by FAO 3-alpha code; every other live bait goes by the sardine's.</summary>
    public static bool IsAnchovy(string species) => species is "ANE" or "NPA";

    public static bool IsMackerel(string species) => species is "MAS" or "VMA" or "MAC" or "PJM";

    public static bool IsSquid(string species) => species is "SQO" or "SQC";

    /// <summary>How far a hook may stray from the centre of the bait's row.</summary>
    public const int Spread = 2;

    /// <summary>
    /// Hook step for a bait of this kind and length: the centre of its row, moved by at most <see cref="Spread"/> towards the
    /// hooks that go with the line.
    /// </summary>
    public static int HookStep(string? species, int lengthMm, int rungLb)
    {
        var centre = CentreStep(species, lengthMm);
        return Math.Clamp(HookStepForLine(rungLb), centre - Spread, centre + Spread);
    }

    /// <summary>Kinds with rows of their own; every other live bait goes by the sardine's.</summary>
    public static bool HasOwnRow(string species) => IsAnchovy(species) || IsMackerel(species) || IsSquid(species);

    /// <summary>Centre of the row of a kind and length.</summary>
    public static int CentreStep(string? species, int lengthMm) =>
        species switch
        {
            not null when IsAnchovy(species) => -3, // 8 to 2
            not null when IsMackerel(species) => lengthMm <= 229 ? 3 : 5, // 6-9 in: 2/0 to 4/0; 10-14 in: 4/0 to 7/0
            not null when IsSquid(species) => 3, // 2/0 to 5/0
            _ => lengthMm switch
            {
                < 102 => -3, // under 4 in, as an anchovy
                <= 152 => -1, // 4-6 in: 4 to 1
                <= 203 => 1, // 6-8 in: 1 to 2/0
                _ => 3, // 8-10 in: 2/0 to 4/0
            },
        };

    /// <summary>Hook step where the bait is not told: the row of the table whose lines the rung belongs to.</summary>
    public static int HookStepForLine(int rungLb) =>
        rungLb switch
        {
            < 20 => -3,
            < 30 => -1,
            <= 40 => 1,
            <= 60 => 3,
            _ => 5,
        };
}
