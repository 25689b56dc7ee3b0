using System.Globalization;
using System.Security.Claims;
using System.Text;
using System.Text.Json;
using Microsoft.AspNetCore.Http.HttpResults;
using Microsoft.EntityFrameworkCore;
using Reports.Domain.Coast;
using Reports.Domain.Reporting;
using Reports.Storage;

// Translated to SQL; ids are 32 hexadecimal digits, which every collation sorts alike.
#pragma warning disable CA1309

namespace Reports.Web.Api.V1;

/// <summary>The reports: create, read, correct, retract, confirm, history, list.</summary>
public static class ReportEndpoints
{
    private const int DefaultPage = 50;
    private const int MostPage = 500;

    public static void MapReports(this RouteGroupBuilder api)
    {
        var reports = api.MapGroup("/reports").RequireAuthorization(ApiKeyHandler.ReporterPolicy);
        reports.MapPost("", CreateAsync);
        reports.MapPost("/batch", BatchEndpoint.CreateAllAsync);
        reports.MapGet("", ListAsync);
        reports.MapGet("/{id}", ReadAsync);
        reports.MapPut("/{id}", CorrectAsync);
        reports.MapDelete("/{id}", RetractAsync);
        reports.MapGet("/{id}/history", HistoryAsync);
        reports.MapPost("/{id}/confirm", ConfirmAsync);
    }

    private static async Task<Results<StoredReport, ProblemHttpResult>> CreateAsync(
        HttpRequest request,
        ClaimsPrincipal user,
        Intake intake,
        CancellationToken ct
    )
    {
        var header = request.Headers["Idempotency-Key"].ToString().Trim().Trim('"');
        if (!Guid.TryParseExact(header, "D", out var key))
        {
            return header.Length == 0
                ? Problems.KeyMissing("Idempotency-Key")
                : Problems.KeyMalformed("Idempotency-Key");
        }

        if (!TryFlag(request, "replace", out var replace))
        {
            return Problems.BadParameter("replace", "not-a-flag", "replace must be true or false.");
        }

        var (json, problem) = await JsonBody.ReadAsync(request, ct);
        if (problem is not null)
        {
            return problem;
        }

        return await intake.CreateAsync(Credential.Of(user), new Arrival(key, json, replace), ct);
    }

    private static async Task<Results<StoredReport, ProblemHttpResult>> ReadAsync(
        string id,
        ClaimsPrincipal user,
        ReportsDbContext db,
        RegisterCache registers,
        CancellationToken ct
    ) =>
        await FindAsync(id, user, db, registers, ct) is { } version
            ? new StoredReport(version, StatusCodes.Status200OK)
            : Problems.NotFound("report");

    private static async Task<Results<StoredReport, ProblemHttpResult>> CorrectAsync(
        string id,
        HttpRequest request,
        ClaimsPrincipal user,
        ReportsDbContext db,
        ReportStore store,
        Doubts doubts,
        RegisterCache registers,
        Published published,
        TimeProvider time,
        CancellationToken ct
    )
    {
        var who = Credential.Of(user);
        if (await FindAsync(id, user, db, registers, ct) is not { } standing)
        {
            return Problems.NotFound("report");
        }

        if (!StoredReport.TryIfMatch(request, standing.Version, out var ifVersion))
        {
            return Problems.MatchRequired();
        }

        var (json, problem) = await JsonBody.ReadAsync(request, ct);
        if (problem is not null)
        {
            return problem;
        }

        var (register, reading) = await registers.ReadAsync(
            r => ReportReader.Read(json, r, time.GetUtcNow(), correction: true),
            ct
        );
        if (reading.Value is not { } report)
        {
            return Problems.Invalid(reading.Errors);
        }

        if (!who.ActsFor(register.Boats[report.Boat]))
        {
            return Problems.NotYourBoat(report.Boat);
        }

        var flags = await doubts.AboutAsync(report, ct);
        var outcome = await store.CorrectAsync(id, ifVersion, report, flags, who.Id, ct);
        published.Changed(outcome);
        return Answer(outcome, StatusCodes.Status200OK);
    }

    private static async Task<Results<NoContent, ProblemHttpResult>> RetractAsync(
        string id,
        HttpRequest request,
        ClaimsPrincipal user,
        ReportsDbContext db,
        ReportStore store,
        RegisterCache registers,
        Published published,
        CancellationToken ct
    )
    {
        if (await FindAsync(id, user, db, registers, ct) is not { } standing)
        {
            return Problems.NotFound("report");
        }

        if (!StoredReport.TryIfMatch(request, standing.Version, out var ifVersion))
        {
            return Problems.MatchRequired();
        }

        // Retracting what is retracted changes nothing, so a repeated request is not an error.
        if (standing.State == ReportState.Retracted)
        {
            return TypedResults.NoContent();
        }

        var outcome = await store.ChangeStateAsync(id, ifVersion, ReportState.Retracted, Credential.Of(user).Id, ct);
        published.Changed(outcome);
        return outcome is StoreOutcome.Stale stale ? Problems.Stale(stale.Report.Version) : TypedResults.NoContent();
    }

