using System.Globalization;
using System.Net;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Api;

public sealed class RateLimitTests(PostgresServer postgres)
{
    [Fact]
    public async Task OneRequestTooManyIsToldWhenToComeBack()
    {
        await using var app = await ReportsApp.StartAsync(
            DatabaseKind.Sqlite,
            postgres,
            more: ("Reports:RateLimit", "4")
        );
        var fleet = new Fleet(app.CreateClient());
        for (var i = 0; i < 4; i++)
        {
            using var fine = await fleet.GetAsync("/api/v1/zones");
            await fine.ShouldBeAsync(HttpStatusCode.OK);
        }

        using var tooMany = await fleet.GetAsync("/api/v1/zones");

        await tooMany.ProblemAsync(HttpStatusCode.TooManyRequests);
        var wait = Assert.Single(tooMany.Headers.GetValues("Retry-After"));
        Assert.InRange(int.Parse(wait, CultureInfo.InvariantCulture), 1, 60);

        // A key is counted for itself.
        using var other = await fleet.GetAsync("/api/v1/reports", fleet.Admin);
        await other.ShouldBeAsync(HttpStatusCode.OK);
    }

    [Fact]
    public async Task InventingKeysDoesNotRaiseTheLimit()
    {
        await using var app = await ReportsApp.StartAsync(
            DatabaseKind.Sqlite,
            postgres,
            more: ("Reports:RateLimit", "4")
        );
        var fleet = new Fleet(app.CreateClient());
        var statuses = new List<HttpStatusCode>();
        for (var i = 0; i < 6; i++)
        {
            using var answer = await fleet.GetAsync("/api/v1/reports", $"railside_guess-{i}");
            statuses.Add(answer.StatusCode);
        }

        Assert.Contains(HttpStatusCode.TooManyRequests, statuses);
    }
}
