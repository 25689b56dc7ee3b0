using System.Security.Claims;
using System.Text;
using Microsoft.AspNetCore.Http.Features;
using Microsoft.AspNetCore.Http.HttpResults;
using Microsoft.EntityFrameworkCore;
using Microsoft.Net.Http.Headers;
using Reports.Domain.Reporting.Csv;
using Reports.Storage;

namespace Reports.Web.Api.V1;

/// <summary>Reports as CSV: import and export.</summary>
public static class CsvEndpoints
{
    /// <summary>Most bytes of a file that is sent: some hundred thousand reports.</summary>
    public const int MostBytes = 128 * 1024 * 1024;

    public static void MapCsv(this RouteGroupBuilder api)
    {
        api.MapPost("/reports/import", ImportAsync).RequireAuthorization(ApiKeyHandler.ReporterPolicy);
        api.MapGet("/reports.csv", Export).RequireAuthorization(ApiKeyHandler.ReporterPolicy);
    }

    private static async Task<Results<Ok<ImportResult>, ProblemHttpResult>> ImportAsync(
        HttpRequest request,
        ClaimsPrincipal user,
        ReportImport import,
        CancellationToken ct
    )
    {
        var flags = new Dictionary<string, bool>();
        foreach (var name in new[] { "dayFirst", "goodRows", "dryRun", "replace" })
        {
            if (!ReportEndpoints.TryFlag(request, name, out var value))
            {
                return Problems.BadParameter(name, "not-a-flag", $"{name} must be true or false.");
            }

            flags[name] = value;
        }

        if (!IsCsv(request.ContentType))
        {
            return Problems.Of(
                StatusCodes.Status415UnsupportedMediaType,
                "unsupported-media-type",
                "The body must be CSV.",
                "Send Content-Type: text/csv, in UTF-8."
            );
        }

        var options = new ImportOptions(flags["dayFirst"], flags["goodRows"], flags["dryRun"], flags["replace"]);
        var path = Path.Combine(Path.GetTempPath(), $"import-{Guid.NewGuid():N}.csv");

        // Read twice, so it lies in a file; gone when this is closed, whatever happens.
        await using var file = new FileStream(
            path,
            FileMode.CreateNew,
            FileAccess.Write,
            FileShare.ReadWrite | FileShare.Delete,
            64 * 1024,
            FileOptions.DeleteOnClose | FileOptions.Asynchronous
        );
        if (!await TryKeepAsync(request, file, ct))
        {
            return Problems.Of(
                StatusCodes.Status413PayloadTooLarge,
                "body-too-large",
                "The body is too large.",
                $"A file has at most {MostBytes} bytes; send it in parts."
            );
        }

        var result = await import.RunAsync(
            () => new FileStream(path, FileMode.Open, FileAccess.Read, FileShare.ReadWrite | FileShare.Delete),
            options,
            Credential.Of(user),
            ct
        );
        return result.ErrorCount > 0 && !options.DryRun && !options.GoodRows
            ? Problems.InvalidRows(result)
            : TypedResults.Ok(result);
    }

    private static Results<PushStreamHttpResult, ProblemHttpResult> Export(
        HttpContext http,
        ClaimsPrincipal user,
        ReportsDbContext db,
        CancellationToken ct
    )
    {
        var (query, problem) = ReportEndpoints.ListQuery.Read(http.Request.Query);
        if (query is null)
        {
            return problem!;
        }

        var bodies =
            from r in ReportEndpoints.Visible(db, Credential.Of(user), query)
            join v in db.ReportVersions on new { r.Id, r.Version } equals new { Id = v.ReportId, v.Version }
            orderby r.FishedOn, r.Id
            select v.Body;
        http.Response.Headers.CacheControl = "no-store";
        return TypedResults.Stream(
            async stream =>
            {
                // With a byte-order mark: without it spreadsheets take UTF-8 for their old encoding.
                await using var text = new StreamWriter(stream, new UTF8Encoding(true), 32 * 1024, leaveOpen: true);
                await text.WriteAsync(CsvExport.Header);
                await foreach (var body in bodies.AsAsyncEnumerable().WithCancellation(ct))
                {
                    await text.WriteAsync(CsvExport.Rows(body));
                }
            },
            "text/csv; charset=utf-8; header=present",
            "reports.csv"
        );
    }

    private static bool IsCsv(string? contentType) =>
        MediaTypeHeaderValue.TryParse(contentType, out var type)
        && type.MediaType.Equals("text/csv", StringComparison.OrdinalIgnoreCase)
        && (!type.Charset.HasValue || type.Charset.Equals("utf-8", StringComparison.OrdinalIgnoreCase));

    /// <summary>Writes the body into the file; false when it is too large.</summary>
    private static async Task<bool> TryKeepAsync(HttpRequest request, FileStream file, CancellationToken ct)
    {
        if (request.HttpContext.Features.Get<IHttpMaxRequestBodySizeFeature>() is { IsReadOnly: false } limit)
        {
            limit.MaxRequestBodySize = null;
        }

        if (request.ContentLength > MostBytes)
        {
            return false;
        }

        var buffer = new byte[64 * 1024];
        var kept = 0L;
        for (int read; (read = await request.Body.ReadAsync(buffer, ct)) > 0; )
        {
            kept += read;
            if (kept > MostBytes)
            {
                return false;
            }

            await file.WriteAsync(buffer.AsMemory(0, read), ct);
        }

        await file.FlushAsync(ct);
        return true;
    }
}
