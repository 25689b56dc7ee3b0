using System.Text.Json.Nodes;
using Hangfire;
using Microsoft.EntityFrameworkCore;
using Microsoft.Extensions.DependencyInjection;
using Reports.Storage;
using Reports.Web.Jobs;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Jobs;

/// <summary>
/// The coast's part of the briefs stands for a day: which briefs a report moves, and that all comes to the same in the end,
/// whatever the order in which reports came.
/// </summary>
public sealed class CoastOfTheDayTests(PostgresServer postgres)
{
    private static CancellationToken Ct => TestContext.Current.CancellationToken;

    public static TheoryData<DatabaseKind> Both => Databases.Both;

    [Theory]
    [MemberData(nameof(Both))]
    public async Task AReportOfTheDayMovesItsOwnZoneOnly(DatabaseKind database)
    {
        await using var app = await ReportsApp.StartAsync(database, postgres);
        var fleet = await Fleet.SetUpCoastAsync(app);
        await FileAsync(fleet, Season());
        await RunAsync(app);
        var before = await VersionsAsync(app);
        Assert.Equal(3, before.Count);

        await FileAsync(fleet, [ReportBody.Short(Fleet.Petrel, Fleet.Today, Fleet.Edge, kept: 40, sailing: 3)]);
        await RunAsync(app);
        Assert.Equal(before[Fleet.Edge] + 1, (await VersionsAsync(app))[Fleet.Edge]);
        Assert.Equal([Fleet.Edge], await MovedAsync(app, before));
        Assert.Equal(0, await app.AskAsync(db => db.Touched.CountAsync(t => t.Species == "SBF", Ct)));
        await AssertAsIfComputedNowAsync(fleet);
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task WhatComesLateMovesItsZoneAtOnceAndTheCoastAWhileLater(DatabaseKind database)
    {
        await using var app = await ReportsApp.StartAsync(database, postgres);
        var fleet = await Fleet.SetUpCoastAsync(app);
        await FileAsync(fleet, Season());
        await RunAsync(app);
        var before = await VersionsAsync(app);

        var late = Fleet.Today.AddDays(-2);
        await FileAsync(fleet, [ReportBody.Short(Fleet.Petrel, late, Fleet.Edge, kept: 40, sailing: 3)]);
        await RunAsync(app);
        await FileAsync(fleet, [ReportBody.Short(Fleet.Petrel, late, Fleet.Edge, kept: 30, sailing: 4)]);
        await RunAsync(app);
        Assert.Equal([Fleet.Edge], await MovedAsync(app, before));
        Assert.Equal(
            ["*", "*"],
            await app.AskAsync(db => db.Touched.Where(t => t.Species == "SBF").Select(t => t.Zone).ToListAsync(Ct))
        );
        var scheduled = app.Services.GetRequiredService<JobStorage>().GetMonitoringApi().ScheduledJobs(0, 100);
        Assert.Single(scheduled, j => j.Value.Job.Type == typeof(BriefJob) && (string)j.Value.Job.Args[0] == "SBF");

        app.Time.Advance(TimeSpan.FromSeconds(10));
        await RunAsync(app);
        Assert.Equal([Fleet.Bank, Fleet.Edge, Fleet.Shelf], await MovedAsync(app, before));
        Assert.Equal(0, await app.AskAsync(db => db.Touched.CountAsync(t => t.Species == "SBF", Ct)));
        await AssertAsIfComputedNowAsync(fleet);
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task ACoastThatGrowsMuchIsOpenedAgainAtOnce(DatabaseKind database)
    {
        await using var app = await ReportsApp.StartAsync(database, postgres);
        var fleet = await Fleet.SetUpCoastAsync(app);
        var season = Season();
        await FileAsync(fleet, season.Take(48));
        await RunAsync(app);
        await FileAsync(fleet, season.Skip(48));
        await RunAsync(app);
        Assert.Equal(0, await app.AskAsync(db => db.Touched.CountAsync(t => t.Species == "SBF", Ct)));
        await AssertAsIfComputedNowAsync(fleet);
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task ACoastThatAnotherProgramKeptIsOpenedAnew(DatabaseKind database)
    {
        await using var app = await ReportsApp.StartAsync(database, postgres);
        var fleet = await Fleet.SetUpCoastAsync(app);
        await FileAsync(fleet, Season());
        await RunAsync(app);
        await app.AskAsync(db => db.Coasts.ExecuteUpdateAsync(set => set.SetProperty(c => c.Body, "{}"), Ct));

        await FileAsync(fleet, [ReportBody.Short(Fleet.Petrel, Fleet.Today, Fleet.Edge, kept: 40, sailing: 3)]);
        await RunAsync(app);
        await AssertAsIfComputedNowAsync(fleet);
    }

    [Fact]
    public async Task TheSameReportsInAnotherOrderAndOnTheOtherDatabaseGiveTheSameBriefs()
    {
        var season = Season();
        var orders = new[] { season, Enumerable.Reverse(season), season.OrderBy(r => (string)r["zone"]!) };
        var answers = new List<string>();
        foreach (var (order, i) in orders.Select((o, i) => (o, i)))
        {
            await using var app = await ReportsApp.StartAsync(
                i == 1 ? DatabaseKind.Postgres : DatabaseKind.Sqlite,
                postgres
            );
            var fleet = await Fleet.SetUpCoastAsync(app);
            foreach (var part in order.Chunk(20))
            {
                await FileAsync(fleet, part);
                await RunAsync(app);
            }

            app.Time.Advance(TimeSpan.FromSeconds(10));
            await RunAsync(app);
            var bodies = await app.AskAsync(db =>
                db.Briefs.Where(b =>
                        b.Species == "SBF"
                        && !db.Briefs.Any(l => l.Zone == b.Zone && l.Species == b.Species && l.Version > b.Version)
                    )
                    .OrderBy(b => b.Zone)
                    .Select(b => b.Body)
                    .ToListAsync(Ct)
            );
            Assert.Equal(3, bodies.Count);
            answers.Add(string.Join('\n', bodies));
        }

        Assert.Equal(answers[0], answers[1]);
        Assert.Equal(answers[0], answers[2]);
    }

    /// <summary>Three weeks of three boats on the bank and on the edge; the shelf has none and leans on the coast.</summary>
    private static List<JsonObject> Season() =>
        [
            .. from day in Enumerable.Range(0, 20)
            from boat in Enumerable.Range(0, 3)
            from zone in new[] { Fleet.Bank, Fleet.Edge }
            select ReportBody.Short(
                Fleet.QuayBoats[boat],
                Fleet.Today.AddDays(-day),
                zone,
                kept: (day * 7 + boat * 5 + zone.Length) % 19,
                sailing: zone == Fleet.Bank ? 1 : 2
            ),
        ];

    private static async Task FileAsync(Fleet fleet, IEnumerable<JsonObject> reports)
    {
        var batch = new JsonObject
        {
            ["reports"] = new JsonArray([
                .. reports.Select(r => new JsonObject
                {
                    ["idempotencyKey"] = Guid.NewGuid().ToString(),
                    ["report"] = r.DeepClone(),
                }),
            ]),
        };
        using var answer = await fleet.SendAsync(HttpMethod.Post, "/api/v1/reports/batch", fleet.Admin, batch);
        answer.EnsureSuccessStatusCode();
        var results = JsonNode.Parse(await answer.Content.ReadAsStringAsync(Ct))!["results"]!.AsArray();
        Assert.All(results, r => Assert.Equal(201, (int)r!["status"]!));
    }

    private static Task RunAsync(ReportsApp app) => app.WithAsync((BriefJob job) => job.ExecuteAsync("SBF", Ct));

    private static async Task<SortedDictionary<string, int>> VersionsAsync(ReportsApp app) =>
        new(
            await app.AskAsync(db =>
                db.Briefs.Where(b => b.Species == "SBF")
                    .GroupBy(b => b.Zone)
                    .ToDictionaryAsync(g => g.Key, g => g.Max(b => b.Version), Ct)
            ),
            StringComparer.Ordinal
        );

    private static async Task<IEnumerable<string>> MovedAsync(ReportsApp app, SortedDictionary<string, int> before) =>
        (await VersionsAsync(app)).Where(v => before[v.Key] != v.Value).Select(v => v.Key);

    /// <summary>What stands is what an asked-for day computes from all reports at once.</summary>
    private static async Task AssertAsIfComputedNowAsync(Fleet fleet)
    {
        foreach (var zone in new[] { Fleet.Bank, Fleet.Edge, Fleet.Shelf })
        {
            var (stands, now) = (
                await fleet.ReadBriefAsync(zone, "SBF"),
                await fleet.ReadBriefAsync(zone, "SBF", $"?asOf={ReportBody.Day(Fleet.Today)}")
            );
            foreach (var brief in new[] { stands, now })
            {
                brief.Remove("version");
                brief.Remove("computedAt");
            }

            Assert.Equal(now.ToJsonString(), stands.ToJsonString());
        }
    }
}
