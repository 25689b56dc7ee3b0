using System.Net;
using Microsoft.AspNetCore.Server.Kestrel.Core;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Options;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Api;

/// <summary>What a client may cost.</summary>
public sealed class LimitTests(PostgresServer postgres)
{
    private const string Policy = "RateLimit-Policy";
    private const string Left = "RateLimit";

    [Fact]
    public async Task Every_answer_says_what_is_left_and_the_window_renews_it()
    {
        await using var app = await StartAsync(3);
        var fleet = new Fleet(app.CreateClient());
        foreach (var (path, left) in new[] { ("/api/v1/zones", 2), ("/api/v1/nothing", 1), ("/api/v1/reports", 0) })
        {
            using var answer = await fleet.GetAsync(path);
            Assert.Equal("\"default\";q=3;w=60", Header(answer, Policy));
            Assert.Equal($"\"default\";r={left};t=60", Header(answer, Left));
        }

        app.Time.Advance(TimeSpan.FromSeconds(20.5));
        using var refused = await fleet.GetAsync("/api/v1/zones");
        await refused.ProblemAsync(HttpStatusCode.TooManyRequests);
        Assert.Equal("\"default\";r=0;t=40", Header(refused, Left));
        Assert.Equal(TimeSpan.FromSeconds(40), refused.Headers.RetryAfter?.Delta);

        using var health = await fleet.GetAsync("/health/live");
        await health.ShouldBeAsync(HttpStatusCode.OK);
        Assert.False(health.Headers.Contains(Left));

        app.Time.Advance(TimeSpan.FromSeconds(39.5));
        using var renewed = await fleet.GetAsync("/api/v1/zones");
        await renewed.ShouldBeAsync(HttpStatusCode.OK);
        Assert.Equal("\"default\";r=2;t=60", Header(renewed, Left));
    }

    [Fact]
    public async Task Who_tries_keys_out_is_stopped_and_whose_key_is_good_is_not()
    {
        await using var app = await StartAsync(10_000);
        var fleet = new Fleet(app.CreateClient());
        using var before = await fleet.GetAsync("/api/v1/reports", fleet.Admin);
        await before.ShouldBeAsync(HttpStatusCode.OK);
        for (var i = 0; i < Limits.MostFailures; i++)
        {
            using var wrong = await fleet.GetAsync("/api/v1/reports", $"guess-{i}");
            await wrong.ProblemAsync(HttpStatusCode.Unauthorized);
        }

        using var stopped = await fleet.GetAsync("/api/v1/reports", "one-more");
        await stopped.ProblemAsync(HttpStatusCode.TooManyRequests);
        Assert.NotNull(stopped.Headers.RetryAfter);

        // A key that was good a moment ago passes, from the same address and when it must be looked up again.
        app.Time.Advance(TimeSpan.FromSeconds(10));
        using var good = await fleet.GetAsync("/api/v1/reports", fleet.Admin);
        await good.ShouldBeAsync(HttpStatusCode.OK);

        app.Time.Advance(TimeSpan.FromMinutes(1));
        using var later = await fleet.GetAsync("/api/v1/reports", "one-more");
        await later.ProblemAsync(HttpStatusCode.Unauthorized);
    }

    [Fact]
    public async Task Without_a_limit_nothing_is_said_of_one()
    {
        await using var app = await ReportsApp.StartAsync(DatabaseKind.Sqlite, postgres);
        using var answer = await new Fleet(app.CreateClient()).GetAsync("/api/v1/zones");
        Assert.False(answer.Headers.Contains(Left));
        Assert.False(answer.Headers.Contains(Policy));
    }

    /// <summary>Other sites' scripts get no leave to read or send anything.</summary>
    [Fact]
    public async Task No_answer_opens_the_api_to_other_origins()
    {
        await using var app = await ReportsApp.StartAsync(DatabaseKind.Sqlite, postgres);
        var fleet = new Fleet(app.CreateClient());
        foreach (var method in new[] { HttpMethod.Get, HttpMethod.Options })
        {
            using var answer = await fleet.SendAsync(
                method,
                "/api/v1/reports",
                fleet.Admin,
                null,
                ("Origin", "https://elsewhere.example"),
                ("Access-Control-Request-Method", "POST")
            );
            Assert.DoesNotContain(
                answer.Headers,
                h => h.Key.StartsWith("Access-Control", StringComparison.OrdinalIgnoreCase)
            );
        }
    }

    [Fact]
    public async Task The_server_gives_up_on_who_trickles()
    {
        await using var app = await ReportsApp.StartAsync(DatabaseKind.Sqlite, postgres);
        var limits = app.Services.GetRequiredService<IOptions<KestrelServerOptions>>().Value.Limits;
        Assert.Equal(TimeSpan.FromSeconds(10), limits.RequestHeadersTimeout);
        Assert.Equal(240, limits.MinRequestBodyDataRate?.BytesPerSecond);
        Assert.Equal(240, limits.MinResponseDataRate?.BytesPerSecond);
        Assert.Equal(10 * 1024 * 1024, limits.MaxRequestBodySize);
    }

    private Task<ReportsApp> StartAsync(int limit) =>
        ReportsApp.StartAsync(
            DatabaseKind.Sqlite,
            postgres,
            more: ("Reports:RateLimit", limit.ToString(System.Globalization.CultureInfo.InvariantCulture))
        );

    private static string Header(HttpResponseMessage answer, string name) =>
        Assert.Single(answer.Headers.GetValues(name));
}
