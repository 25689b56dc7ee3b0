using System.Text.Json;

namespace Reports.Domain.Reporting;

/// <summary>What the JSON parser lets pass and no database takes: unpaired surrogates, NUL characters.</summary>
public static class JsonText
{
    /// <summary>True when every member name and every string, at any depth, is text that can be stored and written again.</summary>
    public static bool IsText(JsonElement element) =>
        element.ValueKind switch
        {
            JsonValueKind.Object => element
                .EnumerateObject()
                .All(p => FieldReader.TryName(p, out _) && IsText(p.Value)),
            JsonValueKind.Array => element.EnumerateArray().All(IsText),
            JsonValueKind.String => FieldReader.TryString(element, out _),
            _ => true,
        };
}
