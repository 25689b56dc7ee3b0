using System.Net;
using System.Text.Json.Nodes;
using Microsoft.EntityFrameworkCore;
using Reports.Domain.Reporting;
using Reports.Storage;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Storage;

/// <summary>What the database holds after the API has answered, on both databases.</summary>
public sealed class ReportStorageTests(PostgresServer postgres)
{
    private static CancellationToken Ct => TestContext.Current.CancellationToken;

    public static TheoryData<DatabaseKind> Both => Databases.Both;

    [Theory]
    [MemberData(nameof(Both))]
    public async Task AnEmptyDatabaseIsMigratedToTheModel(DatabaseKind database)
    {
        await using var app = await ReportsApp.StartAsync(database, postgres);

        await app.WithAsync(
            async (ReportsDbContext db) =>
            {
                Assert.Empty(await db.Database.GetPendingMigrationsAsync(Ct));
                Assert.NotEmpty(await db.Database.GetAppliedMigrationsAsync(Ct));
                Assert.False(db.Database.HasPendingModelChanges());
                Assert.Equal(0, await db.Reports.CountAsync(Ct));
            }
        );
        using var ready = await app.CreateClient().GetAsync(new Uri("/health/ready", UriKind.Relative), Ct);
        Assert.Equal(HttpStatusCode.OK, ready.StatusCode);
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task VersionsTouchesAndKnownEvidenceFollowAReportThroughItsLife(DatabaseKind database)
    {
        await using var app = await ReportsApp.StartAsync(database, postgres);
        var fleet = await Fleet.SetUpCoastAsync(app);
        async Task<IEnumerable<(string, string)>> TouchedAsync()
        {
            var rows = await app.AskAsync(db => db.Touched.OrderBy(t => t.Zone).ThenBy(t => t.Species).ToListAsync(Ct));
            await app.AskAsync(db => db.Touched.ExecuteDeleteAsync(Ct));
            return rows.Select(r => (r.Zone, r.Species));
        }

        await TouchedAsync();
        var posted = app.Time.GetUtcNow();
        var stored = await fleet.SubmitReportAsync(ReportBody.Full(Fleet.Petrel));
        var href = $"/api/v1/reports/{stored.Text("id")}";
        Assert.Equal([(Fleet.Bank, "ALB"), (Fleet.Bank, "SBF"), (Fleet.Bank, "YTC")], await TouchedAsync());

        // Refusals touch nothing.
        using var stands = await fleet.SubmitAsync(ReportBody.Full(Fleet.Petrel));
        await stands.ShouldBeAsync(HttpStatusCode.Conflict);
        Assert.Empty(await TouchedAsync());

        app.Time.Advance(TimeSpan.FromHours(1));
        var moved = ReportBody.Short(Fleet.Petrel, zone: Fleet.Edge, species: "SBF", kept: 7);
        using var corrected = await fleet.SendAsync(HttpMethod.Put, href, fleet.Admin, moved, ("If-Match", "\"1\""));
        await corrected.ShouldBeAsync(HttpStatusCode.OK);
        Assert.Equal(
            [(Fleet.Bank, "ALB"), (Fleet.Bank, "SBF"), (Fleet.Bank, "YTC"), (Fleet.Edge, "SBF")],
            await TouchedAsync()
        );

        app.Time.Advance(TimeSpan.FromHours(1));
        using var retracted = await fleet.SendAsync(HttpMethod.Delete, href, fleet.Admin, null, ("If-Match", "\"2\""));
        await retracted.ShouldBeAsync(HttpStatusCode.NoContent);
        Assert.Equal([(Fleet.Edge, "SBF")], await TouchedAsync());

        var soFar = ReportBody.Short(Fleet.Tern);
        soFar["status"] = "so-far";
        await fleet.SubmitReportAsync(soFar);
        Assert.Empty(await TouchedAsync());

        var versions = await app.AskAsync(db =>
            db.ReportVersions.Where(v => v.ReportId == stored.Text("id")).OrderBy(v => v.Version).ToListAsync(Ct)
        );
        Assert.Equal([1, 2, 3], versions.Select(v => v.Version));
        Assert.Equal(stored.ToJsonString(), JsonNode.Parse(versions[0].Body)!.ToJsonString());
        Assert.Equal([posted, posted.AddHours(1), posted.AddHours(2)], versions.Select(v => v.StoredAt));
        Assert.Equal("bootstrap", versions[0].Credential);
        Assert.Equal([ReportState.Counted, ReportState.Counted, ReportState.Retracted], versions.Select(v => v.State));

        // What had arrived by an instant.
        Task<IReadOnlyList<ReportMeasures>> KnownAsync(DateTimeOffset? at) =>
            app.WithAsync(async (EvidenceStore store) => (await store.LoadAsync(Fleet.Today, at, Ct)).Reports);
        Assert.Empty(await KnownAsync(posted.AddSeconds(-1)));
        Assert.Equal(Fleet.Bank, Assert.Single(await KnownAsync(posted)).Zone);
        Assert.Equal(Fleet.Bank, Assert.Single(await KnownAsync(posted.AddMinutes(59))).Zone);
        Assert.Equal(Fleet.Edge, Assert.Single(await KnownAsync(posted.AddHours(1))).Zone);
        Assert.Empty(await KnownAsync(posted.AddHours(2)));
        Assert.Empty(await KnownAsync(null));

        // The same through the public door, where a brief says how much it leans on.
        async Task<int> ReportsAsync(string query) =>
            (await fleet.ReadBriefAsync(Fleet.Edge, "SBF", query))["evidence"]!["reports"]!.GetValue<int>();
        Assert.Equal(1, await ReportsAsync("?asOf=2026-11-23&knownAt=2026-11-23T13:30:00Z"));
        Assert.Equal(1, await ReportsAsync("?asOf=2026-11-23&knownAt=2026-11-23T14:30:00%2B01:00"));
        Assert.Equal(0, await ReportsAsync("?asOf=2026-11-23&knownAt=2026-11-23T11:30:00Z"));
        Assert.Equal(0, await ReportsAsync("?asOf=2026-11-23"));
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task MeasuresAreKeptAsGivenAndInWholeGramsAndMillimetres(DatabaseKind database)
    {
        await using var app = await ReportsApp.StartAsync(database, postgres);
        var fleet = await Fleet.SetUpCoastAsync(app);
        var pounds = await fleet.SubmitReportAsync(ReportBody.Full(Fleet.Petrel));
        var metric = ReportBody.Short(Fleet.Tern);
        metric["units"] = new JsonObject { ["weight"] = "kg", ["length"] = "cm" };
        metric["catch"]![0]!["largest"] = 19.28;
        metric["bait"] = new JsonObject { ["species"] = "PIL", ["longest"] = 13.4 };
        metric["signs"] = new JsonObject { ["depth"] = 33.5 };
        var kilograms = await fleet.SubmitReportAsync(metric);

        async Task<ReportMeasures> MeasuresAsync(JsonObject report) =>
            ReportMeasures.FromJson(
                await app.AskAsync(db =>
                    db.ReportVersions.Where(v => v.ReportId == report.Text("id"))
                        .Select(v => v.Measures)
                        .SingleAsync(Ct)
                )
            );
        var m = await MeasuresAsync(pounds);

        // 1 lb = 453.59237 g, 1 in = 25.4 mm, 1 ft = 304.8 mm, by definition (international yard and pound, 1959):
        // 42.5 lb = 19277.68 g, 18 lb = 8164.66 g, 5.25 in = 133.35 mm, 110 ft = 33528 mm.
        Assert.Equal(42.5m, pounds["catch"]![0]!["largest"]!.GetValue<decimal>());
        Assert.Equal((8165, 19278), (m.Catch[0].SmallestGrams!.Value, m.Catch[0].LargestGrams!.Value));
        Assert.Equal((102, 133), (m.Bait[0].ShortestMm!.Value, m.Bait[0].LongestMm!.Value));
        Assert.Equal(33528, m.DepthMm);

        var k = await MeasuresAsync(kilograms);
        Assert.Equal(19.28m, kilograms["catch"]![0]!["largest"]!.GetValue<decimal>());
        Assert.Equal("kg", kilograms["units"]!["weight"]!.GetValue<string>());
        Assert.Equal(19280, k.Catch[0].LargestGrams);
        Assert.Equal(134, k.Bait[0].LongestMm);
        Assert.Equal("m", kilograms["units"]!["depth"]!.GetValue<string>());
        Assert.Equal(33500, k.DepthMm);
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task AReportWhoseTouchCannotBeStoredIsNotStoredEither(DatabaseKind database)
    {
        await using var app = await ReportsApp.StartAsync(database, postgres);
        var fleet = await Fleet.SetUpCoastAsync(app);
        foreach (var statement in Breaking(database))
        {
            await app.AskAsync(db => db.Database.ExecuteSqlRawAsync(statement, Ct));
        }

        fleet.OnlyDeclared = false;
        var key = Guid.NewGuid();
        using var failed = await fleet.SubmitAsync(ReportBody.Full(Fleet.Petrel), idempotencyKey: key);

        var problem = await failed.ProblemAsync(HttpStatusCode.InternalServerError);
        Assert.DoesNotContain("Exception", problem.ToJsonString(), StringComparison.Ordinal);
        Assert.DoesNotContain("not today", problem.ToJsonString(), StringComparison.Ordinal);
        Assert.Equal(0, await app.AskAsync(db => db.Reports.CountAsync(Ct)));
        Assert.Equal(0, await app.AskAsync(db => db.ReportVersions.CountAsync(Ct)));

        // The key was not used up: the same request is taken when the fault is gone.
        await app.AskAsync(db =>
            db.Database.ExecuteSqlRawAsync(
                database == DatabaseKind.Sqlite ? "DROP TRIGGER breaks" : "DROP TRIGGER breaks ON touched",
                Ct
            )
        );
        await fleet.SubmitReportAsync(ReportBody.Full(Fleet.Petrel), idempotencyKey: key);
    }

    [Fact]
    public async Task EvidenceIsTheSameValueWhateverTheOrderOfArrivalAndTheDatabase()
    {
        var boats = new[] { "auk", "auk-2", "auk-10", "auk1", "aukb", "b-auk", "bauk" };
        var days = new[] { new DateOnly(2026, 11, 21), new DateOnly(2026, 11, 22), new DateOnly(2026, 11, 23) };
        var reports = (
            from boat in boats
            from day in days
            from sailing in new[] { 2, 1 }
            from zone in new[] { Fleet.Shelf, Fleet.Bank }
            where zone == Fleet.Bank || sailing == 1
            select (Boat: boat, Day: day, Sailing: sailing, Zone: zone)
        ).ToList();
        var seen = new List<string>();
        foreach (var (database, seed) in new[] { (DatabaseKind.Sqlite, 1), (DatabaseKind.Postgres, 2) })
        {
            await using var app = await ReportsApp.StartAsync(database, postgres);
            var fleet = await Fleet.SetUpCoastAsync(app);
            foreach (var boat in boats)
            {
                await fleet.PutAsync($"boats/{boat}", new { name = boat, landing = Fleet.Quay });
            }

            var shuffled = reports.ToArray();
            new Random(seed).Shuffle(shuffled);
            foreach (var r in shuffled)
            {
                var body = ReportBody.Full(r.Boat, r.Day);
                (body["zone"], body["sailing"]) = (r.Zone, r.Sailing);
                body["hours"] = 1 + ((decimal)reports.IndexOf(r) / 4);
                await fleet.SubmitReportAsync(body);
            }

            var evidence = await app.WithAsync((EvidenceStore store) => store.LoadAsync(Fleet.Today, null, Ct));
            seen.Add(string.Join('\n', evidence.Reports.Select(r => r.ToJson())));
        }

        Assert.Equal(reports.Count, seen[0].Split('\n').Length);
        Assert.Equal(seen[0], seen[1]);
    }

    private static IEnumerable<string> Breaking(DatabaseKind database) =>
        database == DatabaseKind.Sqlite
            ? ["CREATE TRIGGER breaks BEFORE INSERT ON touched BEGIN SELECT RAISE(ABORT, 'not today'); END"]
            :
            [
                "CREATE FUNCTION breaks() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RAISE EXCEPTION 'not today'; END $$",
                "CREATE TRIGGER breaks BEFORE INSERT ON touched FOR EACH ROW EXECUTE FUNCTION breaks()",
            ];
}
