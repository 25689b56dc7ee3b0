using System.Buffers;
using System.Globalization;
using System.Text.Json;
using Reports.Domain.Coast;

namespace Reports.Domain.Reporting.Csv;

/// <summary>One record of a file: adjacent rows of one key.</summary>
/// <param name="Line">Line of its first row.</param>
/// <param name="Key">Null where it can't be read.</param>
/// <param name="Value">Null where it has errors.</param>
/// <param name="Spoils">
/// Records before it, by their number in the file from 0, that are not whole because of it: rows of theirs may be, or are, here.
/// </param>
public sealed record CsvRecord<TKey, T>(
    int Line,
    TKey? Key,
    T? Value,
    IReadOnlyList<CsvError> Errors,
    IReadOnlyList<int> Spoils
)
    where TKey : class
    where T : class;

/// <summary>
/// Reads a CSV file record by record, in memory bounded by its longest record and the keys that it holds. Rows that follow each
/// other with the same key are one record; they are written as the JSON document that the API would have received and read by the
/// format's reader, whose pointers are turned back into lines and columns.
/// </summary>
public sealed class CsvRecords<TKey, T> : IDisposable
    where TKey : class
    where T : class
{
    private readonly CsvFormat<TKey, T> format;
    private readonly Register register;
    private readonly DateTimeOffset now;
    private readonly CsvText text;
    private readonly CellReader cells;
    private readonly List<CsvError> headerErrors = [];
    private readonly Dictionary<TKey, (int Number, int Line)> seen = [];

    /// <summary>Place of each column in a row.</summary>
    private readonly Dictionary<Column, int> places = [];
    private int width;

    /// <param name="text">The file, decoded.</param>
    /// <param name="dayFirst">Dates such as 20/11/2026 are taken, day first.</param>
    public CsvRecords(CsvFormat<TKey, T> format, TextReader text, bool dayFirst, Register register, DateTimeOffset now)
    {
        this.format = format;
        this.register = register;
        this.now = now;
        this.text = new CsvText(text);
        cells = new CellReader(this.text.Separator, dayFirst, register);
    }

    public void Dispose() => text.Dispose();

    /// <summary>
    /// The records of the file, in order; a file whose header is wrong is one record with the header's errors. To be enumerated
    /// once.
    /// </summary>
    public IEnumerable<CsvRecord<TKey, T>> Read()
    {
        ReadHeader();
        if (headerErrors.Count > 0)
        {
            yield return new(1, null, null, headerErrors, []);
            yield break;
        }

        Group? before = null;
        var group = new Group(0);
        while (NextRow() is { } row)
        {
            if (group.Rows.Count > 0 && (format.MostRows == 1 || !group.TakesIn(row)))
            {
                yield return Close(group, before);
                before = group;
                group = new Group(group.Number + 1);
            }

            if (group.Rows.Count < format.MostRows)
            {
                group.Rows.Add(row);
            }
            else if (group.Rows.Count == format.MostRows)
            {
                // One more is kept to carry the error; a file of one endless record must not fill the memory.
                row.Errors.Add(
                    new(row.Line, null, "too-many", $"A {format.Called} has at most {format.MostRows} rows.")
                );
                row.IsDamaged = true;
                group.Rows.Add(row);
            }
        }

        if (group.Rows.Count > 0)
        {
            yield return Close(group, before);
        }
    }

    private void ReadHeader()
    {
        if (NextFilled() is not { } header)
        {
            headerErrors.Add(new(1, null, "empty-file", "The file is empty; its first line must name the columns."));
            return;
        }

        if (header.Fault is { } fault)
        {
            headerErrors.Add(new(header.Line, null, fault.Code, "The header " + fault.Detail));
            return;
        }

        var byName = format.Columns.ToDictionary(c => Column.Normal(c.Name));
        width = header.Cells.Count;
        for (var i = 0; i < width; i++)
        {
            var name = header.Cells[i].Trim();
            if (Column.Normal(name).Length == 0)
            {
                continue;
            }

            if (!byName.TryGetValue(Column.Normal(name), out var column))
            {
                var near = Code.Near(Column.Normal(name), byName.Keys);
                headerErrors.Add(
                    new(
                        header.Line,
                        Shown(name),
                        "unknown-column",
                        $"\"{Shown(name)}\" is not a column here. "
                            + (
                                near.Count > 0
                                    ? $"Did you mean \"{byName[near[0]].Name}\"?"
                                    : "Rename it to one that docs/csv.md lists, or delete it."
                            )
                    )
                );
            }
            else if (!places.TryAdd(column, i))
            {
                headerErrors.Add(
                    new(header.Line, column.Name, "duplicate-column", $"\"{column.Name}\" is there twice; keep one.")
                );
            }
        }

        headerErrors.AddRange(
            format
                .Required.Where(c => !places.ContainsKey(c))
                .Select(c => new CsvError(
                    header.Line,
                    c.Name,
                    "missing-column",
                    $"The column \"{c.Name}\" is required: {c.Meaning}."
                ))
        );
    }

    private CsvRow? NextFilled()
    {
        while (text.Next() is { } row)
        {
            if (!row.IsBlank)
            {
                return row;
            }
        }

        return null;
    }

    /// <summary>The next row that is not blank, its cells read.</summary>
    private Row? NextRow()
    {
        if (NextFilled() is not { } raw)
        {
            return null;
        }

        var row = new Row(raw.Line);
        if (raw.Fault is { } fault)
        {
            row.Errors.Add(new(raw.Line, NameAt(fault.Cell), fault.Code, "The cell " + fault.Detail));
        }
        else if (raw.Cells.Count < width || raw.Cells.Skip(width).Any(c => !CellReader.IsEmpty(c)))
        {
            row.Errors.Add(
                new(
                    raw.Line,
                    null,
                    "ragged-row",
                    $"The row has {raw.Cells.Count} cells where the header has {width}; a separator or a quote is missing or too many."
                )
            );
        }
        else if (Unnamed(raw) is { } place)
        {
            row.Errors.Add(
                new(raw.Line, null, "unnamed-column", $"Cell {place + 1} is filled and its column has no name.")
            );
        }

        // Of a damaged row only the key is read, to know which record it spoils.
        row.IsDamaged = row.Errors.Count > 0;
        foreach (var (column, i) in places)
        {
            if (
                i >= raw.Cells.Count
                || CellReader.IsEmpty(raw.Cells[i])
                || (row.IsDamaged && !format.Key.Contains(column))
            )
            {
                continue;
            }

            if (cells.Read(raw.Cells[i], column, out var wrong) is { } value)
            {
                row.Values[column] = value;
            }
            else if (!row.IsDamaged)
            {
                row.Errors.Add(new(raw.Line, column.Name, wrong.Code, wrong.Detail));
                row.Wrong.Add(column);
            }
        }

        var parts = format.Key.Select(c => (Column: c, Text: KeyPart(row, c))).ToList();
        var unsure = row.IsDamaged || parts.Any(p => p.Column.Need == Need.EveryRow && p.Text is null);

        // No sailing means the first only where the cells are known to be where they belong.
        row.KeyParts =
        [
            .. parts.Select(p =>
                unsure && p.Column.Need == Need.None && !row.Values.ContainsKey(p.Column) ? null : p.Text
            ),
        ];
        row.Key = row.KeyParts.All(p => p is not null) ? format.KeyOf(row.KeyParts!, register) : null;
        return row;
    }

    private int? Unnamed(CsvRow raw)
    {
        for (var i = 0; i < width && places.Count < width; i++)
        {
            if (!CellReader.IsEmpty(raw.Cells[i]) && !places.ContainsValue(i))
            {
                return i;
            }
        }

        return null;
    }

    private string? NameAt(int place) => places.Where(p => p.Value == place).Select(p => p.Key.Name).FirstOrDefault();

    /// <summary>What a row says of its key: null where that can't be read.</summary>
    private string? KeyPart(Row row, Column column)
    {
        if (row.Values.TryGetValue(column, out var value))
        {
            var isKnown = column.Kind switch
            {
                CellKind.Boat => register.Boats.ContainsKey(value.Text),
                CellKind.Landing => register.Landings.ContainsKey(value.Text),
                CellKind.Zone => register.Zones.ContainsKey(value.Text),
                CellKind.Date => DateOnly.TryParseExact(
                    value.Text,
                    "yyyy-MM-dd",
                    CultureInfo.InvariantCulture,
                    DateTimeStyles.None,
                    out _
                ),
                _ => value.Text is [>= '1' and <= '9'],
            };
            return isKnown ? value.Text : null;
        }

        return column.Need == Need.None && row.Errors.All(e => e.Column != column.Name) ? "1" : null;
    }

    private CsvRecord<TKey, T> Close(Group group, Group? before)
    {
        var errors = group.Rows.SelectMany(r => r.Errors).ToList();
        var spoils = new List<int>();
        if (format.MostRows > 1 && before is not null && group.MayBelongTo(before))
        {
            var (unread, whole) = group.HasKey ? (before, group) : (group, before);
            errors.Add(
                new(
                    whole.Line,
                    null,
                    "unsure-rows",
                    $"The row on line {unread.Line} may belong to this {format.Called}, so neither is stored; correct that row first."
                )
            );
            spoils.Add(before.Number);
        }

        var value = Build(group, errors);
        if (group.Key is { } key && !seen.TryAdd(key, (group.Number, group.Line)))
        {
            var first = seen[key];
            errors.Add(new(group.Line, null, format.MostRows > 1 ? "rows-apart" : "duplicate-row", Twice(first.Line)));
            spoils.Add(first.Number);
        }

        return new(group.Line, group.Key, errors.Count == 0 ? value : null, errors, spoils);
    }

    private string Twice(int line)
    {
        var key = format.Key.Select(c => c.Name).ToList();
        return $"The {format.Called} of line {line} has the same {string.Join(", ", key[..^1])} and {key[^1]}. "
            + (format.MostRows > 1 ? "Bring its rows together" : "Keep one of them")
            + (key.Contains("sailing") ? ", or give the second sailing its number." : ".");
    }

    private T? Build(Group group, List<CsvError> errors)
    {
        var rows = group.Rows.Where(r => !r.IsDamaged).ToList();
        if (rows.Count == 0)
        {
            return null;
        }

        var origin = new Dictionary<Column, int>();
        var whole = Whole(rows, origin, errors);
        var lists = format.Lists.ToDictionary(l => l.Name, l => rows.Where(r => r.IsOf(l.Part)).ToList());
        var buffer = new ArrayBufferWriter<byte>(1024);
        using (var json = new Utf8JsonWriter(buffer))
        {
            json.WriteStartObject();
            Write(json, whole, Part.Whole);
            foreach (var list in format.Lists)
            {
                Write(json, list, lists[list.Name]);
            }

            json.WriteEndObject();
        }

        using var document = JsonDocument.Parse(buffer.WrittenMemory);
        var reading = format.Read(document.RootElement, register, now);
        foreach (var error in reading.Errors)
        {
            var (line, column) = Place(error.Pointer);
            var isKey = column is not null && format.Key.Contains(column);
            // Of a cell that could not be read the reader only knows that it is missing; and a row that may belong to another
            // report need not be a whole one.
            if (
                !errors.Any(e => e.Line == line && e.Column == column?.Name)
                && (group.HasKey || isKey || error.Code != "required")
            )
            {
                var detail =
                    isKey && error.Code == "required" ? $"\"{column!.Name}\" is required on every row." : error.Detail;
                errors.Add(new(line, column?.Name, error.Code, detail));
            }
        }

        return reading.Value;

        (int Line, Column? Column) Place(string pointer)
        {
            var steps = pointer.Split('/', StringSplitOptions.RemoveEmptyEntries);
            var list = format.Lists.FirstOrDefault(l => l.Name == steps.FirstOrDefault());
            var part = list?.Part ?? Part.Whole;
            var of = list is null ? rows : lists[list.Name];
            var inPart = list is null ? steps : steps.Skip(1).ToArray();
            var index = 0;
            if (list is not null && inPart.Length > 0 && int.TryParse(inPart[0], out index))
            {
                inPart = inPart[1..];
            }

            var column = ColumnAt(part, string.Join('/', inPart));
            var row = index < of.Count ? of[index] : rows[0];
            return (
                part == Part.Whole && column is not null ? origin.GetValueOrDefault(column, rows[0].Line) : row.Line,
                column
            );
        }
    }

    /// <summary>The record's own cells: each from the first row that has it; every other row must say the same or nothing.</summary>
    private Dictionary<Column, CellValue> Whole(
        IReadOnlyList<Row> rows,
        Dictionary<Column, int> origin,
        List<CsvError> errors
    )
    {
        var whole = new Dictionary<Column, CellValue>();
        foreach (var row in rows)
        {
            foreach (var (column, value) in row.Values.Where(v => v.Key.Part == Part.Whole))
            {
                if (whole.TryAdd(column, value))
                {
                    origin[column] = row.Line;
                }
                else if (whole[column] != value)
                {
                    errors.Add(
                        new(
                            row.Line,
                            column.Name,
                            "contradicts",
                            $"\"{Shown(value.Text)}\" contradicts \"{Shown(whole[column].Text)}\" on line {origin[column]} of the same {format.Called}; leave it empty or make it the same."
                        )
                    );
                }
            }
        }

        // An error on a record's own cell is where that cell is, not on the first row.
        foreach (var error in rows.SelectMany(r => r.Errors).Where(e => e.Column is not null))
        {
            origin.TryAdd(format.Of(error.Column!), error.Line);
        }

        return whole;
    }

    private static void Write(Utf8JsonWriter json, CsvList list, IReadOnlyList<Row> rows)
    {
        if (rows.Count == 0 && !list.EvenEmpty)
        {
            return;
        }

        var single = list.SingleAsObject && rows.Count == 1;
        json.WritePropertyName(list.Name);
        if (!single)
        {
            json.WriteStartArray();
        }

        foreach (var row in rows)
        {
            json.WriteStartObject();
            Write(json, row.Values, list.Part);
            json.WriteEndObject();
        }

        if (!single)
        {
            json.WriteEndArray();
        }
    }

    /// <summary>Writes the cells of one part, those of an inner object (units, signs, leader, hook) inside it.</summary>
    private static void Write(Utf8JsonWriter json, Dictionary<Column, CellValue> values, Part part)
    {
        var own = values.Where(v =>
            v.Key.Part == part || (v.Key.Part == Part.Species && part is Part.Catch or Part.Rig)
        );
        foreach (var inner in own.GroupBy(v => v.Key.Field.Contains('/') ? v.Key.Field.Split('/')[0] : ""))
        {
            if (inner.Key.Length > 0)
            {
                json.WriteStartObject(inner.Key);
            }

            foreach (var (column, value) in inner)
            {
                value.WriteTo(json, column.Field[(column.Field.IndexOf('/') + 1)..]);
            }

            if (inner.Key.Length > 0)
            {
                json.WriteEndObject();
            }
        }
    }

    /// <summary>The column of a field; of a whole list or inner object the first of its columns.</summary>
    private Column? ColumnAt(Part part, string field)
    {
        bool In(Column c) => c.Part == part || (c.Part == Part.Species && part is Part.Catch or Part.Rig);
        return field.Length == 0 && part == Part.Whole
            ? null
            : format.Columns.FirstOrDefault(c => In(c) && c.Field == field)
                ?? format.Columns.FirstOrDefault(c =>
                    In(c) && c.Part != Part.Species && c.Field.StartsWith(field, StringComparison.Ordinal)
                );
    }

    private static string Shown(string text) => text.Length > 40 ? text[..40] + "..." : text;

    /// <summary>A row whose cells have been read.</summary>
    private sealed class Row(int line)
    {
        public int Line { get; } = line;
        public List<CsvError> Errors { get; } = [];
        public Dictionary<Column, CellValue> Values { get; } = [];

        /// <summary>Columns whose cells could not be read.</summary>
        public List<Column> Wrong { get; } = [];

        /// <summary>The row is no row of the header's columns: only its key, as far as it can be told, has been read.</summary>
        public bool IsDamaged { get; set; }

        /// <summary>The cells of the key; null for what can't be read.</summary>
        public IReadOnlyList<string?> KeyParts { get; set; } = [];

        /// <summary>The record that the row belongs to; null where it can't be told.</summary>
        public TKey? Key { get; set; }

        /// <summary>
        /// True for a row with cells of a part. A species without a rig is a catch line, even where its counts are missing.
        /// </summary>
        public bool IsOf(Part part) => Has(part) || (part == Part.Catch && Has(Part.Species) && !Has(Part.Rig));

        private bool Has(Part part) => Values.Keys.Any(c => c.Part == part) || Wrong.Any(c => c.Part == part);

        /// <summary>Every part of the key that both can tell is the same.</summary>
        public bool MayShareKeyWith(Row other) =>
            KeyParts.Zip(other.KeyParts).All(k => k.First is null || k.Second is null || k.First == k.Second);
    }

    /// <summary>Rows of one record, and its number in the file.</summary>
    private sealed class Group(int number)
    {
        public int Number { get; } = number;
        public List<Row> Rows { get; } = [];
        public int Line => Rows[0].Line;
        public TKey? Key => Rows[0].Key;
        public bool HasKey => Key is not null;

        public bool TakesIn(Row row) => Key is { } key && key.Equals(row.Key);

        /// <summary>One of two neighbours can't tell its whole key, and what it tells is the other's.</summary>
        public bool MayBelongTo(Group before) => HasKey != before.HasKey && Rows[0].MayShareKeyWith(before.Rows[^1]);
    }
}
