using System.Security.Claims;
using System.Text.Json;
using Microsoft.AspNetCore.Http.HttpResults;
using Reports.Domain.Reporting;
using Reports.Storage;

namespace Reports.Web.Api.V1;

/// <summary>
/// Many reports in one request. Each has the outcome that it would have had alone, and none stands or falls with another.
/// </summary>
public static class BatchEndpoint
{
    public const int MostReports = 1000;
    public const int MostBytes = 5 * 1024 * 1024;

    public static async Task<Results<JsonHttpResult<BatchAnswer>, ProblemHttpResult>> CreateAllAsync(
        HttpRequest request,
        ClaimsPrincipal user,
        Intake intake,
        CancellationToken ct
    )
    {
        var (json, problem) = await JsonBody.ReadAsync(request, ct, MostBytes);
        if (problem is not null)
        {
            return problem;
        }

        var errors = new List<FieldError>();
        var items = FieldReader.Open(json, "", errors) is { } root ? Items(root) : [];
        if (errors.Count > 0)
        {
            return Problems.Invalid(errors);
        }

        var arrivals = items.SelectAbreast(Read);
        var answers = await intake.CreateAllAsync(
            Credential.Of(user),
            [.. arrivals.Select(a => a.Arrival).OfType<Arrival>()],
            ct
        );
        using var stored = answers.GetEnumerator();
        return TypedResults.Json(
            new BatchAnswer([
                .. arrivals.Select(
                    (a, index) =>
                        a.Problem is { } malformed ? ItemResult.Of(index, malformed)
                        : stored.MoveNext() ? ItemResult.Of(index, stored.Current)
                        : throw new InvalidOperationException("an item without an answer")
                ),
            ]),
            ItemResult.Json
        );
    }

    private static List<JsonElement> Items(FieldReader root)
    {
        var reports = root.Raw("reports", required: true);
        root.RefuseUnknown();
        if (reports is not { } list)
        {
            return [];
        }

        if (list.ValueKind != JsonValueKind.Array)
        {
            root.Refuse("reports", "wrong-type", $"must be a list of objects, not {FieldReader.Kind(list)}.");
            return [];
        }

        if (list.GetArrayLength() is < 1 or > MostReports)
        {
            root.Refuse(
                "reports",
                list.GetArrayLength() == 0 ? "required" : "too-many",
                $"must have 1 to {MostReports} entries; this has {list.GetArrayLength()}."
            );
            return [];
        }

        return [.. list.EnumerateArray()];
    }

    /// <summary>
    /// What an entry carries beside its report is checked as the single request's header and query are; pointers are kept for the
    /// report itself.
    /// </summary>
    private static (Arrival? Arrival, ProblemHttpResult? Problem) Read(JsonElement entry)
    {
        var errors = new List<FieldError>();
        if (FieldReader.Open(entry, "", errors) is not { } item)
        {
            return (null, Problems.BadParameter("report", errors[0].Code, $"The entry {errors[0].Detail}"));
        }

        var keyText = item.Text("idempotencyKey", 100);
        var replace = item.Flag("replace") ?? false;
        var report = item.Raw("report");
        item.RefuseUnknown();
        if (errors.Count > 0)
        {
            return (null, Problems.BadParameter(errors[0].Pointer.TrimStart('/'), errors[0].Code, errors[0].Detail));
        }

        if (keyText is null)
        {
            return (null, Problems.KeyMissing("idempotencyKey"));
        }

        return !Guid.TryParseExact(keyText, "D", out var key) ? (null, Problems.KeyMalformed("idempotencyKey"))
            : report is not { } document
                ? (null, Problems.BadParameter("report", "required", "\"report\" is required in each entry."))
            : (new Arrival(key, document, replace), null);
    }
}

/// <summary>One result per report, in order.</summary>
public sealed record BatchAnswer(IReadOnlyList<ItemResult> Results);

/// <summary>What became of one report of a batch: the status that it would have been answered with alone, and why.</summary>
/// <param name="Location">Where the stored report is (201, 200).</param>
/// <param name="Version">Version of the stored report.</param>
/// <param name="State">State of the stored report: a held one wants a look.</param>
/// <param name="Errors">Empty when it is stored; pointers start at the report.</param>
/// <param name="Report">The report that stands (409).</param>
public sealed record ItemResult(
    int Index,
    int Status,
    string? Location,
    int? Version,
    string? State,
    object Errors,
    object? Report
)
{
    public static readonly JsonSerializerOptions Json = new(JsonSerializerDefaults.Web)
    {
        DefaultIgnoreCondition = System.Text.Json.Serialization.JsonIgnoreCondition.WhenWritingNull,
    };

    public static ItemResult Of(int index, Results<StoredReport, ProblemHttpResult> answer) =>
        answer.Result switch
        {
            StoredReport stored => new(
                index,
                stored.StatusCode,
                StoredReport.Href(stored.Version.ReportId),
                stored.Version.Version,
                stored.Version.State.Word(),
                Array.Empty<object>(),
                null
            ),
            ProblemHttpResult problem => Of(index, problem),
            _ => throw new InvalidOperationException($"no result for {answer.Result}"),
        };

    public static ItemResult Of(int index, ProblemHttpResult problem)
    {
        var details = problem.ProblemDetails;
        return new(
            index,
            problem.StatusCode,
            null,
            null,
            null,
            details.Extensions.TryGetValue("errors", out var errors)
                ? errors!
                : new[] { new { code = details.Type![Problems.TypePrefix.Length..], detail = details.Detail } },
            details.Extensions.TryGetValue("report", out var report) ? report : null
        );
    }
}
