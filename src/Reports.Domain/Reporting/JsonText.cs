using System.Text.Json;

namespace Reports.Domain.Reporting;

/// <summary>What the JSON parser lets pass and no reader can use: member names that are not Unicode text.</summary>
public static class JsonText
{
    /// <summary>False when a member name, at any depth, holds an unpaired surrogate escape.</summary>
    public static bool IsSound(JsonElement element) =>
        element.ValueKind switch
        {
            JsonValueKind.Object => element.EnumerateObject().All(p => HasName(p) && IsSound(p.Value)),
            JsonValueKind.Array => element.EnumerateArray().All(IsSound),
            _ => true,
        };

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

    private static bool HasName(JsonProperty property)
    {
        try
        {
            return property.Name is not null;
        }
        catch (InvalidOperationException)
        {
            return false;
        }
    }
}
