using System.Buffers;
using System.Globalization;
using System.Runtime.InteropServices;
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
    /// <summary>Written anew for each document, once per thread: a report is hashed too often to leave a buffer behind each time.</summary>
    [ThreadStatic]
    private static ArrayBufferWriter<byte>? scratch;

    /// <summary>SHA-256 of the canonical writing.</summary>
    public static byte[] Hash(JsonElement element)
    {
        var buffer = scratch ??= new(4096);
        buffer.ResetWrittenCount();
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
                var members = Members(element);
                members.Sort(
                    static (a, b) =>
                        string.CompareOrdinal(a.Name, b.Name) is var names and not 0
                            ? names
                            : a.Place.CompareTo(b.Place)
                );
                foreach (var (name, _, value) in members)
                {
                    json.WritePropertyName(name);
                    Write(json, value);
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
            case JsonValueKind.Number when element.TryGetInt64(out var whole):
                json.WriteNumberValue(whole);
                break;
            case JsonValueKind.Number when element.TryGetDecimal(out var number):
                json.WriteRawValue((number / 1.0000000000000000000000000000m).ToString(CultureInfo.InvariantCulture));
                break;
            case JsonValueKind.String when !FieldReader.TryString(element, out _):
                json.WriteBase64StringValue(JsonMarshal.GetRawUtf8Value(element));
                break;
            default:
                element.WriteTo(json);
                break;
        }
    }

    // What is no text (a lone surrogate, bytes that are no UTF-8) is refused by every reader, but has a hash before that: its
    // raw bytes stand for it.
    private static List<(string Name, int Place, JsonElement Value)> Members(JsonElement element)
    {
        var members = new List<(string, int, JsonElement)>(element.GetPropertyCount());
        foreach (var property in element.EnumerateObject())
        {
            var name = FieldReader.TryName(property, out var text)
                ? text
                : Convert.ToBase64String(JsonMarshal.GetRawUtf8PropertyName(property));
            members.Add((name, members.Count, property.Value));
        }

        return members;
    }
}
