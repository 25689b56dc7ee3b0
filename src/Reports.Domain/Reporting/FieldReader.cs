using System.Buffers;
using System.Globalization;
using System.Runtime.CompilerServices;
using System.Runtime.InteropServices;
using System.Text.Json;

namespace Reports.Domain.Reporting;

/// <summary>
/// Reads one JSON object field by field and collects every fault with its pointer, so that one answer names all wrong fields:
/// missing, of the wrong JSON type, out of range, unknown, or given twice. Call <see cref="RefuseUnknown"/> when done.
/// </summary>
public sealed class FieldReader
{
    /// <summary>Unknown fields of one object that are named; a body of nothing else must not make an answer larger than itself.</summary>
    private const int MostUnknown = 50;

    private static readonly SearchValues<char> Controls = SearchValues.Create([
        .. Enumerable
            .Range(0, char.MaxValue + 1)
            .Select(c => (char)c)
            .Where(c => char.IsControl(c) && c is not ('\n' or '\r' or '\t')),
    ]);

    private readonly Dictionary<string, Field> fields;

    /// <summary>What was asked for, in that order; some of it perhaps twice.</summary>
    private readonly List<string> known = new(16);
    private readonly List<FieldError> errors;

    /// <summary>How many of the fields were asked for.</summary>
    private int asked;

    private FieldReader(JsonElement element, string pointer, List<FieldError> errors)
    {
        Pointer = pointer;
        this.errors = errors;
        fields = new(element.GetPropertyCount(), StringComparer.Ordinal);
        foreach (var property in element.EnumerateObject())
        {
            if (!TryName(property, out var name))
            {
                // No pointer can spell it: the object that holds it is named instead.
                errors.Add(
                    new FieldError(pointer, "malformed-field", "the name of a field must be valid Unicode text.")
                );
            }
            else if (!fields.TryAdd(name, new Field(property.Value)))
            {
                Refuse(name, "duplicate-field", $"\"{Shown(name)}\" is given twice; give it once.");
            }
        }
    }

    public string Pointer { get; }

    public IReadOnlyList<FieldError> Errors => errors;

    public bool HasErrors => errors.Count > 0;

    /// <summary>A reader of the document, or null (with the error noted) when it is not an object.</summary>
    public static FieldReader? Open(JsonElement element, string pointer, List<FieldError> errors)
    {
        if (element.ValueKind == JsonValueKind.Object)
        {
            return new FieldReader(element, pointer, errors);
        }

        errors.Add(new FieldError(pointer, "wrong-type", $"must be a JSON object, not {Kind(element)}."));
        return null;
    }

    public bool Has(string name) =>
        fields.TryGetValue(name, out var field) && field.Value.ValueKind != JsonValueKind.Null;

    public void Refuse(string name, string code, string detail) => errors.Add(new FieldError(At(name), code, detail));

    /// <summary>Pointer of a member of this object (RFC 6901 escapes).</summary>
    public string At(string name) =>
        $"{Pointer}/{name.Replace("~", "~0", StringComparison.Ordinal).Replace("/", "~1", StringComparison.Ordinal)}";

    /// <summary>Names fields that may be present and are not read, such as a report's id in a PUT.</summary>
    public void Ignore(params string[] names)
    {
        foreach (var name in names)
        {
            Take(name, false, out _);
        }
    }

    /// <summary>Refuses what no call asked for, by name, and says what is known.</summary>
    public void RefuseUnknown()
    {
        if (asked == fields.Count)
        {
            return;
        }

        var unknown = fields.Where(f => !f.Value.Asked).Select(f => f.Key).ToList();
        var names = known.Distinct(StringComparer.Ordinal).Order(StringComparer.Ordinal).ToList();
        foreach (var name in unknown.Take(MostUnknown))
        {
            var near = Coast.Code.Near(name, names);
            Refuse(
                name,
                "unknown-field",
                near.Count > 0
                    ? $"\"{Shown(name)}\" is not a field here. Did you mean \"{near[0]}\"?"
                    : $"\"{Shown(name)}\" is not a field here. Known: {string.Join(", ", names)}."
            );
        }

        if (unknown.Count > MostUnknown)
        {
            errors.Add(
                new FieldError(
                    Pointer,
                    "unknown-field",
                    $"{unknown.Count - MostUnknown} more fields are not known here."
                )
            );
        }
    }

