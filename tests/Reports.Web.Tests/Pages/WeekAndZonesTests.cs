using System.Net;
using Microsoft.EntityFrameworkCore;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Pages;

/// <summary>This week and the zones.</summary>
public sealed class WeekAndZonesTests(PageCoast coast) : IClassFixture<PageCoast>
{
    [Fact]
    public async Task ThisWeekShowsTheSpeciesWithTheMostEvidenceBestOddsFirst()
    {
        var page = await coast.Http.PageAsync("/");

        Assert.Equal("This week: southern bluefin", page.Words("h1"));
        Assert.Equal(
            ["Cannery Bank", "Forty Fathom Edge", "Inner Shelf"],
            page.QuerySelectorAll("article h2").Select(h => h.TextContent.Trim())
        );
        var bank = page.QuerySelectorAll("article")[0];
        Assert.Equal("/zones/cannery-bank/SBF", bank.One("h2 a").GetAttribute("href"));
        var facts = bank.Words("dl");
        foreach (
            var words in new[]
            {
                "Odds of a fish about 6 in 10 anglers, likely 5 to 7",
                "Catches Up on the week before",
                "Sizes 20 to 40 lb for half of them",
                "Tie on first 30 lb, 1/0 circle",
                "How sure Well reported: 41 reports by 9 boats; newest 22 November; 31 of 38 known boat trips reported.",
            }
        )
        {
            Assert.Contains(words, facts, StringComparison.Ordinal);
        }

        Assert.Contains("computed 23 November at 12:00", page.Words(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task TheMapShadesZonesWithFiguresOfTheirOwnAndSaysTheSameInATable()
    {
        var page = await coast.Http.PageAsync("/?species=SBF");

        Assert.Equal(3, page.QuerySelectorAll("path.zone").Length);
        Assert.Single(page.QuerySelectorAll("path.zone-shade-4"));
        Assert.Single(page.QuerySelectorAll("path.zone-unknown"));
        var rows = page.QuerySelectorAll("figure.chart tbody tr").Select(r => r.Words("th") + ": " + r.Words("td"));
        Assert.Equal(["Cannery Bank: 1.4", "Forty Fathom Edge: 0.30", "Inner Shelf: too few boats of its own"], rows);
    }

    [Fact]
    public async Task AnotherSpeciesIsALinkAway()
    {
        var page = await coast.Http.PageAsync("/?units=kg");

        var link = page.QuerySelectorAll("nav.choice a").Single(a => a.TextContent == "Dolphinfish");
        Assert.Equal("/?species=DOL&units=kg", link.GetAttribute("href"));
        var dolphinfish = await coast.Http.PageAsync(link.GetAttribute("href")!);
        Assert.Equal("This week: dolphinfish", dolphinfish.Words("h1"));
        Assert.Contains("No boat has reported dolphinfish", dolphinfish.Words(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task AnUnknownSpeciesIsNotFound() =>
        await coast.Http.PageAsync("/?species=XXX", HttpStatusCode.NotFound);

    [Fact]
    public async Task ZonesListTheirBriefsWithStrengthAndNewestDay()
    {
        var page = await coast.Http.PageAsync("/zones");

        var bank = page.QuerySelectorAll("main section").Single(s => s.Words("h2") == "Cannery Bank");
        var rows = bank.QuerySelectorAll("tbody tr")
            .Select(r => string.Join(" | ", r.Children.Select(c => c.TextContent.Trim())));
        Assert.Contains("Southern bluefin | Well reported | 22 November", rows);
        Assert.Contains("Yellowtail kingfish | Closed | 22 November", rows);
        Assert.Contains("Dolphinfish | Nothing to go on | none", rows);
    }

    [Fact]
    public async Task NoPageSpeaksOfADemoWhereThereIsNone() =>
        Assert.Empty((await coast.Http.PageAsync("/")).QuerySelectorAll(".demo"));
}

/// <summary>A service that nobody has fed yet, on both databases.</summary>
public sealed class EmptyServiceTests(PostgresServer postgres)
{
    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task AnEmptyServiceSaysWhatIsMissing(DatabaseKind database)
    {
        await using var app = await ReportsApp.StartAsync(database, postgres);
        using var http = app.CreateClient();

        Assert.Contains("Nothing to show yet", (await http.PageAsync("/")).Words(), StringComparison.Ordinal);
        Assert.Contains(
            "No zone is on the register",
            (await http.PageAsync("/zones")).Words(),
            StringComparison.Ordinal
        );
        await http.PageAsync("/zones/cannery-bank/SBF", HttpStatusCode.NotFound);
    }

    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task OnlyTheNewestVersionOfEachBriefIsShown(DatabaseKind database)
    {
        var (app, http) = await PageCoast.StartAsync(database, postgres);
        await using var _ = app;

        var page = await http.PageAsync("/zones");

        Assert.Equal(3, page.QuerySelectorAll("main section.zone-row").Length);
        Assert.Contains("Newest brief computed 23 November at 12:00", page.Words(), StringComparison.Ordinal);
    }
}

/// <summary>What a reader sees when the service fails.</summary>
public sealed class FailureTests(PostgresServer postgres)
{
    [Fact]
    public async Task APageThatFailsSaysSoWithoutItsInnards()
    {
        await using var app = await ReportsApp.StartAsync(DatabaseKind.Sqlite, postgres);
        await Fleet.SetUpCoastAsync(app);
        await app.AskAsync(db => db.Database.ExecuteSqlRawAsync("DROP TABLE briefs"));
        using var http = app.CreateClient();

        var page = await http.PageAsync("/", HttpStatusCode.InternalServerError);

        Assert.Equal("Something went wrong here", page.Words("h1"));
        Assert.DoesNotContain("SQLite", page.Body!.TextContent, StringComparison.OrdinalIgnoreCase);
        using var answer = await http.GetAsync("/zones", TestContext.Current.CancellationToken);
        Assert.True(answer.Headers.Contains("Content-Security-Policy"));
        using var api = await http.GetAsync(
            "/api/v1/zones/cannery-bank/species/SBF/brief",
            TestContext.Current.CancellationToken
        );
        Assert.Equal(HttpStatusCode.InternalServerError, api.StatusCode);
        Assert.Equal("application/problem+json", api.Content.Headers.ContentType?.MediaType);
    }
}

/// <summary>The invented coast as a visitor finds it.</summary>
public sealed class DemoPagesTests(PostgresServer postgres)
{
    [Fact]
    public async Task EveryPageOfTheDemoSaysThatItIsOne()
    {
        await using var app = await ReportsApp.StartAsync(
            DatabaseKind.Sqlite,
            postgres,
            more: [("Reports:Demo", "true"), ("Reports:TimeZone", "Pacific/Auckland")]
        );
        using var http = app.CreateClient();
        var week = await http.PageAsync("/");
        Assert.Equal(5, week.QuerySelectorAll("article").Length);
        var paths = week.QuerySelectorAll("article h2 a, nav.choice a, header nav a")
            .Select(a => a.GetAttribute("href")!)
            .Append("/?units=kg")
            .Append("/zones/cannery-bank/SBF?outfits=5&units=kg")
            .ToList();
        foreach (var path in paths)
        {
            Assert.Contains(
                "Demo data: an invented coast",
                (await http.PageAsync(path)).Words(".demo"),
                StringComparison.Ordinal
            );
        }

        var none = await http.PageAsync("/nothing", HttpStatusCode.NotFound);
        Assert.Contains("Demo data", none.Words(".demo"), StringComparison.Ordinal);
    }
}
