using System.Text.Json;
using System.Text.Json.Serialization;
using Reports.Domain.Reporting;

namespace Reports.Domain.Briefs;

/// <summary>
/// The computed answer for a zone and species as of a date: free of units of display (grams, millimetres, rungs in lb) and of
/// language. Stored as an immutable row; pages and API only render it. What can't be computed is null, with its reason in
/// <see cref="Missing"/>. Intervals are 80 %.
/// </summary>
public sealed record Brief
{
    internal static readonly JsonSerializerOptions Json = new(JsonSerializerDefaults.Web)
    {
        Converters = { new JsonStringEnumConverter(JsonNamingPolicy.KebabCaseLower) },
        DefaultIgnoreCondition = JsonIgnoreCondition.WhenWritingNull,
    };

    public required string Zone { get; init; }
    public required string Species { get; init; }
    public required DateOnly AsOf { get; init; }
    public required BriefEvidence Evidence { get; init; }
    public SizePicture? Size { get; init; }
    public BaitPicture? Bait { get; init; }
    public SignsPicture? Signs { get; init; }
    public IReadOnlyList<RigRecord> Rigs { get; init; } = [];

    /// <summary>Item k - 1 is the best set of k outfits, k = 1 to 5; empty when none can be advised.</summary>
    public IReadOnlyList<IReadOnlyList<Outfit>> OutfitSets { get; init; } = [];
    public CatchRate? CatchRate { get; init; }

    /// <summary>The days of the display window, oldest first.</summary>
    public IReadOnlyList<DayMark> Days { get; init; } = [];
    public IReadOnlyList<MissingPart> Missing { get; init; } = [];

    /// <summary>The species is closed: no advice, this notice instead.</summary>
    public string? ClosedNotice { get; init; }

    public string ToJson() => JsonSerializer.Serialize(this, Json);

    public static Brief FromJson(string json) => JsonSerializer.Deserialize<Brief>(json, Json)!;
}

/// <summary>How much there is to go on.</summary>
public enum Strength
{
    None,
    Thin,
    Fair,
    Good,
}

/// <summary>
/// Evidence in two numbers: <paramref name="EffectiveReports"/> is Kish's (sum w)^2 / sum w^2, how many reports it is worth;
/// <paramref name="DecayedReports"/> is sum w, how fresh they are. Counts refer to the display window.
/// </summary>
/// <param name="Fish">Null where the rule of three withholds it.</param>
public sealed record BriefEvidence(
    int Reports,
    int Boats,
    int? Fish,
    double EffectiveReports,
    double DecayedReports,
    DateOnly? Newest,
    Strength Strength,
    bool Pooled,
    BoatTrips? BoatTrips
);

/// <summary>Boat trips into the zone that were known, and how many of them reported. Silence is not a zero.</summary>
public sealed record BoatTrips(int Known, int Reported);

/// <summary>A share of 0 to 1 with its 80 % interval.</summary>
public sealed record Share(double Mean, double Low, double High);

/// <summary>A rate with its 80 % interval.</summary>
public sealed record Rate(double Mean, double Low, double High);

/// <summary>Whose sizes: fish landed, or fish met (landed over the chance of landing them).</summary>
public enum SizeOf
{
    Landed,
    Met,
}

/// <summary>Sizes in grams. The tables exist in both units because round numbers differ between them.</summary>
public sealed record SizePicture(
    SizeOf Of,
    SizeQuantiles Quantiles,
    IReadOnlyList<Grade> Grades,
    SizeTable Lb,
    SizeTable Kg
);

/// <summary>Grams below which 5, 25, 50, 75, 95 % of the fish lie.</summary>
public sealed record SizeQuantiles(int P05, int P25, int P50, int P75, int P95);

/// <summary>A weight class that the fish fall into.</summary>
/// <param name="Share">Of the fish.</param>
/// <param name="BoatDays">Share of boat trips that met it.</param>
public sealed record Grade(double Share, int LowGrams, int HighGrams, int MedianGrams, double BoatDays);

/// <summary>What is read in one unit: shares over round weights, and the bars of the size plot.</summary>
public sealed record SizeTable(IReadOnlyList<OverWeight> Over, IReadOnlyList<SizeBar> Bars);

/// <summary>Share of fish, and of boat trips that landed at least one, over a round weight in the table's unit.</summary>
public sealed record OverWeight(int Weight, Share Fish, Share BoatDays);

/// <summary>Share of the fish from a weight up to a weight (upper bound exclusive), in the table's unit.</summary>
public sealed record SizeBar(double From, double To, double Share);

/// <summary>Bait length in millimetres, and which kinds are about.</summary>
public sealed record BaitPicture(int P10Mm, int P50Mm, int P90Mm, IReadOnlyList<BaitKind> Kinds);

/// <summary>A kind of bait with the share of reports that used it.</summary>
public sealed record BaitKind(string Species, double Share);

/// <summary>Where a live bait is hooked.</summary>
public enum Hooking
{
    Nose,
    Belly,
    Collar,
}

/// <summary>Shares of reports that saw fish on top and birds stealing bait; the depth marked; how to hook the bait.</summary>
public sealed record SignsPicture(double? Surface, int? DepthP50Mm, double? Birds, Hooking Hooking);

