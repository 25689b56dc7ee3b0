using System.Globalization;
using System.Text.Json;
using Reports.Domain.Coast;
using Reports.Domain.Measures;

namespace Reports.Domain.Reporting.Csv;

/// <summary>A list of the JSON document, one entry for each row with cells of its part.</summary>
/// <param name="SingleAsObject">One entry stands by itself, without the list.</param>
/// <param name="EvenEmpty">Written without entries too.</param>
public sealed record CsvList(string Name, Part Part, bool SingleAsObject = false, bool EvenEmpty = false);

/// <summary>What the files of one kind look like.</summary>
/// <param name="Called">What a record is, for people.</param>
/// <param name="Columns">In the order of an export; those of the key come first.</param>
/// <param name="KeyLength">How many columns say which record a row belongs to.</param>
/// <param name="MostRows">Most rows of one record.</param>
public record CsvFormat(
    string Called,
    IReadOnlyList<Column> Columns,
    int KeyLength,
    IReadOnlyList<CsvList> Lists,
    int MostRows
)
{
    public IReadOnlyList<Column> Key { get; } = [.. Columns.Take(KeyLength)];

    /// <summary>Columns without which no record can be read.</summary>
    public IReadOnlyList<Column> Required { get; } =
    [.. Columns.Where(c => c.Need is Need.EveryRow or Need.EveryReport or Need.CatchOrRig or Need.Catch)];

    public Column Of(string name) => Columns.Single(c => c.Name == name);
}

/// <summary>A format and how its records are read.</summary>
/// <param name="KeyOf">The key of cells that are known to hold one, in the register's own texts: the keys of a long file share them.</param>
/// <param name="Read">Reads the JSON document that a record's rows stand for, by the rules of the API.</param>
public sealed record CsvFormat<TKey, T>(
    string Called,
    IReadOnlyList<Column> Columns,
    int KeyLength,
    IReadOnlyList<CsvList> Lists,
    int MostRows,
    Func<IReadOnlyList<string>, Register, TKey> KeyOf,
    Func<JsonElement, Register, DateTimeOffset, Reading<T>> Read
) : CsvFormat(Called, Columns, KeyLength, Lists, MostRows)
    where TKey : class
    where T : class;

/// <summary>The kinds of CSV file that the service takes and gives.</summary>
public static class CsvFormats
{
    private const string ByWeightUnit = "weightUnit";
    private const string ByLengthUnit = "lengthUnit";
    private const string Count = "whole number, 0 or more";
    private const string AboveZero = "number above 0";
    private const string Flag = "true, false, yes, no, 1, 0";
    private const string Day = "2026-11-20; 20/11/2026 only where day-first is declared";
    private const string ByName = "code or name of a ";
    private const string BaitKind = "FAO 3-alpha code or local name";

    private static readonly Column Boat = new(
        "boat",
        Part.Whole,
        "boat",
        CellKind.Boat,
        "boat",
        "",
        ByName + "boat",
        Need.EveryRow
    );
    private static readonly Column Sailing = new(
        "sailing",
        Part.Whole,
        "sailing",
        CellKind.Number,
        "which sailing of that day",
        "",
        "1 to 9; empty means 1"
    );
    private static readonly Column TripDays = new(
        "tripDays",
        Part.Whole,
        "tripDays",
        CellKind.Number,
        "length of the trip",
        "days",
        "quarter days up to 30"
    );

    private static readonly Column[] ReportColumns =
    [
        Boat,
        new("zone", Part.Whole, "zone", CellKind.Zone, "zone fished", "", ByName + "zone", Need.EveryRow),
        new(
            "fishedOn",
            Part.Whole,
            "fishedOn",
            CellKind.Date,
            "day fished; of several days the last",
            "",
            Day,
            Need.EveryRow
        ),
        Sailing,
        TripDays,
        new(
            "daysCovered",
            Part.Whole,
            "daysCovered",
            CellKind.Number,
            "days that the counts cover",
            "days",
            "1 to 30; empty means 1"
        ),
        new("status", Part.Whole, "status", CellKind.Word, "how far the count is", "", In<ReportStatus>()),
        new("anglers", Part.Whole, "anglers", CellKind.Number, "paying rods", "", "1 to 300", Need.EveryReport),
        new("crewFished", Part.Whole, "crewFished", CellKind.Flag, "the crew fished too", "", Flag),
        new("hours", Part.Whole, "hours", CellKind.Number, "hours with lines in the water", "hours", AboveZero),
        new("bite", Part.Whole, "bite", CellKind.Word, "the crew's word for the bite", "", In<Bite>()),
        new(
            ByWeightUnit,
            Part.Whole,
            "units/weight",
            CellKind.Word,
            "unit of weights and of line and leader tests",
            "",
            In<WeightUnit>() + "; empty means lb"
        ),
        new(
            ByLengthUnit,
            Part.Whole,
            "units/length",
            CellKind.Word,
            "unit of bait lengths",
            "",
            In<LengthUnit>() + "; in goes with lb, cm with kg"
        ),
        new("depthUnit", Part.Whole, "units/depth", CellKind.Word, "unit of depth", "", In<DepthUnit>()),
        new("surface", Part.Whole, "signs/surface", CellKind.Flag, "fish on top", "", Flag),
        new("depth", Part.Whole, "signs/depth", CellKind.Number, "depth of fish marked", "depthUnit", AboveZero),
        new("birds", Part.Whole, "signs/birds", CellKind.Flag, "birds stealing bait", "", Flag),
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
        new("baitSpecies", Part.Bait, "species", CellKind.Species, "kind of bait", "", BaitKind, Need.Bait),
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
        new("note", Part.Whole, "note", CellKind.Text, "anything else; never public", "", "text up to 2000 characters"),
    ];

