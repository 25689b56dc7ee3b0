using System.Buffers;
using System.Text.Json;
using System.Text.Unicode;
using Microsoft.AspNetCore.Http.HttpResults;
using Microsoft.Net.Http.Headers;
using Reports.Domain.Reporting;

namespace Reports.Web.Api.V1;

/// <summary>Reads a JSON body of a bounded size; what is not JSON at all is refused with the place where it stops being so.</summary>
public static class JsonBody
{
    /// <summary>Most bytes of a single document.</summary>
    public const int MostBytes = 256 * 1024;

    private static readonly JsonDocumentOptions Options = new() { MaxDepth = 32 };

    public static async Task<(JsonElement Json, ProblemHttpResult? Problem)> ReadAsync(
        HttpRequest request,
        CancellationToken ct,
        int mostBytes = MostBytes
    )
    {
        if (!IsJson(request.ContentType))
        {
            return (
                default,
                Problems.Of(
                    StatusCodes.Status415UnsupportedMediaType,
                    "unsupported-media-type",
                    "The body must be JSON.",
                    "Send Content-Type: application/json."
                )
            );
        }

        var bytes = await BytesAsync(request, mostBytes, ct);
        if (bytes is null)
        {
            return (
                default,
                Problems.Of(
                    StatusCodes.Status413PayloadTooLarge,
                    "body-too-large",
                    "The body is too large.",
                    $"A body of this kind has at most {mostBytes} bytes."
                )
            );
        }

        return Parse(bytes);
    }

    private static bool IsJson(string? contentType) =>
        MediaTypeHeaderValue.TryParse(contentType, out var type)
        && (type.MediaType.Equals("application/json", StringComparison.OrdinalIgnoreCase) || type.Suffix == "json");

    private static async Task<byte[]?> BytesAsync(HttpRequest request, int mostBytes, CancellationToken ct)
    {
        if (request.ContentLength > mostBytes)
        {
            return null;
        }

        var reader = request.BodyReader;
        while (true)
        {
            var read = await reader.ReadAsync(ct);
            if (read.Buffer.Length > mostBytes)
            {
                reader.AdvanceTo(read.Buffer.End);
                return null;
            }

            if (read.IsCompleted)
            {
                var bytes = read.Buffer.ToArray();
                reader.AdvanceTo(read.Buffer.End);
                return bytes;
            }

            reader.AdvanceTo(read.Buffer.Start, read.Buffer.End);
        }
    }

    private static (JsonElement, ProblemHttpResult?) Parse(byte[] bytes)
    {
        if (!Utf8.IsValid(bytes))
        {
            return (default, Malformed("malformed-utf8", "must be UTF-8 text."));
        }

        try
        {
            return (JsonElement.Parse(bytes, Options), null);
        }
        catch (JsonException e)
        {
            return (
                default,
                Malformed(
                    "malformed-json",
                    $"is not valid JSON from line {e.LineNumber + 1}, byte {e.BytePositionInLine + 1} on."
                )
            );
        }
    }

    private static ProblemHttpResult Malformed(string code, string detail) =>
        Problems.Invalid([new FieldError("", code, detail)]);
}
