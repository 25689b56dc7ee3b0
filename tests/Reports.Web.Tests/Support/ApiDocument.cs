using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;
using Json.Schema;

namespace Reports.Web.Tests.Support;

/// <summary>The service's OpenAPI document, as a client would use it: its operations, and its schemas to validate with.</summary>
public sealed class ApiDocument
{
    private readonly JsonObject schemas;

    private ApiDocument(JsonObject root)
    {
        Root = root;
        schemas = Localised(root["components"]!["schemas"]!).AsObject();
        Operations =
        [
            .. root["paths"]!
                .AsObject()
                .SelectMany(path =>
                    path.Value!.AsObject()
                        .Select(o => new Operation(this, o.Key.ToUpperInvariant(), path.Key, o.Value!.AsObject()))
                ),
        ];
    }

    public JsonObject Root { get; }

    public IReadOnlyList<Operation> Operations { get; }

    public static ApiDocument Parse(string json) => new(JsonNode.Parse(json)!.AsObject());

    /// <summary>What is wrong with a value by a schema of the document; empty when it is valid.</summary>
    public IReadOnlyList<string> Faults(JsonNode schema, JsonNode? value)
    {
        var whole = Localised(schema).DeepClone().AsObject();
        whole["$defs"] = schemas.DeepClone();
        var result = JsonSchema
            .FromText(whole.ToJsonString())
            .Evaluate(
                JsonSerializer.SerializeToElement(value),
                new EvaluationOptions { OutputFormat = OutputFormat.List, RequireFormatValidation = true }
            );
        return result.IsValid
            ? []
            :
            [
                .. (result.Details ?? [])
                    .Where(d => d.Errors is { Count: > 0 })
                    .Select(d => $"{d.InstanceLocation}: {string.Join("; ", d.Errors!.Values)}"),
                "(not valid)",
            ];
    }

    /// <summary>A response or schema by its reference, or itself.</summary>
    public JsonObject Resolved(JsonNode node)
    {
        if (node["$ref"]?.GetValue<string>() is not { } reference)
        {
            return node.AsObject();
        }

        var found = (JsonNode)Root;
        foreach (var step in reference.TrimStart('#', '/').Split('/'))
        {
            found = found[step]!;
        }

        return found.AsObject();
    }

    private static JsonNode Localised(JsonNode node) =>
        JsonNode.Parse(node.ToJsonString().Replace("#/components/schemas/", "#/$defs/", StringComparison.Ordinal))!;

    /// <summary>One operation of the document.</summary>
    public sealed record Operation(ApiDocument Document, string Method, string Path, JsonObject Json)
    {
        /// <summary>Media type of the request's body; null for none.</summary>
        public string? RequestType => Json["requestBody"]?["content"]?.AsObject().Single().Key;

        public JsonObject? RequestContent =>
            RequestType is { } type ? Json["requestBody"]!["content"]![type]!.AsObject() : null;

        /// <summary>The example body as it is sent: JSON, or the text of another media type.</summary>
        public HttpContent? ExampleBody() =>
            RequestContent?["example"] is not { } example ? null
            : RequestType == "application/json"
                ? new StringContent(example.ToJsonString(), Encoding.UTF8, "application/json")
            : new StringContent(example.GetValue<string>(), Encoding.UTF8, RequestType!);

        /// <summary>Status and content (null for none) of each declared response.</summary>
        public IEnumerable<(int Status, JsonObject? Content)> Responses =>
            Json["responses"]!
                .AsObject()
                .Select(r =>
                    (
                        int.Parse(r.Key, System.Globalization.CultureInfo.InvariantCulture),
                        Document.Resolved(r.Value!)["content"]?.AsObject().Single().Value?.AsObject()
                    )
                );

        public override string ToString() => $"{Method} {Path}";
    }
}
