using System.Net;
using System.Text.Json.Nodes;
using Microsoft.EntityFrameworkCore;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Api;

/// <summary>
/// What the document calls wrong, the service refuses: every body that takes JSON, with every single fault that its schema can
/// name, gets problem details whose pointers name the fault, and nothing is stored.
/// </summary>
public sealed class SchemaFuzzTests(PostgresServer postgres)
{
    /// <summary>Bodies that are put or posted as one document. A batch answers 200 with a result for each of its items.</summary>
    private static readonly Dictionary<string, string> Addresses = new()
    {
        ["createReport"] = "/api/v1/reports",
        ["putLanding"] = "/api/v1/landings/corran-quay",
        ["putZone"] = "/api/v1/zones/cannery-bank",
        ["putBoat"] = "/api/v1/boats/grey-petrel",
        ["putSpecies"] = "/api/v1/species/SBF",
        ["putDeparture"] = "/api/v1/departures/grey-petrel/2026-11-28/1",
        ["putDayBait"] = "/api/v1/landings/corran-quay/bait/2026-11-20",
        ["createKey"] = "/api/v1/keys",
    };

    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task Every_fault_that_the_document_can_name_is_refused_by_its_pointer(DatabaseKind database)
    {
        await using var app = await ReportsApp.StartAsync(database, postgres);
        var fleet = await Fleet.SetUpCoastAsync(app);
        var before = await RowsAsync(app);
        var wrong = new List<string>();
        var tried = 0;
        foreach (var (name, address) in Addresses)
        {
            var operation = ApiDocument.Written.Operations.Single(o =>
                o.Json["operationId"]!.GetValue<string>() == name
            );
            var body = name == "createReport" ? ReportBody.Full(Fleet.Petrel) : operation.RequestContent!["example"]!;
            foreach (
                var mutation in SchemaMutations.Of(ApiDocument.Written, operation.RequestContent!["schema"]!, body)
            )
            {
                tried++;
                using var answer = await fleet.SendAsync(
                    new HttpMethod(operation.Method),
                    address,
                    fleet.Admin,
                    mutation.Body.ToJsonString(),
                    ("Idempotency-Key", Guid.NewGuid().ToString())
                );
                if (answer.StatusCode != HttpStatusCode.BadRequest)
                {
                    wrong.Add($"{name}: {mutation} got {(int)answer.StatusCode}");
                    continue;
                }

                var pointers = (await answer.ProblemAsync(HttpStatusCode.BadRequest)).Pointers();
                // A shape of GeoJSON is right or wrong as a whole.
                var place = mutation.Pointer.StartsWith("/area/", StringComparison.Ordinal)
                    ? "/area"
                    : mutation.Pointer;
                if (!pointers.Any(p => p == place || p.StartsWith(place + "/", StringComparison.Ordinal)))
                {
                    wrong.Add($"{name}: {mutation} named {string.Join(", ", pointers)}");
                }

                wrong.AddRange(
                    pointers
                        .Where(p => !Resolves(mutation.Body, p))
                        .Select(p => $"{name}: {mutation} named {p}, which is no place in the body")
                );
            }
        }

        Assert.True(wrong.Count == 0, $"{wrong.Count} of {tried}:\n{string.Join('\n', wrong.Take(60))}");
        Assert.True(tried > 500, $"only {tried} faults were tried");
        Assert.Equal(before, await RowsAsync(app));
    }

    private static Task<(int Reports, int Departures, int Bait, int Boats, int Keys)> RowsAsync(ReportsApp app) =>
        app.AskAsync(async db =>
            (
                await db.Reports.CountAsync(),
                await db.Departures.CountAsync(),
                await db.LandingBait.CountAsync(),
                await db.Boats.CountAsync(),
                await db.ApiKeys.CountAsync()
            )
        );

    /// <summary>A pointer names something in the body, or a member that its object lacks.</summary>
    private static bool Resolves(JsonNode body, string pointer)
    {
        JsonNode? here = body;
        var steps = pointer.Split('/')[1..];
        foreach (var step in steps.SkipLast(1))
        {
            here = Step(here, step);
        }

        return steps.Length == 0 || here is JsonObject || Step(here, steps[^1]) is not null;
    }

    private static JsonNode? Step(JsonNode? here, string step) =>
        here switch
        {
            JsonObject members => members[step],
            JsonArray list when int.TryParse(step, out var at) && at < list.Count => list[at],
            _ => null,
        };
}
