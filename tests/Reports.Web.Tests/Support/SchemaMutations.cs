using System.Text.Json.Nodes;

namespace Reports.Web.Tests.Support;

/// <summary>A good body with one thing wrong by its schema: where, what, and the body.</summary>
public sealed record SchemaMutation(string Pointer, string What, JsonNode Body)
{
    public override string ToString() => $"{What} at {(Pointer.Length == 0 ? "the root" : Pointer)}";
}

/// <summary>
/// Every way in which a schema lets a body be wrong, one at a time, drawn from the API's document: each member of another type,
/// each required one left out, each bound overstepped, each word unknown, each object with a member too many.
/// </summary>
public static class SchemaMutations
{
    private static readonly JsonNode?[] OfEveryType =
    [
        JsonValue.Create("x"),
        JsonValue.Create(7.5),
        JsonValue.Create(true),
        new JsonArray(1),
        new JsonObject { ["x"] = 1 },
    ];

    public static IEnumerable<SchemaMutation> Of(ApiDocument document, JsonNode schema, JsonNode body)
    {
        return At("", document.Resolved(schema), body);

        IEnumerable<SchemaMutation> At(string pointer, JsonObject here, JsonNode value)
        {
            foreach (var wrong in WrongTypes(here))
            {
                yield return Put(pointer, "a wrong type", wrong?.DeepClone());
            }

            foreach (var (what, wrong) in WrongValues(here))
            {
                yield return Put(pointer, what, wrong);
            }

            if (value is JsonArray list && ArrayOf(here) is { } items)
            {
                for (var i = 0; i < list.Count; i++)
                {
                    foreach (var mutation in At($"{pointer}/{i}", document.Resolved(items), list[i]!))
                    {
                        yield return mutation;
                    }
                }
            }

            if (value is not JsonObject members || ObjectOf(here) is not { } type)
            {
                yield break;
            }

            if (type["additionalProperties"] is JsonValue closed && !closed.GetValue<bool>())
            {
                yield return Put($"{pointer}/colourOfTheHull", "an unknown member", "blue");
            }

            foreach (var name in type["required"]?.AsArray().Select(r => r!.GetValue<string>()) ?? [])
            {
                yield return Remove($"{pointer}/{name}", name);
            }

            foreach (var (name, member) in members)
            {
                if (member is not null && type["properties"]?[name] is { } memberSchema)
                {
                    foreach (var mutation in At($"{pointer}/{name}", document.Resolved(memberSchema), member))
                    {
                        yield return mutation;
                    }
                }
            }
        }

        SchemaMutation Put(string pointer, string what, JsonNode? wrong)
        {
            if (pointer.Length == 0)
            {
                return new(pointer, what, wrong!);
            }

            var copy = body.DeepClone();
            var (owner, name) = Owner(copy, pointer);
            if (owner is JsonArray list)
            {
                list[int.Parse(name, System.Globalization.CultureInfo.InvariantCulture)] = wrong;
            }
            else
            {
                owner[name] = wrong;
            }

            return new(pointer, what, copy);
        }

        SchemaMutation Remove(string pointer, string name)
        {
            var copy = body.DeepClone();
            Owner(copy, pointer).Owner.AsObject().Remove(name);
            return new(pointer, "a required member left out", copy);
        }

        JsonObject? ObjectOf(JsonObject here) => Choices(here).FirstOrDefault(c => Type(c) == "object");

        JsonNode? ArrayOf(JsonObject here) => Choices(here).FirstOrDefault(c => Type(c) == "array")?["items"];

        IEnumerable<JsonObject> Choices(JsonObject here) =>
            here["oneOf"] is JsonArray choices ? choices.Select(c => document.Resolved(c!)) : [here];

        IEnumerable<JsonNode?> WrongTypes(JsonObject here)
        {
            var types = Choices(here).Select(Type).ToHashSet();

            return OfEveryType.Where(v => !types.Contains(TypeOf(v!)));
        }

        IEnumerable<(string, JsonNode?)> WrongValues(JsonObject here)
        {
            if (here["enum"] is not null)
            {
                yield return ("an unknown word", "no-such-word");
            }

            if (here["minimum"] is { } least)
            {
                yield return ("below the minimum", least.GetValue<decimal>() - 1);
            }

            if (here["exclusiveMinimum"] is { } above)
            {
                yield return ("at the exclusive minimum", above.GetValue<decimal>());
            }

            if (here["maximum"] is { } most)
            {
                yield return ("above the maximum", most.GetValue<decimal>() + 1);
            }

            if (here["multipleOf"] is { } step)
            {
                yield return ("between two steps", step.GetValue<decimal>() / 2);
            }

            if (here["minLength"] is not null)
            {
                yield return ("empty", "");
            }

            if (here["minItems"] is not null)
            {
                yield return ("too few items", new JsonArray());
            }

            if (here["maxLength"] is { } length)
            {
                yield return ("too long", new string('x', length.GetValue<int>() + 1));
            }

            if (here["pattern"] is not null)
            {
                yield return ("against the pattern", "NOT OF THE FORM");
            }

            if (here["format"]?.GetValue<string>() == "date")
            {
                yield return ("no date", "20/11/2026");
            }

            if (here["maxItems"] is { } items)
            {
                yield return (
                    "too many items",
                    new JsonArray([.. Enumerable.Range(0, items.GetValue<int>() + 1).Select(_ => new JsonObject())])
                );
            }
        }
    }

    private static string? Type(JsonObject schema) =>
        schema["type"] is JsonValue single ? single.GetValue<string>() : null;

    private static string TypeOf(JsonNode value) =>
        value.GetValueKind() switch
        {
            System.Text.Json.JsonValueKind.String => "string",
            System.Text.Json.JsonValueKind.Number => "number",
            System.Text.Json.JsonValueKind.Array => "array",
            System.Text.Json.JsonValueKind.Object => "object",
            _ => "boolean",
        };

    private static (JsonNode Owner, string Name) Owner(JsonNode root, string pointer)
    {
        var steps = pointer.Split('/')[1..];
        var owner = steps[..^1]
            .Aggregate(
                root,
                (node, step) =>
                    node is JsonArray list
                        ? list[int.Parse(step, System.Globalization.CultureInfo.InvariantCulture)]!
                        : node[step]!
            );
        return (owner, steps[^1]);
    }
}