    public string? Text(string name, int maxLength, bool required = false)
    {
        if (!Take(name, required, out var value) || !OfType(name, value, JsonValueKind.String, "text"))
        {
            return null;
        }

        if (!TryString(value, out var text))
        {
            Refuse(name, "malformed-text", "must be valid Unicode text.");
            return null;
        }

        if (text.Length > maxLength)
        {
            Refuse(name, "too-long", $"must be at most {maxLength} characters; this has {text.Length}.");
            return null;
        }

        if (text.AsSpan().ContainsAny(Controls))
        {
            Refuse(name, "malformed-text", "must not hold control characters.");
            return null;
        }

        if (required && string.IsNullOrWhiteSpace(text))
        {
            Refuse(name, "required", "must not be empty.");
            return null;
        }

        return text;
    }

    public bool? Flag(string name)
    {
        if (!Take(name, false, out var value))
        {
            return null;
        }

        if (value.ValueKind is JsonValueKind.True or JsonValueKind.False)
        {
            return value.GetBoolean();
        }

        Refuse(name, "wrong-type", $"must be true or false, not {Kind(value)}.");
        return null;
    }

    /// <summary>A whole number from <paramref name="least"/> to <paramref name="most"/>, both inclusive.</summary>
    public int? Whole(string name, int least, int most, bool required = false, string? negativeCode = null)
    {
        if (!Take(name, required, out var value) || !OfType(name, value, JsonValueKind.Number, "a whole number"))
        {
            return null;
        }

        string Accepted() => $"must be a whole number from {N(least)} to {N(most)}";
        if (!value.TryGetDecimal(out var number) || number != decimal.Truncate(number))
        {
            Refuse(name, "not-whole", $"{Accepted()}; this is {Shown(value.GetRawText())}.");
            return null;
        }

        if (number < least || number > most)
        {
            Refuse(
                name,
                number < 0 && negativeCode is not null ? negativeCode : "out-of-range",
                $"{Accepted()}; this is {Shown(value.GetRawText())}."
            );
            return null;
        }

        return (int)number;
    }

    /// <summary>A count: a whole number, not negative.</summary>
    public int? Count(string name, int most, bool required = false) => Whole(name, 0, most, required, "negative-count");

    /// <summary>
    /// A number above <paramref name="least"/> (or from it, when <paramref name="inclusive"/>) and at most
    /// <paramref name="most"/>, with at most 6 decimals.
    /// </summary>
    public decimal? Number(
        string name,
        decimal least,
        decimal most,
        string unit,
        bool required = false,
        bool inclusive = false
    )
    {
        if (!Take(name, required, out var value) || !OfType(name, value, JsonValueKind.Number, "a number"))
        {
            return null;
        }

        string Accepted() =>
            (
                inclusive
                    ? $"must be a number from {N(least)} to {N(most)}"
                    : $"must be a number above {N(least)} and at most {N(most)}"
            ) + (unit.Length > 0 ? " " + unit : "");
        if (!value.TryGetDecimal(out var number) || number < least || number > most || (number == least && !inclusive))
        {
            Refuse(name, "out-of-range", $"{Accepted()}; this is {Shown(value.GetRawText())}.");
            return null;
        }

        if (decimal.Round(number, 6) != number)
        {
            Refuse(name, "too-precise", $"{Accepted()}, with at most 6 decimals.");
            return null;
        }

        return number;
    }

    /// <summary>One of a fixed set of words; case and a space for a hyphen are forgiven.</summary>
    public T? Word<T>(string name, IReadOnlyDictionary<string, T> words, bool required = false)
        where T : struct
    {
        if (!Take(name, required, out var value) || !OfType(name, value, JsonValueKind.String, "text"))
        {
            return null;
        }

        if (
            TryString(value, out var text)
            && (words.TryGetValue(text, out var found) || words.TryGetValue(Normal(text), out found))
        )
        {
            return found;
        }

        Refuse(name, "unknown-word", $"must be one of {string.Join(", ", words.Keys)}.");
        return null;
    }

