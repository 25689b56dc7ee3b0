using System.Globalization;
using System.Net;
using System.Text.Json.Nodes;
using System.Text.RegularExpressions;
using AngleSharp.Dom;
using Reports.Domain.Briefs;
using Reports.Domain.Chances;
using Reports.Domain.Measures;
using Reports.Storage;
using Reports.Web.Pages;
using Reports.Web.Pages.Chances;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Pages;

/// <summary>The page of chances as a person reads it, on the coast of <see cref="PageCoast"/>; today is 23 November 2026.</summary>
public sealed partial class ChancesPageTests(PostgresServer postgres) : IAsyncLifetime
{
    private const string Path = "/chances?species=SBF";

    private ReportsApp app = null!;
    private HttpClient http = null!;
    private Fleet fleet = null!;

    public async ValueTask InitializeAsync()
    {
        (app, http) = await PageCoast.StartAsync(DatabaseKind.Sqlite, postgres);
        fleet = new Fleet(http);
    }

    public ValueTask DisposeAsync() => app.DisposeAsync();

    [Fact]
    public async Task TripsStandByDayTheBestOddsFirst()
    {
        await TripsAsync();

        var page = await http.PageAsync(Path);

        Assert.Equal("Chances: southern bluefin", page.Words("h1"));
        Assert.Equal(
            "Best odds: Cannery Bank on a trip of 2.5 days, Grey petrel on Wednesday 25 November. About 8 in 10 anglers, likely 7 to 9, land one or more; about 2 in 10 land none.",
            page.Words("p.lead")
        );
        Assert.Equal(
            ["Tuesday 24 November", "Wednesday 25 November"],
            page.QuerySelectorAll("details.day h3").Select(h => h.TextContent)
        );
        Assert.Equal(
            [
                "Cannery Bank, a day Brown skua, Grey petrel from Corran Quay | 6 likely 5 to 7 | 3 likely 2 to 5 | 1.4",
                "Inner Shelf, a day Ardent tern from Old Cannery Dock; leans on the whole coast | 6 likely 5 to 7 | 3 likely 2 to 5 | 1.4",
                "Forty Fathom Edge, a day Ardent tern (2 sailings) from Old Cannery Dock; little to go on | can't be told | can't be told | 0.30",
            ],
            Rows(page.QuerySelectorAll("details.day")[0])
        );
        Assert.Equal(
            "Tuesday 24 November 5 trips; best Cannery Bank, about 6 in 10",
            page.QuerySelectorAll("details.day")[0].Words("summary")
        );
        Assert.Equal(
            ["Cannery Bank", "Inner Shelf", "Forty Fathom Edge"],
            page.QuerySelectorAll("article h3").Select(h => h.TextContent.Trim())
        );
        foreach (var link in page.QuerySelectorAll("table a"))
        {
            Assert.NotNull(page.GetElementById(link.GetAttribute("href")![1..]));
        }

        Assert.DoesNotMatch(@"\b(287|288)\b", page.Words());
    }

    [Fact]
    public async Task TheBestTripsFishAreDrawnAsAnglers()
    {
        await TripsAsync();

        var page = await http.PageAsync(Path);

        var figure = page.One("figure.chart");
        Assert.Contains(
            "Fish of one angler on Cannery Bank, a trip of 2.5 days",
            figure.Words("figcaption"),
            StringComparison.Ordinal
        );
        Assert.Contains(
            "from 41 reports by 9 boats of the last four weeks",
            figure.Words("figcaption"),
            StringComparison.Ordinal
        );
        Assert.Equal(20, figure.QuerySelectorAll(".on-narrow circle").Length);
        Assert.Equal(50, figure.QuerySelectorAll(".on-wide circle").Length);

        // The blanks among the dots are those of the law that the file has, to half a dot.
        var file = (await http.GetStringAsync("/chances.csv?species=SBF", TestContext.Current.CancellationToken)).Split(
            "\r\n"
        );
        var none = Array.IndexOf(file[0].Split(','), "none");
        var trip = file.Single(line =>
            line.Contains(",2.5,", StringComparison.Ordinal) && line.Contains(Fleet.Bank, StringComparison.Ordinal)
        );
        var blanks = figure.QuerySelectorAll(".on-wide circle.angler-blank").Length;
        Assert.InRange(
            50 * double.Parse(trip.Split(',')[none], CultureInfo.InvariantCulture),
            blanks - 0.51,
            blanks + 0.51
        );
    }

