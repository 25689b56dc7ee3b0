using System.Net;
using System.Text.Json.Nodes;
using System.Text.RegularExpressions;
using Microsoft.AspNetCore.Routing;
using Microsoft.Extensions.DependencyInjection;
using Reports.Domain.Coast;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using Reports.Storage;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Api;

/// <summary>The OpenAPI document is written by hand, so it is held against the routes, the rules and the answers.</summary>
public sealed partial class OpenApiTests(PostgresServer postgres, SharedApps apps) : IClassFixture<SharedApps>
{
    [Fact]
    public async Task Every_route_of_the_api_is_an_operation_and_every_operation_a_route()
    {
        var (app, fleet) = await apps.OfAsync(DatabaseKind.Sqlite);
        var document = await DocumentAsync(fleet);
        var routes = app
            .Services.GetRequiredService<EndpointDataSource>()
            .Endpoints.OfType<RouteEndpoint>()
            .Select(e =>
                (
                    Path: Normal(e.RoutePattern.RawText!),
                    Methods: e.Metadata.GetMetadata<HttpMethodMetadata>()?.HttpMethods ?? []
                )
            )
            .Where(r => r.Path.StartsWith("/api/", StringComparison.Ordinal))
            .SelectMany(r => r.Methods.Select(m => $"{m} {r.Path}"));
        Assert.Equal(
            routes.Distinct().Order(StringComparer.Ordinal),
            document.Operations.Select(o => $"{o.Method} {Normal(o.Path)}").Order(StringComparer.Ordinal)
        );
    }

    [Fact]
    public async Task It_is_OpenAPI_3_1_and_every_operation_says_what_it_does()
    {
        var (_, fleet) = await apps.OfAsync(DatabaseKind.Sqlite);
        var document = await DocumentAsync(fleet);
        Assert.StartsWith("3.1.", document.Root["openapi"]!.GetValue<string>(), StringComparison.Ordinal);
        Assert.All(
            document.Operations,
            o =>
            {
                Assert.False(string.IsNullOrWhiteSpace(o.Json["summary"]?.GetValue<string>()), $"{o} has no summary");
                Assert.False(
                    string.IsNullOrWhiteSpace(o.Json["description"]?.GetValue<string>()),
                    $"{o} has no description"
                );
                Assert.NotNull(o.Json["operationId"]);
            }
        );
        Assert.Distinct(document.Operations.Select(o => o.Json["operationId"]!.GetValue<string>()));
    }

    [Fact]
    public async Task Every_body_has_an_example_and_every_example_is_valid()
    {
        var (_, fleet) = await apps.OfAsync(DatabaseKind.Sqlite);
        var document = await DocumentAsync(fleet);
        var contents = document.Operations.SelectMany(o =>
            o.Responses.Select(r => (What: $"{o} {r.Status}", r.Content))
                .Append((What: $"{o} request", Content: o.RequestContent))
        );
        var checkedExamples = 0;
        foreach (var (what, content) in contents.Where(c => c.Content is not null))
        {
            Assert.True(content!.ContainsKey("example"), $"{what} has no example");
            var faults = document.Faults(content["schema"]!, content["example"]);
            Assert.True(faults.Count == 0, $"{what}: {string.Join("\n", faults)}");
            checkedExamples++;
        }

        Assert.True(checkedExamples > 60, $"only {checkedExamples} examples");
        foreach (var parameter in document.Operations.SelectMany(o => o.Json["parameters"]?.AsArray() ?? []))
        {
            Assert.NotNull(parameter!["example"]);
            Assert.Empty(document.Faults(parameter["schema"]!, parameter["example"]));
        }
    }

    [Fact]
    public async Task Its_words_are_the_words_that_the_reader_takes()
    {
        var (_, fleet) = await apps.OfAsync(DatabaseKind.Sqlite);
        var schemas = (await DocumentAsync(fleet)).Root["components"]!["schemas"]!;
        IEnumerable<string> Enum(string schema, string property) =>
            schemas[schema]!["properties"]![property]!["enum"]!
                .AsArray()
                .OfType<JsonValue>()
                .Select(w => w.GetValue<string>());

        Assert.Equal(Words.Of<ReportStatus>().Keys, Enum("Report", "status"));
        Assert.Equal(Words.Of<Bite>().Keys, Enum("Report", "bite"));
        Assert.Equal(Words.Of<ReportState>().Keys, Enum("StoredReport", "state"));
        Assert.Equal(Words.Of<WeightUnit>().Keys, Enum("Units", "weight"));
        Assert.Equal(Words.Of<LengthUnit>().Keys, Enum("Units", "length"));
        Assert.Equal(Words.Of<DepthUnit>().Keys, Enum("Units", "depth"));
        Assert.Equal(Words.Of<BaitCondition>().Keys, Enum("BaitLine", "condition"));
        Assert.Equal(Words.Of<BaitSupply>().Keys, Enum("BaitLine", "supply"));
        Assert.Equal(Words.Of<Technique>().Keys, Enum("RigLine", "technique"));
        Assert.Equal(Words.Of<RigUse>().Keys, Enum("RigLine", "use"));
        Assert.Equal(Words.Of<LeaderMaterial>().Keys, Enum("Leader", "material"));
        Assert.Equal(Words.Of<MainLineMaterial>().Keys, Enum("MainLine", "material"));
        Assert.Equal(Words.Of<HookStyle>().Keys, Enum("Hook", "style"));
        Assert.Equal(Words.Of<HookWire>().Keys, Enum("Hook", "wire"));
        Assert.Equal(Words.Of<SpeciesKind>().Keys, Enum("Species", "kind"));
        Assert.Equal(Words.Of<TripKind>().Keys, Enum("Departure", "kind"));
        Assert.Equal(Words.Of<DepartureStatus>().Keys, Enum("Departure", "status"));
        Assert.Equal(Words.Of<TripKind>().Keys, Enum("ComingTrip", "kind"));
        Assert.Equal(Words.Of<KeyScope>().Keys, Enum("KeyRequest", "scope"));
        Assert.Equal(Words.Of<KeyScope>().Keys, Enum("Key", "scope"));
    }