    /// <summary>A code that must be among the known ones; a near miss is answered with what was probably meant.</summary>
    /// <param name="known">The keys of a dictionary, which looks one up without a scan.</param>
    public string? Code(string name, string called, IEnumerable<string> known, bool required = false)
    {
        var code = Text(name, 100, required);
        if (code is null || known.Contains(code))
        {
            return code;
        }

        var near = Coast.Code.Near(code, known);
        Refuse(
            name,
            $"unknown-{called}",
            near.Count > 0
                ? $"no {called} has the code \"{code}\". Did you mean {string.Join(" or ", near.Select(n => $"\"{n}\""))}?"
                : $"no {called} has the code \"{code}\"."
        );
        return null;
    }

    public DateOnly? Date(string name, bool required = false)
    {
        if (!Take(name, required, out var value) || !OfType(name, value, JsonValueKind.String, "text"))
        {
            return null;
        }

        if (
            TryString(value, out var text)
            && DateOnly.TryParseExact(
                text,
                "yyyy-MM-dd",
                CultureInfo.InvariantCulture,
                DateTimeStyles.None,
                out var date
            )
        )
        {
            return date;
        }

        Refuse(name, "not-a-date", "must be an ISO 8601 date, year-month-day, such as \"2026-11-20\".");
        return null;
    }

    /// <summary>A member object, or null; a wrong type is noted.</summary>
    public FieldReader? Object(string name, bool required = false) =>
        Take(name, required, out var value) ? Open(value, At(name), errors) : null;

    /// <summary>Any JSON value, untouched.</summary>
    public JsonElement? Raw(string name, bool required = false) => Take(name, required, out var value) ? value : null;

    /// <summary>The objects of an array, each with its own pointer; entries of the wrong type are noted and left out.</summary>
    public IReadOnlyList<FieldReader> Objects(string name, int most, bool required = false)
    {
        if (!Take(name, required, out var value))
        {
            return [];
        }

        if (value.ValueKind != JsonValueKind.Array)
        {
            Refuse(name, "wrong-type", $"must be a list of objects, not {Kind(value)}.");
            return [];
        }

        if (required && value.GetArrayLength() == 0)
        {
            Refuse(name, "required", "must have at least one entry.");
        }

        if (value.GetArrayLength() > most)
        {
            Refuse(name, "too-many", $"must have at most {most} entries; this has {value.GetArrayLength()}.");
            return [];
        }

        return
        [
            .. value
                .EnumerateArray()
                .Select((item, index) => Open(item, $"{At(name)}/{N(index)}", errors))
                .OfType<FieldReader>(),
        ];
    }

    /// <summary>What a JSON value is, in words.</summary>
    public static string Kind(JsonElement value) =>
        value.ValueKind switch
        {
            JsonValueKind.String => "text",
            JsonValueKind.Number => "a number",
            JsonValueKind.True or JsonValueKind.False => "true or false",
            JsonValueKind.Array => "a list",
            JsonValueKind.Object => "an object",
            _ => "null",
        };

    /// <summary>Text of a string value; false for what no database takes: a lone surrogate, bytes that are no UTF-8, a NUL.</summary>
    public static bool TryString(JsonElement value, out string text) =>
        TryText(value, static v => v.GetString(), out text);

    /// <summary>Name of a member, by the same rule.</summary>
    public static bool TryName(JsonProperty property, out string name) =>
        TryText(property, static p => p.Name, out name);

    private static bool TryText<T>(T holder, Func<T, string?> read, out string text)
    {
        try
        {
            text = read(holder)!;
            return !text.Contains('\0', StringComparison.Ordinal);
        }
        catch (InvalidOperationException)
        {
            text = "";
            return false;
        }
    }

    private static string Normal(string text) => text.Trim().ToLowerInvariant().Replace(' ', '-');

    private static string N(decimal number) => number.ToString(CultureInfo.InvariantCulture);

    private static string Shown(string raw) => raw.Length > 40 ? raw[..40] + "..." : raw;

    private bool Take(string name, bool required, out JsonElement value)
    {
        known.Add(name);
        ref var field = ref CollectionsMarshal.GetValueRefOrNullRef(fields, name);
        value = default;
        if (!Unsafe.IsNullRef(ref field))
        {
            asked += field.Asked ? 0 : 1;
            field.Asked = true;
            value = field.Value;
            if (value.ValueKind != JsonValueKind.Null)
            {
                return true;
            }
        }

        if (required)
        {
            Refuse(name, "required", $"\"{name}\" is required.");
        }

        return false;
    }

    private bool OfType(string name, JsonElement value, JsonValueKind kind, string called)
    {
        if (value.ValueKind == kind)
        {
            return true;
        }

        Refuse(name, "wrong-type", $"must be {called}, not {Kind(value)}.");
        return false;
    }

    private struct Field(JsonElement value)
    {
        public readonly JsonElement Value = value;
        public bool Asked;
    }
}
