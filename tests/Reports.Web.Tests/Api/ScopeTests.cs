using System.Net;
using System.Text.Json.Nodes;
using Microsoft.AspNetCore.Routing;
using Microsoft.AspNetCore.Routing.Template;
using Microsoft.Extensions.DependencyInjection;
using Reports.Storage;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Api;

/// <summary>Who may do what: every endpoint with a key of every scope, and with none.</summary>
[Collection(OnSharedApps.Name)]
public sealed class ScopeTests(SharedApps apps)
{
    public static TheoryData<DatabaseKind> Both => Databases.Both;

    // Columns: nobody, a key that is not one, the shop, the boat (Grey Petrel), its landing, the other landing, the administrator.
    // 1xx: a report of Grey Petrel is made first.
    private static readonly (string Method, string Path, string Body, int[] Statuses)[] Rules =
    [
        ("POST", "/reports", "report", [401, 401, 403, 201, 201, 403, 201]),
        ("POST", "/reports/batch", "batch", [401, 401, 403, 200, 200, 200, 200]),
        ("POST", "/reports/import", "report-csv", [401, 401, 403, 200, 200, 400, 200]),
        ("GET", "/reports.csv", "", [401, 401, 403, 200, 200, 200, 200]),
        ("POST", "/departures/import", "departure-csv", [401, 401, 403, 403, 403, 403, 200]),
        ("GET", "/departures.csv", "", [401, 401, 403, 200, 200, 200, 200]),
        ("POST", "/bait/import", "bait-csv", [401, 401, 403, 400, 200, 400, 200]),
        ("GET", "/bait.csv", "", [401, 401, 403, 200, 200, 200, 200]),
        ("POST", "/keys", "key", [401, 401, 403, 403, 403, 403, 201]),
        ("GET", "/keys", "", [401, 401, 403, 403, 403, 403, 200]),
        ("DELETE", "/keys/{key}", "", [401, 401, 403, 403, 403, 403, 204]),
        ("GET", "/reports", "", [401, 401, 403, 200, 200, 200, 200]),
        ("GET", "/reports/{id}", "", [401, 401, 403, 200, 200, 404, 200]),
        ("PUT", "/reports/{id}", "stored", [401, 401, 403, 200, 200, 404, 200]),
        ("DELETE", "/reports/{id}", "", [401, 401, 403, 204, 204, 404, 204]),
        ("GET", "/reports/{id}/history", "", [401, 401, 403, 200, 200, 404, 200]),
        ("POST", "/reports/{id}/confirm", "", [401, 401, 403, 403, 409, 404, 409]),
        ("GET", "/landings", "", [200, 200, 200, 200, 200, 200, 200]),
        ("GET", "/landings/corran-quay", "", [200, 200, 200, 200, 200, 200, 200]),
        ("GET", "/boats", "", [200, 200, 200, 200, 200, 200, 200]),
        ("GET", "/boats/grey-petrel", "", [200, 200, 200, 200, 200, 200, 200]),
        ("GET", "/zones", "", [200, 200, 200, 200, 200, 200, 200]),
        ("GET", "/zones/cannery-bank", "", [200, 200, 200, 200, 200, 200, 200]),
        ("GET", "/species", "", [200, 200, 200, 200, 200, 200, 200]),
        ("GET", "/species/SBF", "", [200, 200, 200, 200, 200, 200, 200]),
        ("GET", "/zones/cannery-bank/species/SBF/brief", "", [200, 200, 200, 200, 200, 200, 200]),
        ("GET", "/record", "", [200, 200, 200, 200, 200, 200, 200]),
        ("GET", "/chances?species=SBF", "", [200, 200, 200, 200, 200, 200, 200]),
        ("PUT", "/landings/corran-quay", "landing", [401, 401, 403, 403, 403, 403, 200]),
        ("PUT", "/boats/grey-petrel", "boat", [401, 401, 403, 403, 403, 403, 200]),
        ("PUT", "/zones/cannery-bank", "zone", [401, 401, 403, 403, 403, 403, 200]),
        ("PUT", "/species/SBF", "species", [401, 401, 403, 403, 403, 403, 200]),
        ("PUT", "/departures/grey-petrel/2026-11-24/1", "departure", [401, 401, 403, 403, 403, 403, 201]),
        ("GET", "/departures/grey-petrel/2026-11-24/1", "", [401, 401, 403, 200, 200, 404, 200]),
        ("PUT", "/landings/corran-quay/bait/2026-11-01", "bait", [401, 401, 403, 404, 200, 404, 200]),
        ("GET", "/landings/corran-quay/bait/2026-11-01", "", [401, 401, 403, 404, 200, 404, 200]),
    ];