    [Fact]
    public async Task AZoneTellsItsOddsByLengthSizesTrendAndWhatToTieOn()
    {
        await TripsAsync();

        var page = await http.PageAsync(Path);

        var bank = page.QuerySelectorAll("article")[0];
        var facts = bank.Words("dl");
        foreach (
            var words in new[]
            {
                "A day About 6 in 10 anglers, likely 5 to 7, land one or more. About 3 in 10 anglers, likely 2 to 5, land 2 or more.",
                "Fish each: 1.4, likely 1.1 to 1.8.",
                // Two days fished: mean 2.8, shape 8, k 1.53; without the boats 1 - (1 + 2.8/1.53)^-1.53 = 0.80.
                "2.5 days About 8 in 10 anglers, likely 7 to 9, land one or more.",
                "Fish each: 2.8, likely 2.2 to 3.6.",
                "Catches Up on the week before",
                "Sizes 20 to 40 lb for half of them, 15 to 180 lb for nine in ten; about 3 in 10 boat trips landed one of 100 lb or more",
                "Tie on first 30 lb, 1/0 circle",
                // 1.1 / 1.4 and 2.3 / 1.4, outwards.
                "How sure Well reported: 41 reports by 9 boats; newest 22 November; 31 of 38 known boat trips reported (22 % fewer fish had the silent ones caught nothing, 65 % more had they done well); computed 23 November at 12:00.",
                "Run Corran Quay 2.5 hours, Old Cannery Dock 3 hours",
            }
        )
        {
            Assert.Contains(words, facts, StringComparison.Ordinal);
        }

        Assert.Equal("/zones/cannery-bank/SBF", bank.One("h3 a").GetAttribute("href"));
        Assert.Equal(
            ["/pack?zone=cannery-bank&species=SBF&days=1", "/pack?zone=cannery-bank&species=SBF&days=2.5"],
            bank.QuerySelectorAll("dd a").Select(a => a.GetAttribute("href"))
        );
        foreach (var link in bank.QuerySelectorAll("a"))
        {
            await http.PageAsync(link.GetAttribute("href")!);
        }

        Assert.Contains("Check", page.Words(".cautions"), StringComparison.OrdinalIgnoreCase);
    }

