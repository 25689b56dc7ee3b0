using System.Globalization;
using System.Text.Json.Nodes;

namespace Reports.Web.Tests.Support;

/// <summary>Damage done to a good document: some of its fields are made wrong, and which ones is known.</summary>
public static class Mutation
{
    // Required by the contract (design of the report, and of reference data): taking one of these away is a fault.
    private static readonly HashSet<string> Required =
    [
        "boat",
        "zone",
        "fishedOn",
        "anglers",
        "catch",
        "species",
        "kept",
        "lineClass",
        "material",
        "style",
        "name",
        "timeZone",
        "landing",
        "area",
        "scientificName",
        "kind",
    ];

    /// <summary>
    /// A copy with some faults, none inside another; and the pointer of each, sorted. Every value that is put in is wrong at its
    /// place whatever the rest says.
    /// </summary>
    public static (JsonObject Document, IReadOnlyList<string> Pointers) Of(JsonObject good, Random random, int faults)
    {
        var document = good.DeepClone().AsObject();
        var places = Places(document, "").ToList();
        var hurt = new List<string>();
        var pointers = new List<string>();
        while (hurt.Count < faults)
        {
            var (parent, name, index, pointer) = places[random.Next(places.Count)];
            if (
                hurt.Any(h =>
                    (pointer + "/").StartsWith(h + "/", StringComparison.Ordinal)
                    || (h + "/").StartsWith(pointer + "/", StringComparison.Ordinal)
                )
            )
            {
                continue;
            }

            hurt.Add(pointer);
            var value = index is { } i ? parent.AsArray()[i] : parent[name];
            if (index is null && Required.Contains(name) && random.Next(5) == 0)
            {
                parent.AsObject().Remove(name);
                pointers.Add(pointer);
                continue;
            }

            if (
                value is JsonObject inner
                && random.Next(2) == 0
                && !pointer.StartsWith("/area", StringComparison.Ordinal)
            )
            {
                var stranger = "stranger" + random.Next(10).ToString(CultureInfo.InvariantCulture);
                inner[stranger] = random.Next();
                pointers.Add($"{pointer}/{stranger}");
                continue;
            }

            var wrong = Wrong(name, value, random);
            if (index is { } at)
            {
                parent.AsArray()[at] = wrong;
            }
            else
            {
                parent[name] = wrong;
            }

            pointers.Add(pointer);
        }

        return (document, [.. pointers.Order(StringComparer.Ordinal)]);
    }

    private static IEnumerable<(JsonNode Parent, string Name, int? Index, string Pointer)> Places(
        JsonNode node,
        string pointer
    )
    {
        var children = node switch
        {
            JsonObject o => o.Select(m => (Name: m.Key, Index: (int?)null, m.Value)).ToList(),
            JsonArray a => a.Select(
                    (v, i) => (Name: i.ToString(CultureInfo.InvariantCulture), Index: (int?)i, Value: v)
                )
                .ToList(),
            _ => [],
        };
        foreach (var (name, index, value) in children)
        {
            var at = $"{pointer}/{name}";
            yield return (node, name, index, at);
            foreach (var below in value is null ? [] : Places(value, at))
            {
                yield return below;
            }
        }
    }

    private static JsonNode Wrong(string name, JsonNode? value, Random random)
    {
        JsonNode[] any = value switch
        {
            JsonArray => [5, "list", true, new JsonObject()],
            JsonObject => [5, "object", false],
            JsonValue v when name == "anglersWithFish" => [true, -1, "nobody", new JsonObject(), 1e300, 1.5],
            JsonValue v when v.TryGetValue(out string? _) && name == "note" => [true, 7, new JsonArray(), "bell \a"],
            JsonValue v when v.TryGetValue(out string? _) && name is "name" or "scientificName" =>
            [
                true,
                7,
                new JsonArray(),
                "bell \a",
                " ",
                new string('n', 81),
            ],
            JsonValue v when v.TryGetValue(out string? _) =>
            [
                true,
                7,
                new JsonArray(),
                new JsonObject(),
                "no-such",
                " ",
                "\0",
            ],
            JsonValue v when v.TryGetValue(out bool _) => [1, "true", new JsonArray()],
            JsonValue => [true, "twelve", new JsonArray(), -1, 1e300, -1e300, 1.23456789],
            _ => [5],
        };
        return any[random.Next(any.Length)].DeepClone();
    }
}