    /// <summary>A route that nobody has thought about here fails.</summary>
    [Fact]
    public async Task EveryRouteOfTheApiHasItsRule()
    {
        var (app, _) = await apps.OfAsync(DatabaseKind.Sqlite);
        var routes = app
            .Services.GetRequiredService<EndpointDataSource>()
            .Endpoints.OfType<RouteEndpoint>()
            .Where(e => e.RoutePattern.RawText!.TrimStart('/').StartsWith("api/v1/", StringComparison.Ordinal))
            .SelectMany(
                e => e.Metadata.GetMetadata<HttpMethodMetadata>()?.HttpMethods ?? [],
                (e, method) => (Method: method, e.RoutePattern)
            )
            .ToList();
        Assert.NotEmpty(routes);
        Assert.All(
            routes,
            route =>
            {
                var template = new TemplateMatcher(
                    TemplateParser.Parse(route.RoutePattern.RawText!.Trim('/')),
                    new RouteValueDictionary()
                );
                var literals = route.RoutePattern.PathSegments.Count(x => x.Parts[0].IsLiteral);
                Assert.Contains(
                    Rules,
                    rule =>
                        rule.Method == route.Method
                        && template.TryMatch("/api/v1" + rule.Path.Split('?')[0], [])
                        && !routes.Any(other =>
                            other.Method == route.Method
                            && other.RoutePattern.PathSegments.Count(x => x.Parts[0].IsLiteral) > literals
                            && new TemplateMatcher(
                                TemplateParser.Parse(other.RoutePattern.RawText!.Trim('/')),
                                new RouteValueDictionary()
                            ).TryMatch("/api/v1" + rule.Path, [])
                        )
                );
            }
        );
    }