    private static async Task<Results<StoredReport, ProblemHttpResult>> ConfirmAsync(
        string id,
        HttpRequest request,
        ClaimsPrincipal user,
        ReportsDbContext db,
        ReportStore store,
        RegisterCache registers,
        Published published,
        CancellationToken ct
    )
    {
        if (await FindAsync(id, user, db, registers, ct) is not { } standing)
        {
            return Problems.NotFound("report");
        }

        var who = Credential.Of(user);
        if (who.Scope == KeyScope.Boat)
        {
            return Problems.Of(
                StatusCodes.Status403Forbidden,
                "scope-too-narrow",
                "A boat can't confirm its own held report.",
                "Its landing or an administrator confirms it."
            );
        }

        if (standing.State != ReportState.Held)
        {
            return Problems.Of(
                StatusCodes.Status409Conflict,
                "not-held",
                "The report is not held.",
                $"Only a held report can be confirmed; this one is {standing.State.Word()}."
            );
        }

        // If-Match is welcome here but not required: what is confirmed is the version that was just found held.
        var ifVersion = StoredReport.TryIfMatch(request, standing.Version, out var given)
            ? given ?? standing.Version
            : standing.Version;
        var outcome = await store.ChangeStateAsync(id, ifVersion, ReportState.Counted, who.Id, ct);
        published.Changed(outcome);
        return Answer(outcome, StatusCodes.Status200OK);
    }

    private static async Task<Results<ContentHttpResult, ProblemHttpResult>> HistoryAsync(
        string id,
        ClaimsPrincipal user,
        ReportsDbContext db,
        RegisterCache registers,
        CancellationToken ct
    )
    {
        if (await FindAsync(id, user, db, registers, ct) is null)
        {
            return Problems.NotFound("report");
        }

        var versions = await (
            from v in db.ReportVersions.AsNoTracking()
            where v.ReportId == id
            join k in db.ApiKeys on v.Credential equals k.Id into keys
            from k in keys.DefaultIfEmpty()
            orderby v.Version
            select new
            {
                v.Version,
                v.StoredAt,
                v.Body,
                By = k == null ? "a removed key" : k.Name,
            }
        ).ToListAsync(ct);
        var items = versions.Select(v =>
            $"{{\"version\":{v.Version},\"storedAt\":{JsonSerializer.Serialize(v.StoredAt.UtcDateTime)},\"by\":{JsonSerializer.Serialize(v.By)},\"report\":{v.Body}}}"
        );
        return Json($"{{\"items\":[{string.Join(',', items)}]}}");
    }

    private static async Task<Results<ContentHttpResult, ProblemHttpResult>> ListAsync(
        HttpContext http,
        ClaimsPrincipal user,
        ReportsDbContext db,
        CancellationToken ct
    )
    {
        var (query, problem) = ListQuery.Read(http.Request.Query);
        if (query is null)
        {
            return problem!;
        }

        var rows =
            from r in Visible(db, Credential.Of(user), query)
            where
                query.After == null
                || r.FishedOn < query.After.FishedOn
                || (r.FishedOn == query.After.FishedOn && string.Compare(r.Id, query.After.Id) < 0)
            join v in db.ReportVersions on new { r.Id, r.Version } equals new { Id = v.ReportId, v.Version }
            orderby r.FishedOn descending, r.Id descending
            select new
            {
                r.FishedOn,
                r.Id,
                v.Body,
            };
        var page = await rows.Take(query.Limit + 1).ToListAsync(ct);
        if (page.Count > query.Limit)
        {
            page.RemoveAt(query.Limit);
            var cursor = new ListQuery.Cursor(page[^1].FishedOn, page[^1].Id).ToString();
            var others = http
                .Request.Query.Where(q => q.Key != "cursor")
                .SelectMany(q => q.Value.Select(v => KeyValuePair.Create(q.Key, v)));
            var next =
                http.Request.Path
                + QueryString.Create([.. others, KeyValuePair.Create<string, string?>("cursor", cursor)]);
            http.Response.Headers.Link = $"<{next}>; rel=\"next\"";
        }

        return Json($"{{\"items\":[{string.Join(',', page.Select(p => p.Body))}]}}");
    }

    /// <summary>The reports that a key may see raw, as far as the filters let them through.</summary>
    internal static IQueryable<ReportRow> Visible(ReportsDbContext db, Credential who, ListQuery query) =>
        from r in db.Reports.AsNoTracking()
        join b in who.BoatsOf(db) on r.Boat equals b.Code
        where query.Zone == null || r.Zone == query.Zone
        where query.Boat == null || r.Boat == query.Boat
        where query.Landing == null || b.Landing == query.Landing
        where query.From == null || r.FishedOn >= query.From
        where query.To == null || r.FishedOn <= query.To
        where query.State == null ? r.State != ReportState.Retracted : r.State == query.State
        select r;