/// <summary>
/// How one rig did. A figure that would rest on fewer than three boats is null. Hook size is a step within its style.
/// </summary>
public sealed record RigRecord(
    Technique Technique,
    int RungLb,
    HookStyle? HookStyle,
    int? HookStep,
    int Reports,
    Share? Wins,
    Rate? LandedPerRod,
    Share? Held
)
{
    /// <summary>Clearly more wins than the next rig by wins; false where that can't be told. So of the two below.</summary>
    public bool WinsClear { get; init; }
    public bool LandedPerRodClear { get; init; }
    public bool HeldClear { get; init; }
}

/// <summary>On what an outfit's advice rests.</summary>
public enum OutfitBasis
{
    /// <summary>Three boats or more reported its line and technique in the zone.</summary>
    Reports,

    /// <summary>Not fished here: the coast's reports speak for it by what they tell of lines, hooks and fish.</summary>
    Model,

    /// <summary>Common practice for such fish and bait: too few reports to say.</summary>
    Custom,
}

/// <summary>A hook's step in the outfit's style and the longest bait, in millimetres, that it is for; null: any longer one.</summary>
public sealed record HookOfBait(int? UpToMm, int Step);

/// <summary>A rig recommended to bring. Order is the order to try them in.</summary>
public sealed record Outfit
{
    public required int Order { get; init; }
    public required Technique Technique { get; init; }
    public required int RungLb { get; init; }
    public required LeaderMaterial Leader { get; init; }
    public required int LeaderTestLb { get; init; }

    /// <summary>Drag at the strike by a scale, grams: 25 to 33 % of the weakest part (common practice, no source).</summary>
    public required int DragLowGrams { get; init; }
    public required int DragHighGrams { get; init; }
    public required HookStyle HookStyle { get; init; }

    /// <summary>To tie on before the bait is seen; those of a set may differ, so that one of them suits.</summary>
    public required int HookStep { get; init; }

    /// <summary>
    /// The hook that lands most by the bait of the day, from the shortest bait to the longest. Empty where the bait is not known, and in
    /// briefs made before it was kept.
    /// </summary>
    public IReadOnlyList<HookOfBait> HooksByBait { get; init; } = [];

    /// <summary>The hook's step for bait of a length in millimetres; where it or the hooks are not known, the one to tie on before it is seen.</summary>
    public int HookFor(double? baitMm) =>
        HooksByBait.FirstOrDefault(h => baitMm is not null && (h.UpToMm is null || baitMm <= h.UpToMm))?.Step
        ?? HookStep;

    /// <summary>Every hook that it may be tied on with, in steps, ascending.</summary>
    public IEnumerable<int> HookSteps => HooksByBait.Select(h => h.Step).Append(HookStep).Distinct().Order();

    public decimal? GapeMm { get; init; }
    public required HookWire Wire { get; init; }

    /// <summary>Fish it is meant for, in grams.</summary>
    public required int FishLowGrams { get; init; }
    public required int FishHighGrams { get; init; }

    /// <summary>Share of boat trips on which it was the best of the set; null when the reports can't say.</summary>
    public double? BestOn { get; init; }

    /// <summary>
    /// Line to change to when the neighbours are bit and you are not: the next lighter of the set, for the lightest the next on the ladder; null
    /// when lighter is not advised.
    /// </summary>
    public int? IfNotBitRungLb { get; init; }

    /// <summary>Order of the outfit to change to when fish are too much for this one; null when it is the heaviest.</summary>
    public int? IfOutmatchedOrder { get; init; }
    public required OutfitBasis Basis { get; init; }

    /// <summary>Whether this or the next of the set lands more can't be told.</summary>
    public bool NoClearDifference { get; init; }
}

public enum Trend
{
    Down,
    Steady,
    Up,
}

/// <summary>Fish per angler and boat trip, the odds of at least one, and where they are heading (null: can't be told).</summary>
/// <param name="PerAnglerIfSilentBlank">The rate if every silent boat trip was blank; null when none was silent.</param>
/// <param name="AtLeastOne">Null when the reports can't tell.</param>
/// <param name="PerAnglerIfSilentAlike">
/// The rate if the silent did like the best tenth that reported (three boats at least); null when none was silent.
/// </param>
/// <param name="StoppedAtLimit">Share of the boat trips that stopped at their limit: their counts are capped.</param>
public sealed record CatchRate(
    Rate PerAngler,
    Share? AtLeastOne,
    Trend? Trend,
    double? PerAnglerIfSilentBlank,
    double? PerAnglerIfSilentAlike,
    double StoppedAtLimit
)
{
    /// <summary>What one angler of a coming boat trip may land; null in briefs made before it was kept.</summary>
    public FishPerAngler? Angler { get; init; }
}

/// <summary>One day of the strip. The rate is null where fewer than three boats reported, or where showing it would give one away.</summary>
public sealed record DayMark(DateOnly Date, int? Boats, double? PerAngler);

/// <summary>What the brief could not compute, by pointer into the brief's JSON.</summary>
public sealed record MissingPart(string Pointer, string Code, string Detail);
