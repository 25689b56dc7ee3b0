using System.Net;
using System.Text.Json.Nodes;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Processes;

/// <summary>A fleet's installation: several web processes and a worker on one PostgreSQL.</summary>
public sealed class FleetTests(PostgresServer postgres)
{
    private static readonly TimeSpan CatchUp = TimeSpan.FromSeconds(90);

    [Fact]
    public async Task TwoWebProcessesAndAWorkerAreOneService()
    {
        var ct = TestContext.Current.CancellationToken;
        var settings = new Dictionary<string, string>
        {
            ["ConnectionStrings__Reports"] = await postgres.CreateDatabaseAsync(),
            ["Reports__Demo"] = "false",
            ["Reports__AdminKey"] = ReportsApp.AdminKey,
            ["Reports__RateLimit"] = "off",
        };
        Assert.Equal(0, (await ReportsProcess.RunAsync(settings, "migrate")).Code);
        var (web, address) = await ReportsProcess.ServeAsync(settings, "web");
        await using var first = web;
        var (other, otherAddress) = await ReportsProcess.ServeAsync(settings, "web");
        await using var second = other;
        using var http = new HttpClient { BaseAddress = address };
        using var otherHttp = new HttpClient { BaseAddress = otherAddress };
        var (here, there) = (new Fleet(http), new Fleet(otherHttp));
        await here.PutCoastAsync();

        // One key at both doors at once is one report; what one door stored, the other corrects.
        var last = DateOnly.FromDateTime(DateTime.UtcNow.AddDays(-2));
        var boats = Fleet.QuayBoats.Concat(Fleet.DockBoats).ToList();
        var stored = new List<string>();
        foreach (var boat in boats)
        {
            var key = Guid.NewGuid();
            var body = ReportBody.Short(boat, last).ToJsonString();
            Task<HttpResponseMessage> PostAsync(Fleet fleet) =>
                fleet.SendAsync(
                    HttpMethod.Post,
                    "/api/v1/reports",
                    fleet.Admin,
                    body,
                    ("Idempotency-Key", key.ToString())
                );
            var answers = await Task.WhenAll(PostAsync(here), PostAsync(there));
            Assert.Equal([HttpStatusCode.OK, HttpStatusCode.Created], answers.Select(a => a.StatusCode).Order());
            Assert.Equal(await answers[0].TextAsync(), await answers[1].TextAsync());
            stored.Add((await answers[0].JsonAsync()).Text("id"));
        }

        using var corrected = await there.SendAsync(
            HttpMethod.Put,
            $"/api/v1/reports/{stored[0]}",
            there.Admin,
            ReportBody.Short(boats[0], last, kept: 11),
            ("If-Match", "\"1\"")
        );
        await corrected.ShouldBeAsync(HttpStatusCode.OK);
        using var read = await here.GetAsync($"/api/v1/reports/{stored[0]}", here.Admin);
        Assert.Equal(2, (await read.JsonAsync()).Number("version"));

        // Nobody computed yet; the worker that starts now finds what is touched.
        Assert.Equal(0, (await here.ReadBriefAsync(Fleet.Bank, "SBF")).Number("version"));
        var (worker, workerAddress) = await ReportsProcess.ServeAsync(settings, "worker");
        await using var third = worker;
        using var workerHttp = new HttpClient { BaseAddress = workerAddress };
        using var noApi = await workerHttp.GetAsync(new Uri("/api/v1/zones", UriKind.Relative), ct);
        Assert.Equal(HttpStatusCode.NotFound, noApi.StatusCode);
        using var alive = await workerHttp.GetAsync(new Uri("/health/ready", UriKind.Relative), ct);
        Assert.Equal(HttpStatusCode.OK, alive.StatusCode);

        var deadline = DateTime.UtcNow + CatchUp;
        JsonObject brief;
        do
        {
            await Task.Delay(250, ct);
            brief = await there.ReadBriefAsync(Fleet.Bank, "SBF");
        } while (DateTime.UtcNow < deadline && brief.Number("version") == 0);

        Assert.True(brief.Number("version") > 0, "the worker has published no brief");
        Assert.Equal(boats.Count, brief["evidence"]!["reports"]!.GetValue<int>());
    }
}
