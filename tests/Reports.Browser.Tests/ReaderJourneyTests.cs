using System.Text.RegularExpressions;
using Microsoft.Playwright;

namespace Reports.Browser.Tests;

/// <summary>What readers do, in a real browser: only what a browser alone can show.</summary>
public sealed class ReaderJourneyTests(DemoSite site)
{
    private static readonly string[] Paths =
    [
        "/",
        "/?species=SBF&units=kg",
        "/zones",
        "/zones/cannery-bank/SBF",
        "/zones/cannery-bank/SBF?outfits=5&units=kg",
        "/zones/south-trench/YTC",
        "/gauge?zone=cannery-bank&species=SBF",
        "/pack?zone=cannery-bank&zone=south-trench&species=SBF&species=YTC&days=2&outfits=4&own=30&own=60",
    ];

    [Theory]
    [InlineData(true)]
    [InlineData(false)]
    public async Task FromThisWeekToABriefInKilogramsAndItsFile(bool script)
    {
        await using var visitor = await site.VisitAsync(360, 740, script: script);
        var page = visitor.Page;
        await visitor.OpenAsync("/?species=SBF");

        await page.GetByRole(AriaRole.Link, new() { Name = "Cannery Bank" }).ClickAsync();
        await Assertions.Expect(page.Locator("h1")).ToHaveTextAsync("Southern bluefin tuna on Cannery Bank");
        await Assertions.Expect(page.Locator(".outfit")).ToHaveCountAsync(3);

        await page.GetByRole(AriaRole.Link, new() { Name = "2", Exact = true }).ClickAsync();
        await Assertions.Expect(page.Locator(".outfit")).ToHaveCountAsync(2);

        await page.GetByRole(AriaRole.Link, new() { Name = "kg, cm" }).ClickAsync();
        await Assertions.Expect(page.Locator(".outfit")).ToHaveCountAsync(2);
        await Assertions.Expect(page.Locator(".outfit h3").First).ToContainTextAsync(new Regex(@"\d+ kg,"));

        await page.Locator("section[aria-labelledby=size] summary").ClickAsync();
        await Assertions.Expect(page.Locator("section[aria-labelledby=size] figure.chart table")).ToBeVisibleAsync();

        var download = await page.RunAndWaitForDownloadAsync(() =>
            page.Locator("a[href$='/sizes.csv?units=kg']").ClickAsync()
        );
        Assert.Equal("cannery-bank-SBF-sizes.csv", download.SuggestedFilename);
        var file = await File.ReadAllTextAsync(await download.PathAsync(), TestContext.Current.CancellationToken);
        Assert.StartsWith("from_kg,to_kg,share_of_fish\r\n", file, StringComparison.Ordinal);
        Assert.Empty(visitor.Complaints);
        Assert.Empty(await page.Context.CookiesAsync());
    }

    [Theory]
    [InlineData(320)]
    [InlineData(360)]
    [InlineData(1280)]
    public async Task NothingScrollsSidewaysAndNothingIsBlocked(int width)
    {
        await using var visitor = await site.VisitAsync(width, 740);
        foreach (var path in Paths)
        {
            await visitor.OpenAsync(path);
            var wide = await visitor.Page.EvaluateAsync<int>("() => document.documentElement.scrollWidth");
            Assert.True(wide <= width, $"{path} is {wide} px wide in a window of {width}");
        }

        Assert.Empty(visitor.Complaints);
    }

    [Theory]
    [InlineData(360, 740, ColorScheme.Light)]
    [InlineData(360, 740, ColorScheme.Dark)]
    [InlineData(1280, 900, ColorScheme.Light)]
    [InlineData(1280, 900, ColorScheme.Dark)]
    public async Task TextStandsOutFromWhatIsBehindIt(int width, int height, ColorScheme scheme)
    {
        await using var visitor = await site.VisitAsync(width, height, scheme);
        foreach (var (path, i) in Paths.Select((p, i) => (p, i)))
        {
            await visitor.OpenAsync(path);
            await visitor.ShotAsync($"{width}-{scheme}-{i}".ToLowerInvariant());
            // WCAG 2.2, 1.4.3: 4.5 to 1; relative luminance and contrast ratio as defined there.
            var weak = await visitor.Page.EvaluateAsync<string[]>(
                """
                () => {
                  const rgb = c => c.match(/[\d.]+/g).map(Number);
                  const lum = c => c.slice(0, 3).map(v => v / 255)
                    .map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4)
                    .reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);
                  const behind = e => {
                    for (; e; e = e.parentElement) {
                      const c = rgb(getComputedStyle(e).backgroundColor);
                      if (c.length < 4 || c[3] > 0) return c;
                    }
                    return rgb(getComputedStyle(document.documentElement).backgroundColor);
                  };
                  const ratio = (a, b) => { const [x, y] = [lum(a), lum(b)].sort((p, q) => q - p); return (x + 0.05) / (y + 0.05); };
                  const own = e => [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim());
                  return [...document.querySelectorAll('body *')].filter(own)
                    .filter(e => !e.closest('title, desc'))
                    .map(e => {
                      const style = getComputedStyle(e);
                      const ink = rgb(e.closest('svg') ? style.fill : style.color);
                      const shades = e.matches('.zone-name, .zone-figure')
                        ? [...document.querySelectorAll('path.zone')].map(z => getComputedStyle(z).fill).filter(f => f !== 'none').map(rgb)
                        : [behind(e)];
                      return [Math.min(...shades.map(s => ratio(ink, s))), e.textContent.trim().slice(0, 40)];
                    })
                    .filter(([r]) => r < 4.5)
                    .map(([r, t]) => `${r.toFixed(2)} ${t}`);
                }
                """
            );
            Assert.Empty(weak);
        }
    }

    [Fact]
    public async Task TheKeyboardReachesThePageAtOnceAndTouchTargetsAreLargeEnough()
    {
        await using var visitor = await site.VisitAsync(360, 740);
        await visitor.OpenAsync("/zones/cannery-bank/SBF");

        await visitor.Page.Keyboard.PressAsync("Tab");
        await Assertions.Expect(visitor.Page.Locator("a.skip")).ToBeFocusedAsync();
        await visitor.Page.Keyboard.PressAsync("Enter");
        await Assertions.Expect(visitor.Page.Locator("main")).ToBeFocusedAsync();

        // WCAG 2.2, 2.5.8 asks for 24 px; a wet thumb for more.
        var small = await visitor.Page.EvaluateAsync<string[]>(
            """
            () => [...document.querySelectorAll('header a, nav a, summary, .csv a')]
              .map(a => [a.textContent.trim(), a.getBoundingClientRect()])
              .filter(([, box]) => box.height < 40)
              .map(([text, box]) => `${text}: ${box.height}`)
            """
        );
        Assert.Empty(small);
    }
}
