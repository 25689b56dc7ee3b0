using System.Text.Json;
using System.Text.Json.Nodes;

namespace Reports.Domain.Reporting;

/// <summary>
/// Whether two stored reports say the same: every field but those that the service adds (id, version, state, flags), and however
/// nothing is written (one bait as an object or a list, an empty note or none).
/// </summary>
public static class ReportContent
{
    /// <summary>SHA-256 of what a report says.</summary>
    /// <param name="body">The report as <see cref="ReportWriter"/> writes it.</param>
    public static byte[] Hash(ReadOnlySpan<byte> body)
    {
        var report = JsonNode.Parse(body)!.AsObject();
        foreach (var added in new[] { "id", "version", "state", "flags" })
        {
            report.Remove(added);
        }

        if (report["bait"] is JsonArray { Count: 1 } list)
        {
            report["bait"] = list[0]!.DeepClone();
        }

        if (report["signs"] is JsonObject { Count: 0 })
        {
            report.Remove("signs");
        }

        if (report["note"] is JsonValue note && string.IsNullOrWhiteSpace(note.GetValue<string>()))
        {
            report.Remove("note");
        }

        return CanonicalJson.Hash(JsonSerializer.SerializeToElement(report));
    }
}
