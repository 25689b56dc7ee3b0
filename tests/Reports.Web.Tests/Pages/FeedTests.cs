using System.Globalization;
using System.Net;
using System.Text;
using System.Text.RegularExpressions;
using System.Xml.Linq;
using Reports.Domain.Briefs;
using Reports.Storage;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Pages;

/// <summary>What programs fetch for their people.</summary>
public sealed partial class FeedTests(PostgresServer postgres) : IAsyncLifetime
{
    private const string Feed = $"/zones/{Fleet.Bank}/SBF/advice.atom";
    private static readonly XNamespace Atom = "http://www.w3.org/2005/Atom";
    private static readonly XNamespace Map = "http://www.sitemaps.org/schemas/sitemap/0.9";

    private ReportsApp app = null!;
    private HttpClient http = null!;

    public async ValueTask InitializeAsync() => await StartAsync(DatabaseKind.Sqlite);

    public ValueTask DisposeAsync() => app.DisposeAsync();

    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task AFeedHasAnEntryForEachDayWhoseAdviceIsAnotherAndForNoOther(DatabaseKind database)
    {
        if (database != DatabaseKind.Sqlite)
        {
            await app.DisposeAsync();
            await StartAsync(database);
        }

        var good = SampleBrief.Good(Fleet.Bank, "SBF");
        var warmer = good with { CatchRate = good.CatchRate! with { PerAngler = new(2, 1.5, 2.6) } };
        var lighter = good with
        {
            OutfitSets =
            [
                .. good.OutfitSets.Select(set =>
                    (IReadOnlyList<Outfit>)[.. set.Select(o => o.Order == 1 ? o with { RungLb = 20 } : o)]
                ),
            ],
        };
        var drifted = lighter with { Size = Heavier(lighter.Size!, 1.1) };
        var grown = drifted with { Size = Heavier(drifted.Size!, 1.5) };
        await PublishAsync(good, 9);
        await PublishAsync(warmer, 8);
        await PublishAsync(lighter, 7);
        await PublishAsync(good, 6); // an intermediate word of a day whose last word is the day before's
        await PublishAsync(lighter, 6);
        await PublishAsync(drifted, 5);
        await PublishAsync(grown, 4);
        await PublishAsync(grown with { OutfitSets = [], ClosedNotice = "Closed." }, 0);

        var feed = await FeedAsync();

        var entries = feed.Elements(Atom + "entry").ToList();
        Assert.Equal(
            ["2026-11-23", "2026-11-19", "2026-11-16", "2026-11-14"],
            entries.Select(e => e.Element(Atom + "updated")!.Value[..10])
        );
        Assert.Equal(
            [
                "Southern bluefin is closed",
                "Southern bluefin on Cannery Bank: tie on 20 lb, 1/0 circle first",
                "Southern bluefin on Cannery Bank: tie on 20 lb, 1/0 circle first",
                "Southern bluefin on Cannery Bank: tie on 30 lb, 1/0 circle first",
            ],
            entries.Select(e => e.Element(Atom + "title")!.Value)
        );
        Assert.Contains("Size groups before: ", entries[1].Element(Atom + "content")!.Value, StringComparison.Ordinal);
        Assert.DoesNotContain("Outfits before", entries[1].Element(Atom + "content")!.Value, StringComparison.Ordinal);
        Assert.Contains(
            "Outfits before: 30 lb, 1/0 circle; 80 lb",
            entries[2].Element(Atom + "content")!.Value,
            StringComparison.Ordinal
        );
    }

    [Fact]
    public async Task ComputingAgainMakesNeitherANewNorAChangedEntry()
    {
        var good = SampleBrief.Good(Fleet.Bank, "SBF");
        await PublishAsync(good, 0);
        var before = (await FeedAsync()).Elements(Atom + "entry").Select(e => e.ToString()).ToList();

        app.Time.Advance(TimeSpan.FromHours(2));
        await PublishAsync(good with { Evidence = good.Evidence with { Reports = 45 } }, 0);
        var after = (await FeedAsync()).Elements(Atom + "entry").ToList();

        string Name(XElement entry) => entry.Element(Atom + "id")!.Value + entry.Element(Atom + "updated")!.Value;
        Assert.Equal(Name(XElement.Parse(Assert.Single(before))), Name(Assert.Single(after)));
    }

    [Fact]
    public async Task TheOldestDayThatIsLookedAtIsNoNewsByItself()
    {
        var good = SampleBrief.Good(Fleet.Bank, "SBF");
        await PublishAsync(good, 200);
        await PublishAsync(good, 80);
        await PublishAsync(good, 0);

        Assert.Empty((await FeedAsync()).Elements(Atom + "entry"));
    }

