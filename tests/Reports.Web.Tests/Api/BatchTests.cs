using System.Net;
using System.Text.Json.Nodes;
using Microsoft.EntityFrameworkCore;
using Reports.Storage;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Api;

/// <summary>A batch answers, report by report, what the single requests would have answered one after the other.</summary>
[Collection(OnSharedApps.Name)]
public sealed class BatchTests(SharedApps apps)
{
    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task Every_outcome_of_a_single_post_is_the_outcome_of_an_entry(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        var boat = await fleet.NewBoatAsync();
        var foreign = await fleet.NewBoatAsync(Fleet.Dock);
        var (first, second, third) = (Guid.NewGuid(), Guid.NewGuid(), Guid.NewGuid());
        var wrong = ReportBody.Short(boat, kept: -3);
        wrong["anglers"] = "many";
        var standing = await fleet.SubmitReportAsync(ReportBody.Short(boat, sailing: 3), fleet.QuayKey);

        var results = await BatchAsync(
            fleet,
            fleet.QuayKey,
            Entry(first, ReportBody.Short(boat)),
            Entry(second, wrong),
            Entry(first, ReportBody.Short(boat)),
            Entry(first, ReportBody.Short(boat, kept: 6)),
            Entry(second, ReportBody.Short(boat, sailing: 2)),
            Entry(third, ReportBody.Short(boat)),
            Entry(third, ReportBody.Short(foreign)),
            Entry(Guid.NewGuid(), ReportBody.Short(boat, sailing: 3)),
            Entry(third, ReportBody.Short(boat, sailing: 3), replace: true),
            Entry(third, wrong)
        );

        Assert.Equal(Enumerable.Range(0, 10), results.Select(r => r.Number("index")));
        Assert.Equal([201, 400, 200, 422, 201, 409, 403, 409, 201, 422], results.Select(r => r.Number("status")));
        Assert.Equal(results[0].Text("location"), results[2].Text("location"));
        Assert.Equal(["/anglers", "/catch/0/kept"], results[1].Pointers());
        Assert.Equal(["idempotency-key-reused"], results[3].Codes());
        Assert.Equal(results[0].Text("location"), results[5]["report"]!.AsObject().Text("href"));
        Assert.Equal(["not-your-boat"], results[6].Codes());
        Assert.Equal(standing.Text("id"), results[7]["report"]!.AsObject().Text("id"));
        Assert.Equal(2, results[8].Number("version"));
        Assert.Equal($"/api/v1/reports/{standing.Text("id")}", results[8].Text("location"));
        Assert.All(
            results.Where(r => r.Number("status") is 200 or 201),
            r =>
            {
                Assert.Empty(r["errors"]!.AsArray());
                Assert.Equal("counted", r.Text("state"));
            }
        );

        using var read = await fleet.GetAsync(results[8].Text("location"), fleet.QuayKey);
        await read.ShouldBeAsync(HttpStatusCode.OK);
        Assert.Equal(2, (await read.JsonAsync()).Number("version"));
        using var history = await fleet.GetAsync(results[8].Text("location") + "/history", fleet.QuayKey);
        Assert.Equal(2, (await history.JsonAsync())["items"]!.AsArray().Count);
    }

    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task What_a_batch_stores_is_byte_for_byte_what_a_single_post_stores(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        var (one, other) = (await fleet.NewBoatAsync(), await fleet.NewBoatAsync());

        JsonObject[] Documents(string boat) =>
            [ReportBody.Full(boat), ReportBody.Full(boat, Fleet.Today.AddDays(-1)), ReportBody.Short(boat, sailing: 2)];

        var results = await BatchAsync(fleet, fleet.Admin, [.. Documents(one).Select(d => Entry(Guid.NewGuid(), d))]);

        foreach (var (document, result) in Documents(other).Zip(results))
        {
            var single = (await fleet.SubmitReportAsync(document)).ToJsonString();
            using var answer = await fleet.GetAsync(result.Text("location"), fleet.Admin);
            var batched = await answer.Content.ReadAsStringAsync(TestContext.Current.CancellationToken);
            var id = result.Text("location").Split('/')[^1];
            var parsed = JsonNode.Parse(single)!.AsObject();
            Assert.Equal(
                JsonNode.Parse(batched)!.ToJsonString(),
                single
                    .Replace(parsed.Text("id"), id, StringComparison.Ordinal)
                    .Replace(other, one, StringComparison.Ordinal)
            );
        }
    }

    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task A_so_far_and_its_final_in_one_batch_are_two_versions_of_one_report(DatabaseKind database)
    {
        var (app, fleet) = await apps.OfAsync(database);
        var boat = await fleet.NewBoatAsync();
        var soFar = ReportBody.Short(boat, kept: 3);
        soFar["status"] = "so-far";

        var results = await BatchAsync(
            fleet,
            fleet.Admin,
            Entry(Guid.NewGuid(), soFar),
            Entry(Guid.NewGuid(), ReportBody.Short(boat, kept: 5))
        );

        Assert.Equal([201, 201], results.Select(r => r.Number("status")));
        Assert.Equal(["so-far", "counted"], results.Select(r => r.Text("state")));
        Assert.Equal(results[0].Text("location"), results[1].Text("location"));
        var head = await app.AskAsync(db =>
            db.Reports.SingleAsync(r => r.Boat == boat, TestContext.Current.CancellationToken)
        );
        Assert.Equal(2, head.Version);
    }

