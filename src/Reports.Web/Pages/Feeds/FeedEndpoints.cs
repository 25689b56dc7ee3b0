using System.Globalization;
using System.Text;
using System.Xml;
using System.Xml.Linq;
using Microsoft.AspNetCore.Http.HttpResults;
using Microsoft.EntityFrameworkCore;
using Reports.Domain.Coast;
using Reports.Storage;
using Reports.Web.Api.V1;
using Reports.Web.Pages.Briefs;

namespace Reports.Web.Pages.Feeds;

/// <summary>What programs fetch for their people: feeds of advice, calendars of departures, and the way to every page.</summary>
public static class FeedEndpoints
{
    private static readonly XNamespace Map = "http://www.sitemaps.org/schemas/sitemap/0.9";

    public static void MapFeeds(this WebApplication app)
    {
        app.MapGet("/zones/{zone}/{species}/advice.atom", AdviceAsync).CacheOutput(PagePolicy.Name);
        app.MapGet("/landings/{landing}/departures.ics", DeparturesAsync);
        app.MapGet("/sitemap.xml", SitemapAsync).CacheOutput(PagePolicy.Name);
        app.MapGet(
                "/robots.txt",
                (HttpContext http) =>
                    TypedResults.Text($"User-agent: *\nDisallow: /api/\nSitemap: {Site(http.Request)}/sitemap.xml\n")
            )
            .CacheOutput(PagePolicy.Name);
    }

    /// <summary>Where the site answers, as the reader knows it, without a slash at the end.</summary>
    public static string Site(HttpRequest request) => $"{request.Scheme}://{request.Host}{request.PathBase}";

    private static async Task<Results<FileContentHttpResult, NotFound>> AdviceAsync(
        string zone,
        string species,
        HttpContext http,
        RegisterCache registers,
        BriefStore briefs,
        Settings settings,
        TimeProvider time,
        CancellationToken ct
    )
    {
        var register = await registers.GetAsync(ct);
        if (
            !register.Zones.TryGetValue(zone, out var inZone)
            || !register.Species.TryGetValue(species, out var ofSpecies)
            || ofSpecies.Kind != SpeciesKind.Catch
        )
        {
            return TypedResults.NotFound();
        }

        var today = Landing.DayIn(settings.TimeZone, time.GetUtcNow());
        var history = await briefs.DaysAsync(zone, species, today.AddDays(-AdviceFeed.Days), ct);
        return Xml(
            AdviceFeed.Write(
                history.Count == 0
                    ? [BriefView.Of(inZone, ofSpecies, null, settings.TimeZone, today)]
                    :
                    [
                        .. history.Select(b => new BriefView(
                            inZone,
                            ofSpecies,
                            b.Brief,
                            b.Version,
                            b.ComputedAt,
                            today
                        )),
                    ],
                fromTheFirst: history is [{ Brief.AsOf: var first }, ..]
                    && !await briefs.AnyBeforeAsync(zone, species, first, ct),
                Site(http.Request),
                ReaderUnits.Of(http.Request),
                day => Landing.EndIn(settings.TimeZone, day.AddDays(-1))
            ),
            "application/atom+xml"
        );
    }

    private static async Task<Results<FileContentHttpResult, NotFound>> DeparturesAsync(
        string landing,
        HttpContext http,
        RegisterCache registers,
        ReportsDbContext db,
        TimeProvider time,
        CancellationToken ct
    )
    {
        var register = await registers.GetAsync(ct);
        if (!register.Landings.TryGetValue(landing, out var of))
        {
            return TypedResults.NotFound();
        }

        var today = of.DayOf(time.GetUtcNow());
        var last = today.AddDays(DepartureCalendar.Days);
        var boats = register.Boats.Values.Where(b => b.Landing == landing).Select(b => b.Code).ToList();
        var departures = await db
            .Departures.AsNoTracking()
            .Where(d => boats.Contains(d.Boat) && d.Date >= today && d.Date <= last)
            .ToListAsync(ct);
        var text = DepartureCalendar.Write(
            of,
            departures.Select(d => d.ToDeparture()),
            register,
            Landing.EndIn(TimeZoneInfo.FindSystemTimeZoneById(of.TimeZone), today.AddDays(-1)),
            http.Request.Host.Host
        );
        var bytes = Encoding.UTF8.GetBytes(text);
        http.Response.Headers.CacheControl = "public, no-cache";

        return TypedResults.Bytes(bytes, "text/calendar; charset=utf-8", entityTag: ChancesEndpoints.WeakTag(bytes));
    }

    private static async Task<FileContentHttpResult> SitemapAsync(
        HttpContext http,
        RegisterCache registers,
        BriefStore briefs,
        CancellationToken ct
    )
    {
        var site = Site(http.Request);
        var register = await registers.GetAsync(ct);
        var computed = (await briefs.AllAsync(ct)).ToDictionary(
            b => (b.Brief.Zone, b.Brief.Species),
            b => b.ComputedAt
        );
        var pages = new[] { "/", "/chances", "/zones", "/pack", "/gauge", "/record", "/reference" }
            .Select(path => (path, (DateTimeOffset?)null))
            .Concat(
                from zone in register.Zones.Values.OrderBy(z => z.Code, StringComparer.Ordinal)
                from species in register.Species.Values.OrderBy(s => s.Code, StringComparer.Ordinal)
                where species.Kind == SpeciesKind.Catch
                select (
                    $"/zones/{zone.Code}/{species.Code}",
                    computed.TryGetValue((zone.Code, species.Code), out var at) ? at : (DateTimeOffset?)null
                )
            );
        return Xml(
            new XDocument(
                new XElement(
                    Map + "urlset",
                    pages.Select(p => new XElement(
                        Map + "url",
                        new XElement(Map + "loc", site + p.Item1),
                        p.Item2 is { } at
                            ? new XElement(
                                Map + "lastmod",
                                at.ToUniversalTime().ToString("yyyy-MM-dd'T'HH:mm:ss'Z'", CultureInfo.InvariantCulture)
                            )
                            : null
                    ))
                )
            ),
            "application/xml"
        );
    }

    private static FileContentHttpResult Xml(XDocument document, string type)
    {
        using var bytes = new MemoryStream();
        using (
            var writer = XmlWriter.Create(bytes, new() { Encoding = new UTF8Encoding(false), CheckCharacters = true })
        )
        {
            document.Save(writer);
        }

        return TypedResults.Bytes(bytes.ToArray(), $"{type}; charset=utf-8");
    }
}
