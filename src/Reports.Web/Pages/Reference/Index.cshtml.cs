using System.Text;
using System.Text.Encodings.Web;
using System.Text.Json;
using System.Text.Json.Nodes;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.AspNetCore.OutputCaching;
using Reports.Web.Api.V1;

namespace Reports.Web.Pages.Reference;

/// <summary>The API's document for people: every operation with a command to try it, every schema field by field.</summary>
[OutputCache(PolicyName = PagePolicy.Name)]
public sealed class IndexModel(ApiDescription description) : PageModel
{
    private static readonly JsonSerializerOptions Indented = new()
    {
        WriteIndented = true,
        Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping,
    };

    public JsonObject Document => description.Root;

    public IEnumerable<(string Tag, IEnumerable<Operation> Operations)> Groups =>
        Document["tags"]!
            .AsArray()
            .Select(tag => tag!["name"]!.GetValue<string>())
            .Select(tag => (tag, All.Where(o => o.Json["tags"]![0]!.GetValue<string>() == tag)));

    public IEnumerable<KeyValuePair<string, JsonNode?>> Schemas => Document["components"]!["schemas"]!.AsObject();

    private IEnumerable<Operation> All =>
        Document["paths"]!
            .AsObject()
            .SelectMany(p =>
                p.Value!.AsObject().Select(o => new Operation(o.Key.ToUpperInvariant(), p.Key, o.Value!.AsObject()))
            );

    public static string Pretty(JsonNode? node) =>
        node is JsonValue value && value.TryGetValue<string>(out var text) ? text : node!.ToJsonString(Indented);

    public JsonObject Resolved(JsonNode node) => description.Resolved(node);

    /// <summary>Status, what it means, and an example of the body (null for none) of each answer.</summary>
    public IEnumerable<(string Status, string Meaning, JsonNode? Example)> Answers(Operation operation) =>
        operation.Json["responses"]!
            .AsObject()
            .Select(r => (r.Key, Json: Resolved(r.Value!)))
            .Select(r =>
                (
                    r.Key,
                    r.Json["description"]!.GetValue<string>(),
                    r.Json["content"]?.AsObject().First().Value?["example"]
                )
            );

    /// <summary>A command that sends the operation's example.</summary>
    public string Curl(Operation operation)
    {
        var path = operation.Path;
        var command = new StringBuilder("curl");
        if (operation.Method != "GET")
        {
            command.Append(" -X ").Append(operation.Method);
        }

        if (operation.Json.ContainsKey("security"))
        {
            command.Append(" \\\n  -H \"Authorization: Bearer $KEY\"");
        }

        foreach (var parameter in operation.Parameters)
        {
            var (name, example) = (parameter["name"]!.GetValue<string>(), parameter["example"]!.ToString());
            switch (parameter["in"]!.GetValue<string>())
            {
                case "path":
                    path = path.Replace($"{{{name}}}", example, StringComparison.Ordinal);
                    break;
                case "header":
                    command.Append(" \\\n  -H '").Append(name).Append(": ").Append(example).Append('\'');
                    break;
                default:
                    break;
            }
        }

        if (operation.Json["requestBody"]?["content"]?.AsObject().First() is { } content)
        {
            command.Append(" \\\n  -H 'Content-Type: ").Append(content.Key).Append('\'');
            command
                .Append(" \\\n  --data-binary '")
                .Append(Pretty(content.Value!["example"]).Replace("'", "'\\''", StringComparison.Ordinal))
                .Append('\'');
        }

        return command
            .Append(" \\\n  ")
            .Append(Request.Scheme)
            .Append("://")
            .Append(Request.Host)
            .Append(path)
            .ToString();
    }

    /// <summary>The fields of a schema: name, type in words, whether it must be there, what it means.</summary>
    public IEnumerable<(string Name, string Type, bool Required, string Meaning)> Fields(JsonObject schema)
    {
        var required = schema["required"]?.AsArray().Select(r => r!.GetValue<string>()).ToHashSet() ?? [];
        return (schema["properties"]?.AsObject() ?? []).Select(p =>
            (p.Key, TypeOf(p.Value!), required.Contains(p.Key), p.Value!["description"]?.GetValue<string>() ?? "")
        );
    }

    /// <summary>A type in words, with its bounds.</summary>
    public static string TypeOf(JsonNode schema)
    {
        if (schema["$ref"]?.GetValue<string>() is { } reference)
        {
            return reference.Split('/')[^1];
        }

        if ((schema["oneOf"] ?? schema["anyOf"]) is JsonArray choices)
        {
            return string.Join(" or ", choices.Select(c => TypeOf(c!)));
        }

        if (schema["enum"] is JsonArray words)
        {
            return string.Join(", ", words.Select(w => w?.ToString() ?? "null"));
        }

        var type = schema["type"] is JsonArray types
            ? string.Join(" or ", types.Select(t => t!.ToString()))
            : schema["type"]?.ToString() ?? "anything";
        var bounds = new[]
        {
            schema["format"] is { } format ? format.ToString() : null,
            schema["minimum"] is { } least ? $"from {least}" : null,
            schema["exclusiveMinimum"] is { } above ? $"above {above}" : null,
            schema["maximum"] is { } most ? $"up to {most}" : null,
            schema["maxLength"] is { } length ? $"at most {length} characters" : null,
            schema["items"] is { } items ? $"of {TypeOf(items)}" : null,
        };
        return string.Join(", ", bounds.OfType<string>().Prepend(type));
    }

    public sealed record Operation(string Method, string Path, JsonObject Json)
    {
        public string Id => Json["operationId"]!.GetValue<string>();

        public IEnumerable<JsonNode> Parameters => (Json["parameters"]?.AsArray() ?? []).OfType<JsonNode>();
    }
}