    [Fact]
    public async Task AFeedIsWholeByItsOwnRules()
    {
        await PublishAsync(SampleBrief.Good(Fleet.Bank, "SBF"), 0);
        foreach (var path in new[] { Feed, Feed + "?units=kg", $"/zones/{Fleet.Bank}/DOL/advice.atom" })
        {
            var feed = await FeedAsync(path);

            // RFC 4287, 4.1.1 and 4.1.2: what must be there once.
            foreach (var of in feed.Elements(Atom + "entry").Prepend(feed))
            {
                foreach (var name in new[] { "id", "title", "updated" })
                {
                    Assert.False(string.IsNullOrWhiteSpace(Assert.Single(of.Elements(Atom + name)).Value));
                }

                Assert.True(Uri.IsWellFormedUriString(of.Element(Atom + "id")!.Value, UriKind.Absolute));
                Assert.True(
                    DateTimeOffset.TryParse(
                        of.Element(Atom + "updated")!.Value,
                        CultureInfo.InvariantCulture,
                        out var at
                    )
                        && at <= app.Time.GetUtcNow()
                );
                Assert.Contains(of.Elements(Atom + "link"), l => l.Attribute("rel")!.Value == "alternate");
            }

            Assert.Equal("Railside", feed.Element(Atom + "author")!.Element(Atom + "name")!.Value);
            Assert.Equal("http://localhost" + path, Link(feed, "self"));
            using var page = await http.GetAsync(
                new Uri(Link(feed, "alternate")),
                TestContext.Current.CancellationToken
            );
            Assert.Equal(HttpStatusCode.OK, page.StatusCode);
        }

        Assert.Contains("15 kg", (await FeedAsync(Feed + "?units=kg")).Value, StringComparison.Ordinal);
        Assert.Equal(
            Feed,
            (await http.PageAsync($"/zones/{Fleet.Bank}/SBF"))
                .One("link[type='application/atom+xml']")
                .GetAttribute("href")
        );
        using var unknown = await http.GetAsync(
            $"/zones/{Fleet.Bank}/PIL/advice.atom",
            TestContext.Current.CancellationToken
        );
        Assert.Equal(HttpStatusCode.NotFound, unknown.StatusCode);
    }

    [Fact]
    public async Task ACalendarHoldsALandingsDeparturesAndNoBookings()
    {
        var fleet = new Fleet(http);
        await fleet.PutAsync(
            $"departures/{Fleet.Petrel}/2026-11-24/1",
            new
            {
                tripDays = 1.5,
                kind = "overnight",
                anglers = 17,
                capacity = 31,
                zone = Fleet.Bank,
                status = "planned",
            }
        );
        await fleet.PutAsync($"departures/{Fleet.Petrel}/2026-11-24/2", new { tripDays = 0.5, status = "cancelled" });
        await fleet.PutAsync($"departures/{Fleet.Tern}/2026-11-24/1", new { status = "planned" });
        await fleet.PutAsync($"departures/{Fleet.Petrel}/2026-11-20/1", new { status = "planned" });

        using var answer = await http.GetAsync(
            $"/landings/{Fleet.Quay}/departures.ics",
            TestContext.Current.CancellationToken
        );
        var text = await answer.Content.ReadAsStringAsync(TestContext.Current.CancellationToken);

        Assert.Equal("text/calendar", answer.Content.Headers.ContentType?.MediaType);
        ShouldBeCalendar(text);
        var events = Ical.Net.Calendar.Load(text)!.Events.OrderBy(e => e.Uid).ToList();
        Assert.Equal(
            ["grey-petrel-20261124-1@localhost", "grey-petrel-20261124-2@localhost"],
            events.Select(e => e.Uid)
        );
        Assert.Equal("grey petrel, overnight trip to Cannery Bank", events[0].Summary);
        Assert.Equal("Corran Quay", events[0].Location);
        Assert.Equal(new DateOnly(2026, 11, 24), events[0].Start!.Date);
        Assert.Equal(new DateOnly(2026, 11, 26), events[0].End!.Date);
        Assert.Equal("Cancelled: grey petrel, trip, second sailing", events[1].Summary);
        Assert.Equal("CANCELLED", events[1].Status);
        Assert.DoesNotMatch(Booking(), text);

        using var again = new HttpRequestMessage(HttpMethod.Get, $"/landings/{Fleet.Quay}/departures.ics");
        again.Headers.IfNoneMatch.Add(answer.Headers.ETag!);
        using var unchanged = await http.SendAsync(again, TestContext.Current.CancellationToken);
        Assert.Equal(HttpStatusCode.NotModified, unchanged.StatusCode);
        using var none = await http.GetAsync("/landings/nowhere/departures.ics", TestContext.Current.CancellationToken);
        Assert.Equal(HttpStatusCode.NotFound, none.StatusCode);
    }

