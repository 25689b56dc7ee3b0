using System.Net;
using System.Text;
using System.Text.Json.Nodes;
using Microsoft.EntityFrameworkCore;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Api;

/// <summary>The contract of a single report, on both databases.</summary>
[Collection(OnSharedApps.Name)]
public sealed class ReportContractTests(SharedApps apps)
{
    public static TheoryData<DatabaseKind> Both => Databases.Both;

    [Theory]
    [MemberData(nameof(Both))]
    public async Task AReportIsStoredAndAnsweredAsStored(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        var body = ReportBody.Full(await fleet.NewBoatAsync());

        using var answer = await fleet.SubmitAsync(body);

        await answer.ShouldBeAsync(HttpStatusCode.Created);
        Assert.Equal("application/json", answer.Content.Headers.ContentType?.MediaType);
        var stored = await answer.JsonAsync();
        Assert.Equal($"/api/v1/reports/{stored.Text("id")}", answer.Headers.Location?.OriginalString);
        Assert.Equal("\"1\"", answer.Headers.ETag?.Tag);
        Assert.Equal(1, stored.Number("version"));
        Assert.Equal("counted", stored.Text("state"));
        Assert.NotNull(stored["flags"]);
        stored["rigs"]![1]!.AsObject().Remove("winning");
        Assert.All(
            body,
            member =>
                Assert.True(
                    JsonNode.DeepEquals(member.Value, stored[member.Key]),
                    $"{member.Key}: {stored[member.Key]?.ToJsonString()}"
                )
        );
        using var read = await fleet.GetAsync(answer.Headers.Location!.OriginalString, fleet.Admin);
        Assert.Equal(await answer.BytesAsync(), await read.BytesAsync());
        Assert.Equal(answer.Headers.ETag, read.Headers.ETag);
        using var unchanged = await fleet.SendAsync(
            HttpMethod.Get,
            answer.Headers.Location!.OriginalString,
            fleet.Admin,
            null,
            ("If-None-Match", "\"1\"")
        );
        Assert.Equal(HttpStatusCode.NotModified, unchanged.StatusCode);
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task ARepeatedRequestIsAnsweredWithTheStoredBytes(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        var body = ReportBody.Full(await fleet.NewBoatAsync());
        var key = Guid.NewGuid();
        using var first = await fleet.SubmitAsync(body, idempotencyKey: key);
        var bytes = await first.BytesAsync();

        using var again = await fleet.SubmitAsync(body, idempotencyKey: key);
        await again.ShouldBeAsync(HttpStatusCode.OK);
        Assert.Equal(bytes, await again.BytesAsync());
        Assert.Equal(first.Headers.ETag, again.Headers.ETag);

        // The same JSON otherwise written: members turned round, 18 as 18.0 and 1.8e1, text escaped.
        var turned = new JsonObject(body.Reverse().Select(m => KeyValuePair.Create(m.Key, m.Value?.DeepClone())));
        foreach (var smallest in new[] { "18.0", "1.8e1", "18.000" })
        {
            var text = turned
                .ToJsonString()
                .Replace("\"smallest\":18", $"\"smallest\":{smallest}", StringComparison.Ordinal)
                .Replace("\"picky\"", "\"pi\\u0063ky\"", StringComparison.Ordinal);
            Assert.Contains(smallest, text, StringComparison.Ordinal);
            using var written = await fleet.SendAsync(
                HttpMethod.Post,
                "/api/v1/reports",
                fleet.Admin,
                text,
                ("Idempotency-Key", key.ToString())
            );
            await written.ShouldBeAsync(HttpStatusCode.OK);
            Assert.Equal(bytes, await written.BytesAsync());
        }

        // Still the first bytes after a correction: that is what was answered to this request.
        var stored = await first.JsonAsync();
        using var corrected = await PutAsync(fleet, stored, "\"1\"", r => r["anglers"] = 25);
        await corrected.ShouldBeAsync(HttpStatusCode.OK);
        using var late = await fleet.SubmitAsync(body, idempotencyKey: key);
        await late.ShouldBeAsync(HttpStatusCode.OK);
        Assert.Equal(bytes, await late.BytesAsync());
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task AKeyUsedForAnotherBodyIsRefusedAndIsOfOneCredentialOnly(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        var boat = await fleet.NewBoatAsync();
        var key = Guid.NewGuid();
        await fleet.SubmitReportAsync(ReportBody.Short(boat), idempotencyKey: key);

        using var other = await fleet.SubmitAsync(ReportBody.Short(boat, sailing: 2), idempotencyKey: key);
        await other.ProblemAsync(HttpStatusCode.UnprocessableEntity);

        await fleet.SubmitReportAsync(ReportBody.Short(boat, sailing: 2), fleet.QuayKey, key);
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task AKeyIsRequiredAndUsedUpBySuccessOnly(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        var body = ReportBody.Short(await fleet.NewBoatAsync());
        foreach (
            var bad in new[] { "", "17", "6d0a7a0e9d4f4a528a1e3f3b6c1e2f10", "{6d0a7a0e-9d4f-4a52-8a1e-3f3b6c1e2f10}" }
        )
        {
            using var refused = await fleet.SendAsync(
                HttpMethod.Post,
                "/api/v1/reports",
                fleet.Admin,
                body,
                ("Idempotency-Key", bad)
            );
            var problem = await refused.ProblemAsync(HttpStatusCode.BadRequest);
            Assert.Equal("Idempotency-Key", problem["errors"]![0]!["parameter"]!.GetValue<string>());
        }

        using var missing = await fleet.SendAsync(HttpMethod.Post, "/api/v1/reports", fleet.Admin, body);
        await missing.ProblemAsync(HttpStatusCode.BadRequest);

        var key = Guid.NewGuid();
        body["anglers"] = -1;
        using var wrong = await fleet.SubmitAsync(body, idempotencyKey: key);
        Assert.Equal(["/anglers"], (await wrong.ProblemAsync(HttpStatusCode.BadRequest)).Pointers());
        body["anglers"] = 21;
        await fleet.SubmitReportAsync(body, idempotencyKey: key);
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task AnotherKeyForTheSameReportIsToldWhichOneStands(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        var boat = await fleet.NewBoatAsync();
        var first = await fleet.SubmitReportAsync(ReportBody.Short(boat));

        using var second = await fleet.SubmitAsync(ReportBody.Short(boat, kept: 7));
        var problem = await second.ProblemAsync(HttpStatusCode.Conflict);
        Assert.Equal(first.Text("id"), problem["report"]!["id"]!.GetValue<string>());
        Assert.Equal($"/api/v1/reports/{first.Text("id")}", problem["report"]!["href"]!.GetValue<string>());

        using var bad = await fleet.SendAsync(
            HttpMethod.Post,
            "/api/v1/reports?replace=perhaps",
            fleet.Admin,
            ReportBody.Short(boat, kept: 7),
            ("Idempotency-Key", Guid.NewGuid().ToString())
        );
        await bad.ProblemAsync(HttpStatusCode.BadRequest);

        // Not by a landing that may not write the boat.
        using var foreign = await fleet.SubmitAsync(ReportBody.Short(boat, kept: 7), fleet.DockKey, replace: true);
        await foreign.ProblemAsync(HttpStatusCode.Forbidden);

        var replaced = await fleet.SubmitReportAsync(ReportBody.Short(boat, kept: 7), replace: true);
        Assert.Equal(first.Text("id"), replaced.Text("id"));
        Assert.Equal(2, replaced.Number("version"));
        Assert.Equal(7, replaced["catch"]![0]!["kept"]!.GetValue<int>());
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task AFinalReplacesASoFarAndNotTheOtherWayRound(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        var boat = await fleet.NewBoatAsync();
        var soFar = ReportBody.Short(boat, kept: 3);
        soFar["status"] = "so-far";
        var first = await fleet.SubmitReportAsync(soFar);
        Assert.Equal("so-far", first.Text("state"));

        var final = await fleet.SubmitReportAsync(ReportBody.Short(boat, kept: 9));
        Assert.Equal(first.Text("id"), final.Text("id"));
        Assert.Equal("counted", final.Text("state"));

        using var late = await fleet.SubmitAsync(soFar);
        await late.ProblemAsync(HttpStatusCode.Conflict);
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task ARetractedReportStaysReadableAndCanBePostedAgain(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        var boat = await fleet.NewBoatAsync();
        var first = await fleet.SubmitReportAsync(ReportBody.Short(boat));
        var href = Href(first);

        using var careless = await fleet.SendAsync(HttpMethod.Delete, href, fleet.Admin);
        await careless.ProblemAsync(HttpStatusCode.PreconditionRequired);
        using var stale = await fleet.SendAsync(HttpMethod.Delete, href, fleet.Admin, null, ("If-Match", "\"4\""));
        await stale.ProblemAsync(HttpStatusCode.PreconditionFailed);
        using var retracted = await fleet.SendAsync(HttpMethod.Delete, href, fleet.Admin, null, ("If-Match", "\"1\""));
        await retracted.ShouldBeAsync(HttpStatusCode.NoContent);
        using var again = await fleet.SendAsync(HttpMethod.Delete, href, fleet.Admin, null, ("If-Match", "\"1\""));
        await again.ShouldBeAsync(HttpStatusCode.NoContent);

        using var read = await fleet.GetAsync(href, fleet.Admin);
        var stands = await read.JsonAsync();
        Assert.Equal("retracted", stands.Text("state"));
        Assert.Equal(2, stands.Number("version"));

        var posted = await fleet.SubmitReportAsync(ReportBody.Short(boat, kept: 8));
        Assert.Equal(first.Text("id"), posted.Text("id"));
        Assert.Equal(3, posted.Number("version"));
        Assert.Equal("counted", posted.Text("state"));
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task ACorrectionNeedsTheVersionThatWasRead(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        var stored = await fleet.SubmitReportAsync(ReportBody.Full(await fleet.NewBoatAsync()));

        using var careless = await PutAsync(fleet, stored, null);
        await careless.ProblemAsync(HttpStatusCode.PreconditionRequired);
        foreach (var stale in new[] { "\"2\"", "W/\"1\"", "\"other\"" })
        {
            using var refused = await PutAsync(fleet, stored, stale);
            await refused.ProblemAsync(HttpStatusCode.PreconditionFailed);
        }

        // What was read can be put back as it is.
        using var putBack = await PutAsync(fleet, stored, "\"1\"");
        await putBack.ShouldBeAsync(HttpStatusCode.OK);
        Assert.Equal("\"2\"", putBack.Headers.ETag?.Tag);
        var second = await putBack.JsonAsync();
        Assert.Equal(2, second.Number("version"));
        second["version"] = 1;
        Assert.True(JsonNode.DeepEquals(stored, second), second.ToJsonString());

        using var corrected = await PutAsync(fleet, stored, "\"2\"", r => r["anglers"] = 30);
        Assert.Equal(30, (await corrected.JsonAsync()).Number("anglers"));
        using var lost = await PutAsync(fleet, stored, "\"2\"", r => r["anglers"] = 31);
        await lost.ProblemAsync(HttpStatusCode.PreconditionFailed);
        using var oneOf = await PutAsync(fleet, stored, "\"9\", \"3\"", r => r["anglers"] = 32);
        await oneOf.ShouldBeAsync(HttpStatusCode.OK);
        using var any = await PutAsync(fleet, stored, "*", r => r["anglers"] = 33);
        await any.ShouldBeAsync(HttpStatusCode.OK);

        using var wrong = await PutAsync(fleet, stored, "*", r => r["anglers"] = "many");
        Assert.Equal(["/anglers"], (await wrong.ProblemAsync(HttpStatusCode.BadRequest)).Pointers());
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task ACorrectionCannotTakeAnotherReportsPlace(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        var boat = await fleet.NewBoatAsync();
        var first = await fleet.SubmitReportAsync(ReportBody.Short(boat));
        var second = await fleet.SubmitReportAsync(ReportBody.Short(boat, sailing: 2));

        using var clash = await PutAsync(fleet, second, "\"1\"", r => r["sailing"] = 1);
        var problem = await clash.ProblemAsync(HttpStatusCode.Conflict);
        Assert.Equal(first.Text("id"), problem["report"]!["id"]!.GetValue<string>());

        using var moved = await PutAsync(fleet, second, "\"1\"", r => r["sailing"] = 3);
        await moved.ShouldBeAsync(HttpStatusCode.OK);
        await fleet.SubmitReportAsync(ReportBody.Short(boat, sailing: 2));

        using var foreign = await PutAsync(fleet, first, "\"1\"", r => r["boat"] = Fleet.Tern, fleet.QuayKey);
        await foreign.ProblemAsync(HttpStatusCode.Forbidden);
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task HistoryKeepsEveryVersionAndWhoStoredIt(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        var stored = await fleet.SubmitReportAsync(ReportBody.Short(await fleet.NewBoatAsync()), fleet.QuayKey);
        using var corrected = await PutAsync(fleet, stored, "\"1\"", r => r["anglers"] = 12);
        using var retracted = await fleet.SendAsync(
            HttpMethod.Delete,
            Href(stored),
            fleet.Admin,
            null,
            ("If-Match", "\"2\"")
        );

        using var answer = await fleet.GetAsync(Href(stored) + "/history", fleet.QuayKey);
        await answer.ShouldBeAsync(HttpStatusCode.OK);
        var items = (await answer.JsonAsync())["items"]!.AsArray();

        Assert.Equal([1, 2, 3], items.Select(i => i!["version"]!.GetValue<int>()));
        Assert.Equal(
            ["counted", "counted", "retracted"],
            items.Select(i => i!["report"]!["state"]!.GetValue<string>())
        );
        Assert.Equal([20, 12, 12], items.Select(i => i!["report"]!["anglers"]!.GetValue<int>()));
        Assert.Equal("Landing of the tests", items[0]!["by"]!.GetValue<string>());
        Assert.All(items, i => Assert.Equal(ReportsApp.Frozen, i!["storedAt"]!.GetValue<DateTimeOffset>()));
        Assert.True(JsonNode.DeepEquals(stored, items[0]!["report"]));
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task AHeldReportIsConfirmedByItsLandingAndNotByTheBoat(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        var body = ReportBody.Short(Fleet.Petrel, new(2026, 6, 1));
        // Ten times the species' all-tackle record of 167.5 kg (from memory): held whatever else is stored.
        body["catch"]![0]!["largest"] = 2900;
        var held = await fleet.SubmitReportAsync(body, fleet.PetrelKey);
        Assert.Equal("held", held.Text("state"));
        var flag = Assert.Single(held["flags"]!.AsArray(), f => f!["holding"]!.GetValue<bool>());
        Assert.Equal("/catch/0/largest", flag!["pointer"]!.GetValue<string>());
        Assert.NotEmpty(flag["reason"]!.GetValue<string>());

        using var own = await fleet.SendAsync(HttpMethod.Post, Href(held) + "/confirm", fleet.PetrelKey);
        await own.ProblemAsync(HttpStatusCode.Forbidden);
        using var confirmed = await fleet.SendAsync(HttpMethod.Post, Href(held) + "/confirm", fleet.QuayKey);
        await confirmed.ShouldBeAsync(HttpStatusCode.OK);
        var counted = await confirmed.JsonAsync();
        Assert.Equal("counted", counted.Text("state"));
        Assert.Equal(2, counted.Number("version"));
        using var again = await fleet.SendAsync(HttpMethod.Post, Href(held) + "/confirm", fleet.QuayKey);
        await again.ProblemAsync(HttpStatusCode.Conflict);
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task APositionIsResolvedToItsZoneAndNeverShown(DatabaseKind database)
    {
        var (app, fleet) = await apps.OfAsync(database);
        var body = ReportBody.Short(await fleet.NewBoatAsync());
        body.Remove("zone");
        // Within Cannery Bank: 170.5 to 171.0 degrees east.
        body["position"] = new JsonObject { ["latitude"] = -44.731954, ["longitude"] = 170.819372 };
        using var answer = await fleet.SubmitAsync(body);
        await answer.ShouldBeAsync(HttpStatusCode.Created);
        var stored = await answer.JsonAsync();
        Assert.Equal(Fleet.Bank, stored.Text("zone"));

        var seen = new StringBuilder(await answer.TextAsync());
        seen.Append(answer.Headers);
        foreach (
            var path in new[]
            {
                Href(stored),
                Href(stored) + "/history",
                $"/api/v1/reports?boat={stored.Text("boat")}",
                $"/api/v1/zones/{Fleet.Bank}/species/SBF/brief?asOf=2026-11-23",
            }
        )
        {
            using var read = await fleet.GetAsync(path, fleet.Admin);
            await read.ShouldBeAsync(HttpStatusCode.OK);
            seen.Append(await read.TextAsync());
        }

        using var clash = await fleet.SubmitAsync(body);
        seen.Append(await clash.TextAsync());
        Assert.DoesNotContain("position", seen.ToString(), StringComparison.Ordinal);
        Assert.DoesNotContain("731954", seen.ToString(), StringComparison.Ordinal);
        Assert.DoesNotContain("819372", seen.ToString(), StringComparison.Ordinal);

        // A repeated request is still the same request.
        Assert.Equal(
            1,
            await app.AskAsync(db =>
                db.ReportVersions.CountAsync(
                    v => v.ReportId == stored.Text("id"),
                    TestContext.Current.CancellationToken
                )
            )
        );

        async Task<IReadOnlyList<string>> RefusedAsync(Action<JsonObject> change)
        {
            var changed = body.DeepClone().AsObject();
            changed["sailing"] = 2;
            change(changed);
            using var refused = await fleet.SubmitAsync(changed);
            return (await refused.ProblemAsync(HttpStatusCode.BadRequest)).Pointers();
        }

        Assert.Equal(["/position"], await RefusedAsync(r => r["position"]!["latitude"] = 12));
        Assert.Equal(["/position"], await RefusedAsync(r => r["zone"] = Fleet.Bank));
        Assert.Equal(["/position/latitude"], await RefusedAsync(r => r["position"]!["latitude"] = 91));
        Assert.Equal(["/position/longitude"], await RefusedAsync(r => r["position"]!.AsObject().Remove("longitude")));
        Assert.Equal(["/zone"], await RefusedAsync(r => r.Remove("position")));
    }

    private static string Href(JsonObject report) => $"/api/v1/reports/{report.Text("id")}";

    private static Task<HttpResponseMessage> PutAsync(
        Fleet fleet,
        JsonObject report,
        string? ifMatch,
        Action<JsonObject>? change = null,
        string? key = null
    )
    {
        var body = report.DeepClone().AsObject();
        change?.Invoke(body);
        return fleet.SendAsync(
            HttpMethod.Put,
            Href(report),
            key ?? fleet.Admin,
            body,
            ifMatch is null ? [] : [("If-Match", ifMatch)]
        );
    }
}