    /// <summary>In a batch a foreign boat's report is refused by itself.</summary>
    [Theory]
    [MemberData(nameof(Both))]
    public async Task ABatchRefusesWhatTheKeyMayNotReport(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        var own = await fleet.NewBoatAsync();
        var foreign = await fleet.NewBoatAsync(Fleet.Dock);
        var results = await BatchTests.BatchAsync(
            fleet,
            fleet.QuayKey,
            BatchTests.Entry(Guid.NewGuid(), ReportBody.Short(own)),
            BatchTests.Entry(Guid.NewGuid(), ReportBody.Short(foreign))
        );
        Assert.Equal([201, 403], results.Select(r => r.Number("status")));
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task EveryEndpointAnswersEveryScopeAsTheContractSays(DatabaseKind database)
    {
        var (app, fleet) = await apps.OfAsync(database);
        await fleet.PutAsync($"departures/{Fleet.Petrel}/2026-11-24/1", Body("departure", 0));
        await fleet.PutAsync($"landings/{Fleet.Quay}/bait/2026-11-01", Body("bait", 0));
        string?[] keys =
        [
            null,
            KeyStore.NewSecret(),
            fleet.ShopKey,
            fleet.PetrelKey,
            fleet.QuayKey,
            fleet.DockKey,
            fleet.Admin,
        ];
        var day = 0;
        foreach (var (method, path, body, statuses) in Rules)
        {
            foreach (var (key, status) in keys.Zip(statuses))
            {
                day++;
                var stored = path.Contains("{id}", StringComparison.Ordinal)
                    ? await fleet.SubmitReportAsync(Body("report", day), idempotencyKey: Guid.NewGuid())
                    : null;
                var victim = path.Contains("{key}", StringComparison.Ordinal)
                    ? (
                        await app.WithAsync(
                            (KeyStore k) => k.CreateAsync("to be revoked", KeyScope.Shop, null, CancellationToken.None)
                        )
                    )
                        .Key
                        .Id
                    : "";
                using var answer = await fleet.SendAsync(
                    HttpMethod.Parse(method),
                    "/api/v1"
                        + path.Replace("{id}", stored?.Text("id"), StringComparison.Ordinal)
                            .Replace("{key}", victim, StringComparison.Ordinal),
                    key,
                    body == "stored" ? stored
                        : body.EndsWith("-csv", StringComparison.Ordinal) ? Csv(body, day)
                        : body.Length > 0 ? Body(body, day)
                        : null,
                    ("Idempotency-Key", Guid.NewGuid().ToString()),
                    ("If-Match", "\"1\"")
                );
                // A departure is new to the first who may put it.
                var expected = status == 201 && path.StartsWith("/departures", StringComparison.Ordinal) ? 200 : status;
                Assert.True(
                    (int)answer.StatusCode == expected,
                    $"{method} {path} with key {Array.IndexOf(keys, key)}: {(int)answer.StatusCode}, not {expected}: {await answer.TextAsync()}"
                );
                if (expected >= 400)
                {
                    await answer.ProblemAsync((HttpStatusCode)expected);
                }

                if (expected == 401)
                {
                    Assert.Equal("Bearer", answer.Headers.WwwAuthenticate.Single().Scheme);
                }
            }
        }
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task ARevokedKeyIsNoKey(DatabaseKind database)
    {
        var (app, fleet) = await apps.OfAsync(database);
        var (key, secret) = await app.WithAsync(
            (KeyStore keys) => keys.CreateAsync("for a day", KeyScope.Admin, null, CancellationToken.None)
        );
        using var before = await fleet.GetAsync("/api/v1/reports", secret);
        await before.ShouldBeAsync(HttpStatusCode.OK);

        Assert.True(await app.WithAsync((KeyStore keys) => keys.RevokeAsync(key.Id, CancellationToken.None)));

        using var after = await fleet.GetAsync("/api/v1/reports", secret);
        await after.ProblemAsync(HttpStatusCode.Unauthorized);
        Assert.False(await app.WithAsync((KeyStore keys) => keys.RevokeAsync(key.Id, CancellationToken.None)));
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task OnlyTheHashOfAKeyIsKept(DatabaseKind database)
    {
        var (app, fleet) = await apps.OfAsync(database);
        var rows = await app.WithAsync((KeyStore keys) => keys.ListAsync(CancellationToken.None));

        Assert.All(rows, r => Assert.Equal(32, r.Hash.Length));
        Assert.DoesNotContain(
            rows,
            r => fleet.QuayKey.Contains(Convert.ToHexStringLower(r.Hash), StringComparison.Ordinal)
        );
        Assert.StartsWith(KeyStore.Prefix, fleet.QuayKey, StringComparison.Ordinal);
        // 256 random bits in hexadecimal.
        Assert.Equal(KeyStore.Prefix.Length + 64, fleet.QuayKey.Length);
    }

    private static StringContent Csv(string kind, int day)
    {
        var date = ReportBody.Day(new DateOnly(2025, 6, 1).AddDays(day));
        var text = kind switch
        {
            "report-csv" =>
                $"boat,zone,fishedOn,anglers,species,kept\r\n{Fleet.Petrel},{Fleet.Bank},{date},20,SBF,5\r\n",
            "departure-csv" => $"boat,date,anglers,zone\r\n{Fleet.Petrel},{date},20,{Fleet.Bank}\r\n",
            "bait-csv" => $"landing,date,species,shortest\r\n{Fleet.Quay},{date},PIL,4\r\n",
            _ => throw new ArgumentOutOfRangeException(nameof(kind)),
        };
        return new(text, System.Text.Encoding.UTF8, "text/csv");
    }

    private static JsonObject Body(string kind, int day) =>
        kind switch
        {
            "report" => ReportBody.Short(Fleet.Petrel, new DateOnly(2025, 6, 1).AddDays(day)),
            "batch" => new() { ["reports"] = new JsonArray(BatchTests.Entry(Guid.NewGuid(), Body("report", day))) },
            "key" => new() { ["name"] = "a key", ["scope"] = "shop" },
            "landing" => new() { ["name"] = "Corran Quay", ["timeZone"] = "UTC" },
            "boat" => new() { ["name"] = "Grey Petrel", ["landing"] = Fleet.Quay },
            "zone" => Fleet.Zone("Cannery Bank", 170.5m),
            "species" => new()
            {
                ["name"] = "southern bluefin",
                ["scientificName"] = "Thunnus maccoyii",
                ["kind"] = "catch",
            },
            "departure" => new()
            {
                ["tripDays"] = 1,
                ["anglers"] = 20,
                ["zone"] = Fleet.Bank,
            },
            "bait" => new()
            {
                ["bait"] = new JsonObject { ["species"] = "PIL", ["shortest"] = 4 },
            },
            _ => throw new ArgumentOutOfRangeException(nameof(kind)),
        };
}