    /// <summary>The flag "same as before" looks at what the same batch stored a line above.</summary>
    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task A_copy_of_the_day_before_is_doubted_within_a_batch_too(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        var boat = await fleet.NewBoatAsync();
        var results = await BatchAsync(
            fleet,
            fleet.Admin,
            Entry(Guid.NewGuid(), ReportBody.Full(boat, Fleet.Today.AddDays(-1))),
            Entry(Guid.NewGuid(), ReportBody.Full(boat))
        );
        using var read = await fleet.GetAsync(results[1].Text("location"), fleet.Admin);
        var flags = (await read.JsonAsync())["flags"]!.AsArray();
        Assert.Contains("same-as-before", flags.Select(f => f!.AsObject().Text("code")));
    }

    /// <summary>
    /// Large enough to be stored in parts: three boats in turn, each of whose every tenth entry is of the report before, either refused
    /// or a new version, and every hundredth entry has a fault. So each outcome depends on the boat's entry before it.
    /// </summary>
    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task A_full_batch_has_each_outcome_in_its_place(DatabaseKind database)
    {
        var (app, fleet) = await apps.OfAsync(database);
        string[] boats = [await fleet.NewBoatAsync(), await fleet.NewBoatAsync(), await fleet.NewBoatAsync()];
        var entries = new List<JsonObject>();
        var expected = new List<(int Status, int? Version)>();
        for (var i = 0; i < 1000; i++)
        {
            var n = i / boats.Length;
            var again = n % 10 == 9;
            var place = again ? n - 1 : n;
            var report = ReportBody.Short(
                boats[i % boats.Length],
                Fleet.Today.AddDays(-(place / 9)),
                sailing: (place % 9) + 1,
                kept: n % 7
            );
            var replace = again && n % 20 == 19;
            var wrong = i % 100 == 50 && !again;
            if (wrong)
            {
                report["anglers"] = -1;
            }

            entries.Add(Entry(Guid.NewGuid(), report, replace));
            expected.Add(
                wrong ? (400, null)
                : !again ? (201, 1)
                // Of a report that was refused there is none to stand in the way.
                : expected[i - boats.Length].Status == 400 ? (201, 1)
                : replace ? (201, 2)
                : (409, null)
            );
        }

        var results = await BatchAsync(fleet, fleet.Admin, entries);

        Assert.Equal(Enumerable.Range(0, 1000), results.Select(r => r.Number("index")));
        Assert.Equal(
            expected,
            results.Select(r =>
                ((int)r.Number("status"), r["version"] is { } version ? (int?)version.GetValue<int>() : null)
            )
        );
        var stored = await app.AskAsync(db =>
            db.ReportVersions.CountAsync(v => boats.Contains(v.Boat), TestContext.Current.CancellationToken)
        );
        Assert.Equal(expected.Count(e => e.Status == 201), stored);

        // Sent again it is answered as before and stores nothing.
        var replayed = await BatchAsync(fleet, fleet.Admin, entries.ConvertAll(e => e.DeepClone()));
        Assert.Equal(
            expected.Select(e => e.Status == 201 ? 200 : e.Status),
            replayed.Select(r => (int)r.Number("status"))
        );
        Assert.Equal(
            results.Where(r => r.Number("status") == 201).Select(r => r.Text("location")),
            replayed.Where(r => r.Number("status") == 200).Select(r => r.Text("location"))
        );
    }

