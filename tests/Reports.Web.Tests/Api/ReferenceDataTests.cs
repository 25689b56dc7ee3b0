using System.Net;
using System.Text.Json.Nodes;
using Microsoft.EntityFrameworkCore;
using Reports.Storage;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Api;

/// <summary>Landings, boats, zones, species, departures and the landing's bait: put, read, put back.</summary>
[Collection(OnSharedApps.Name)]
public sealed class ReferenceDataTests(SharedApps apps)
{
    public static TheoryData<DatabaseKind> Both => Databases.Both;

    [Theory]
    [MemberData(nameof(Both))]
    public async Task WhatIsReadCanBePutBack(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        var boat = await fleet.NewBoatAsync();
        var closed = JsonNode
            .Parse(
                """{"name":"yellowfin","scientificName":"Thunnus albacares","kind":"catch","closedNotice":"Closed until further notice."}"""
            )!
            .AsObject();
        var departure = JsonNode
            .Parse(
                """{"tripDays":1.5,"kind":"overnight","anglers":20,"capacity":24,"zone":"cannery-bank","status":"cancelled"}"""
            )!
            .AsObject();
        var bait = JsonNode
            .Parse(
                """{"units":{"length":"cm"},"bait":[{"species":"PIL","shortest":10,"longest":12.5,"condition":"weak","supply":"short"},{"species":"ANE"}]}"""
            )!
            .AsObject();
        foreach (
            var (path, body, isNew) in new[]
            {
                ($"landings/steps-{boat}", Named(("timeZone", "Pacific/Auckland")), true),
                ("zones/far-bank", Fleet.Zone("Far Bank", 172.0m), true),
                ("zones/far-bank", Fleet.Zone("Far Bank, renamed", 172.5m), false),
                ($"boats/b-{boat}", Named(("landing", Fleet.Quay)), true),
                ("species/YFT", closed, true),
                ($"departures/{boat}/2026-12-01/2", departure, true),
                ($"departures/{boat}/2026-12-01/2", new JsonObject { ["tripDays"] = 2 }, false),
                ($"landings/{Fleet.Quay}/bait/2026-10-02", bait, false),
            }
        )
        {
            using var put = await fleet.SendAsync(HttpMethod.Put, "/api/v1/" + path, fleet.Admin, body);
            await put.ShouldBeAsync(isNew ? HttpStatusCode.Created : HttpStatusCode.OK);
            if (isNew)
            {
                Assert.Equal("/api/v1/" + path, put.Headers.Location?.OriginalString);
            }

            using var read = await fleet.GetAsync("/api/v1/" + path, fleet.Admin);
            await read.ShouldBeAsync(HttpStatusCode.OK);
            var stands = await read.JsonAsync();
            Assert.Equal(await put.TextAsync(), await read.TextAsync());
            Assert.All(
                body,
                m => Assert.True(JsonNode.DeepEquals(m.Value, stands[m.Key]), $"{path} {m.Key}: {stands}")
            );
            using var back = await fleet.SendAsync(HttpMethod.Put, "/api/v1/" + path, fleet.Admin, stands);
            await back.ShouldBeAsync(HttpStatusCode.OK);
            using var again = await fleet.GetAsync("/api/v1/" + path, fleet.Admin);
            Assert.Equal(await read.TextAsync(), await again.TextAsync());
        }
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task WrongReferenceDataIsNamedFieldByField(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        const string ring = "[[170,-45],[171,-45],[171,-44],[170,-45]]";
        JsonObject Area(string area) => new() { ["name"] = "A zone", ["area"] = JsonNode.Parse(area) };
        foreach (
            var (path, body, pointers) in new (string, JsonObject, string[])[]
            {
                ("landings/Quay", Named(("timeZone", "UTC")), [""]),
                ("landings/quay-", Named(("timeZone", "UTC")), [""]),
                ("landings/" + new string('q', 41), Named(("timeZone", "UTC")), [""]),
                ("landings/new-quay", Named(("timeZone", "Middle/Nowhere")), ["/timeZone"]),
                ("landings/new-quay", Named(("timeZone", "NZST")), ["/timeZone"]),
                ("landings/new-quay", [], ["/name", "/timeZone"]),
                ("landings/new-quay", Named(("timeZone", "UTC"), ("phone", "1")), ["/phone"]),
                ("boats/new-boat", Named(("landing", "no-quay")), ["/landing"]),
                ("boats/new-boat", new() { ["name"] = "", ["landing"] = Fleet.Quay }, ["/name"]),
                ("species/sbf", Species("catch"), [""]),
                ("species/SBFT", Species("catch"), [""]),
                ("species/NEW", Species("bird"), ["/kind"]),
                ("zones/new-zone", [], ["/area", "/name"]),
                ("zones/new-zone", Area("5"), ["/area"]),
                ("zones/new-zone", Area("{}"), ["/area"]),
                ("zones/new-zone", Area("""{"type":"Polygon"}"""), ["/area"]),
                ("zones/new-zone", Area("""{"type":"Polygon","coordinates":[]}"""), ["/area"]),
                ("zones/new-zone", Area("""{"type":"Polygon","coordinates":null}"""), ["/area"]),
                ("zones/new-zone", Area("""{"type":"Polygon","coordinates":[[[170],[171],[172],[170]]]}"""), ["/area"]),
                (
                    "zones/new-zone",
                    Area("""{"type":"Polygon","coordinates":[[[170,-45],[171,-45],[171,-44]]]}"""),
                    ["/area"]
                ),
                (
                    "zones/new-zone",
                    Area("""{"type":"Polygon","coordinates":[[[1e400,-45],[171,-45],[171,-44],[1e400,-45]]]}"""),
                    ["/area"]
                ),
                (
                    "zones/new-zone",
                    Area("""{"type":"Polygon","coordinates":[[[-45,170],[-45,171],[-44,171],[-45,170]]]}"""),
                    ["/area"]
                ),
                (
                    "zones/new-zone",
                    Area("""{"type":"Polygon","coordinates":[[[170,-45],[171,-44],[171,-45],[170,-44],[170,-45]]]}"""),
                    ["/area"]
                ),
                ("zones/new-zone", Area("""{"type":"Point","coordinates":[170,-45]}"""), ["/area"]),
                (
                    "zones/new-zone",
                    Area(
                        $$"""{"type":"GeometryCollection","geometries":[{"type":"Polygon","coordinates":[{{ring}}]}]}"""
                    ),
                    ["/area"]
                ),
                (
                    "zones/new-zone",
                    JsonNode
                        .Parse(
                            $$"""{"name":"n","area":{"type":"Polygon","coordinates":[{{ring}}]},"reach":[{"landing":"x","hours":-1},{"hours":500},5]}"""
                        )!
                        .AsObject(),
                    ["/reach/0/hours", "/reach/0/landing", "/reach/1/hours", "/reach/1/landing", "/reach/2"]
                ),
                (
                    $"departures/{Fleet.Petrel}/2026-12-02/1",
                    JsonNode
                        .Parse(
                            """{"tripDays":0,"kind":"cruise","anglers":-1,"capacity":900,"zone":"nowhere","status":"lost"}"""
                        )!
                        .AsObject(),
                    ["/anglers", "/capacity", "/kind", "/status", "/tripDays", "/zone"]
                ),
                (
                    $"departures/{Fleet.Petrel}/2026-12-02/1",
                    new() { ["anglers"] = 30, ["capacity"] = 20 },
                    ["/anglers"]
                ),
                ($"departures/{Fleet.Petrel}/2026-12-02/1", new() { ["tripDays"] = 0.3 }, ["/tripDays"]),
                ($"landings/{Fleet.Quay}/bait/2026-10-03", [], ["/bait"]),
                ($"landings/{Fleet.Quay}/bait/2026-10-03", new() { ["bait"] = 5 }, ["/bait"]),
                (
                    $"landings/{Fleet.Quay}/bait/2026-10-03",
                    JsonNode
                        .Parse(
                            """{"bait":[{"species":"SBF"},{"species":"PIL","shortest":9,"longest":4},{"species":"PIL"}]}"""
                        )!
                        .AsObject(),
                    ["/bait/0/species", "/bait/1/shortest", "/bait/2/species"]
                ),
            }
        )
        {
            using var answer = await fleet.SendAsync(HttpMethod.Put, "/api/v1/" + path, fleet.Admin, body);
            var problem = await answer.ProblemAsync(HttpStatusCode.BadRequest);
            Assert.True(
                pointers.SequenceEqual(problem.Pointers()),
                $"{path} {body.ToJsonString()}: {problem["errors"]!.ToJsonString()}"
            );
        }

        using var nowhere = await fleet.SendAsync(
            HttpMethod.Put,
            "/api/v1/departures/no-boat/2026-12-02/1",
            fleet.Admin,
            new JsonObject()
        );
        await nowhere.ProblemAsync(HttpStatusCode.NotFound);
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task AZoneWithForeignMembersInItsAreaNeverHurtsTheList(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        const string ring = "[[[175,-45],[176,-45],[176,-44],[175,-45]]]";
        foreach (
            var more in new[]
            {
                "\"x\":\"\\ud800\"",
                "\"x\":\"\\u0000\"",
                "\"bbox\":[1e400]",
                "\"x\":1,\"x\":2",
                "\"type\":\"Polygon\"",
                "\"crs\":{\"type\":\"name\",\"properties\":{\"name\":\"EPSG:4326\"}}",
            }
        )
        {
            using var put = await fleet.SendAsync(
                HttpMethod.Put,
                "/api/v1/zones/odd-zone",
                fleet.Admin,
                $$"""{"name":"Odd Zone","area":{"type":"Polygon","coordinates":{{ring}},{{more}} } }"""
            );
            Assert.True((int)put.StatusCode is 200 or 201 or 400, more + ": " + await put.TextAsync());
            using var list = await fleet.GetAsync("/api/v1/zones");
            await list.ShouldBeAsync(HttpStatusCode.OK);
            Assert.NotEmpty((await list.JsonAsync())["items"]!.AsArray());
        }
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task AReportWithoutBaitInheritsTheLandingsBaitOfTheDay(DatabaseKind database)
    {
        var (app, fleet) = await apps.OfAsync(database);
        var day = new DateOnly(2026, 9, 7);
        var bare = await fleet.NewBoatAsync();
        var own = await fleet.NewBoatAsync();
        var elsewhere = await fleet.NewBoatAsync(Fleet.Dock);
        var stored = await fleet.SubmitReportAsync(ReportBody.Short(bare, day));
        await fleet.SubmitReportAsync(ReportBody.Short(elsewhere, day));
        var withOwn = ReportBody.Short(own, day);
        withOwn["bait"] = new JsonObject { ["species"] = "ANE", ["shortest"] = 3 };
        await fleet.SubmitReportAsync(withOwn);
        await app.AskAsync(db => db.Touched.ExecuteDeleteAsync(TestContext.Current.CancellationToken));

        using var put = await fleet.SendAsync(
            HttpMethod.Put,
            $"/api/v1/landings/{Fleet.Quay}/bait/2026-09-07",
            fleet.QuayKey,
            new JsonObject
            {
                ["bait"] = new JsonObject
                {
                    ["species"] = "PIL",
                    ["shortest"] = 4,
                    ["longest"] = 5.25,
                },
            }
        );
        await put.ShouldBeAsync(HttpStatusCode.OK);

        Assert.False(stored.ContainsKey("bait"));
        var evidence = await app.WithAsync(
            (EvidenceStore store) => store.LoadAsync(day, null, TestContext.Current.CancellationToken)
        );
        // 4 and 5.25 in are 101.6 and 133.35 mm, 3 in is 76.2 mm (25.4 mm to the inch, by definition).
        Assert.Equal(
            [("PIL", 102, 133)],
            evidence
                .Reports.Single(r => r.Boat == bare)
                .Bait.Select(b => (b.Species, b.ShortestMm!.Value, b.LongestMm!.Value))
        );
        Assert.Equal(
            [("ANE", 76)],
            evidence.Reports.Single(r => r.Boat == own).Bait.Select(b => (b.Species, b.ShortestMm!.Value))
        );
        Assert.Empty(evidence.Reports.Single(r => r.Boat == elsewhere).Bait);
        Assert.Equal(
            [(Fleet.Bank, "SBF")],
            (
                await app.AskAsync(db =>
                    db.Touched.Select(t => new { t.Zone, t.Species }).ToListAsync(TestContext.Current.CancellationToken)
                )
            ).Select(t => (t.Zone, t.Species))
        );
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task ADepartureThatHasSailedTouchesTheBriefsOfItsZones(DatabaseKind database)
    {
        var (app, fleet) = await apps.OfAsync(database);
        var boat = await fleet.NewBoatAsync();
        async Task<IReadOnlyList<string>> TouchedByAsync(string date, string zone)
        {
            await app.AskAsync(db => db.Touched.ExecuteDeleteAsync(TestContext.Current.CancellationToken));
            await fleet.PutAsync($"departures/{boat}/{date}/1", new { zone });
            return await app.AskAsync(db =>
                db.Touched.Where(t => t.Species == "SBF")
                    .OrderBy(t => t.Zone)
                    .Select(t => t.Zone)
                    .ToListAsync(TestContext.Current.CancellationToken)
            );
        }

        Assert.Equal([Fleet.Bank], await TouchedByAsync("2026-11-22", Fleet.Bank));
        Assert.Equal([Fleet.Bank, Fleet.Edge], await TouchedByAsync("2026-11-22", Fleet.Edge));
        Assert.Equal([Fleet.Edge], await TouchedByAsync("2026-11-22", Fleet.Edge));
        Assert.Empty(await TouchedByAsync("2026-12-22", Fleet.Bank));
    }

    private static JsonObject Named(params (string Name, string Value)[] more)
    {
        var json = new JsonObject { ["name"] = "A name" };
        foreach (var (name, value) in more)
        {
            json[name] = value;
        }

        return json;
    }

    private static JsonObject Species(string kind) =>
        new()
        {
            ["name"] = "a fish",
            ["scientificName"] = "Piscis piscis",
            ["kind"] = kind,
        };
}