    /// <summary>The examples are a session: put the coast, post the report, work on it, read the brief.</summary>
    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task The_examples_can_be_sent_as_they_stand_and_the_answers_are_what_is_declared(DatabaseKind database)
    {
        await using var app = await ReportsApp.StartAsync(database, postgres);
        var fleet = new Fleet(app.CreateClient());
        var document = await DocumentAsync(fleet);

        // The report's example names a bait, which the species' example (a fish) does not put.
        await fleet.PutAsync(
            "species/PIL",
            new
            {
                name = "sardine",
                scientificName = "Sardina pilchardus",
                kind = "bait",
            }
        );
        var id = "";
        foreach (var name in Session)
        {
            var operation = document.Operations.Single(o => o.Json["operationId"]!.GetValue<string>() == name);
            var path = PathParameter()
                .Replace(
                    operation.Path,
                    m => m.Groups[1].Value == "id" ? id : Example(operation, m.Groups[1].Value, "path")
                );
            var query = (operation.Json["parameters"]?.AsArray() ?? [])
                .Where(p => p!["in"]!.GetValue<string>() == "query" && p["required"]!.GetValue<bool>())
                .Select(p => $"{p!["name"]}={p["example"]}");
            var headers = (operation.Json["parameters"]?.AsArray() ?? [])
                .Where(p => p!["in"]!.GetValue<string>() == "header")
                .Select(p => (p!["name"]!.GetValue<string>(), name == "retractReport" ? "*" : p["example"]!.ToString()))
                .ToArray();
            using var answer = await fleet.SendAsync(
                new HttpMethod(operation.Method),
                path + string.Concat(query.Select((q, i) => (i == 0 ? "?" : "&") + q)),
                operation.Json.ContainsKey("security") ? fleet.Admin : null,
                operation.ExampleBody(),
                headers
            );
            await operation.CheckAsync(answer);
            Assert.True(
                answer.IsSuccessStatusCode || name == "confirmReport",
                $"{operation}: {(int)answer.StatusCode}"
            );
            if (name is "createReport" or "createKey")
            {
                id = (await answer.JsonAsync()).Text("id");
            }
        }

        Assert.Equal(document.Operations.Count, Session.Distinct().Count());
    }

    private static readonly string[] Session =
    [
        "putLanding",
        "putZone",
        "putBoat",
        "putSpecies",
        "readLanding",
        "readZone",
        "readBoat",
        "readSpecies",
        "listLandings",
        "listZones",
        "listBoats",
        "listSpecies",
        "putDeparture",
        "readDeparture",
        "putDayBait",
        "readDayBait",
        "createReport",
        "createReport",
        "createReports",
        "readReport",
        "correctReport",
        "readHistory",
        "confirmReport",
        "listReports",
        "importReports",
        "exportReports",
        "importDepartures",
        "exportDepartures",
        "importDayBait",
        "exportDayBait",
        "readBrief",
        "readRecord",
        "readChances",
        "retractReport",
        "createKey",
        "listKeys",
        "revokeKey",
    ];

    private static string Example(ApiDocument.Operation operation, string name, string place) =>
        operation.Json["parameters"]!
            .AsArray()
            .Single(p => p!["name"]!.GetValue<string>() == name && p["in"]!.GetValue<string>() == place)![
            "example"
        ]!.ToString();

    private static async Task<ApiDocument> DocumentAsync(Fleet fleet)
    {
        using var answer = await fleet.GetAsync("/openapi/v1.json");
        await answer.ShouldBeAsync(HttpStatusCode.OK);
        return ApiDocument.Parse(await answer.Content.ReadAsStringAsync());
    }

    private static string Normal(string path) => PathParameter().Replace("/" + path.Trim('/'), "{}");

    [GeneratedRegex(@"\{([^}:?]+)[^}]*\}")]
    private static partial Regex PathParameter();
}