    [Fact]
    public async Task Entries_that_are_no_entries_are_refused_one_by_one()
    {
        var (_, fleet) = await apps.OfAsync(DatabaseKind.Sqlite);
        var boat = await fleet.NewBoatAsync();
        JsonNode?[] entries =
        [
            JsonValue.Create(5),
            null,
            new JsonObject { ["report"] = ReportBody.Short(boat) },
            new JsonObject { ["idempotencyKey"] = "one", ["report"] = ReportBody.Short(boat) },
            new JsonObject { ["idempotencyKey"] = Guid.NewGuid().ToString() },
            Entry(Guid.NewGuid(), ReportBody.Short(boat), ("colour", "red")),
            Entry(Guid.NewGuid(), ReportBody.Short(boat), ("replace", "yes")),
            Entry(Guid.NewGuid(), ReportBody.Short(boat)),
        ];

        var results = await BatchAsync(fleet, fleet.Admin, entries);

        Assert.Equal([400, 400, 400, 400, 400, 400, 400, 201], results.Select(r => r.Number("status")));
        Assert.Equal(
            ["report", "report", "idempotencyKey", "idempotencyKey", "report", "colour", "replace"],
            results.Take(7).Select(r => r["errors"]!.AsArray().Single()!.AsObject().Text("parameter"))
        );
    }

    [Fact]
    public async Task A_body_that_is_no_batch_is_refused_as_a_whole()
    {
        var (_, fleet) = await apps.OfAsync(DatabaseKind.Sqlite);
        async Task<IReadOnlyList<string>> RefusedAsync(object body)
        {
            using var answer = await fleet.SendAsync(HttpMethod.Post, "/api/v1/reports/batch", fleet.Admin, body);
            return (await answer.ProblemAsync(HttpStatusCode.BadRequest)).Pointers();
        }

        Assert.Equal(["/reports"], await RefusedAsync("{}"));
        Assert.Equal(["/reports"], await RefusedAsync("""{"reports": []}"""));
        Assert.Equal(["/reports"], await RefusedAsync("""{"reports": {}}"""));
        Assert.Equal(["/extra"], await RefusedAsync("""{"reports": [{}], "extra": 1}"""));
        Assert.Equal([""], await RefusedAsync("[]"));
        Assert.Equal(
            ["/reports"],
            await RefusedAsync($$"""{"reports": [{{string.Join(",", Enumerable.Repeat("{}", 1001))}}]}""")
        );
        using var large = await fleet.SendAsync(
            HttpMethod.Post,
            "/api/v1/reports/batch",
            fleet.Admin,
            $$"""{"reports": ["{{new string('x', 5 * 1024 * 1024)}}"]}"""
        );
        await large.ProblemAsync(HttpStatusCode.RequestEntityTooLarge);
    }

    internal static JsonObject Entry(Guid key, JsonObject report, bool? replace = null)
    {
        var entry = new JsonObject { ["idempotencyKey"] = key.ToString(), ["report"] = report.DeepClone() };
        if (replace is { } given)
        {
            entry["replace"] = given;
        }

        return entry;
    }

    internal static async Task<IReadOnlyList<JsonObject>> BatchAsync(
        Fleet fleet,
        string key,
        params IEnumerable<JsonNode?> entries
    )
    {
        using var answer = await fleet.SendAsync(
            HttpMethod.Post,
            "/api/v1/reports/batch",
            key,
            new JsonObject { ["reports"] = new JsonArray([.. entries]) }
        );
        await answer.ShouldBeAsync(HttpStatusCode.OK);
        return [.. (await answer.JsonAsync())["results"]!.AsArray().Select(r => r!.AsObject())];
    }

    private static JsonObject Entry(Guid key, JsonObject report, (string Name, string Value) extra)
    {
        var entry = Entry(key, report);
        entry[extra.Name] = extra.Value;
        return entry;
    }
}
