using System.Text;
using Microsoft.Net.Http.Headers;
using Reports.Storage;

namespace Reports.Web.Api.V1;

/// <summary>A report answered with the very bytes that are stored, its ETag and (when created) its location.</summary>
public sealed class StoredReport(ReportVersionRow version, int status) : IResult
{
    public ReportVersionRow Version => version;

    public int StatusCode => status;

    public static string ETag(int version) => $"\"{version}\"";

    public static string Href(string id) => $"/api/v1/reports/{id}";

    public Task ExecuteAsync(HttpContext httpContext)
    {
        var response = httpContext.Response;
        var etag = ETag(version.Version);
        response.Headers.ETag = etag;
        response.Headers.CacheControl = "no-store";
        if (status == StatusCodes.Status201Created)
        {
            response.Headers.Location = Href(version.ReportId);
        }

        if (
            HttpMethods.IsGet(httpContext.Request.Method)
            && httpContext.Request.Headers.IfNoneMatch.ToString().Contains(etag, StringComparison.Ordinal)
        )
        {
            response.StatusCode = StatusCodes.Status304NotModified;
            return Task.CompletedTask;
        }

        response.StatusCode = status;
        response.ContentType = "application/json";
        var bytes = Encoding.UTF8.GetBytes(version.Body);
        response.ContentLength = bytes.Length;
        return response.Body.WriteAsync(bytes, httpContext.RequestAborted).AsTask();
    }

    /// <summary>The version that an If-Match header names; null for any version ("*"). False when it is missing or malformed.</summary>
    public static bool TryIfMatch(HttpRequest request, out int? version)
    {
        version = null;
        var header = request.Headers.IfMatch.ToString().Trim();
        if (header == "*")
        {
            return true;
        }

        if (EntityTagHeaderValue.TryParse(header, out var tag))
        {
            // A tag that is not one of ours can't match any version.
            version = !tag.IsWeak && int.TryParse(tag.Tag.AsSpan().Trim('"'), out var parsed) ? parsed : -1;
            return true;
        }

        return false;
    }
}
