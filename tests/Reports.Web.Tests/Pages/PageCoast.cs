using System.Net;
using AngleSharp.Dom;
using AngleSharp.Html.Parser;
using Reports.Domain.Briefs;
using Reports.Storage;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Pages;

/// <summary>
/// A small coast whose briefs stand: SBF good on the bank, pooled on the shelf, thin on the edge; YTC closed on the bank; ALB told by
/// one boat; nothing of DOL. Computed five minutes ago.
/// </summary>
public sealed class PageCoast(PostgresServer postgres) : IAsyncLifetime
{
    private ReportsApp app = null!;

    public HttpClient Http { get; private set; } = null!;

    public async ValueTask InitializeAsync() => (app, Http) = await StartAsync(DatabaseKind.Sqlite, postgres);

    public static async Task<(ReportsApp App, HttpClient Http)> StartAsync(
        DatabaseKind database,
        PostgresServer postgres
    )
    {
        var app = await ReportsApp.StartAsync(database, postgres);
        await Fleet.SetUpCoastAsync(app);
        foreach (
            var brief in new[]
            {
                SampleBrief.Good(Fleet.Bank, "SBF") with
                {
                    AsOf = Fleet.Today.AddDays(-1),
                },
                SampleBrief.Good(Fleet.Bank, "SBF"),
                SampleBrief.Pooled(Fleet.Shelf, "SBF"),
                SampleBrief.Thin(Fleet.Edge, "SBF"),
                SampleBrief.Closed(Fleet.Bank, "YTC"),
                SampleBrief.Silent(Fleet.Bank, "ALB"),
            }
        )
        {
            await app.WithAsync((BriefStore briefs) => briefs.PublishAsync(brief, [], CancellationToken.None));
        }

        app.Time.Advance(TimeSpan.FromMinutes(5));
        return (app, app.CreateClient());
    }

    public ValueTask DisposeAsync() => app.DisposeAsync();
}

/// <summary>Pages as a person reads them.</summary>
public static class Reading
{
    public static async Task<IDocument> PageAsync(
        this HttpClient http,
        string path,
        HttpStatusCode expected = HttpStatusCode.OK
    )
    {
        using var answer = await http.GetAsync(path, TestContext.Current.CancellationToken);
        Assert.Equal(expected, answer.StatusCode);
        Assert.Equal("text/html", answer.Content.Headers.ContentType?.MediaType);
        var document = await new HtmlParser().ParseDocumentAsync(
            await answer.Content.ReadAsStringAsync(TestContext.Current.CancellationToken),
            TestContext.Current.CancellationToken
        );
        document.ShouldBeSound();
        return document;
    }

    /// <summary>
    /// The words of a part of the page, blanks made single; of the whole page without a selector. What a drawing inside it says
    /// to those who hear it is left out.
    /// </summary>
    public static string Words(this IParentNode page, string selector = "main")
    {
        var part = page.QuerySelector(selector) ?? throw new Xunit.Sdk.XunitException($"The page has no {selector}.");
        var seen = (IElement)part.Clone();
        foreach (var drawing in seen.QuerySelectorAll("svg").ToList())
        {
            drawing.Remove();
        }

        return string.Join(' ', seen.TextContent.Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries));
    }

    public static IElement One(this IParentNode page, string selector) =>
        Assert.Single(page.QuerySelectorAll(selector));

    /// <summary>What holds of every page.</summary>
    private static void ShouldBeSound(this IDocument page)
    {
        Assert.Equal("en", page.DocumentElement.GetAttribute("lang"));
        page.One("main");
        page.One("h1");
        Assert.Equal("#main", page.One("a.skip").GetAttribute("href"));
        Assert.Empty(page.QuerySelectorAll("script, body style, [style], [onclick]"));
        var ids = page.QuerySelectorAll("[id]").Select(e => e.Id).ToList();
        Assert.Equal(ids.Distinct().Count(), ids.Count);
        foreach (var label in page.QuerySelectorAll("[aria-labelledby]"))
        {
            foreach (var id in label.GetAttribute("aria-labelledby")!.Split(' '))
            {
                Assert.NotNull(page.GetElementById(id));
            }
        }

        Assert.All(page.QuerySelectorAll("svg"), svg => Assert.Equal("img", svg.GetAttribute("role")));
        Assert.DoesNotContain("NaN", page.Body!.TextContent, StringComparison.Ordinal);
    }
}
