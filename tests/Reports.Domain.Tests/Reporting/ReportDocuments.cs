using System.Text.Json;
using System.Text.Json.Nodes;
using Reports.Domain.Reporting;

namespace Reports.Domain.Tests.Reporting;

/// <summary>Documents of the report contract to read, and the means to change them.</summary>
internal static class ReportDocuments
{
    /// <summary>The example of the contract.</summary>
    public const string Example = """
        {
          "boat": "grey-petrel", "zone": "cannery-bank", "fishedOn": "2026-11-20", "sailing": 1, "tripDays": 1,
          "status": "final", "anglers": 24, "hours": 6.5, "bite": "picky",
          "units": { "weight": "lb", "length": "in" },
          "catch": [
            { "species": "SBF", "kept": 31, "released": 4, "smallest": 18, "largest": 42, "anglersWithFish": 14, "topRod": 4 }
          ],
          "bait": { "species": "PIL", "shortest": 4, "longest": 5 },
          "rigs": [
            { "species": "SBF", "technique": "fly-line", "lineClass": 30, "leader": { "material": "fluorocarbon", "test": 30 },
              "hook": { "style": "circle", "size": "1/0" }, "rods": 9, "hooked": 14, "landed": 12, "winning": true }
          ],
          "note": ""
        }
        """;

    /// <summary>Every field of the contract but <c>position</c>, which excludes <c>zone</c>.</summary>
    public const string Full = """
        {
          "boat": "grey-petrel", "zone": "cannery-bank", "fishedOn": "2026-11-20", "sailing": 2, "tripDays": 1.5,
          "daysCovered": 2, "status": "so-far", "anglers": 24, "crewFished": true, "hours": 13.25, "bite": "wide-open",
          "units": { "weight": "kg", "length": "cm", "depth": "fathom" },
          "catch": [
            { "species": "SBF", "kept": 31, "released": 4, "smallest": 8.5, "largest": 61.2, "mostFrom": 9, "mostTo": 20,
              "weighed": true, "limit": false, "anglersWithFish": 14, "topRod": 4, "lostHeavy": 3 },
            { "species": "YFT", "kept": 12, "anglersWithFish": "half" }
          ],
          "bait": [
            { "species": "PIL", "shortest": 10.5, "longest": 13, "condition": "lively", "supply": "plenty" },
            { "species": "ANE" }
          ],
          "rigs": [
            { "species": "SBF", "technique": "sinker", "lineClass": 15,
              "leader": { "material": "fluorocarbon", "test": 14 }, "mainLine": { "material": "braid", "test": 30 },
              "hook": { "style": "circle", "size": "1/0", "gapeMm": 11.5, "wire": "heavy", "ringed": true },
              "use": "some", "rods": 9, "hooked": 14, "landed": 9, "brokenOff": 2, "pulled": 1, "straightened": 1,
              "weightOz": 4.5, "winning": true },
            { "species": "YFT", "lineClass": 24, "hook": { "style": "none" } }
          ],
          "signs": { "surface": true, "depth": 18, "birds": false },
          "note": "Fish came up at noon.\nÉclair, 😀"
        }
        """;

    /// <summary>The shortest document that is accepted.</summary>
    public const string Least = """
        { "boat": "grey-petrel", "zone": "cannery-bank", "fishedOn": "2026-11-20", "anglers": 24,
          "catch": [{ "species": "SBF", "kept": 0, "released": 0 }] }
        """;

    /// <summary>The document with the value at a pointer set (added, replaced); a null text removes it.</summary>
    public static JsonElement With(string document, params (string Pointer, string? Json)[] changes)
    {
        var root = JsonNode.Parse(document)!;
        foreach (var (pointer, json) in changes)
        {
            var cut = pointer.LastIndexOf('/');
            var parent = pointer[..cut].Split('/').Skip(1).Aggregate(root, (node, step) => Child(node, step)!);
            var name = pointer[(cut + 1)..];
            switch (parent)
            {
                case JsonObject owner when json is null:
                    owner.Remove(name);
                    break;
                case JsonObject owner:
                    owner[name] = JsonNode.Parse(json);
                    break;
                case JsonArray list when name == "-":
                    list.Add(JsonNode.Parse(json!));
                    break;
                default:
                    ((JsonArray)parent)[Index(name)] = JsonNode.Parse(json!);
                    break;
            }
        }

        return Parse(root.ToJsonString());
    }

    public static JsonElement Parse(string json) => JsonDocument.Parse(json).RootElement;

    /// <summary>Pointers of every value below the root, depth first.</summary>
    public static IEnumerable<(string Pointer, JsonElement Value)> Places(JsonElement element, string pointer = "")
    {
        var children = element.ValueKind switch
        {
            JsonValueKind.Object => element.EnumerateObject().Select(p => (Pointer: $"{pointer}/{p.Name}", p.Value)),
            JsonValueKind.Array => element.EnumerateArray().Select((v, i) => (Pointer: $"{pointer}/{i}", Value: v)),
            _ => [],
        };
        return children.SelectMany(c => Places(c.Value, c.Pointer).Prepend(c));
    }

    /// <summary>What an RFC 6901 pointer points to, or null. Of a name given twice the first counts.</summary>
    public static JsonElement? Resolve(JsonElement root, string pointer)
    {
        var at = root;
        foreach (var raw in pointer.Split('/').Skip(1))
        {
            var step = raw.Replace("~1", "/", StringComparison.Ordinal).Replace("~0", "~", StringComparison.Ordinal);
            if (at.ValueKind == JsonValueKind.Object && Member(at, step) is { } member)
            {
                at = member;
            }
            else if (at.ValueKind == JsonValueKind.Array && int.TryParse(step, out var i) && i < at.GetArrayLength())
            {
                at = at[i];
            }
            else
            {
                return null;
            }
        }

        return at;
    }

    private static JsonElement? Member(JsonElement owner, string name) =>
        owner
            .EnumerateObject()
            .Where(p => FieldReader.TryName(p, out var n) && n == name)
            .Select(p => (JsonElement?)p.Value)
            .FirstOrDefault();

    private static JsonNode? Child(JsonNode node, string step) =>
        node is JsonArray list ? list[Index(step)] : node[step];

    private static int Index(string step) => int.Parse(step, System.Globalization.CultureInfo.InvariantCulture);
}
