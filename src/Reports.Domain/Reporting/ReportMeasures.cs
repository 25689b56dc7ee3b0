using System.Text.Json;
using System.Text.Json.Serialization;
using Reports.Domain.Coast;
using Reports.Domain.Measures;

namespace Reports.Domain.Reporting;

/// <summary>
/// What statistics read of a report: the same facts in whole grams and millimetres, line classes as rungs of the ladder, hook
/// sizes as steps. A pure function of <see cref="CatchReport"/>; stored beside it with every version.
/// </summary>
public sealed record ReportMeasures
{
    private static readonly JsonSerializerOptions Json = new(JsonSerializerDefaults.Web)
    {
        Converters = { new JsonStringEnumConverter(JsonNamingPolicy.KebabCaseLower) },
        DefaultIgnoreCondition = JsonIgnoreCondition.WhenWritingNull,
    };

    public required string Boat { get; init; }
    public required string Zone { get; init; }
    public required DateOnly FishedOn { get; init; }
    public required int Sailing { get; init; }
    public decimal? TripDays { get; init; }
    public required int DaysCovered { get; init; }
    public required int Anglers { get; init; }

    /// <summary>
    /// Days of fishing that the counts tell of: as many as they cover, and of a trip shorter than a day its part. Of a longer trip that
    /// reports day by day it is one; so it is where the length is not told.
    /// </summary>
    [JsonIgnore]
    public double DaysFished => FishedDays(DaysCovered, TripDays);

    /// <summary>As <see cref="DaysFished"/>.</summary>
    internal static double FishedDays(int daysCovered, decimal? tripDays) =>
        daysCovered > 1 ? daysCovered : Math.Min(1, new TripLength(tripDays ?? TripLength.OneDay.Days).DaysFished);

    public decimal? Hours { get; init; }
    public Bite? Bite { get; init; }
    public required WeightUnit GivenIn { get; init; }
    public required IReadOnlyList<CatchMeasure> Catch { get; init; }

    /// <summary>The report's own bait; empty where the landing's bait of the day holds.</summary>
    public required IReadOnlyList<BaitMeasure> Bait { get; init; }
    public required IReadOnlyList<RigMeasure> Rigs { get; init; }
    public bool? SurfaceFish { get; init; }
    public int? DepthMm { get; init; }
    public bool? Birds { get; init; }

    /// <summary>Private; kept for the operator, read by no statistic.</summary>
    public Position? Position { get; init; }

    public static ReportMeasures Of(CatchReport report) =>
        new()
        {
            Boat = report.Boat,
            Zone = report.Zone,
            FishedOn = report.FishedOn,
            Sailing = report.Sailing,
            TripDays = report.TripDays,
            DaysCovered = report.DaysCovered,
            Anglers = report.Anglers,
            Hours = report.Hours,
            Bite = report.Bite,
            GivenIn = report.Units.Weight,
            Catch = [.. report.Catch.Select(CatchMeasure.Of)],
            Bait = [.. report.Bait.Select(BaitMeasure.Of)],
            Rigs = [.. report.Rigs.Select(RigMeasure.Of)],
            SurfaceFish = report.Signs?.Surface,
            DepthMm = report.Signs?.Depth?.Millimetres,
            Birds = report.Signs?.Birds,
            Position = report.Position,
        };

    /// <summary>With the landing's bait of the day, where the report tells none of its own.</summary>
    public ReportMeasures WithBait(IReadOnlyList<BaitMeasure> landings) =>
        Bait.Count == 0 && landings.Count > 0 ? this with { Bait = landings } : this;

    public string ToJson() => JsonSerializer.Serialize(this, Json);

    public static ReportMeasures FromJson(string json) => JsonSerializer.Deserialize<ReportMeasures>(json, Json)!;
}