    /// <summary>The same trip by page, API and file, and the framings of one chance sum.</summary>
    [Fact]
    public async Task PageApiAndFileSayTheSame()
    {
        await TripsAsync();
        foreach (var limit in new[] { 1, 2, 5 })
        {
            var page = await http.PageAsync($"{Path}&limit={limit}");
            using var answer = await fleet.GetAsync($"/api/v1{Path}&limit={limit}");
            var chances = (await answer.JsonAsync())["chances"]!.AsArray();
            foreach (var article in page.QuerySelectorAll("article"))
            {
                foreach (var fact in article.QuerySelectorAll("dd.said"))
                {
                    var words = fact.ParentElement!.Words("dd");
                    var length = fact.ParentElement!.Words("dt") == "A day" ? 1 : 2.5;
                    var at = chances.Single(c =>
                        article.One("h3").Id == "zone-" + c!["zone"] && c["tripDays"]!.GetValue<double>() == length
                    )!;
                    if (at["atLeastOne"] is null)
                    {
                        Assert.Contains("The odds can't be told.", words, StringComparison.Ordinal);
                        continue;
                    }

                    Assert.Contains(
                        Say.Capital(Say.InTen(Share(at["atLeastOne"]!), "anglers")) + ", land one or more.",
                        words,
                        StringComparison.Ordinal
                    );
                    var more =
                        Say.Capital(Say.InTen(Share(at["atLeastLimit"]!), "anglers")) + $", land {limit} or more.";
                    Assert.Equal(limit > 1, words.Contains(more, StringComparison.Ordinal));
                    var hundred = Hundred().Match(words).Groups.Values.Skip(1).Select(g => Number(g.Value)).ToList();
                    Assert.Equal(100, hundred.Sum());
                    Assert.Equal(at["fish"]!["none"]!.GetValue<double>() * 100, hundred[0], 1.0);
                    Assert.Equal(10, fact.QuerySelectorAll("circle").Length);
                }
            }

            var lead = Tens().Matches(page.Words("p.lead")).Select(m => Number(m.Groups[1].Value)).ToList();
            Assert.Equal(10, lead.Sum());

            using var file = await http.GetAsync(
                page.One("section[aria-labelledby=days] p.csv a").GetAttribute("href"),
                TestContext.Current.CancellationToken
            );
            Assert.Equal("text/csv", file.Content.Headers.ContentType?.MediaType);
            var rows = (await file.TextAsync()).Split("\r\n", StringSplitOptions.RemoveEmptyEntries);
            Assert.Equal(1 + 6, rows.Length);
            Assert.All(rows, r => Assert.Equal(22, r.Split(',').Length));
            var petrel = rows.Single(r => r.StartsWith("2026-11-25,grey-petrel", StringComparison.Ordinal)).Split(',');
            var told = chances.Single(c => c!["tripDays"]!.GetValue<double>() == 2.5)!;
            Assert.Equal(
                new[] { told["perAngler"]!["mean"], told["perAngler"]!["low"], told["perAngler"]!["high"] }.Select(n =>
                    n!.ToString()
                ),
                petrel[8..11]
            );
            Assert.Equal(
                new[]
                {
                    told["atLeastLimit"]!["mean"],
                    told["atLeastLimit"]!["low"],
                    told["atLeastLimit"]!["high"],
                }.Select(n => n!.ToString()),
                petrel[14..17]
            );
        }
    }

    [Fact]
    public async Task WhatIsChosenStaysInTheAddressAndInTheForm()
    {
        await TripsAsync();

        var page = await http.PageAsync($"{Path}&landing=corran-quay&tripDays=2.5&limit=3&units=kg");

        Assert.Equal("corran-quay", page.One("select[name=landing] option[selected]").GetAttribute("value"));
        Assert.Equal("2.5", page.One("select[name=tripDays] option[selected]").GetAttribute("value"));
        Assert.Equal(
            ["", "1", "2.5"],
            page.QuerySelectorAll("select[name=tripDays] option").Select(o => o.GetAttribute("value"))
        );
        Assert.Equal("3", page.One("input[name=limit]").GetAttribute("value"));
        Assert.Equal("kg", page.One("form input[name=units]").GetAttribute("value"));
        Assert.Equal(["Wednesday 25 November"], page.QuerySelectorAll("details.day h3").Select(h => h.TextContent));
        var quantiles = SampleBrief.Good(Fleet.Bank, "SBF").Size!.Quantiles;
        Assert.Contains(
            Say.Weights(quantiles.P25, quantiles.P75, WeightUnit.Kg),
            page.Words("article"),
            StringComparison.Ordinal
        );
        Assert.Equal(
            "/chances?species=ALB&landing=corran-quay&tripDays=2.5&limit=3&units=kg",
            page.QuerySelectorAll("nav.choice a").Single(a => a.TextContent == "Albacore").GetAttribute("href")
        );
        Assert.Equal(
            "/chances?species=SBF&landing=corran-quay&tripDays=2.5&from=2026-11-30&limit=3&units=kg",
            page.One("p.choice a").GetAttribute("href")
        );

        // As a browser sends the form that nobody touched: empty choices are no choices.
        await http.PageAsync("/chances?species=SBF&landing=&tripDays=&limit=2");
    }

