using Reports.Domain.Measures;

namespace Reports.Domain.Reporting.Csv;

/// <summary>What a column speaks of.</summary>
public enum Part
{
    /// <summary>The whole record: given on its first row, left out or repeated on the others.</summary>
    Whole,

    /// <summary>The species of a row, of its catch line and of its rig line.</summary>
    Species,
    Catch,
    Bait,
    Rig,
}

/// <summary>How a cell is read.</summary>
public enum CellKind
{
    Landing,
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
/// One column of a CSV file: a field of the JSON document under a flat name. A format's columns are a table of docs/csv.md, the
/// header of an export, and what an import looks for.
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
    /// <summary>A name as it is compared: letters and digits only, any case.</summary>
    public static string Normal(string name) => string.Concat(name.Where(char.IsLetterOrDigit)).ToLowerInvariant();
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
