using System.Net;
using System.Text;
using System.Text.Json.Nodes;
using Microsoft.EntityFrameworkCore;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Api;

/// <summary>What the service refuses: always as problem details, with a pointer to each wrong field, and nothing stored.</summary>
[Collection(OnSharedApps.Name)]
public sealed class RefusalTests(SharedApps apps)
{
    public static TheoryData<DatabaseKind> Both => Databases.Both;

    /// <summary>Texts that are no report, each with the pointers that its refusal must name.</summary>
    public static IReadOnlyList<(string Text, string[] Pointers)> NoReports { get; } =
    [
        ("", [""]),
        ("{", [""]),
        ("{\"boat\":", [""]),
        ("null", [""]),
        ("[]", [""]),
        ("17", [""]),
        ("\"report\"", [""]),
        ("{} {}", [""]),
        ("// a comment\n{}", [""]),
        ("{\"boat\":\"grey-petrel\",}", [""]),
        (new string('[', 100_000), [""]),
        (Nested(33), [""]),
        ("{\"a\\u0000b\":1}", ["", "/anglers", "/boat", "/catch", "/fishedOn", "/zone"]),
        ("{\"a\\ud800b\":1}", ["", "/anglers", "/boat", "/catch", "/fishedOn", "/zone"]),
        (With("note", "\"\\ud83d\""), ["/note"]),
        (With("note", "\"a\\u0000b\""), ["/note"]),
        (With("note", Nested(20)), ["/note"]),
        (With("boat", "\"grey\\u0000petrel\""), ["/boat"]),
        (With("boat", "\"grey\\udc00petrel\""), ["/boat"]),
        (With("bite", "\"pic\\u0000ky\""), ["/bite"]),
        (With("fishedOn", "\"2026-11-20\\u0000\""), ["/fishedOn"]),
        (With("anglers", "1e400"), ["/anglers"]),
        (With("anglers", "99999999999999999999999999999999999999"), ["/anglers"]),
        (With("anglers", "20.5"), ["/anglers"]),
        (With("anglers", "\"20\""), ["/anglers"]),
        (With("anglers", "true"), ["/anglers"]),
        (With("hours", "1e-400"), ["/hours"]),
        (With("hours", "6.1234567"), ["/hours"]),
        (With("hours", "-1e308"), ["/hours"]),
        (With("boat\":\"grey-petrel\",\"boat", "\"grey-petrel\""), ["/boat"]),
        (With("colour", "\"blue\""), ["/colour"]),
        (With("a/b~c", "1"), ["/a~1b~0c"]),
        (With("id", "\"x\""), ["/id"]),
        (With("catch", "[]"), ["/catch"]),
        (With("catch", "[5,{}]"), ["/catch/0", "/catch/1/kept", "/catch/1/species"]),
        (With("position", "{}"), ["/position", "/position/latitude", "/position/longitude"]),
        (With("note", $"\"{new string('x', 2001)}\""), ["/note"]),
        ("{}", ["/anglers", "/boat", "/catch", "/fishedOn", "/zone"]),
    ];

