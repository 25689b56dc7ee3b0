using System.Collections.Concurrent;
using System.Net;
using System.Text.Json.Nodes;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Processes;

/// <summary>A service that is killed while boats report loses nothing that it has acknowledged.</summary>
public sealed class KillTests(PostgresServer postgres)
{
    private const int Cycles = 3;
    private const int Clients = 4;
    private static readonly TimeSpan CatchUp = TimeSpan.FromSeconds(90);

    public static TheoryData<DatabaseKind> Both => Databases.Both;

    [Theory]
    [MemberData(nameof(Both))]
    public async Task EveryAcknowledgedReportIsThereOnceAndItsBriefCatchesUp(DatabaseKind database)
    {
        var ct = TestContext.Current.CancellationToken;
        var connection = database == DatabaseKind.Postgres ? await postgres.CreateDatabaseAsync() : "";
        var folder = Directory.CreateTempSubdirectory("reports-");
        var settings = new Dictionary<string, string>
        {
            ["ConnectionStrings__Reports"] = connection,
            ["Reports__DataPath"] = folder.FullName,
            ["Reports__Demo"] = "false",
            ["Reports__AdminKey"] = ReportsApp.AdminKey,
            ["Reports__RateLimit"] = "off",
        };
        var acknowledged = new ConcurrentDictionary<Guid, string>();
        var retries = 0;
        using var stop = CancellationTokenSource.CreateLinkedTokenSource(ct);
        var (service, at) = await ReportsProcess.ServeAsync(settings);
        var address = at;
        try
        {
            using (var http = new HttpClient { BaseAddress = at })
            {
                await new Fleet(http).PutCoastAsync();
            }

            var clients = Enumerable.Range(0, Clients).Select(c => Task.Run(() => ReportAsync(c), ct)).ToList();
            for (var cycle = 0; cycle < Cycles; cycle++)
            {
                var before = acknowledged.Count;
                await Task.Delay(TimeSpan.FromSeconds(1.5), ct);
                while (acknowledged.Count < before + 10)
                {
                    Assert.Contains(clients, c => !c.IsCompleted);
                    await Task.Delay(50, ct);
                }

                // The boats go on trying at the dead address until the service is back.
                await service.KillAsync();
                await service.DisposeAsync();
                (service, at) = await ReportsProcess.ServeAsync(settings);
                address = at;
            }

            await stop.CancelAsync();
            await Task.WhenAll(clients);
            Assert.True(retries > 0, "no request met a dead service: the test tests nothing");

            using var reader = new HttpClient { BaseAddress = at };
            var fleet = new Fleet(reader);
            var stored = await AllAsync(fleet);
            Assert.Equal(stored.Count, stored.Select(r => r.Text("id")).Distinct().Count());
            Assert.Equal(
                stored.Count,
                stored.Select(r => (r.Text("boat"), r.Text("fishedOn"), r.Number("sailing"))).Distinct().Count()
            );
            Assert.All(stored, r => Assert.Equal(1, r.Number("version")));
            Assert.Equal(
                acknowledged.Values.Order(StringComparer.Ordinal),
                stored.Select(r => r.Text("id")).Order(StringComparer.Ordinal)
            );

            // Nobody asks for it: what was touched before a kill is computed after the restart.
            var deadline = DateTime.UtcNow + CatchUp;
            JsonObject brief;
            do
            {
                await Task.Delay(500, ct);
                brief = await fleet.ReadBriefAsync(Fleet.Bank, "SBF");
            } while (
                DateTime.UtcNow < deadline
                && (brief.Number("version") == 0 || brief["evidence"]!["reports"]!.GetValue<int>() != stored.Count)
            );

            Assert.True(brief.Number("version") > 0);
            Assert.Equal(stored.Count, brief["evidence"]!["reports"]!.GetValue<int>());
        }
        finally
        {
            await service.DisposeAsync();
            folder.Delete(recursive: true);
        }

        // One boat's software: reports one after the other, each repeated with its key until it is acknowledged.
        async Task ReportAsync(int client)
        {
            var boat = Fleet.QuayBoats.Concat(Fleet.DockBoats).ElementAt(client);
            var last = DateOnly.FromDateTime(DateTime.UtcNow.AddDays(-2));
            for (var i = 0; i < 24 * 9 && !stop.IsCancellationRequested; i++)
            {
                var key = Guid.NewGuid();
                var body = ReportBody.Short(boat, last.AddDays(-(i / 9)), sailing: 1 + (i % 9));
                while (!acknowledged.ContainsKey(key))
                {
                    try
                    {
                        using var http = new HttpClient { BaseAddress = address, Timeout = TimeSpan.FromSeconds(30) };
                        using var answer = await new Fleet(http).SubmitAsync(body, idempotencyKey: key);
                        await answer.ShouldBeAsync(HttpStatusCode.Created, HttpStatusCode.OK);
                        acknowledged[key] = (await answer.JsonAsync()).Text("id");

                        // A fast machine must not run out of sailings within the brief's window before the last kill.
                        await Task.Delay(30);
                    }
                    catch (Exception e) when (e is HttpRequestException or IOException or OperationCanceledException)
                    {
                        Interlocked.Increment(ref retries);
                        await Task.Delay(100);
                    }
                }
            }
        }
    }

    private static async Task<List<JsonObject>> AllAsync(Fleet fleet)
    {
        var all = new List<JsonObject>();
        string? next = "/api/v1/reports?limit=200";
        while (next is not null)
        {
            using var answer = await fleet.GetAsync(next, fleet.Admin);
            await answer.ShouldBeAsync(HttpStatusCode.OK);
            all.AddRange((await answer.JsonAsync())["items"]!.AsArray().Select(i => i!.AsObject()));
            next = answer.Headers.TryGetValues("Link", out var links)
                ? links.Single()[1..links.Single().IndexOf('>', StringComparison.Ordinal)]
                : null;
        }

        return all;
    }
}
