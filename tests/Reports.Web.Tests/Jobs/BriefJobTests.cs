using System.Text.Json.Nodes;
using Hangfire;
using Hangfire.Common;
using Hangfire.Storage;
using Microsoft.EntityFrameworkCore;
using Microsoft.Extensions.DependencyInjection;
using Reports.Domain.Briefs;
using Reports.Storage;
using Reports.Web.Jobs;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Jobs;

/// <summary>The jobs, run by hand: what they leave in the database, whenever they are killed and however often they run.</summary>
public sealed class BriefJobTests(PostgresServer postgres)
{
    private static CancellationToken Ct => TestContext.Current.CancellationToken;

    public static TheoryData<DatabaseKind> Both => Databases.Both;

    [Theory]
    [MemberData(nameof(Both))]
    public async Task AJobAnswersItsTouchesAndASecondRunChangesNothing(DatabaseKind database)
    {
        await using var app = await ReportsApp.StartAsync(database, postgres);
        var fleet = await Fleet.SetUpCoastAsync(app);
        await fleet.SubmitReportAsync(ReportBody.Short(Fleet.Petrel));
        await fleet.SubmitReportAsync(ReportBody.Short(Fleet.Tern, species: "ALB"));

        await RunAsync(app, "SBF");
        Assert.Equal([(Fleet.Bank, "ALB")], await TouchedAsync(app));
        var before = await BriefsAsync(app);
        Assert.Contains((Fleet.Bank, "SBF", 1), before);
        Assert.Equal(1, await CountedAsync(fleet));

        await RunAsync(app, "SBF");
        Assert.Equal(before, await BriefsAsync(app));

        // Touched again without a change: the touch goes, and no version is added.
        await app.WithAsync(
            (ReportsDbContext db) =>
            {
                db.Touched.Add(new TouchedRow { Zone = Fleet.Bank, Species = "SBF" });
                return db.SaveChangesAsync(Ct);
            }
        );
        await RunAsync(app, "SBF");
        Assert.Equal(before, await BriefsAsync(app));
        Assert.Equal([(Fleet.Bank, "ALB")], await TouchedAsync(app));

        await fleet.SubmitReportAsync(ReportBody.Short("little-auk"));
        await RunAsync(app, "SBF");
        Assert.Contains((Fleet.Bank, "SBF", 2), await BriefsAsync(app));
        Assert.Equal(2, await CountedAsync(fleet));
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task OnlyCountedReportsAreEvidence(DatabaseKind database)
    {
        await using var app = await ReportsApp.StartAsync(database, postgres);
        var fleet = await Fleet.SetUpCoastAsync(app);
        var soFar = ReportBody.Short(Fleet.Petrel);
        soFar["status"] = "so-far";
        await fleet.SubmitReportAsync(soFar);
        var held = ReportBody.Short(Fleet.Tern);
        held["catch"]![0]!["largest"] = 2900;
        var doubtful = await fleet.SubmitReportAsync(held);
        Assert.Equal("held", doubtful.Text("state"));
        Assert.Equal(0, await CountedAsync(fleet));

        using var confirmed = await fleet.SendAsync(
            HttpMethod.Post,
            $"/api/v1/reports/{doubtful.Text("id")}/confirm",
            fleet.DockKey
        );
        await RunAsync(app, "SBF");
        Assert.Equal(1, await CountedAsync(fleet));

        await fleet.SubmitReportAsync(ReportBody.Short(Fleet.Petrel));
        await RunAsync(app, "SBF");
        Assert.Equal(2, await CountedAsync(fleet));

        using var gone = await fleet.SendAsync(
            HttpMethod.Delete,
            $"/api/v1/reports/{doubtful.Text("id")}",
            fleet.Admin,
            null,
            ("If-Match", "*")
        );
        await RunAsync(app, "SBF");
        Assert.Equal(1, await CountedAsync(fleet));
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task AJobKilledBetweenComputingAndPublishingIsRepeatedByTheSweep(DatabaseKind database)
    {
        await using var app = await ReportsApp.StartAsync(database, postgres);
        var fleet = await Fleet.SetUpCoastAsync(app);
        await app.WithAsync((SweepJob sweep) => sweep.OpenEpochAsync(Ct));
        await RunAsync(app, "SBF");
        await fleet.SubmitReportAsync(ReportBody.Short(Fleet.Petrel, zone: Fleet.Bank));
        await fleet.SubmitReportAsync(ReportBody.Short(Fleet.Petrel, zone: Fleet.Shelf));
        var before = await BriefsAsync(app);

        await using (var scope = app.Services.CreateAsyncScope())
        {
            var services = scope.ServiceProvider;
            var db = services.GetRequiredService<ReportsDbContext>();

            // The clock is read when a brief is about to be written: there the first job ends.
            var job = new BriefJob(
                db,
                services.GetRequiredService<EvidenceStore>(),
                services.GetRequiredService<CoastStore>(),
                new BriefStore(db, new BriefChanges(), new Killing()),
                services.GetRequiredService<IBackgroundJobClient>(),
                services.GetRequiredService<Settings>(),
                app.Time
            );
            await Assert.ThrowsAsync<InvalidOperationException>(() => job.ExecuteAsync("SBF", Ct));
        }

        Assert.Equal(before, await BriefsAsync(app));
        Assert.Contains((Fleet.Bank, "SBF"), await TouchedAsync(app));

        await app.WithAsync((SweepJob sweep) => sweep.ExecuteAsync(Ct));
        Assert.Contains("SBF", Enqueued(app));
        await RunAsync(app, "SBF");
        Assert.DoesNotContain(await TouchedAsync(app), t => t.Species == "SBF");
        Assert.Contains((Fleet.Bank, "SBF", 2), await BriefsAsync(app));
        Assert.Contains((Fleet.Shelf, "SBF", 2), await BriefsAsync(app));
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task TheRecordWaitsForANightsBriefs(DatabaseKind database)
    {
        await using var app = await ReportsApp.StartAsync(database, postgres);
        var fleet = await Fleet.SetUpCoastAsync(app);
        await fleet.SubmitReportAsync(
            ReportBody.Short(Fleet.Petrel, zone: Fleet.Bank, fishedOn: Fleet.Today.AddDays(-20))
        );
        await app.WithAsync((SweepJob sweep) => sweep.OpenEpochAsync(Ct));
        Assert.True(await app.WithAsync(async (RecordJob job) => (await job.DueAsync(Ct)).Count) > 0);
        await app.AskAsync(async db =>
        {
            db.Touched.AddRange(
                Enumerable.Range(0, SweepJob.Night).Select(_ => new TouchedRow { Zone = Fleet.Bank, Species = "SBF" })
            );
            return await db.SaveChangesAsync(Ct);
        });

        await app.WithAsync((SweepJob sweep) => sweep.ExecuteAsync(Ct));
        Assert.Contains("SBF", Enqueued(app));
        Assert.DoesNotContain(Jobs(app), j => j.Type == typeof(RecordJob));

        foreach (var species in Enqueued(app).Distinct())
        {
            await RunAsync(app, species);
        }

        await app.WithAsync((SweepJob sweep) => sweep.ExecuteAsync(Ct));
        Assert.Single(Jobs(app), j => j.Type == typeof(RecordJob));
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task AnEpochIsOpenedOnceADayWhoeverSweeps(DatabaseKind database)
    {
        await using var app = await ReportsApp.StartAsync(database, postgres);
        await Fleet.SetUpCoastAsync(app);
        await app.AskAsync(db => db.Touched.ExecuteDeleteAsync(Ct));
        Task SweepAsync() => app.WithAsync((SweepJob sweep) => sweep.OpenEpochAsync(Ct));
        async Task<(int Epochs, int Touched)> StandAsync() =>
            (await app.AskAsync(db => db.Epochs.CountAsync(Ct)), await app.AskAsync(db => db.Touched.CountAsync(Ct)));

        // Two processes at once; three zones by four species.
        await Task.WhenAll(SweepAsync(), SweepAsync(), SweepAsync());
        Assert.Equal((1, 12), await StandAsync());
        await SweepAsync();
        Assert.Equal((1, 12), await StandAsync());

        // The coast's day ends at 04:00.
        app.Time.SetUtcNow(new(2026, 11, 24, 3, 59, 59, TimeSpan.Zero));
        await SweepAsync();
        Assert.Equal((1, 12), await StandAsync());
        app.Time.SetUtcNow(new(2026, 11, 24, 4, 0, 0, TimeSpan.Zero));
        await SweepAsync();
        Assert.Equal((2, 24), await StandAsync());

        // Every brief is of the new day then.
        await RunAsync(app, "SBF");
        var days = await app.AskAsync(db =>
            db.Briefs.Where(b => b.Species == "SBF").Select(b => b.AsOf).ToListAsync(Ct)
        );
        Assert.Equal(3, days.Count);
        Assert.All(days, d => Assert.Equal(new DateOnly(2026, 11, 24), d));
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task PruningKeepsTheLastBriefOfEveryDayBefore(DatabaseKind database)
    {
        await using var app = await ReportsApp.StartAsync(database, postgres);
        await Fleet.SetUpCoastAsync(app);
        Brief Of(DateOnly day, int reports, string species = "SBF") =>
            new()
            {
                Zone = Fleet.Bank,
                Species = species,
                AsOf = day,
                Evidence = new(reports, 1, 1, 1, 1, day, Strength.Thin, false, null),
            };
        var days = new[] { Fleet.Today.AddDays(-2), Fleet.Today.AddDays(-1), Fleet.Today };
        foreach (var day in days)
        {
            for (var i = 1; i <= 3; i++)
            {
                Assert.True(await PublishAsync(Of(day, i)));
            }

            // The same again is no version.
            Assert.False(await PublishAsync(Of(day, 3)));
            Assert.True(await PublishAsync(Of(day, 1, "ALB")));
        }

        await app.WithAsync((BriefStore briefs) => briefs.PruneAsync(Fleet.Today, Ct));

        Assert.Equal(
            [(Fleet.Bank, "ALB", 1), (Fleet.Bank, "ALB", 2), (Fleet.Bank, "ALB", 3)],
            (await BriefsAsync(app)).Where(b => b.Species == "ALB")
        );
        Assert.Equal([3, 6, 7, 8, 9], (await BriefsAsync(app)).Where(b => b.Species == "SBF").Select(b => b.Version));

        Task<bool> PublishAsync(Brief brief) =>
            app.WithAsync((BriefStore briefs) => briefs.PublishAsync(brief, [], Ct));
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task AReportIsInItsBriefWithinSecondsWithoutAnybodysHelp(DatabaseKind database)
    {
        await using var app = await ReportsApp.StartAsync(database, postgres, jobs: true);
        var fleet = await Fleet.SetUpCoastAsync(app);
        var today = DateOnly.FromDateTime(DateTime.UtcNow.AddHours(-5));
        await fleet.SubmitReportAsync(ReportBody.Short(Fleet.Petrel, today));
        await fleet.SubmitReportAsync(ReportBody.Short(Fleet.Tern, today));
        await fleet.SubmitReportAsync(ReportBody.Short("little-auk", today));

        // 5 s on a machine of its own; here others may be at work, and what a crowded database makes the queue lose the minute's
        // sweep finds.
        var deadline = DateTime.UtcNow.AddSeconds(150);
        JsonObject brief;
        do
        {
            await Task.Delay(250, Ct);
            brief = await fleet.ReadBriefAsync(Fleet.Bank, "SBF");
        } while (
            DateTime.UtcNow < deadline
            && (brief.Number("version") == 0 || brief["evidence"]!["reports"]!.GetValue<int>() < 3)
        );

        Assert.True(brief.Number("version") > 0, "no job has published the brief");
        Assert.Equal(3, brief["evidence"]!["reports"]!.GetValue<int>());
        Assert.Empty(await TouchedAsync(app, "SBF"));
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task JobsOfOneSpeciesTakeTurns(DatabaseKind database)
    {
        await using var app = await ReportsApp.StartAsync(database, postgres);
        var fleet = await Fleet.SetUpCoastAsync(app);
        await fleet.SubmitReportAsync(ReportBody.Short(Fleet.Petrel));
        await fleet.SubmitReportAsync(ReportBody.Short(Fleet.Petrel, zone: Fleet.Edge, species: "ALB"));
        Task waiting;
        await using (var scope = app.Services.CreateAsyncScope())
        {
            var db = scope.ServiceProvider.GetRequiredService<ReportsDbContext>();
            await using var alone = await db.AloneAsync("briefs of SBF", Ct);
            waiting = RunAsync(app, "SBF");
            await RunAsync(app, "ALB");
            Assert.NotSame(waiting, await Task.WhenAny(waiting, Task.Delay(500, Ct)));
            Assert.NotEmpty(await TouchedAsync(app, "SBF"));
            Assert.Empty(await TouchedAsync(app, "ALB"));
        }

        await waiting;
        Assert.Empty(await TouchedAsync(app, "SBF"));
    }

    private static Task RunAsync(ReportsApp app, string species) =>
        app.WithAsync((BriefJob job) => job.ExecuteAsync(species, Ct));

    private static async Task<int> CountedAsync(Fleet fleet) =>
        (await fleet.ReadBriefAsync(Fleet.Bank, "SBF"))["evidence"]!["reports"]!.GetValue<int>();

    private static async Task<IReadOnlyList<(string Zone, string Species)>> TouchedAsync(
        ReportsApp app,
        string? species = null
    ) =>
        [
            .. (
                await app.AskAsync(db =>
                    db.Touched.Where(t => species == null || t.Species == species)
                        .OrderBy(t => t.Species)
                        .ThenBy(t => t.Zone)
                        .ToListAsync(Ct)
                )
            ).Select(t => (t.Zone, t.Species)),
        ];

    private static async Task<IReadOnlyList<(string Zone, string Species, int Version)>> BriefsAsync(ReportsApp app) =>
        [
            .. (
                await app.AskAsync(db =>
                    db.Briefs.OrderBy(b => b.Species).ThenBy(b => b.Zone).ThenBy(b => b.Version).ToListAsync(Ct)
                )
            ).Select(b => (b.Zone, b.Species, b.Version)),
        ];

    /// <summary>Species whose job is in the queue.</summary>
    private static IReadOnlyList<string> Enqueued(ReportsApp app) =>
        [.. Jobs(app).Where(j => j.Type == typeof(BriefJob)).Select(j => (string)j.Args[0])];

    private static IEnumerable<Job> Jobs(ReportsApp app) =>
        app
            .Services.GetRequiredService<JobStorage>()
            .GetMonitoringApi()
            .EnqueuedJobs("default", 0, 1000)
            .Select(j => j.Value.Job);

    private sealed class Killing : TimeProvider
    {
        public override DateTimeOffset GetUtcNow() => throw new InvalidOperationException("killed here");
    }
}