    [Fact]
    public async Task WithoutATripTheZonesAreToldForADay()
    {
        var page = await http.PageAsync("/chances");

        Assert.Equal("Chances: southern bluefin", page.Words("h1"));
        Assert.Equal(
            "No planned trip is known from 23 November to 29 November. So this is what a trip of a day may bring, zone by zone.",
            page.Words("p.notice")
        );
        Assert.Empty(page.QuerySelectorAll("details.day"));
        Assert.Equal(3, page.QuerySelectorAll("article").Length);
        Assert.Contains(
            "No zone is known to be in reach",
            (await http.PageAsync($"{Path}&landing=corran-quay&tripDays=0.5")).Words("p.notice"),
            StringComparison.Ordinal
        );
        using var file = await http.GetAsync("/chances.csv?species=SBF", TestContext.Current.CancellationToken);
        Assert.Equal(4, (await file.TextAsync()).Split("\r\n", StringSplitOptions.RemoveEmptyEntries).Length);
    }

    [Fact]
    public async Task WhatIsNotKnownIsSaid()
    {
        await fleet.PutAsync($"departures/{Fleet.Petrel}/2026-11-24/1", new { kind = "overnight" });
        await fleet.PutAsync($"departures/{Fleet.Petrel}/2026-11-25/1", new { tripDays = 0.5 });

        var page = await http.PageAsync(Path);
        Assert.Contains(
            "Cannery Bank, 1.5 days Grey petrel from Corran Quay; zone not told; length not told",
            Rows(page.QuerySelectorAll("details.day")[0])[0],
            StringComparison.Ordinal
        );
        Assert.Contains(
            "1 more trip with no zone known to be in reach: Grey petrel.",
            page.Words(),
            StringComparison.Ordinal
        );

        var none = await http.PageAsync("/chances?species=DOL");
        Assert.Equal(
            "The odds of a coming trip can't be told: too few boats have reported dolphinfish.",
            none.Words("p.lead")
        );
        Assert.Contains("too few reports to say", none.Words("table"), StringComparison.Ordinal);
        Assert.Contains("Nobody has reported from here.", none.Words("article"), StringComparison.Ordinal);
        var one = await http.PageAsync("/chances?species=ALB");
        Assert.Contains("Too few boats have reported to say.", one.Words("article"), StringComparison.Ordinal);
    }

