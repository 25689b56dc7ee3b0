using System.Security.Claims;
using System.Text;
using System.Text.Json.Nodes;
using Microsoft.AspNetCore.Http.Features;
using Microsoft.AspNetCore.Http.HttpResults;
using Microsoft.AspNetCore.Mvc;
using Microsoft.EntityFrameworkCore;
using Microsoft.Net.Http.Headers;
using Reports.Domain.Reporting.Csv;
using Reports.Storage;

namespace Reports.Web.Api.V1;

/// <summary>Reports, departures and the landings' bait of the day as CSV: import and export.</summary>
public static class CsvEndpoints
{
    /// <summary>Most bytes of a file that is sent: some hundred thousand reports.</summary>
    public const int MostBytes = 128 * 1024 * 1024;

    public static void MapCsv(this RouteGroupBuilder api)
    {
        // Who may put one, may import many; who may read one, may export those.
        var reporter = api.MapGroup("").RequireAuthorization(ApiKeyHandler.ReporterPolicy);
        reporter.MapPost("/reports/import", ImportAsync<ReportImport>);
        reporter.MapPost("/bait/import", ImportAsync<BaitImport>);
        api.MapPost("/departures/import", ImportAsync<DepartureImport>).RequireAuthorization(ApiKeyHandler.AdminPolicy);
        reporter.MapGet("/reports.csv", ExportReports);
        reporter.MapGet("/bait.csv", ExportBait);
        reporter.MapGet("/departures.csv", ExportDepartures);
    }

    private static async Task<Results<Ok<ImportResult>, ProblemHttpResult>> ImportAsync<TImport>(
        HttpRequest request,
        ClaimsPrincipal user,
        [FromServices] TImport import,
        CancellationToken ct
    )
        where TImport : CsvImport
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

    private static Results<PushStreamHttpResult, ProblemHttpResult> ExportReports(
        HttpContext http,
        ClaimsPrincipal user,
        ReportsDbContext db
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
        return Export(http, CsvFormats.Reports, bodies.AsAsyncEnumerable(), "reports.csv");
    }

    private static Results<PushStreamHttpResult, ProblemHttpResult> ExportDepartures(
        HttpContext http,
        ClaimsPrincipal user,
        ReportsDbContext db
    )
    {
        var (query, problem) = ReportEndpoints.ListQuery.Read(http.Request.Query);
        if (query is null)
        {
            return problem!;
        }

        var rows =
            from d in db.Departures.AsNoTracking()
            join b in Credential.Of(user).BoatsOf(db) on d.Boat equals b.Code
            where query.Zone == null || d.Zone == query.Zone
            where query.Boat == null || d.Boat == query.Boat
            where query.Landing == null || b.Landing == query.Landing
            where query.From == null || d.Date >= query.From
            where query.To == null || d.Date <= query.To
            orderby d.Date, d.Boat, d.Sailing
            select d;
        var bodies = rows.AsAsyncEnumerable().Select(d => RegisterEndpoints.Json(d.ToDeparture()).ToJsonString());
        return Export(http, CsvFormats.Departures, bodies, "departures.csv");
    }

    private static Results<PushStreamHttpResult, ProblemHttpResult> ExportBait(
        HttpContext http,
        ClaimsPrincipal user,
        ReportsDbContext db
    )
    {
        var (query, problem) = ReportEndpoints.ListQuery.Read(http.Request.Query);
        if (query is null)
        {
            return problem!;
        }

        var rows =
            from b in Credential.Of(user).BaitOf(db).AsNoTracking()
            where query.Landing == null || b.Landing == query.Landing
            where query.From == null || b.Date >= query.From
            where query.To == null || b.Date <= query.To
            orderby b.Date, b.Landing
            select b;
        var bodies = rows.AsAsyncEnumerable()
            .Select(b =>
            {
                var body = JsonNode.Parse(b.Body)!.AsObject();
                body["landing"] = b.Landing;
                body["date"] = Dates.Text(b.Date);
                return body.ToJsonString();
            });
        return Export(http, CsvFormats.Bait, bodies, "bait.csv");
    }

    private static PushStreamHttpResult Export(
        HttpContext http,
        CsvFormat format,
        IAsyncEnumerable<string> bodies,
        string name
    )
    {
        http.Response.Headers.CacheControl = "no-store";
        return TypedResults.Stream(
            async stream =>
            {
                // With a byte-order mark: without it spreadsheets take UTF-8 for their old encoding.
                await using var text = new StreamWriter(stream, new UTF8Encoding(true), 32 * 1024, leaveOpen: true);
                await text.WriteAsync(CsvExport.Header(format));
                await foreach (var body in bodies.WithCancellation(http.RequestAborted))
                {
                    await text.WriteAsync(CsvExport.Rows(format, body));
                }
            },
            "text/csv; charset=utf-8; header=present",
            name
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