    /// <summary>The standing version of a report that the key may see; a foreign report is not found.</summary>
    private static async Task<ReportVersionRow?> FindAsync(
        string id,
        ClaimsPrincipal user,
        ReportsDbContext db,
        RegisterCache registers,
        CancellationToken ct
    )
    {
        var version = await (
            from r in db.Reports.AsNoTracking()
            where r.Id == id
            join v in db.ReportVersions on new { r.Id, r.Version } equals new { Id = v.ReportId, v.Version }
            select v
        ).FirstOrDefaultAsync(ct);
        if (version is null)
        {
            return null;
        }

        var boat = await registers.BoatAsync(version.Boat, ct);
        return Credential.Of(user).ActsFor(boat) ? version : null;
    }

    internal static Results<StoredReport, ProblemHttpResult> Answer(
        StoreOutcome outcome,
        int status = StatusCodes.Status201Created
    ) =>
        outcome switch
        {
            StoreOutcome.Stored stored => new StoredReport(stored.Version, status),
            StoreOutcome.Replayed replayed => new StoredReport(replayed.Version, StatusCodes.Status200OK),
            StoreOutcome.KeyReused => Problems.KeyReused(),
            StoreOutcome.Standing standing => Problems.Standing(standing.Report.Id),
            StoreOutcome.Stale stale => Problems.Stale(stale.Report.Version),
            _ => throw new InvalidOperationException($"no answer for {outcome}"),
        };

    internal static bool TryFlag(HttpRequest request, string name, out bool value)
    {
        value = false;
        var text = request.Query[name].ToString();
        return text.Length == 0 || bool.TryParse(text, out value);
    }

    private static ContentHttpResult Json(string json) => TypedResults.Content(json, "application/json", Encoding.UTF8);

    /// <summary>The filters and the place of a page of reports, newest first.</summary>
    internal sealed record ListQuery(
        string? Zone,
        string? Boat,
        string? Landing,
        DateOnly? From,
        DateOnly? To,
        ReportState? State,
        int Limit,
        ListQuery.Cursor? After
    )
    {
        public static (ListQuery? Query, ProblemHttpResult? Problem) Read(IQueryCollection query)
        {
            string? Text(string name) => query[name].ToString() is { Length: > 0 } text ? text : null;
            DateOnly? from = null;
            DateOnly? to = null;
            foreach (
                var (name, set) in new (string, Action<DateOnly>)[] { ("from", d => from = d), ("to", d => to = d) }
            )
            {
                if (Text(name) is not { } text)
                {
                    continue;
                }

                if (!Dates.TryParse(text, out var date))
                {
                    return (
                        null,
                        Problems.BadParameter(
                            name,
                            "not-a-date",
                            $"{name} must be an ISO 8601 date, such as 2026-11-20."
                        )
                    );
                }

                set(date);
            }

            var limit = DefaultPage;
            if (
                Text("limit") is { } limitText
                && (
                    !int.TryParse(limitText, NumberStyles.None, CultureInfo.InvariantCulture, out limit)
                    || limit is < 1 or > MostPage
                )
            )
            {
                return (
                    null,
                    Problems.BadParameter(
                        "limit",
                        "out-of-range",
                        $"limit must be a whole number from 1 to {MostPage}."
                    )
                );
            }

            ReportState? state = null;
            if (Text("state") is { } stateText)
            {
                if (!Words.Of<ReportState>().TryGetValue(stateText, out var parsed))
                {
                    return (
                        null,
                        Problems.BadParameter(
                            "state",
                            "unknown-word",
                            $"state must be one of {string.Join(", ", Words.Of<ReportState>().Keys)}."
                        )
                    );
                }

                state = parsed;
            }

            Cursor? after = null;
            if (Text("cursor") is { } cursorText && !Cursor.TryParse(cursorText, out after))
            {
                return (
                    null,
                    Problems.BadParameter(
                        "cursor",
                        "malformed-cursor",
                        "cursor must be taken from a Link header of this list."
                    )
                );
            }

            return (new(Text("zone"), Text("boat"), Text("landing"), from, to, state, limit, after), null);
        }

        public sealed record Cursor(DateOnly FishedOn, string Id)
        {
            public override string ToString() => $"{Dates.Text(FishedOn)}.{Id}";

            public static bool TryParse(string text, out Cursor? cursor)
            {
                cursor = null;
                if (
                    text.Length != 43
                    || text[10] != '.'
                    || !Dates.TryParse(text[..10], out var date)
                    || !text[11..].All(char.IsAsciiHexDigitLower)
                )
                {
                    return false;
                }

                cursor = new Cursor(date, text[11..]);
                return true;
            }
        }
    }
}