    [Fact]
    public async Task AClosedSpeciesHasItsNoticeAndNoAdvice()
    {
        await TripsAsync();

        var page = await http.PageAsync("/chances?species=YTC");

        Assert.Contains(
            "Closed from 1 November by the invented authority",
            page.Words("p.notice"),
            StringComparison.Ordinal
        );
        Assert.Empty(page.QuerySelectorAll("table, article, svg"));
        Assert.DoesNotContain("in 10", page.Words(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task AWrongAddressIsToldInWordsAndAnUnknownSpeciesIsNotFound()
    {
        var page = await http.PageAsync($"{Path}&limit=0&landing=x");

        Assert.StartsWith("Error: ", page.Title, StringComparison.Ordinal);
        Assert.Equal(
            ["Landing must be one of corran-quay, old-cannery-dock.", "Limit must be a whole number from 1 to 50."],
            page.One("[role=alert]").QuerySelectorAll("li").Select(l => l.TextContent)
        );
        await http.PageAsync("/chances?species=XXX", HttpStatusCode.NotFound);
        using var file = await http.GetAsync("/chances.csv?limit=x", TestContext.Current.CancellationToken);
        await file.ProblemAsync(HttpStatusCode.BadRequest);
    }

    [Fact]
    public async Task WhoHasThePageIsToldSoUntilATripABriefOrTheRegisterChanges()
    {
        var tags = new HashSet<string> { await TagAsync() };
        Assert.False(tags.Add(await TagAsync()));
        await fleet.PutAsync($"departures/{Fleet.Petrel}/2026-11-24/1", new { tripDays = 1 });
        Assert.True(tags.Add(await TagAsync()));
        await fleet.PutAsync($"boats/{Fleet.Petrel}", new { name = "Grey Petrel II", landing = Fleet.Quay });
        Assert.True(tags.Add(await TagAsync()));
        await app.WithAsync(
            (BriefStore briefs) => briefs.PublishAsync(SampleBrief.Thin(Fleet.Bank, "SBF"), [], CancellationToken.None)
        );
        Assert.True(tags.Add(await TagAsync()));

        async Task<string> TagAsync()
        {
            using var first = await http.GetAsync(Path, TestContext.Current.CancellationToken);
            Assert.Equal(HttpStatusCode.OK, first.StatusCode);
            using var request = new HttpRequestMessage(HttpMethod.Get, Path);
            request.Headers.IfNoneMatch.Add(first.Headers.ETag!);
            using var again = await http.SendAsync(request, TestContext.Current.CancellationToken);
            Assert.Equal(HttpStatusCode.NotModified, again.StatusCode);
            return first.Headers.ETag!.Tag;
        }
    }

    [Theory]
    [InlineData(0.3333, 0.3333, 0.1667, 0.1667, "33 none, 33 one, 17 two, 17 three or more")]
    [InlineData(1, 0, 0, 0, "100 none, 0 one, 0 two, 0 three or more")]
    [InlineData(0.005, 0.005, 0.005, 0.985, "1 none, 1 one, 0 two, 98 three or more")]
    public void AnglersOfAHundredSumToAHundred(double none, double one, double two, double more, string words) =>
        Assert.Equal(words, ChancesModel.OfHundred(new FishShares(none, one, two, more)));

    private async Task TripsAsync()
    {
        await fleet.PutAsync(
            $"departures/{Fleet.Petrel}/2026-11-24/1",
            new
            {
                tripDays = 1,
                zone = Fleet.Bank,
                anglers = 287,
                capacity = 288,
            }
        );
        await fleet.PutAsync($"departures/brown-skua/2026-11-24/1", new { tripDays = 1, zone = Fleet.Bank });
        await fleet.PutAsync($"departures/{Fleet.Tern}/2026-11-24/1", new { tripDays = 1, zone = Fleet.Edge });
        await fleet.PutAsync($"departures/{Fleet.Tern}/2026-11-24/2", new { tripDays = 1, zone = Fleet.Edge });
        await fleet.PutAsync($"departures/{Fleet.Tern}/2026-11-24/3", new { tripDays = 1, zone = Fleet.Shelf });
        await fleet.PutAsync($"departures/{Fleet.Petrel}/2026-11-25/1", new { tripDays = 2.5, zone = Fleet.Bank });
    }

    private static List<string> Rows(IParentNode day) =>
        [
            .. day.QuerySelectorAll("tbody tr")
                .Select(r =>
                    string.Join(
                        " | ",
                        r.Children.Select(c =>
                            string.Join(' ', c.TextContent.Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries))
                        )
                    )
                ),
        ];

    private static Share Share(JsonNode share) =>
        new(share["mean"]!.GetValue<double>(), share["low"]!.GetValue<double>(), share["high"]!.GetValue<double>());

    private static int Number(string text) => int.Parse(text, CultureInfo.InvariantCulture);

    [GeneratedRegex(@"Of 100 anglers: (\d+) none, (\d+) one, (\d+) two, (\d+) three or more\.")]
    private static partial Regex Hundred();

    [GeneratedRegex(@"(\d+) in 10", RegexOptions.IgnoreCase)]
    private static partial Regex Tens();
}