/// <summary>A species row in grams. Sizes refer to kept + released.</summary>
public sealed record CatchMeasure
{
    public required string Species { get; init; }
    public required int Kept { get; init; }
    public int? Released { get; init; }
    public int? SmallestGrams { get; init; }
    public int? LargestGrams { get; init; }
    public int? MostFromGrams { get; init; }
    public int? MostToGrams { get; init; }
    public bool Weighed { get; init; }
    public bool Limit { get; init; }
    public int? AnglersWithFish { get; init; }
    public AnglerShare? AnglersWithFishWord { get; init; }
    public int? TopRod { get; init; }
    public int? LostHeavy { get; init; }

    /// <summary>Fish known to have been caught.</summary>
    [JsonIgnore]
    public int Fish => Kept + (Released ?? 0);

    public static CatchMeasure Of(CatchLine line) =>
        new()
        {
            Species = line.Species,
            Kept = line.Kept,
            Released = line.Released,
            SmallestGrams = line.Smallest?.Grams,
            LargestGrams = line.Largest?.Grams,
            MostFromGrams = line.MostFrom?.Grams,
            MostToGrams = line.MostTo?.Grams,
            Weighed = line.Weighed ?? false,
            Limit = line.Limit ?? false,
            AnglersWithFish = line.AnglersWithFish,
            AnglersWithFishWord = line.AnglersWithFishWord,
            TopRod = line.TopRod,
            LostHeavy = line.LostHeavy,
        };
}

public sealed record BaitMeasure
{
    public required string Species { get; init; }
    public int? ShortestMm { get; init; }
    public int? LongestMm { get; init; }
    public BaitCondition? Condition { get; init; }
    public BaitSupply? Supply { get; init; }

    /// <summary>Half-way between the shortest and the longest; the one that was told; null where neither was.</summary>
    public double? MiddleMm() => ((ShortestMm ?? LongestMm) + (LongestMm ?? ShortestMm)) / 2.0;

    public static BaitMeasure Of(BaitLine line) =>
        new()
        {
            Species = line.Species,
            ShortestMm = line.Shortest?.Millimetres,
            LongestMm = line.Longest?.Millimetres,
            Condition = line.Condition,
            Supply = line.Supply,
        };
}

public sealed record RigMeasure
{
    public required string Species { get; init; }
    public required Technique Technique { get; init; }
    public required int LineClassGrams { get; init; }

    /// <summary>Line class as a rung of <see cref="LineClass.Ladder"/>, in lb.</summary>
    public required int RungLb { get; init; }
    public LeaderMaterial? Leader { get; init; }
    public int? LeaderTestGrams { get; init; }
    public MainLineMaterial? MainLine { get; init; }
    public HookStyle? HookStyle { get; init; }

    /// <summary>Hook size as <see cref="HookSize.Step"/>; compares within a style only.</summary>
    public int? HookStep { get; init; }
    public decimal? GapeMm { get; init; }
    public HookWire? Wire { get; init; }
    public RigUse? Use { get; init; }
    public int? Rods { get; init; }
    public int? Hooked { get; init; }
    public int? Landed { get; init; }
    public int? BrokenOff { get; init; }
    public int? Pulled { get; init; }
    public int? Straightened { get; init; }
    public bool Winning { get; init; }

    public static RigMeasure Of(RigLine rig) =>
        new()
        {
            Species = rig.Species,
            Technique = rig.Technique,
            LineClassGrams = rig.LineClass.Grams,
            RungLb = LineClass.Rung(rig.LineClass),
            Leader = rig.Leader?.Material,
            LeaderTestGrams = rig.Leader?.Test?.Grams,
            MainLine = rig.MainLine?.Material,
            HookStyle = rig.Hook?.Style,
            HookStep = rig.Hook?.Size?.Step,
            GapeMm = rig.Hook?.GapeMm,
            Wire = rig.Hook?.Wire,
            Use = rig.Use,
            Rods = rig.Rods,
            Hooked = rig.Hooked,
            Landed = rig.Landed,
            BrokenOff = rig.BrokenOff,
            Pulled = rig.Pulled,
            Straightened = rig.Straightened,
            Winning = rig.Winning,
        };
}
