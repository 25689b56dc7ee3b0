namespace Reports.Domain.Reporting.Csv;

/// <summary>
/// One wrong cell, or one wrong row (no column): the line of the file on which the row begins, the column by its name, a code
/// that software can act on, and a sentence that says what is accepted.
/// </summary>
/// <param name="Line">1 is the header's.</param>
public sealed record CsvError(int Line, string? Column, string Code, string Detail);
