using System.Globalization;
using System.Text.Json;
using System.Text.RegularExpressions;
using Reports.Domain.Coast;

namespace Reports.Domain.Reporting.Csv;

/// <summary>The JSON value that a cell stands for.</summary>
internal readonly record struct CellValue(JsonValueKind Kind, string Text)
{
    public void WriteTo(Utf8JsonWriter json, string name)
    {
        switch (Kind)
        {
            case JsonValueKind.Number:
                json.WritePropertyName(name);
                json.WriteRawValue(Text);
                break;
            case JsonValueKind.True or JsonValueKind.False:
                json.WriteBoolean(name, Kind == JsonValueKind.True);
                break;
            default:
                json.WriteString(name, Text);
                break;
        }
    }
}

/// <summary>
/// Reads a cell as people and spreadsheets write it. It only turns text into JSON values; whether a value is allowed is for
/// the document's reader to say. What could mean two things is refused, never guessed.
/// </summary>
internal sealed partial class CellReader(char separator, bool dayFirst, Register register)
{
    private readonly ILookup<string, string> landings = ByName(register.Landings.Values.Select(l => (l.Name, l.Code)));
    private readonly ILookup<string, string> boats = ByName(register.Boats.Values.Select(b => (b.Name, b.Code)));
    private readonly ILookup<string, string> zones = ByName(register.Zones.Values.Select(z => (z.Name, z.Code)));
    private readonly ILookup<string, string> species = ByName(register.Species.Values.Select(s => (s.Name, s.Code)));

    /// <summary>True for a cell that holds nothing.</summary>
    public static bool IsEmpty(string cell) => string.IsNullOrWhiteSpace(cell) || cell.Trim() == "'";

    /// <summary>The value of a cell that is not empty, or why there is none.</summary>
    public CellValue? Read(string cell, Column column, out (string Code, string Detail) fault)
    {
        fault = default;
        if (column.Kind == CellKind.Text)
        {
            return String(FormulaGuard.Take(cell));
        }

        // Trim takes the no-break spaces too; the apostrophe is how spreadsheets mark a cell as text.
        var text = cell.Trim();
        text = text is ['\'', ..] ? text[1..].Trim() : text;
        if (SpreadsheetError().IsMatch(text))
        {
            fault = (
                "spreadsheet-error",
                $"\"{Shown(text)}\" is a spreadsheet's error; mend the formula, or clear the cell."
            );
            return null;
        }

        return column.Kind switch
        {
            CellKind.Landing => Code(text, register.Landings.ContainsKey, landings, Slug),
            CellKind.Boat => Code(text, register.Boats.ContainsKey, boats, Slug),
            CellKind.Zone => Code(text, register.Zones.ContainsKey, zones, Slug),
            CellKind.Species => Code(text, register.Species.ContainsKey, species, t => t.ToUpperInvariant()),
            CellKind.Date => Date(text, out fault),
            CellKind.Number => Number(text, out fault),
            CellKind.NumberOrWord => char.IsAsciiDigit(text[0]) || text[0] is '-' or '+'
                ? Number(text, out fault)
                : String(text),
            CellKind.Flag => Flag(text, out fault),
            CellKind.HookSize => Hook(text, out fault),
            _ => String(text),
        };
    }

    private static CellValue String(string text) => new(JsonValueKind.String, text);

    private static ILookup<string, string> ByName(IEnumerable<(string Name, string Code)> known) =>
        known.ToLookup(k => k.Name, k => k.Code, StringComparer.OrdinalIgnoreCase);

    private static string Slug(string text) => text.ToLowerInvariant().Replace(' ', '-');

    // The code as given, else the code in its usual writing, else the one thing of that name.
    private static CellValue Code(
        string text,
        Func<string, bool> isKnown,
        ILookup<string, string> byName,
        Func<string, string> usual
    ) =>
        String(
            isKnown(text) ? text
            : isKnown(usual(text)) ? usual(text)
            : byName[text].Count() == 1 ? byName[text].Single()
            : text
        );

    private CellValue? Date(string text, out (string Code, string Detail) fault)
    {
        fault = default;
        var day = Midnight().Replace(text, "");
        if (IsoDate().IsMatch(day))
        {
            // A day that does not exist, such as 2026-02-30, is told by the reader.
            return String(day);
        }

        if (dayFirst && DayFirst().Match(day) is { Success: true } match)
        {
            var (d, m) = (Part(match, "d"), Part(match, "m"));
            if (
                DateOnly.TryParseExact(
                    $"{Part(match, "y"):0000}-{m:00}-{d:00}",
                    "yyyy-MM-dd",
                    CultureInfo.InvariantCulture,
                    DateTimeStyles.None,
                    out var date
                )
            )
            {
                return String(date.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture));
            }

            fault = (
                "not-a-date",
                $"\"{Shown(text)}\" is no day when the day comes first: there is no day {d} of month {m}."
            );
            return null;
        }

        fault = SerialDate().IsMatch(day)
            ? (
                "not-a-date",
                $"\"{Shown(text)}\" is a spreadsheet's day number; format the column as a date, year-month-day."
            )
            : (
                "not-a-date",
                dayFirst
                    ? $"\"{Shown(text)}\" must be a date: 2026-11-20, or 20/11/2026 with the year in four digits."
                    : $"\"{Shown(text)}\" must be an ISO 8601 date, such as 2026-11-20. Dates such as 20/11/2026 are taken where the import is told that the day comes first; the month first is never taken. In a spreadsheet, format the column as year-month-day."
            );
        return null;

