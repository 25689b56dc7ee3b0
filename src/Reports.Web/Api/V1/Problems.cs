using Microsoft.AspNetCore.Http.HttpResults;
using Reports.Domain.Reporting;

namespace Reports.Web.Api.V1;

/// <summary>
/// Every refusal of the API as RFC 9457 problem details: a type that software can act on, a title, a sentence that says what to
/// do, and for a wrong body one entry per wrong field.
/// </summary>
public static class Problems
{
    public const string TypePrefix = "urn:railside:problem:";

    public static ProblemHttpResult Invalid(IReadOnlyList<FieldError> errors) =>
        Of(
            StatusCodes.Status400BadRequest,
            "invalid-body",
            "The body has wrong fields.",
            errors.Count == 1
                ? "One field is wrong; nothing was stored."
                : $"{errors.Count} fields are wrong; nothing was stored.",
            new()
            {
                ["errors"] = errors.Select(e => new
                {
                    pointer = e.Pointer,
                    code = e.Code,
                    detail = e.Detail,
                }),
            }
        );

    /// <summary>A file of which nothing was stored, because some of its rows are wrong.</summary>
    public static ProblemHttpResult InvalidRows(ImportResult result) =>
        Of(
            StatusCodes.Status400BadRequest,
            "invalid-rows",
            "The file has wrong rows.",
            result.ErrorCount == 1
                ? "One cell or row is wrong; nothing was stored."
                : $"{result.ErrorCount} cells or rows are wrong; nothing was stored.",
            new()
            {
                ["stored"] = result.Stored,
                ["unchanged"] = result.Unchanged,
                ["errorCount"] = result.ErrorCount,
                ["errors"] = result.Errors,
            }
        );

    /// <summary>A wrong query parameter or header, by its name.</summary>
    public static ProblemHttpResult BadParameter(string parameter, string code, string detail) =>
        Of(
            StatusCodes.Status400BadRequest,
            "invalid-request",
            "The request is malformed.",
            detail,
            new()
            {
                ["errors"] = new[]
                {
                    new
                    {
                        parameter,
                        code,
                        detail,
                    },
                },
            }
        );

    /// <summary>Wrong query parameters, all of them at once; a pointer is a parameter's name.</summary>
    public static ProblemHttpResult BadParameters(IReadOnlyList<FieldError> errors) =>
        Of(
            StatusCodes.Status400BadRequest,
            "invalid-request",
            "The request is malformed.",
            string.Join(" ", errors.Select(e => e.Detail)),
            new()
            {
                ["errors"] = errors.Select(e => new
                {
                    parameter = e.Pointer,
                    code = e.Code,
                    detail = e.Detail,
                }),
            }
        );

    public static ProblemHttpResult KeyMissing(string name) =>
        BadParameter(
            name,
            "idempotency-key-missing",
            $"Send {name}: a new UUID for each report, the same one when you repeat it."
        );

    public static ProblemHttpResult KeyMalformed(string name) =>
        BadParameter(
            name,
            "idempotency-key-malformed",
            $"{name} must be a UUID, such as 6d0a7a0e-9d4f-4a52-8a1e-3f3b6c1e2f10."
        );

    public static ProblemHttpResult Of(
        int status,
        string code,
        string title,
        string detail,
        Dictionary<string, object?>? extensions = null
    ) => TypedResults.Problem(detail, null, status, title, TypePrefix + code, extensions);

    public static ProblemHttpResult NotFound(string what) =>
        Of(StatusCodes.Status404NotFound, "not-found", "Not found.", $"There is no such {what}.");

    /// <summary>For a status that came without a body: no such address, or not with this method.</summary>
    public static ProblemHttpResult Unanswered(HttpContext http) =>
        http.Response.StatusCode switch
        {
            StatusCodes.Status404NotFound => NotFound("address in the API"),
            StatusCodes.Status405MethodNotAllowed => Of(
                StatusCodes.Status405MethodNotAllowed,
                "method-not-allowed",
                "The address does not take this method.",
                $"It takes {http.Response.Headers.Allow}."
            ),
            var status => Of(status, "refused", "The request was refused.", "The request could not be answered."),
        };

    public static ProblemHttpResult MalformedAddress() =>
        Of(
            StatusCodes.Status400BadRequest,
            "malformed-address",
            "The address is malformed.",
            "An address can't hold the NUL character (%00)."
        );

    /// <summary>For a request whose body could not be read to its end.</summary>
    public static ProblemHttpResult Broken(int status) =>
        status switch
        {
            StatusCodes.Status408RequestTimeout => Of(
                status,
                "too-slow",
                "The request came too slowly.",
                $"Send at least {Limits.LeastBytesPerSecond} bytes a second; nothing was stored, send it again."
            ),
            StatusCodes.Status413PayloadTooLarge => Of(
                status,
                "body-too-large",
                "The body is too large.",
                "Send it in parts."
            ),
            _ => Of(status, "broken-request", "The request broke off.", "Nothing was stored; send it again."),
        };

    public static ProblemHttpResult NotYourBoat(string boat) =>
        Of(
            StatusCodes.Status403Forbidden,
            "not-your-boat",
            "This key may not report for that boat.",
            $"The key does not act for \"{boat}\". Use the key of the boat, of its landing, or an administrator's."
        );

    public static ProblemHttpResult KeyReused() =>
        Of(
            StatusCodes.Status422UnprocessableEntity,
            "idempotency-key-reused",
            "The idempotency key was used for another report.",
            "Use a new UUID for each report; repeat a key only with the very same body."
        );

    public static ProblemHttpResult Standing(string id) =>
        Of(
            StatusCodes.Status409Conflict,
            "report-stands",
            "A report of this boat, zone, day and sailing stands already.",
            $"Correct report {id} with PUT, or send this again with ?replace=true.",
            new() { ["report"] = new { id, href = $"/api/v1/reports/{id}" } }
        );

    public static ProblemHttpResult Stale(int version) =>
        Of(
            StatusCodes.Status412PreconditionFailed,
            "stale-version",
            "The report has changed since you read it.",
            $"Version {version} stands. Read it again, and repeat the change on it with its ETag in If-Match."
        );

    public static ProblemHttpResult MatchRequired() =>
        Of(
            StatusCodes.Status428PreconditionRequired,
            "if-match-required",
            "If-Match is required.",
            "Send the ETag of the version that you read in If-Match, so that no one else's change is lost."
        );
}
