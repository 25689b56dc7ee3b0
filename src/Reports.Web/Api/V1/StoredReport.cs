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

    /// <summary>
    /// The version that an If-Match header demands: the standing one when it is among those named, one that never stands when it is
    /// not, null for any ("*"). False when the header is missing or malformed.
    /// </summary>
    public static bool TryIfMatch(HttpRequest request, int standing, out int? version)
    {
        const int never = -1;
        version = null;
        if (request.Headers.IfMatch.ToString().Trim() == "*")
        {
            return true;
        }

        if (!EntityTagHeaderValue.TryParseList(request.Headers.IfMatch, out var tags) || tags.Count == 0)
        {
            return false;
        }

        version = tags.Any(t => !t.IsWeak && t.Tag == ETag(standing)) ? standing : never;
        return true;
    }
}
