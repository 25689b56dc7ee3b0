using System.Buffers;
using System.Text;
using System.Text.Json;

namespace Reports.Domain.Reporting.Csv;

/// <summary>
/// Writes stored records as CSV (RFC 4180, comma, CRLF) that <see cref="CsvRecords{TKey, T}"/> reads back to equal records. A
/// record's own cells stand on its first row only, so that a spreadsheet's sums count them once.
/// </summary>
public static class CsvExport
{
    private static readonly SearchValues<char> Quotable = SearchValues.Create(",;\"\r\n\t");

    /// <summary>The line that names the columns.</summary>
    public static string Header(CsvFormat format) => string.Join(',', format.Columns.Select(c => c.Name)) + "\r\n";

    /// <summary>The rows of one record.</summary>
    /// <param name="body">The record as it is stored and answered, its key with it.</param>
    public static string Rows(CsvFormat format, string body)
    {
        using var document = JsonDocument.Parse(body);
        var whole = document.RootElement;
        var lines = List(whole, "catch");
        var bait = List(whole, "bait");
        var rows = new List<(JsonElement? Line, JsonElement? Rig)>();
        var rigs = new Queue<JsonElement>(List(whole, "rigs"));
        foreach (var line in lines)
        {
            // A rig stands beside its species as long as that keeps the rigs in their order.
            var species = line.GetProperty("species").GetString();
            bool Fits() => rigs.TryPeek(out var rig) && rig.GetProperty("species").GetString() == species;
            rows.Add((line, Fits() ? rigs.Dequeue() : null));
            while (Fits())
            {
                rows.Add((null, rigs.Dequeue()));
            }
        }

        rows.AddRange(rigs.Select(rig => ((JsonElement?)null, (JsonElement?)rig)));
        var text = new StringBuilder();
        for (var i = 0; i < Math.Max(1, Math.Max(rows.Count, bait.Count)); i++)
        {
            var (line, rig) = i < rows.Count ? rows[i] : (null, null);
            for (var c = 0; c < format.Columns.Count; c++)
            {
                var column = format.Columns[c];
                var owner = column.Part switch
                {
                    Part.Whole => i == 0 || c < format.KeyLength ? whole : (JsonElement?)null,
                    Part.Species => line ?? rig,
                    Part.Catch => line,
                    Part.Bait => i < bait.Count ? bait[i] : null,
                    _ => rig,
                };
                text.Append(c == 0 ? "" : ",").Append(owner is { } of ? Cell(of, column) : "");
            }

            text.Append("\r\n");
        }

        return text.ToString();
    }

    private static IReadOnlyList<JsonElement> List(JsonElement whole, string name) =>
        !whole.TryGetProperty(name, out var value) ? []
        : value.ValueKind == JsonValueKind.Array ? [.. value.EnumerateArray()]
        : [value];

    private static string Cell(JsonElement owner, Column column)
    {
        var value = owner;
        foreach (var step in column.Field.Split('/'))
        {
            if (!value.TryGetProperty(step, out value))
            {
                return "";
            }
        }

        if (value.ValueKind != JsonValueKind.String)
        {
            return value.GetRawText();
        }

        // 2/0 would come back from a spreadsheet as a date; #2/0 stays the text that it is.
        var text = value.GetString()!;
        return Quoted(column.Kind == CellKind.HookSize ? "#" + text : FormulaGuard.Put(text));
    }

    private static string Quoted(string text) =>
        text.AsSpan().IndexOfAny(Quotable) >= 0 || text != text.Trim()
            ? "\"" + text.Replace("\"", "\"\"", StringComparison.Ordinal) + "\""
            : text;
}
