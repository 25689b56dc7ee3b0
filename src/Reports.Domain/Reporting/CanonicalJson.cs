using System.Buffers;
using System.Globalization;
using System.Security.Cryptography;
using System.Text.Json;

namespace Reports.Domain.Reporting;

/// <summary>
/// One writing for all JSON texts that mean the same: members sorted by name (ordinal), no insignificant space, numbers without
/// trailing zeros or exponent where a decimal holds them. In the spirit of RFC 8785; used only to compare a repeated request
/// with the first.
/// </summary>
public static class CanonicalJson
{
    /// <summary>SHA-256 of the canonical writing.</summary>
    public static byte[] Hash(JsonElement element)
    {
        var buffer = new ArrayBufferWriter<byte>(1024);
        using (var json = new Utf8JsonWriter(buffer))
        {
            Write(json, element);
        }

        return SHA256.HashData(buffer.WrittenSpan);
    }

    private static void Write(Utf8JsonWriter json, JsonElement element)
    {
        switch (element.ValueKind)
        {
            case JsonValueKind.Object:
                json.WriteStartObject();
                foreach (var property in element.EnumerateObject().OrderBy(p => p.Name, StringComparer.Ordinal))
                {
                    json.WritePropertyName(property.Name);
                    Write(json, property.Value);
                }

                json.WriteEndObject();
                break;
            case JsonValueKind.Array:
                json.WriteStartArray();
                foreach (var item in element.EnumerateArray())
                {
                    Write(json, item);
                }

                json.WriteEndArray();
                break;
            case JsonValueKind.Number when element.TryGetDecimal(out var number):
                json.WriteRawValue((number / 1.0000000000000000000000000000m).ToString(CultureInfo.InvariantCulture));
                break;
            case JsonValueKind.String when !FieldReader.TryString(element, out _):
                // A lone surrogate has no text; its escaped form stands for it.
                json.WriteStringValue(element.GetRawText());
                break;
            default:
                element.WriteTo(json);
                break;
        }
    }
}