    [Theory]
    [MemberData(nameof(Both))]
    public async Task WhatIsNoReportIsRefusedByPointerAndNothingIsStored(DatabaseKind database)
    {
        var (app, fleet) = await apps.OfAsync(database);
        var before = await RowsAsync(app);
        foreach (var (text, pointers) in NoReports)
        {
            using var answer = await PostAsync(fleet, new StringContent(text, Encoding.UTF8, "application/json"));
            var problem = await answer.ProblemAsync(HttpStatusCode.BadRequest);
            Assert.True(
                pointers.SequenceEqual(problem.Pointers().Distinct()),
                $"{text[..Math.Min(80, text.Length)]}: {problem["errors"]!.ToJsonString()}"
            );
            Assert.All(problem["errors"]!.AsArray(), e => Assert.NotEmpty(e!["detail"]!.GetValue<string>()));
        }

        Assert.Equal(before, await RowsAsync(app));
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task BytesThatAreNoJsonAreRefused(DatabaseKind database)
    {
        var (app, fleet) = await apps.OfAsync(database);
        var before = await RowsAsync(app);
        HttpContent Bytes(byte[] bytes, string? type = "application/json")
        {
            var content = new ByteArrayContent(bytes);
            content.Headers.TryAddWithoutValidation("Content-Type", type);
            return content;
        }

        var fine = Encoding.UTF8.GetBytes(ReportBody.Short(Fleet.Petrel).ToJsonString());
        using var latin = await PostAsync(fleet, Bytes([.. "{\"note\":\""u8, 0xE9, 0x20, .. "\"}"u8]));
        Assert.Equal(["malformed-utf8"], (await latin.ProblemAsync(HttpStatusCode.BadRequest)).Codes());
        using var wide = await PostAsync(fleet, Bytes(Encoding.Unicode.GetBytes("{}")));
        await wide.ProblemAsync(HttpStatusCode.BadRequest);
        foreach (var type in new[] { "text/plain", "application/xml", "multipart/form-data; boundary=x", "json", null })
        {
            using var refused = await PostAsync(fleet, Bytes(fine, type));
            await refused.ProblemAsync(HttpStatusCode.UnsupportedMediaType);
        }

        byte[] large = [.. "{\"note\":\""u8, .. Enumerable.Repeat((byte)'x', 300 * 1024), .. "\"}"u8];
        using var told = await PostAsync(fleet, Bytes(large));
        await told.ProblemAsync(HttpStatusCode.RequestEntityTooLarge);
        // Without a length, so that it is found out only by reading.
        var stream = new StreamContent(new Untold(large));
        stream.Headers.TryAddWithoutValidation("Content-Type", "application/json");
        using var untold = await PostAsync(fleet, stream);
        await untold.ProblemAsync(HttpStatusCode.RequestEntityTooLarge);
        Assert.Equal(before, await RowsAsync(app));
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task AddressesThatDoNotExistAreProblemsToo(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        foreach (
            var (method, path, status) in new[]
            {
                ("GET", "/api/v1", 404),
                ("GET", "/api/v1/", 404),
                ("GET", "/api/v1/nothing", 404),
                ("GET", "/api/v1/nothing.json", 404),
                ("POST", "/api/v1/nothing/at/all", 404),
                ("PATCH", "/api/v1/reports", 405),
                ("DELETE", "/api/v1/zones", 405),
                ("POST", "/api/v1/zones/cannery-bank/species/SBF/brief", 405),
                ("GET", "/api/v1/reports/no-such-id", 404),
                ("GET", "/api/v1/reports/%ED%A0%80", 404),
                ("GET", "/api/v1/reports/" + new string('a', 4000), 404),
                ("PUT", "/api/v1/reports/no-such-id", 404),
                ("DELETE", "/api/v1/reports/no-such-id", 404),
                ("GET", "/api/v1/reports/no-such-id/history", 404),
                ("POST", "/api/v1/reports/no-such-id/confirm", 404),
                ("GET", "/api/v1/reports?boat=%00", 400),
                ("GET", "/api/v1/zones/cannery-bank/species/XXX/brief", 404),
                ("GET", "/api/v1/zones/cannery-bank/species/PIL/brief", 404),
                ("GET", "/api/v1/zones/cannery-bank/species/SBF/brief?asOf=2026-11-24", 400),
                ("GET", "/api/v1/zones/cannery-bank/species/SBF/brief?asOf=soon", 400),
                ("GET", "/api/v1/zones/cannery-bank/species/SBF/brief?asOf=0001-01-01", 400),
                ("GET", "/api/v1/zones/cannery-bank/species/SBF/brief?knownAt=soon", 400),
                ("GET", "/api/v1/zones/cannery-bank/species/SBF/brief?outfits=6", 400),
                ("GET", "/api/v1/zones/cannery-bank/species/SBF/brief?weight=stone", 400),
                ("GET", "/api/v1/departures/grey-petrel/tomorrow/1", 400),
                ("GET", "/api/v1/departures/grey-petrel/2026-11-24/0", 400),
                // A NUL in the path is refused by the web server itself.
                ("GET", "/api/v1/reports?zone=a%00", 400),
                ("GET", "/api/v1/zones?%00=x", 400),
                ("GET", "/api/v1/landings/corran-quay/bait/never", 400),
            }
        )
        {
            using var answer = await fleet.SendAsync(
                HttpMethod.Parse(method),
                path,
                fleet.Admin,
                null,
                ("If-Match", "*")
            );
            Assert.True(
                (int)answer.StatusCode == status,
                $"{method} {path}: {(int)answer.StatusCode}, not {status}: {await answer.TextAsync()}"
            );
            await answer.ProblemAsync((HttpStatusCode)status);
        }
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task EveryWrongFieldOfAMutatedReportIsNamed(DatabaseKind database)
    {
        var (app, fleet) = await apps.OfAsync(database);
        var full = ReportBody.Full(await fleet.NewBoatAsync());
        var before = await RowsAsync(app);
        var random = new Random(20261123);
        for (var i = 0; i < 400; i++)
        {
            var (mutated, expected) = Mutation.Of(full, random, faults: 1 + (i % 3));
            using var answer = await fleet.SubmitAsync(mutated);
            var problem = await answer.ProblemAsync(HttpStatusCode.BadRequest);
            Assert.True(
                expected.SequenceEqual(problem.Pointers()),
                $"mutation {i}: expected {string.Join(" ", expected)}, got {problem["errors"]!.ToJsonString()} for {mutated.ToJsonString()}"
            );
        }

        Assert.Equal(before, await RowsAsync(app));
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task AnyDamageToReferenceDataIsRefusedOrHarmless(DatabaseKind database)
    {
        var (app, fleet) = await apps.OfAsync(database);
        var before = await RowsAsync(app);
        var random = new Random(20261124);
        (string Path, JsonObject Body)[] bodies =
        [
            ("zones/inner-shelf", Fleet.Zone("Inner Shelf", 170.0m)),
            ("landings/corran-quay", new() { ["name"] = "Corran Quay", ["timeZone"] = "UTC" }),
            ("boats/little-auk", new() { ["name"] = "Little Auk", ["landing"] = Fleet.Quay }),
            (
                "species/YTC",
                new()
                {
                    ["name"] = "yellowtail kingfish",
                    ["scientificName"] = "Seriola lalandi",
                    ["kind"] = "catch",
                }
            ),
        ];
        for (var i = 0; i < 200; i++)
        {
            var (path, body) = bodies[i % 4 == 3 ? random.Next(1, 4) : 0];
            var (mutated, expected) = Mutation.Of(body, random, faults: 1 + (i % 2));
            using var answer = await fleet.SendAsync(HttpMethod.Put, "/api/v1/" + path, fleet.Admin, mutated);
            if (
                answer.StatusCode == HttpStatusCode.OK
                && expected.All(p => p.StartsWith("/area/", StringComparison.Ordinal))
            )
            {
                // Another shape, but a shape.
                continue;
            }

            var problem = await answer.ProblemAsync(HttpStatusCode.BadRequest);

            // Inside an area the first fault is enough (a GeoJSON reader stops there), and another shape may be as good.
            var named = expected
                .Select(p => p.StartsWith("/area", StringComparison.Ordinal) ? "/area" : p)
                .Distinct()
                .ToList();
            var least = expected.Where(p => !p.StartsWith("/area/", StringComparison.Ordinal));
            Assert.True(
                problem.Pointers().All(named.Contains) && least.All(problem.Pointers().Contains),
                $"{path}, mutation {i}: expected {string.Join(" ", named)}, got {problem["errors"]!.ToJsonString()} for {mutated.ToJsonString()}"
            );
        }

        Assert.Equal(before, await RowsAsync(app));
        await fleet.PutAsync(bodies[0].Path, bodies[0].Body);
        using var still = await fleet.GetAsync("/api/v1/zones");
        await still.ShouldBeAsync(HttpStatusCode.OK);
    }

    private static Task<HttpResponseMessage> PostAsync(Fleet fleet, HttpContent content) =>
        fleet.SendAsync(
            HttpMethod.Post,
            "/api/v1/reports",
            fleet.Admin,
            content,
            ("Idempotency-Key", Guid.NewGuid().ToString())
        );

    private static Task<(int, int, int, int, int, int)> RowsAsync(ReportsApp app) =>
        app.AskAsync(async db =>
            (
                await db.Reports.CountAsync(),
                await db.ReportVersions.CountAsync(),
                await db.Touched.CountAsync(),
                await db.Zones.CountAsync(),
                await db.Landings.CountAsync(),
                await db.Boats.CountAsync()
            )
        );

    /// <summary>A short report whose text has a member more, or another value.</summary>
    private static string With(string name, string value)
    {
        var report = ReportBody.Short(Fleet.Petrel);
        report.Remove(name);
        if (name.StartsWith("boat\"", StringComparison.Ordinal))
        {
            report.Remove("boat");
        }

        return report.ToJsonString()[..^1] + $",\"{name}\":{value}}}";
    }

    private static string Nested(int depth) => new string('[', depth) + new string(']', depth);

    /// <summary>A stream that does not tell its length.</summary>
    private sealed class Untold(byte[] bytes) : MemoryStream(bytes)
    {
        public override bool CanSeek => false;
    }
}
