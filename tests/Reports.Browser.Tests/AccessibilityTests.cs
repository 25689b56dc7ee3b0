using Deque.AxeCore.Commons;
using Microsoft.Playwright;

namespace Reports.Browser.Tests;

/// <summary>
/// Every public page in every state, by the rules of axe-core for WCAG 2.2 AA: in light and in dark, on the narrowest screen that
/// reflow is asked for (1.4.10: 320 px) and on a wide one. Nothing scrolls sideways, and nothing is blocked by the content policy.
/// </summary>
public sealed class AccessibilityTests(DemoSite site)
{
    /// <summary>The engine as text: put into a page once and asked for each look, it costs a tenth of the package's own runner.</summary>
    private static readonly string Axe = new BundledAxeScriptProvider().GetScript();

    /// <summary>Levels A and AA of WCAG 2.2, and what the engine's makers advise besides.</summary>
    private static readonly string[] All = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"];

    /// <summary>The rules whose answer a change of colours can change.</summary>
    private static readonly string[] OfColour = ["color-contrast", "link-in-text-block"];

    private const string Ask = """
        async rules => (await axe.run(document, { runOnly: rules, resultTypes: ['violations'] }))
          .violations.flatMap(v => v.nodes.map(n => v.id + ': ' + n.html))
        """;

    private static readonly string[] Empty = ["/", "/chances", "/zones", "/pack", "/gauge", "/record"];

    private static readonly string[] Full =
    [
        "/",
        "/?species=SBF&units=kg",
        "/chances?species=SBF",
        "/chances?species=YFT&landing=corran-quay&tripDays=1.5&limit=1&units=kg",
        "/chances?species=SBF&tripDays=30",
        "/zones",
        "/zones/cannery-bank/SBF",
        "/zones/south-trench/YTC?outfits=5&units=kg",
        "/pack",
        "/pack?zone=cannery-bank&zone=south-trench&species=SBF&days=2&outfits=4&own=30&own=60",
        "/gauge",
        "/gauge?zone=cannery-bank&species=SBF",
        "/record?species=SBF",
        "/reference",
    ];

    private static readonly (string Path, int Status)[] Wrong =
    [
        ("/nowhere", 404),
        ("/zones/nowhere/SBF", 404),
        ("/zones/cannery-bank/XXX", 404),
        ("/record?species=XXX", 404),
        ("/pack?days=0&zone=cannery-bank", 200),
        ("/chances?species=SBF&limit=0", 200),
        ("/problem/500", 500),
    ];

    [Fact]
    public async Task AFullPageHasNoBarrier()
    {
        await using var visitor = await site.VisitAsync(1280, 900);
        List<string> barriers = [];
        foreach (var path in Full)
        {
            await visitor.OpenAsync(path);
            barriers.AddRange(await BarriersAsync(visitor.Page, path));
        }

        Assert.Empty(barriers);
        Assert.Empty(visitor.Complaints);
    }

    [Fact]
    public async Task APageOfAnErrorHasNoBarrier()
    {
        await using var visitor = await site.VisitAsync(1280, 900);
        List<string> barriers = [];
        foreach (var (path, status) in Wrong)
        {
            await (status == 200 ? visitor.OpenAsync(path) : visitor.OpenErrorAsync(path, status));
            barriers.AddRange(await BarriersAsync(visitor.Page, path));
        }

        Assert.Empty(barriers);
        Assert.Empty(visitor.Complaints);
    }

    [Fact]
    public async Task AnEmptyPageHasNoBarrier()
    {
        await using var empty = await Site.EmptyAsync();
        await using var visitor = await site.VisitAsync(1280, 900, of: empty);
        List<string> barriers = [];
        foreach (var path in Empty)
        {
            await visitor.OpenAsync(path);
            barriers.AddRange(await BarriersAsync(visitor.Page, path));
        }

        Assert.Empty(barriers);
        Assert.Empty(visitor.Complaints);
    }

    /// <summary>What keeps somebody from the page that is open, in each look and width.</summary>
    private static async Task<List<string>> BarriersAsync(IPage page, string path)
    {
        List<string> barriers = [];
        await page.EvaluateAsync(Axe);
        foreach (var width in new[] { 1280, 320 })
        {
            await page.SetViewportSizeAsync(width, 900);
            foreach (var scheme in new[] { ColorScheme.Light, ColorScheme.Dark })
            {
                await page.EmulateMediaAsync(new() { ColorScheme = scheme });
                var found = await page.EvaluateAsync<string[]>(Ask, scheme == ColorScheme.Light ? All : OfColour);
                barriers.AddRange(found.Select(f => $"{path} {width} {scheme}: {f}"));
            }

            var wide = await page.EvaluateAsync<int>("() => document.documentElement.scrollWidth");
            if (wide > width)
            {
                barriers.Add($"{path} is {wide} px wide in a window of {width}");
            }
        }

        return barriers;
    }
}
