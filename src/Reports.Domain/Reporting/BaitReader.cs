using System.Buffers;
using System.Text;
using System.Text.Json;
using Reports.Domain.Coast;
using Reports.Domain.Measures;

namespace Reports.Domain.Reporting;

/// <summary>
/// Bait as it stands in a report and as a landing declares it for a day: one object, or a list with one entry per kind.
/// </summary>
public static class BaitReader
{
    public const int MostKinds = 8;

    /// <summary>Every length lies above this, in or cm: statistics take logs of whole millimetres.</summary>
    public const decimal LeastLength = 0.1m;

    public static IReadOnlyList<BaitLine> Read(FieldReader owner, string name, Register register, LengthUnit unit)
    {
        var given = owner.Raw(name);
        if (given is { ValueKind: not (JsonValueKind.Object or JsonValueKind.Array) } other)
        {
            owner.Refuse(
                name,
                "wrong-type",
                $"must be an object or a list of objects, one per kind, not {FieldReader.Kind(other)}."
            );
            return [];
        }

        var readers = given is { ValueKind: JsonValueKind.Object }
            ? [owner.Object(name)!]
            : owner.Objects(name, MostKinds);
        var lines = new List<BaitLine>();
        foreach (var reader in readers)
        {
            var line = Line(reader, register, unit);
            if (line.Species.Length > 0 && lines.Any(l => l.Species == line.Species))
            {
                reader.Refuse(
                    "species",
                    "duplicate-species",
                    $"{line.Species} is already named; give each kind of bait once."
                );
            }

            lines.Add(line);
        }

        return lines;
    }

    /// <summary>Reads what a landing declares for a day: <c>{ "units": {"length"}, "bait": one object or a list }</c>.</summary>
    public static Reading<DayBait> ReadDay(JsonElement document, Register register) =>
        Read(document, root => Day(root, register));

    /// <summary>Reads the same from a document that names the landing and the day too.</summary>
    public static Reading<LandingBait> ReadLandingDay(JsonElement document, Register register) =>
        Read(
            document,
            root =>
            {
                var landing = root.Code("landing", "landing", register.Landings.Keys, required: true);
                var date = root.Date("date", required: true);
                return new LandingBait(new(landing ?? "", date ?? default), Day(root, register));
            }
        );

    private static Reading<T> Read<T>(JsonElement document, Func<FieldReader, T> read)
        where T : class
    {
        var errors = new List<FieldError>();
        if (FieldReader.Open(document, "", errors) is not { } root)
        {
            return new(null, errors);
        }

        var value = read(root);
        root.RefuseUnknown();
        return errors.Count > 0 ? new(null, errors) : new(value, errors);
    }

    private static DayBait Day(FieldReader root, Register register)
    {
        var unit = LengthUnit.In;
        if (root.Object("units") is { } units)
        {
            unit = units.Word("length", Words.Of<LengthUnit>()) ?? LengthUnit.In;
            units.Ignore("weight", "depth");
            units.RefuseUnknown();
        }

        var single = root.Raw("bait", required: true) is { ValueKind: JsonValueKind.Object };
        var bait = Read(root, "bait", register, unit);
        return new DayBait(unit, bait, single);
    }

    private static BaitLine Line(FieldReader reader, Register register, LengthUnit unit)
    {
        var baits = register
            .Species.Values.Where(s => s.Kind == SpeciesKind.Bait)
            .Select(s => s.Code)
            .Order(StringComparer.Ordinal)
            .ToList();
        var species = reader.Text("species", 100, required: true);
        if (species is not null && !baits.Contains(species))
        {
            reader.Refuse(
                "species",
                "unknown-bait",
                $"\"{species}\" is not a bait here; known: {string.Join(", ", baits)}."
            );
        }

        var most = unit == LengthUnit.In ? 30 : 76;
        Length? Of(string name) =>
            reader.Number(name, LeastLength, most, unit.Word()) is { } given ? new Length(given, unit) : null;
        var shortest = Of("shortest");
        var longest = Of("longest");
        if (shortest is { } s && longest is { } l && s.Given > l.Given)
        {
            reader.Refuse("shortest", "range-reversed", $"shortest {s.Given} is more than longest {l.Given}.");
        }

        var condition = reader.Word("condition", Words.Of<BaitCondition>());
        var supply = reader.Word("supply", Words.Of<BaitSupply>());
        reader.RefuseUnknown();
        return new BaitLine
        {
            Species = species ?? "",
            Shortest = shortest,
            Longest = longest,
            Condition = condition,
            Supply = supply,
        };
    }
}

/// <summary>A landing's bait of a day, as it was given.</summary>
public sealed record DayBait(LengthUnit Unit, IReadOnlyList<BaitLine> Bait, bool IsSingle)
{
    public string ToJson()
    {
        var buffer = new ArrayBufferWriter<byte>();
        using (var json = new Utf8JsonWriter(buffer))
        {
            json.WriteStartObject();
            json.WriteStartObject("units");
            json.WriteString("length", Unit.Word());
            json.WriteEndObject();
            json.WritePropertyName("bait");
            ReportWriter.Bait(json, Bait, IsSingle);
            json.WriteEndObject();
        }

        return Encoding.UTF8.GetString(buffer.WrittenSpan);
    }
}

/// <summary>A landing and a day of its.</summary>
public sealed record LandingDay(string Landing, DateOnly Date);

/// <summary>What a landing declared for a day.</summary>
public sealed record LandingBait(LandingDay Day, DayBait Bait);
