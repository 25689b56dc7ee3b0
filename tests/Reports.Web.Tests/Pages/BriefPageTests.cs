using System.Net;
using System.Net.Http.Headers;
using System.Security.Cryptography;
using System.Text;
using Reports.Storage;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Pages;

/// <summary>What a reader of a brief sees.</summary>
public sealed class BriefPageTests(PageCoast coast, PostgresServer postgres) : IClassFixture<PageCoast>
{
    private const string Good = $"/zones/{Fleet.Bank}/SBF";

    [Fact]
    public async Task ABriefSaysItsVerdictItsEvidenceAndItsAge()
    {
        var page = await coast.Http.PageAsync(Good);

        Assert.Equal("Southern bluefin on Cannery Bank - Railside", page.Title);
        Assert.StartsWith(
            "Cannery Bank is worth the trip: about 6 in 10 anglers",
            page.Words("p.lead"),
            StringComparison.Ordinal
        );
        Assert.Equal(
            "Well reported. From 41 reports by 9 boats; newest 22 November; computed 23 November at 12:00. 31 of 38 known boat trips reported.",
            page.Words("p.evidence")
        );
    }

    [Fact]
    public async Task OddsAreSaidOfTenAnglersBothWaysWithTheirRange()
    {
        var page = await coast.Http.PageAsync(Good);

        var caption = page.Words("figure.dots figcaption");
        Assert.Contains("About 6 in 10 anglers, likely 5 to 7", caption, StringComparison.Ordinal);
        Assert.Contains("About 4 in 10 land none", caption, StringComparison.Ordinal);
        Assert.Equal(6, page.QuerySelectorAll("figure.dots circle.angler-fish").Length);
        Assert.Equal(4, page.QuerySelectorAll("figure.dots circle.angler-blank").Length);
        var text = page.Words();
        Assert.Contains("1.4, likely 1.1 to 1.8", text, StringComparison.Ordinal);
        Assert.Contains("7 known boat trips did not report", text, StringComparison.Ordinal);
        Assert.Contains("Catches: up on the week before", text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task AsManyOutfitsAreShownAsAreCarried()
    {
        Assert.Equal(3, (await coast.Http.PageAsync(Good)).QuerySelectorAll(".outfit").Length);

        var page = await coast.Http.PageAsync(Good + "?outfits=2");

        var cards = page.QuerySelectorAll(".outfit");
        Assert.Equal(2, cards.Length);
        var first = cards[0].Words("dl");
        Assert.Equal("Tie on first 30 lb, 1/0 circle", cards[0].Words("h3"));
        Assert.Contains("30 lb fluorocarbon", first, StringComparison.Ordinal);
        Assert.Contains("1/0 circle, regular wire, gap 12 mm as measured", first, StringComparison.Ordinal);
        Assert.Contains("7.5 to 9 lb at the strike", first, StringComparison.Ordinal);
        Assert.Contains("go down to 25 lb", first, StringComparison.Ordinal);
        Assert.Contains("take outfit 2, 80 lb", first, StringComparison.Ordinal);
        Assert.Equal(
            [
                "a fresh bait",
                "where it is hooked",
                "a smaller hook",
                "a lighter or longer leader",
                "a lighter rod and line",
            ],
            page.QuerySelectorAll("ol.steps li").Select(li => li.TextContent)
        );
    }

    [Fact]
    public async Task TheHookGoesByTheBaitThatTheAnglerGets()
    {
        var (app, http) = await PageCoast.StartAsync(DatabaseKind.Sqlite, postgres);
        await using var _ = app;
        var good = SampleBrief.Good(Fleet.Edge, "YTC");
        var first = good.OutfitSets[0][0] with
        {
            IfNotBitRungLb = null,
            HooksByBait = [new(114, -1), new(152, 1), new(null, 2)],
        };
        await app.WithAsync(
            (BriefStore briefs) =>
                briefs.PublishAsync(
                    good with
                    {
                        OutfitSets =
                        [
                            [first],
                        ],
                    },
                    [],
                    TestContext.Current.CancellationToken
                )
        );

        var page = await http.PageAsync($"/zones/{Fleet.Edge}/YTC?outfits=1");

        var card = page.QuerySelector("article.outfit")!.Words("dl");
        Assert.Contains("up to 4.5 in: size 2; up to 6 in: 1/0; longer: 2/0", card, StringComparison.Ordinal);
        Assert.Contains("keep to this line", card, StringComparison.Ordinal);
        Assert.Equal("a lighter or longer leader", page.QuerySelectorAll("ol.steps li")[^1].TextContent);
        // The middle bait of 4.5 in has the size 2, and the table of hooks says the same as the card.
        Assert.Contains(
            "size 2 circle, advised",
            page.Words("section[aria-labelledby=bait]"),
            StringComparison.Ordinal
        );
        using var answer = await http.GetAsync(
            new Uri($"/api/v1/zones/{Fleet.Edge}/species/YTC/brief?outfits=1&weight=kg", UriKind.Relative),
            TestContext.Current.CancellationToken
        );
        Assert.Equal(
            """[{"upTo":11.4,"size":"2"},{"upTo":15.2,"size":"1/0"},{"upTo":null,"size":"2/0"}]""",
            (await answer.JsonAsync())["outfits"]![0]!["hook"]!["byBait"]!.ToJsonString()
        );
    }

    [Fact]
    public async Task AnOutfitByCustomSaysSo()
    {
        var page = await coast.Http.PageAsync(Good + "?outfits=3");

        Assert.Contains("common practice", page.QuerySelectorAll(".outfit")[2].TextContent, StringComparison.Ordinal);
        Assert.DoesNotContain(
            "common practice",
            page.QuerySelectorAll(".outfit")[0].TextContent,
            StringComparison.Ordinal
        );
    }

    [Theory]
    [InlineData("0")]
    [InlineData("99")]
    [InlineData("many")]
    public async Task ANonsenseNumberOfOutfitsIsTheUsualNumber(string outfits) =>
        Assert.Equal(3, (await coast.Http.PageAsync($"{Good}?outfits={outfits}")).QuerySelectorAll(".outfit").Length);

    [Fact]
    public async Task KilogramsAndCentimetresStayInEveryLink()
    {
        var page = await coast.Http.PageAsync(Good + "?units=kg&outfits=2");

        // 30 lb is the 15 kg class by name (IGFA); 12 cm: 4.5 in are 11.4 cm.
        Assert.Equal("Tie on first 15 kg, 1/0 circle", page.QuerySelectorAll(".outfit")[0].Words("h3"));
        Assert.Contains("Bait runs 9 to 14 cm, the middle one 11 cm", page.Words(), StringComparison.Ordinal);
        Assert.DoesNotContain(" lb", page.Words(), StringComparison.Ordinal);
        var links = page.QuerySelectorAll("a[href^='/']").ToList();
        var back = page.One(".switch a");
        Assert.Equal("/zones/cannery-bank/SBF?outfits=2", back.GetAttribute("href"));
        Assert.All(
            links.Where(a => a != back),
            a => Assert.Contains("units=kg", a.GetAttribute("href"), StringComparison.Ordinal)
        );
    }

    [Fact]
    public async Task EachChartHasItsFindingItsTableAndItsFile()
    {
        var page = await coast.Http.PageAsync(Good);

        var charts = page.QuerySelectorAll("figure.chart");
        Assert.Equal(7, charts.Length);
        foreach (var chart in charts)
        {
            Assert.NotEmpty(chart.Words("figcaption h3"));
            Assert.NotEmpty(chart.Words("svg title"));
            Assert.NotEmpty(chart.Words("svg desc"));
            Assert.NotEmpty(chart.QuerySelectorAll("details table tbody tr"));
            using var file = await coast.Http.GetAsync(
                chart.One(".csv a").GetAttribute("href"),
                TestContext.Current.CancellationToken
            );
            Assert.Equal(HttpStatusCode.OK, file.StatusCode);
            Assert.Equal("text/csv", file.Content.Headers.ContentType?.MediaType);
        }
    }

    [Fact]
    public async Task RigsThatCanNotBeToldApartAreNotRanked()
    {
        var page = await coast.Http.PageAsync(Good);

        Assert.Equal(
            "No clear difference between 30 lb, 1/0 circle and 25 lb, size 2 circle",
            page.QuerySelectorAll("#rigs ~ .trio h3")[0].TextContent
        );
        var rows = page.QuerySelectorAll("#rigs ~ .trio figure")[0].QuerySelectorAll("tbody tr");
        Assert.Contains("no clear difference", rows[1].TextContent, StringComparison.Ordinal);
        Assert.Contains("clearly less often", rows[2].TextContent, StringComparison.Ordinal);
        var held = page.QuerySelectorAll("#rigs ~ .trio figure")[2].QuerySelectorAll("tbody tr");
        Assert.Contains("too few boats", held[1].TextContent, StringComparison.Ordinal);
    }

    [Fact]
    public async Task APooledBriefSaysThatItLeansOnTheCoast()
    {
        var page = await coast.Http.PageAsync($"/zones/{Fleet.Shelf}/SBF");

        Assert.Contains("Too few boats on Inner Shelf to call", page.Words("p.lead"), StringComparison.Ordinal);
        Assert.Contains("everything below speaks of the whole coast", page.Words("p.notice"), StringComparison.Ordinal);
        Assert.StartsWith("Leans on the whole coast.", page.Words("p.evidence"), StringComparison.Ordinal);
        Assert.DoesNotContain("Well reported", page.Words(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task AThinBriefSaysWhatItLacks()
    {
        var page = await coast.Http.PageAsync($"/zones/{Fleet.Edge}/SBF");

        var text = page.Words();
        Assert.Contains("Little to go on.", text, StringComparison.Ordinal);
        Assert.Contains("No outfit can be advised", text, StringComparison.Ordinal);
        Assert.Contains("Too few boats told how big the fish were.", text, StringComparison.Ordinal);
        Assert.Contains("how many anglers land at least one can't be told", text, StringComparison.OrdinalIgnoreCase);
        Assert.Contains("Fewer than three boats told how big the fish were", text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task AClosedSpeciesShowsItsNoticeAndNoAdvice()
    {
        var page = await coast.Http.PageAsync($"/zones/{Fleet.Bank}/YTC");

        Assert.Contains("Closed from 1 November", page.Words("p.notice"), StringComparison.Ordinal);
        Assert.Empty(page.QuerySelectorAll(".outfit, figure.chart, figure.dots, ol.steps"));
        Assert.DoesNotContain("circle", page.Words(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task OneOrTwoBoatsAreNotCounted()
    {
        var page = await coast.Http.PageAsync($"/zones/{Fleet.Bank}/ALB");

        Assert.Contains("From reports of fewer than three boats", page.Words("p.evidence"), StringComparison.Ordinal);
        Assert.Empty(page.QuerySelectorAll("svg"));
    }

    [Fact]
    public async Task APairThatNobodyReportedIsAPageThatSaysSo()
    {
        var page = await coast.Http.PageAsync($"/zones/{Fleet.Bank}/DOL");

        Assert.Contains("No boat has reported dolphinfish", page.Words("p.lead"), StringComparison.Ordinal);
        Assert.Equal("Nothing to go on. From no reports.", page.Words("p.evidence"));
    }

    [Theory]
    [InlineData(Good)]
    [InlineData($"/zones/{Fleet.Edge}/SBF")]
    [InlineData("/")]
    public async Task CautionsStandOnEveryPageThatAdvises(string path)
    {
        var cautions = (await coast.Http.PageAsync(path)).Words(".cautions");

        foreach (
            var words in new[]
            {
                "limits, sizes, seasons, permits, protected and closed species, required hooks",
                "Follow the crew",
                "Heavy fish, gaffs, hooks and tight lines hurt",
                "Never wrap line round a hand",
                "Handle releases with care",
                "weather decides",
            }
        )
        {
            Assert.Contains(words, cautions, StringComparison.Ordinal);
        }
    }

    [Fact]
    public async Task AnUnknownZoneGetsTheListOfZones()
    {
        var page = await coast.Http.PageAsync("/zones/nowhere-bank/SBF?units=kg", HttpStatusCode.NotFound);

        Assert.Contains("no zone of that name", page.Words(), StringComparison.Ordinal);
        Assert.Equal(
            ["Cannery Bank", "Forty Fathom Edge", "Inner Shelf"],
            page.QuerySelectorAll("main li a").Select(a => a.TextContent)
        );
    }

    [Theory]
    [InlineData("XXX")]
    [InlineData("PIL")]
    public async Task AnUnknownSpeciesGetsTheBriefsOfItsZone(string species)
    {
        var page = await coast.Http.PageAsync($"/zones/{Fleet.Bank}/{species}", HttpStatusCode.NotFound);

        Assert.Contains(
            "/zones/cannery-bank/SBF",
            page.QuerySelectorAll("main li a").Select(a => a.GetAttribute("href"))
        );
    }

    [Fact]
    public async Task TheApiKeepsItsProblems()
    {
        using var answer = await coast.Http.GetAsync("/api/v1/nothing", TestContext.Current.CancellationToken);

        Assert.Equal(HttpStatusCode.NotFound, answer.StatusCode);
        Assert.Equal("application/problem+json", answer.Content.Headers.ContentType?.MediaType);
    }

    [Fact]
    public async Task PagesSetNoCookieAndAllowNothingForeign()
    {
        using var answer = await coast.Http.GetAsync(Good, TestContext.Current.CancellationToken);

        Assert.False(answer.Headers.Contains("Set-Cookie"));
        var style = (await coast.Http.PageAsync(Good)).One("style").TextContent;
        var hash = Convert.ToBase64String(SHA256.HashData(Encoding.UTF8.GetBytes(style)));
        Assert.Equal(
            $"default-src 'self'; style-src 'sha256-{hash}'; object-src 'none'; base-uri 'none'; frame-ancestors 'none'; form-action 'self'",
            Assert.Single(answer.Headers.GetValues("Content-Security-Policy"))
        );
        Assert.Equal("nosniff", Assert.Single(answer.Headers.GetValues("X-Content-Type-Options")));
        Assert.True(answer.Headers.Contains("Referrer-Policy"));
    }

    [Fact]
    public async Task AnUnchangedBriefIsNotSentTwice()
    {
        using var first = await coast.Http.GetAsync(Good, TestContext.Current.CancellationToken);
        async Task<HttpStatusCode> AgainAsync(string path)
        {
            using var request = new HttpRequestMessage(HttpMethod.Get, path);
            request.Headers.IfNoneMatch.Add(first.Headers.ETag ?? new EntityTagHeaderValue("\"none\""));
            using var answer = await coast.Http.SendAsync(request, TestContext.Current.CancellationToken);
            return answer.StatusCode;
        }

        Assert.Equal(HttpStatusCode.NotModified, await AgainAsync(Good));
        Assert.Equal(HttpStatusCode.OK, await AgainAsync(Good + "?units=kg"));
        Assert.Equal(HttpStatusCode.OK, await AgainAsync(Good + "?outfits=1"));
    }

    [Fact]
    public async Task FilesHoldThePlottedNumbersInTheReadersUnits()
    {
        async Task<string[]> LinesAsync(string path) =>
            (await coast.Http.GetStringAsync(path, TestContext.Current.CancellationToken)).Split("\r\n");

        var lb = await LinesAsync(Good + "/sizes.csv");
        Assert.Equal("from_lb,to_lb,share_of_fish", lb[0]);
        Assert.Equal("20,40,0.55", lb[2]);
        Assert.Equal("", lb[^1]);
        Assert.Equal("10,20,0.5", (await LinesAsync(Good + "/sizes.csv?units=kg"))[2]);
        Assert.Equal("fly-line,25,circle,2,12,0.4,0.28,0.52,1.2,0.8,1.7,,,", (await LinesAsync(Good + "/rigs.csv"))[2]);
        var days = await LinesAsync(Good + "/days.csv");
        Assert.Equal("2026-10-27,4,0.1", days[1]);
        Assert.Equal("2026-10-30,,", days[4]);
        Assert.Equal("2026-10-31,0,", days[5]);
    }
}
