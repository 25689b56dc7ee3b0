using System.Collections.Frozen;

namespace Reports.Domain.Reporting;

public enum ReportStatus
{
    /// <summary>A count radioed in during the day: shown, never in the statistics.</summary>
    SoFar,
    Final,
}

/// <summary>Where a stored report stands.</summary>
public enum ReportState
{
    /// <summary>In the statistics.</summary>
    Counted,

    /// <summary>Out of the statistics until somebody confirms it.</summary>
    Held,
    SoFar,
    Retracted,
}

/// <summary>The crew's word for the bite, from few fish to fish that take anything.</summary>
public enum Bite
{
    Slow,
    Picky,
    Steady,
    WideOpen,
}

/// <summary>How many anglers had a fish, where nobody counted.</summary>
public enum AnglerShare
{
    Few,
    Half,
    Most,
    NearlyAll,
}

public enum BaitCondition
{
    Lively,
    Weak,
}

public enum BaitSupply
{
    Plenty,
    Short,
    None,
}

public enum Technique
{
    FlyLine,
    Sinker,
    Cast,
    Drop,
    Kite,
    Troll,
    Other,
}

public enum LeaderMaterial
{
    Fluorocarbon,
    Monofilament,
    None,
    Wire,
}

public enum MainLineMaterial
{
    Braid,
    Monofilament,
}

public enum HookStyle
{
    Circle,
    J,
    Treble,
    None,
}

public enum HookWire
{
    Light,
    Regular,
    Heavy,
}

/// <summary>How many of the boat's rods fished a rig, where nobody counted.</summary>
public enum RigUse
{
    Few,
    Some,
    Most,
}

/// <summary>
/// The contract's words for its enumerations, both ways: kebab-case of the member's name. Stated once, so that JSON, CSV, form
/// and the API's document can't differ.
/// </summary>
public static class Words
{
    /// <summary>Every word of an enumeration with its value, in the order of the enumeration.</summary>
    public static IReadOnlyDictionary<string, T> Of<T>()
        where T : struct, Enum => Table<T>.ByWord;

    /// <summary>The word for a value, such as "wide-open".</summary>
    public static string Word<T>(this T value)
        where T : struct, Enum => Table<T>.ByValue[value];

    private static class Table<T>
        where T : struct, Enum
    {
        public static readonly FrozenDictionary<T, string> ByValue = Enum.GetValues<T>()
            .ToFrozenDictionary(v => v, v => Kebab(v.ToString()));

        // Not frozen: a message lists the words in this order.
        public static readonly IReadOnlyDictionary<string, T> ByWord = Enum.GetValues<T>()
            .ToDictionary(v => Kebab(v.ToString()), StringComparer.Ordinal);

        private static string Kebab(string name) =>
            string.Concat(
                name.Select(
                    (c, i) =>
                        char.IsUpper(c) && i > 0 ? "-" + char.ToLowerInvariant(c) : char.ToLowerInvariant(c).ToString()
                )
            );
    }
}
