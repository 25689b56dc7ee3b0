using Reports.Domain.Measures;

namespace Reports.Domain.Reporting.Csv;

/// <summary>What a column speaks of.</summary>
public enum Part
{
    /// <summary>The whole report: given on its first row, left out or repeated on the others.</summary>
    Report,

    /// <summary>The species of a row, of its catch line and of its rig line.</summary>
    Species,
    Catch,
    Bait,
    Rig,
}

/// <summary>How a cell is read.</summary>
public enum CellKind
{
    Boat,
    Zone,
    Species,
    Date,
    Number,
    Flag,
    Word,
    NumberOrWord,
    HookSize,
    Text,
}

/// <summary>
/// One column of the CSV: a field of the report contract under a flat name. This list is the table of docs/csv.md, the header of
/// an export, and what an import looks for.
/// </summary>
/// <param name="Field">Path of the field within its part, such as "hook/size".</param>
/// <param name="Unit">Unit of a number; empty for none.</param>
/// <param name="Accepted">What a cell may hold, for people.</param>
public sealed record Column(
    string Name,
    Part Part,
    string Field,
    CellKind Kind,
    string Meaning,
    string Unit,
    string Accepted,
    Need Need = Need.None
)
{
    private const string ByWeightUnit = "weightUnit";
    private const string ByLengthUnit = "lengthUnit";
    private const string Count = "whole number, 0 or more";
    private const string AboveZero = "number above 0";
    private const string Flag = "true, false, yes, no, 1, 0";

    /// <summary>All columns, in the order of an export.</summary>
    public static IReadOnlyList<Column> All { get; } =
    [
        new("boat", Part.Report, "boat", CellKind.Boat, "boat", "", "code or name of a boat", Need.EveryRow),
        new("zone", Part.Report, "zone", CellKind.Zone, "zone fished", "", "code or name of a zone", Need.EveryRow),
        new(
            "fishedOn",
            Part.Report,
            "fishedOn",
            CellKind.Date,
            "day fished; of several days the last",
            "",
            "2026-11-20; 20/11/2026 only where day-first is declared",
            Need.EveryRow
        ),
        new(
            "sailing",
            Part.Report,
            "sailing",
            CellKind.Number,
            "which sailing of that day",
            "",
            "1 to 9; empty means 1"
        ),
        new(
            "tripDays",
            Part.Report,
            "tripDays",
            CellKind.Number,
            "length of the trip",
            "days",
            "quarter days up to 30"
        ),
        new(
            "daysCovered",
            Part.Report,
            "daysCovered",
            CellKind.Number,
            "days that the counts cover",
            "days",
            "1 to 30; empty means 1"
        ),
        new("status", Part.Report, "status", CellKind.Word, "how far the count is", "", In<ReportStatus>()),
        new("anglers", Part.Report, "anglers", CellKind.Number, "paying rods", "", "1 to 300", Need.EveryReport),
        new("crewFished", Part.Report, "crewFished", CellKind.Flag, "the crew fished too", "", Flag),
        new("hours", Part.Report, "hours", CellKind.Number, "hours with lines in the water", "hours", AboveZero),
        new("bite", Part.Report, "bite", CellKind.Word, "the crew's word for the bite", "", In<Bite>()),
        new(
            ByWeightUnit,
            Part.Report,
            "units/weight",
            CellKind.Word,
            "unit of weights and of line and leader tests",
            "",
            In<WeightUnit>() + "; empty means lb"
        ),
        new(
            ByLengthUnit,
            Part.Report,
            "units/length",
            CellKind.Word,
            "unit of bait lengths",
            "",
            In<LengthUnit>() + "; in goes with lb, cm with kg"
        ),
        new("depthUnit", Part.Report, "units/depth", CellKind.Word, "unit of depth", "", In<DepthUnit>()),
        new("surface", Part.Report, "signs/surface", CellKind.Flag, "fish on top", "", Flag),
        new("depth", Part.Report, "signs/depth", CellKind.Number, "depth of fish marked", "depthUnit", AboveZero),
        new("birds", Part.Report, "signs/birds", CellKind.Flag, "birds stealing bait", "", Flag),
        new(
            "species",
            Part.Species,
            "species",
            CellKind.Species,
            "species of the row's catch and rig",
            "",
            "FAO 3-alpha code or local name",
            Need.CatchOrRig
        ),
        new("kept", Part.Catch, "kept", CellKind.Number, "fish kept", "", Count, Need.Catch),
        new("released", Part.Catch, "released", CellKind.Number, "fish released; empty is unknown", "", Count),
        new("smallest", Part.Catch, "smallest", CellKind.Number, "smallest fish", ByWeightUnit, AboveZero),
        new("largest", Part.Catch, "largest", CellKind.Number, "largest fish", ByWeightUnit, AboveZero),
        new("mostFrom", Part.Catch, "mostFrom", CellKind.Number, "most fish weigh from", ByWeightUnit, AboveZero),
        new("mostTo", Part.Catch, "mostTo", CellKind.Number, "most fish weigh up to", ByWeightUnit, AboveZero),
        new("weighed", Part.Catch, "weighed", CellKind.Flag, "the largest went on a scale", "", Flag),
        new("limit", Part.Catch, "limit", CellKind.Flag, "the boat stopped at its limit", "", Flag),
        new(
            "anglersWithFish",
            Part.Catch,
            "anglersWithFish",
            CellKind.NumberOrWord,
            "anglers who had one",
            "",
            "whole number, or " + In<AnglerShare>()
        ),
        new("topRod", Part.Catch, "topRod", CellKind.Number, "most fish by one angler", "", Count),
        new("lostHeavy", Part.Catch, "lostHeavy", CellKind.Number, "heavy fish hooked and lost", "", Count),
        new(
            "baitSpecies",
            Part.Bait,
            "species",
            CellKind.Species,
            "kind of bait",
            "",
            "FAO 3-alpha code or local name",
            Need.Bait
        ),
        new("baitShortest", Part.Bait, "shortest", CellKind.Number, "shortest bait", ByLengthUnit, AboveZero),
        new("baitLongest", Part.Bait, "longest", CellKind.Number, "longest bait", ByLengthUnit, AboveZero),
        new("baitCondition", Part.Bait, "condition", CellKind.Word, "how the bait was", "", In<BaitCondition>()),
        new("baitSupply", Part.Bait, "supply", CellKind.Word, "how much bait there was", "", In<BaitSupply>()),
        new("technique", Part.Rig, "technique", CellKind.Word, "how the rig was fished", "", In<Technique>()),
        new(
            "lineClass",
            Part.Rig,
            "lineClass",
            CellKind.Number,
            "rated strength at the hook end",
            ByWeightUnit,
            AboveZero,
            Need.Rig
        ),
        new("leaderMaterial", Part.Rig, "leader/material", CellKind.Word, "leader", "", In<LeaderMaterial>()),
        new("leaderTest", Part.Rig, "leader/test", CellKind.Number, "leader's test", ByWeightUnit, AboveZero),
        new("mainLineMaterial", Part.Rig, "mainLine/material", CellKind.Word, "main line", "", In<MainLineMaterial>()),
        new("mainLineTest", Part.Rig, "mainLine/test", CellKind.Number, "main line's test", ByWeightUnit, AboveZero),
        new("hookStyle", Part.Rig, "hook/style", CellKind.Word, "hook", "", In<HookStyle>()),
        new(
            "hookSize",
            Part.Rig,
            "hook/size",
            CellKind.HookSize,
            "hook's packet number",
            "",
            "#2/0 or 2-0, #2; also 2/0, which spreadsheets turn into dates"
        ),
        new("hookGapeMm", Part.Rig, "hook/gapeMm", CellKind.Number, "measured gape (gap)", "mm", AboveZero),
        new("hookWire", Part.Rig, "hook/wire", CellKind.Word, "hook's wire", "", In<HookWire>()),
        new("hookRinged", Part.Rig, "hook/ringed", CellKind.Flag, "the hook has a ring", "", Flag),
        new("use", Part.Rig, "use", CellKind.Word, "how many rods fished it, uncounted", "", In<RigUse>()),
        new("rods", Part.Rig, "rods", CellKind.Number, "rods that fished it", "", Count),
        new("hooked", Part.Rig, "hooked", CellKind.Number, "fish hooked", "", Count),
        new("landed", Part.Rig, "landed", CellKind.Number, "fish landed", "", Count),
        new("brokenOff", Part.Rig, "brokenOff", CellKind.Number, "fish lost: line or leader broke", "", Count),
        new("pulled", Part.Rig, "pulled", CellKind.Number, "fish lost: hook pulled", "", Count),
        new("straightened", Part.Rig, "straightened", CellKind.Number, "fish lost: hook straightened", "", Count),
        new("weightOz", Part.Rig, "weightOz", CellKind.Number, "sinker or jig", "oz", AboveZero),
        new("winning", Part.Rig, "winning", CellKind.Flag, "this rig worked best", "", Flag),
        new(
            "note",
            Part.Report,
            "note",
            CellKind.Text,
            "anything else; never public",
            "",
            "text up to 2000 characters"
        ),
    ];

    /// <summary>Columns without which no report can be read.</summary>
    public static IReadOnlyList<Column> Required { get; } =
    [.. All.Where(c => c.Need is Need.EveryRow or Need.EveryReport or Need.CatchOrRig or Need.Catch)];

    /// <summary>The four columns that say which report a row belongs to.</summary>
    public static IReadOnlyList<Column> Key { get; } = [Of("boat"), Of("zone"), Of("fishedOn"), Of("sailing")];

    public static Column Of(string name) => All.Single(c => c.Name == name);

    /// <summary>A name as it is compared: letters and digits only, any case.</summary>
    public static string Normal(string name) => string.Concat(name.Where(char.IsLetterOrDigit)).ToLowerInvariant();

    private static string In<T>()
        where T : struct, Enum => string.Join(", ", Words.Of<T>().Keys);
}

/// <summary>Where a column must be filled.</summary>
public enum Need
{
    None,
    EveryRow,
    EveryReport,
    CatchOrRig,
    Catch,
    Bait,
    Rig,
}