    private static readonly Column[] DepartureColumns =
    [
        Boat,
        new("date", Part.Whole, "date", CellKind.Date, "day of sailing", "", Day, Need.EveryRow),
        Sailing,
        TripDays,
        new("kind", Part.Whole, "kind", CellKind.Word, "kind of trip", "", In<TripKind>()),
        new("anglers", Part.Whole, "anglers", CellKind.Number, "places booked; never public", "", "0 to 300"),
        new("capacity", Part.Whole, "capacity", CellKind.Number, "places", "", "0 to 300"),
        new("zone", Part.Whole, "zone", CellKind.Zone, "zone that it sails to", "", ByName + "zone"),
        new(
            "status",
            Part.Whole,
            "status",
            CellKind.Word,
            "whether it sails",
            "",
            In<DepartureStatus>() + "; empty means planned"
        ),
    ];

    private static readonly Column[] BaitColumns =
    [
        new("landing", Part.Whole, "landing", CellKind.Landing, "landing", "", ByName + "landing", Need.EveryRow),
        new("date", Part.Whole, "date", CellKind.Date, "day", "", Day, Need.EveryRow),
        new(
            ByLengthUnit,
            Part.Whole,
            "units/length",
            CellKind.Word,
            "unit of bait lengths",
            "",
            In<LengthUnit>() + "; empty means in"
        ),
        new("species", Part.Bait, "species", CellKind.Species, "kind of bait", "", BaitKind, Need.Bait),
        new("shortest", Part.Bait, "shortest", CellKind.Number, "shortest bait", ByLengthUnit, AboveZero),
        new("longest", Part.Bait, "longest", CellKind.Number, "longest bait", ByLengthUnit, AboveZero),
        new("condition", Part.Bait, "condition", CellKind.Word, "how the bait was", "", In<BaitCondition>()),
        new("supply", Part.Bait, "supply", CellKind.Word, "how much bait there was", "", In<BaitSupply>()),
    ];

    /// <summary>Reports, of as many rows as their catch, rigs and bait can fill.</summary>
    public static CsvFormat<ReportKey, CatchReport> Reports { get; } =
        new(
            "report",
            ReportColumns,
            KeyLength: 4,
            [new("catch", Part.Catch), new("bait", Part.Bait, SingleAsObject: true), new("rigs", Part.Rig)],
            ReportReader.MostCatchLines + ReportReader.MostRigLines + BaitReader.MostKinds,
            (key, register) =>
                new(register.Boats[key[0]].Code, register.Zones[key[1]].Code, Date(key[2]), Number(key[3])),
            (document, register, now) => ReportReader.Read(document, register, now)
        );

    /// <summary>Departures, one a row.</summary>
    public static CsvFormat<DepartureKey, Departure> Departures { get; } =
        new(
            "departure",
            DepartureColumns,
            KeyLength: 3,
            [],
            MostRows: 1,
            (key, register) => new(register.Boats[key[0]].Code, Date(key[1]), Number(key[2])),
            (document, register, _) => RegisterReader.Departure(document, register)
        );

    /// <summary>Landings' bait of the day, a row for each kind.</summary>
    public static CsvFormat<LandingDay, LandingBait> Bait { get; } =
        new(
            "day's bait",
            BaitColumns,
            KeyLength: 2,
            [new("bait", Part.Bait, SingleAsObject: true, EvenEmpty: true)],
            BaitReader.MostKinds,
            (key, register) => new(register.Landings[key[0]].Code, Date(key[1])),
            (document, register, _) => BaitReader.ReadLandingDay(document, register)
        );

    private static DateOnly Date(string text) => DateOnly.ParseExact(text, "yyyy-MM-dd", CultureInfo.InvariantCulture);

    private static int Number(string text) => int.Parse(text, CultureInfo.InvariantCulture);

    private static string In<T>()
        where T : struct, Enum => string.Join(", ", Words.Of<T>().Keys);
}