    [Fact]
    public async Task EachPageOfTheSitemapIsThereAndRobotsFindIt()
    {
        var robots = await http.GetStringAsync("/robots.txt", TestContext.Current.CancellationToken);
        var address = Assert.Single(robots.Split('\n'), l => l.StartsWith("Sitemap: ", StringComparison.Ordinal))[9..];
        var map = XDocument.Parse(await http.GetStringAsync(new Uri(address), TestContext.Current.CancellationToken));

        var pages = map.Root!.Elements(Map + "url").Select(u => u.Element(Map + "loc")!.Value).ToList();
        Assert.Equal(7 + (3 * 4), pages.Count); // seven pages, three zones of four species
        foreach (var page in pages)
        {
            Assert.StartsWith("http://localhost/", page, StringComparison.Ordinal);
            using var answer = await http.GetAsync(new Uri(page), TestContext.Current.CancellationToken);
            Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
        }
    }

    [Fact]
    public async Task APreviewSaysTheVerdict()
    {
        await PublishAsync(SampleBrief.Good(Fleet.Bank, "SBF"), 0);
        foreach (var path in new[] { $"/zones/{Fleet.Bank}/SBF", "/" })
        {
            var page = await http.PageAsync(path);
            string Meta(string name) => page.One($"meta[property='{name}']").GetAttribute("content")!;
            Assert.StartsWith(
                "Cannery Bank is worth the trip: about 6 in 10",
                Meta("og:description"),
                StringComparison.Ordinal
            );
            Assert.Equal(page.Title, Meta("og:title") + " - Railside");
            Assert.Equal("http://localhost" + path, Meta("og:url"));
        }
    }

    /// <summary>RFC 5545, 3.1: lines end in CRLF and hold 75 octets at most; what a calendar and an event must have.</summary>
    private static void ShouldBeCalendar(string text)
    {
        Assert.EndsWith("\r\n", text, StringComparison.Ordinal);
        var lines = text.Split("\r\n");
        Assert.All(lines, l => Assert.DoesNotContain('\n', l));
        Assert.All(lines, l => Assert.InRange(Encoding.UTF8.GetByteCount(l), 0, 75));
        Assert.Equal("BEGIN:VCALENDAR", lines[0]);
        Assert.Contains("VERSION:2.0", lines);
        Assert.Contains("PRODID:-//Railside//Departures//EN", lines);
        var events = lines.Count(l => l == "BEGIN:VEVENT");
        foreach (var name in new[] { "UID:", "DTSTAMP:20261123T040000Z", "DTSTART;VALUE=DATE:", "DTEND;VALUE=DATE:" })
        {
            Assert.Equal(events, lines.Count(l => l.StartsWith(name, StringComparison.Ordinal)));
        }
    }

    private async Task StartAsync(DatabaseKind database)
    {
        app = await ReportsApp.StartAsync(database, postgres);
        await Fleet.SetUpCoastAsync(app);
        http = app.CreateClient();
    }

    private static SizePicture Heavier(SizePicture size, double times) =>
        size with
        {
            Grades = [.. size.Grades.Select(g => g with { MedianGrams = (int)(g.MedianGrams * times) })],
        };

    private static string Link(XElement feed, string relation) =>
        feed.Elements(Atom + "link").Single(l => l.Attribute("rel")!.Value == relation).Attribute("href")!.Value;

    private Task<bool> PublishAsync(Brief brief, int daysAgo) =>
        app.WithAsync(
            (BriefStore briefs) =>
                briefs.PublishAsync(brief with { AsOf = Fleet.Today.AddDays(-daysAgo) }, [], CancellationToken.None)
        );

    private async Task<XElement> FeedAsync(string path = Feed)
    {
        using var answer = await http.GetAsync(path, TestContext.Current.CancellationToken);
        Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
        Assert.Equal("application/atom+xml", answer.Content.Headers.ContentType?.MediaType);
        var feed = XDocument.Parse(await answer.Content.ReadAsStringAsync(TestContext.Current.CancellationToken)).Root!;
        Assert.Equal(Atom + "feed", feed.Name);
        return feed;
    }

    [GeneratedRegex(@"\b(17|31)\b|angler|capacity|book", RegexOptions.IgnoreCase)]
    private static partial Regex Booking();
}
