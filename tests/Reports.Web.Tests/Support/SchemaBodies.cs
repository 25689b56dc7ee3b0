using System.Text.Json.Nodes;

namespace Reports.Web.Tests.Support;

/// <summary>
/// Random bodies that a schema of the API's document calls valid, its bounds themselves among them. What no schema knows (the codes
/// of a coast, a time zone, an area) comes from <paramref name="known"/>, by pointer.
/// </summary>
public sealed class SchemaBodies(ApiDocument document, Random random, Func<string, JsonNode?> known)
{
    /// <summary>Letters beyond ASCII and beyond 16 bits: the limits of texts are counted in UTF-16, as the service does.</summary>
    private static readonly string[] Letters = ["a", "Z", "7", "é", "鯛", "\"", "\\", " ", "\n", "/", "~", "'"];

    /// <summary>How likely a member that is not required is there: of one body all, of another none.</summary>
    private double fullness;

    public JsonNode Draw(JsonNode schema)
    {
        fullness = Pick([0, 0.1, 0.3, 0.6, 1.0]);
        return At("", schema);
    }

    private JsonNode At(string pointer, JsonNode node)
    {
        var schema = document.Resolved(node);
        if (known(pointer) is { } value)
        {
            return value;
        }

        if (schema["oneOf"] is JsonArray choices)
        {
            return At(pointer, Pick([.. choices])!);
        }

        if (schema["enum"] is JsonArray words)
        {
            return Pick([.. words])!.DeepClone();
        }

        return schema["type"]!.GetValue<string>() switch
        {
            "object" => Members(pointer, schema),
            "array" => Items(pointer, schema),
            "boolean" => random.Next(2) == 0,
            "integer" => (int)Number(schema, 1),
            "number" => Number(schema, schema["multipleOf"]?.GetValue<decimal>() ?? 0.000001m),
            "string" => Text(pointer, schema),
            var other => throw new InvalidOperationException($"{pointer}: no way to draw {other}"),
        };
    }

    private JsonObject Members(string pointer, JsonObject schema)
    {
        var required = schema["required"]?.AsArray().Select(r => r!.GetValue<string>()).ToHashSet() ?? [];
        var members = new JsonObject();
        foreach (var (name, member) in schema["properties"]!.AsObject())
        {
            if (required.Contains(name) || random.NextDouble() < fullness)
            {
                members[name] = At($"{pointer}/{name}", member!);
            }
        }

        return members;
    }

    private JsonArray Items(string pointer, JsonObject schema)
    {
        var least = schema["minItems"]?.GetValue<int>() ?? 0;
        var most = schema["maxItems"]?.GetValue<int>() ?? int.MaxValue;
        var count = Math.Min(most, least + random.Next(4));
        return [.. Enumerable.Range(0, count).Select(i => At($"{pointer}/{i}", schema["items"]!))];
    }

    private decimal Number(JsonObject schema, decimal step)
    {
        var least = schema["minimum"]?.GetValue<decimal>() ?? schema["exclusiveMinimum"]!.GetValue<decimal>() + step;
        var most = schema["maximum"]?.GetValue<decimal>() ?? 1000;
        return random.Next(8) switch
        {
            0 => least,
            1 => most,
            // Small, as most true numbers are, and of few decimals.
            < 6 => Math.Clamp(Stepped(random.Next(1, 400) / 10m), least, most),
            _ => Math.Clamp(Stepped(least + ((most - least) * (decimal)random.NextDouble())), least, most),
        };

        decimal Stepped(decimal number) => Math.Round(number / step) * step;
    }

    private string Text(string pointer, JsonObject schema) =>
        (schema["format"]?.GetValue<string>(), schema["pattern"]?.GetValue<string>()) switch
        {
            ("date", _) => ReportBody.Day(Day()),
            ("uuid", _) => Uuid().ToString(),
            (null, "^[a-z][a-z0-9]*(-[a-z0-9]+)*$") => "storm-petrel-" + random.Next(10),
            (null, "^[A-Z0-9]{3}$") => "Q" + random.Next(10, 100),
            (null, "^[0-9a-f]{32}$") => Uuid().ToString("N"),
            (null, null) => Phrase(schema),
            var other => throw new InvalidOperationException($"{pointer}: no way to draw {other}"),
        };

    private string Phrase(JsonObject schema)
    {
        var least = schema["minLength"]?.GetValue<int>() ?? 0;
        var most = schema["maxLength"]?.GetValue<int>() ?? 100;
        var length = random.Next(6) switch
        {
            0 => least,
            1 => most,
            _ => random.Next(least, Math.Min(most, least + 30) + 1),
        };
        return string.Concat(Enumerable.Range(0, length).Select(i => i == 0 ? "A" : Pick(Letters)));
    }

    /// <summary>Most in the last centuries, some before and some to come: a format has no bounds.</summary>
    private DateOnly Day() =>
        random.Next(20) switch
        {
            0 => new DateOnly(1700, 1, 1).AddDays(random.Next(36_500)),
            1 => new DateOnly(2100, 1, 1).AddDays(random.Next(36_500)),
            _ => new DateOnly(1801, 1, 1).AddDays(random.Next(82_400)),
        };

    private Guid Uuid()
    {
        var bytes = new byte[16];
        random.NextBytes(bytes);
        return new Guid(bytes);
    }

    private T Pick<T>(T[] choices) => choices[random.Next(choices.Length)];
}
