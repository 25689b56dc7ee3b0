using System.Text.Json.Nodes;

namespace Reports.Web.Api.V1;

/// <summary>The OpenAPI document as it lies beside the program: the bytes that are served, and the same read for the reference page.</summary>
public sealed class ApiDescription
{
    public byte[] Bytes { get; } =
        File.ReadAllBytes(Path.Combine(AppContext.BaseDirectory, "Api", "V1", "openapi.json"));

    public JsonObject Root { get; }

    public ApiDescription() => Root = JsonNode.Parse(Bytes)!.AsObject();

    /// <summary>What a node refers to, or itself.</summary>
    public JsonObject Resolved(JsonNode node) =>
        node["$ref"]?.GetValue<string>() is { } reference
            ? reference
                .TrimStart('#', '/')
                .Split('/')
                .Aggregate((JsonNode)Root, (found, step) => found[step]!)
                .AsObject()
            : node.AsObject();
}