        static int Part(Match match, string name) => int.Parse(match.Groups[name].Value, CultureInfo.InvariantCulture);
    }

    /// <summary>
    /// A number by the custom of the file: between commas the mark is a point; between semicolons or tabs it may be a comma. A
    /// number that is another one with thousands separators is refused where the file can't tell which.
    /// </summary>
    private CellValue? Number(string text, out (string Code, string Detail) fault)
    {
        fault = default;
        var plain = Grouped().IsMatch(text) ? Blank().Replace(text, "") : text;
        if (separator == ',')
        {
            plain = Commas().IsMatch(plain) ? plain.Replace(",", "", StringComparison.Ordinal) : plain;
            if (plain.Contains(',', StringComparison.Ordinal))
            {
                fault = (
                    "not-a-number",
                    $"\"{Shown(text)}\" has a decimal comma in a file whose separator is the comma; write a point, or save the file with semicolons."
                );
                return null;
            }
        }
        else if (EitherWay().IsMatch(plain))
        {
            fault = (
                "ambiguous-number",
                $"\"{Shown(text)}\" may be {plain[..^4]}{plain[^3..]} or a decimal; write it without thousands separators, or with another number of decimals."
            );
            return null;
        }
        else if (Points().IsMatch(plain))
        {
            plain = plain.Replace(".", "", StringComparison.Ordinal).Replace(',', '.');
        }
        else
        {
            plain = Commas().IsMatch(plain)
                ? plain.Replace(",", "", StringComparison.Ordinal)
                : plain.Replace(',', '.');
        }

        if (
            decimal.TryParse(
                plain,
                NumberStyles.AllowLeadingSign | NumberStyles.AllowDecimalPoint,
                CultureInfo.InvariantCulture,
                out var number
            )
        )
        {
            // Without trailing zeros: 20 and 20.0 are the same cell.
            return new(
                JsonValueKind.Number,
                (number / 1.0000000000000000000000000000m).ToString(CultureInfo.InvariantCulture)
            );
        }

        fault = ("not-a-number", $"\"{Shown(text)}\" must be a number, without a unit.");
        return null;
    }

    private static CellValue? Flag(string text, out (string Code, string Detail) fault)
    {
        fault = default;
        switch (text.ToLowerInvariant())
        {
            case "true" or "yes" or "y" or "1":
                return new(JsonValueKind.True, "true");
            case "false" or "no" or "n" or "0":
                return new(JsonValueKind.False, "false");
            default:
                fault = ("not-a-flag", $"\"{Shown(text)}\" must be one of true, false, yes, no, 1, 0.");
                return null;
        }
    }

    private static CellValue? Hook(string text, out (string Code, string Detail) fault)
    {
        fault = default;
        if (!MangledHook().IsMatch(text))
        {
            return String(text);
        }

        fault = (
            "mangled-hook-size",
            $"\"{Shown(text)}\" is what a spreadsheet makes of a hook size such as 2/0: it took it for a date or a number. Format the column as text and write the size anew, as #2/0 (or #2)."
        );
        return null;
    }

    private static string Shown(string text) => text.Length > 40 ? text[..40] + "..." : text;

    [GeneratedRegex(@"^(#+|#[A-Z_/0]+[!?]|#N/A|Err:\d+)\z", RegexOptions.IgnoreCase | RegexOptions.CultureInvariant)]
    private static partial Regex SpreadsheetError();

    [GeneratedRegex(@"^\d{4}-\d{2}-\d{2}\z")]
    private static partial Regex IsoDate();

    [GeneratedRegex(@"[T ]0?0:00(:00(\.0+)?)?\z")]
    private static partial Regex Midnight();

    [GeneratedRegex(@"^(?<d>\d{1,2})[/.-](?<m>\d{1,2})[/.-](?<y>\d{4})\z")]
    private static partial Regex DayFirst();

    [GeneratedRegex(@"^[34]\d{4}(\.0+)?\z")]
    private static partial Regex SerialDate();

    // 1 250, with any kind of space, and 1'250.
    [GeneratedRegex(@"^[+-]?\d{1,3}([\s'’]\d{3})+([.,]\d+)?\z")]
    private static partial Regex Grouped();

    [GeneratedRegex(@"[\s'’]")]
    private static partial Regex Blank();

    // 1,250 and 1,250.5
    [GeneratedRegex(@"^[+-]?[1-9]\d{0,2}(,\d{3})+(\.\d+)?\z")]
    private static partial Regex Commas();

    // 1.250.000 and 1.250,5
    [GeneratedRegex(@"^[+-]?[1-9]\d{0,2}(\.\d{3})+,\d+\z|^[+-]?[1-9]\d{0,2}(\.\d{3}){2,}\z")]
    private static partial Regex Points();

    // 1,250 and 1.250 alike
    [GeneratedRegex(@"^[+-]?[1-9]\d{0,2}[.,]\d{3}\z")]
    private static partial Regex EitherWay();

    // Feb-00, 2-Feb, 2-Feb-2026, 01/02/1900, 2000-02-01, 2.0, 36557: what is left of 2/0, 2-0 or 1/2.
    [GeneratedRegex(
        @"^(\d{1,2}[- ./])?[^\W\d_]{3,9}\.?[- ./]\d{1,4}\z|^\d{1,2}[- ./][^\W\d_]{3,9}\.?\z|^\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}( .*)?\z|^\d+[.,]\d+\z|^\d{4,6}\z",
        RegexOptions.CultureInvariant
    )]
    private static partial Regex MangledHook();
}
