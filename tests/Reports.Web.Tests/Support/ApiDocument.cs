using System.Collections.Concurrent;
using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;
using System.Text.RegularExpressions;
using Json.Schema;

namespace Reports.Web.Tests.Support;

/// <summary>The service's OpenAPI document, as a client would use it: its operations, and its schemas to validate with.</summary>
public sealed class ApiDocument
{
    private static readonly Lock Compiling = new();

    private readonly JsonObject schemas;
    private readonly ConcurrentDictionary<string, JsonSchema> compiled = new(StringComparer.Ordinal);

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

    /// <summary>The document as it is written, which is what the service serves.</summary>
    public static ApiDocument Written { get; } =
        Parse(File.ReadAllText(Path.Combine(Repository.Root, "src", "Reports.Web", "Api", "V1", "openapi.json")));

    public static ApiDocument Parse(string json) => new(JsonNode.Parse(json)!.AsObject());

    /// <summary>What is wrong with a value by a schema of the document; empty when it is valid.</summary>
    public IReadOnlyList<string> Faults(JsonNode schema, JsonNode? value)
    {
        var compiledSchema = compiled.GetOrAdd(schema.ToJsonString(), _ => Compiled(schema));
        var element = JsonSerializer.SerializeToElement(value);

        // Nearly all are valid, and that alone is said sooner.
        if (compiledSchema.Evaluate(element, new EvaluationOptions { RequireFormatValidation = true }).IsValid)
        {
            return [];
        }

        var result = compiledSchema.Evaluate(
            element,
            new EvaluationOptions { OutputFormat = OutputFormat.List, RequireFormatValidation = true }
        );
        return
        [
            .. (result.Details ?? [])
                .Where(d => d.Errors is { Count: > 0 })
                .Select(d => $"{d.InstanceLocation}: {string.Join("; ", d.Errors!.Values)}"),
            "(not valid)",
        ];
    }

    /// <summary>One after the other: of two schemas that the library reads at once, one may not find its own definitions ever after.</summary>
    private JsonSchema Compiled(JsonNode schema)
    {
        var whole = Localised(schema).DeepClone().AsObject();
        whole["$defs"] = schemas.DeepClone();
        lock (Compiling)
        {
            return JsonSchema.FromText(whole.ToJsonString());
        }
    }

    /// <summary>
    /// Fails unless an answer of the API is one that the document declares: its status, and a body that fits the schema. What no
    /// operation answers (an address that does not exist, a method that is not taken) is nobody's to declare.
    /// </summary>
    public async Task CheckAsync(HttpResponseMessage answer)
    {
        var path = answer.RequestMessage!.RequestUri!.AbsolutePath;
        var operation = Operations.FirstOrDefault(o =>
            o.Method == answer.RequestMessage.Method.Method && o.Matches(path)
        );
        if (operation is not null)
        {
            await operation.CheckAsync(answer);
        }
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
        private readonly Regex pattern = new(
            "^" + Regex.Replace(Regex.Escape(Path), @"\\\{[^}]*}", "[^/]+") + "$",
            RegexOptions.CultureInvariant
        );

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

        /// <summary>True when an address is one of this operation's; an address without parameters is nobody else's.</summary>
        public bool Matches(string path) =>
            pattern.IsMatch(path)
            && (Path == path || Document.Operations.All(o => o.Path != path || o.Method != Method));

        /// <summary>Fails unless the answer's status is declared and its body fits.</summary>
        public async Task CheckAsync(HttpResponseMessage answer)
        {
            var text = await answer.Content.ReadAsStringAsync();
            var declared = Responses.Where(r => r.Status == (int)answer.StatusCode).ToList();
            Assert.True(
                declared.Count == 1,
                $"{this} answered {(int)answer.StatusCode}, which it does not declare: {text}"
            );
            if (declared[0].Content is not { } content)
            {
                Assert.Equal("", text);
                return;
            }

            var body = answer.Content.Headers.ContentType?.MediaType == "text/csv" ? text : JsonNode.Parse(text);
            var faults = Document.Faults(content["schema"]!, body);
            Assert.True(faults.Count == 0, $"{this} {(int)answer.StatusCode}: {string.Join("\n", faults)}\n{body}");
        }

        public override string ToString() => $"{Method} {Path}";
    }
}
