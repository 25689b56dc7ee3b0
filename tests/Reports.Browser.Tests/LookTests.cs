using System.Diagnostics;
using Microsoft.Playwright;

namespace Reports.Browser.Tests;

/// <summary>How the pages look where a style sheet can go wrong: in forced colours, on paper, and what they weigh on the way.</summary>
public sealed class LookTests(DemoSite site)
{
    private const string Pack =
        "/pack?zone=cannery-bank&zone=south-trench&species=SBF&species=YTC&days=2&outfits=4&own=30&own=60";

    private static readonly string[] Paths =
    [
        "/?species=SBF",
        "/zones",
        "/zones/cannery-bank/SBF",
        Pack,
        "/gauge?zone=cannery-bank&species=SBF",
        "/reference",
        "/chances?species=SBF",
    ];

    [Fact]
    public async Task InForcedColoursEveryMarkOfADrawingStandsOut()
    {
        await using var visitor = await site.VisitAsync(1280, 900);
        await visitor.Page.EmulateMediaAsync(new() { ForcedColors = ForcedColors.Active });
        foreach (var (path, i) in Paths.Select((p, i) => (p, i)))
        {
            await visitor.OpenAsync(path);
            await visitor.ShotAsync($"forced-{i}");
            var lost = await visitor.Page.EvaluateAsync<string[]>(
                """
                () => {
                  const canvas = getComputedStyle(document.documentElement).backgroundColor;
                  const seen = c => c !== 'none' && c !== canvas && !/^rgba\(.*, 0\)$/.test(c);
                  return [...document.querySelectorAll('svg rect, svg line, svg circle, svg path, svg text')]
                    .filter(e => !e.classList.contains('grid'))
                    .filter(e => { const s = getComputedStyle(e); return !seen(s.stroke) && (e.tagName === 'line' || !seen(s.fill)); })
                    .map(e => `${e.tagName}.${e.getAttribute('class')}`);
                }
                """
            );
            Assert.Empty(lost.Distinct().Select(l => $"{path}: {l}"));
        }
    }

    /// <summary>One drawing of two densities is seen, never both and never none.</summary>
    [Theory]
    [InlineData(320)]
    [InlineData(1280)]
    public async Task EachFigureShowsOneDrawing(int width)
    {
        await using var visitor = await site.VisitAsync(width, 900);
        await visitor.OpenAsync("/zones/cannery-bank/SBF");

        Assert.Empty(
            await visitor.Page.EvaluateAsync<string[]>(
                """
                () => [...document.querySelectorAll('figure.chart')]
                  .map(f => [f, [...f.querySelectorAll('svg')].filter(s => s.getBoundingClientRect().height > 40).length])
                  .filter(([, seen]) => seen !== 1)
                  .map(([f, seen]) => `${seen} in ${f.querySelector('h3').textContent}`)
                """
            )
        );
    }

    [Theory]
    [InlineData("A4")]
    [InlineData("Letter")]
    public async Task APackListOfFourOutfitsIsOneSheet(string paper)
    {
        await using var visitor = await site.VisitAsync(1280, 900);
        await visitor.OpenAsync(Pack);
        await Assertions.Expect(visitor.Page.Locator(".outfit")).ToHaveCountAsync(4);

        Assert.Equal(1, await PrintAsync(visitor.Page, paper, $"print-pack-{paper}"));
    }

    [Fact]
    public async Task ABriefPrintsOnNoMoreThanFourSheets()
    {
        await using var visitor = await site.VisitAsync(1280, 900);
        foreach (var (path, i) in Paths.Take(3).Select((p, i) => (p, i)))
        {
            await visitor.OpenAsync(path);
            Assert.InRange(await PrintAsync(visitor.Page, "A4", $"print-{i}"), 1, 4);
        }
    }

    /// <summary>All that comes over the wire for a page that is opened for the first time, headers too.</summary>
    [Fact]
    public async Task TheHeaviestPageIsLightAndBringsNoScript()
    {
        foreach (var path in Paths)
        {
            await using var visitor = await site.VisitAsync(360, 740);
            List<IRequest> requests = [];
            visitor.Page.RequestFinished += (_, request) => requests.Add(request);
            await visitor.OpenAsync(path);
            await visitor.Page.WaitForLoadStateAsync(LoadState.NetworkIdle);
            var (all, script) = (0, 0);
            foreach (var request in requests)
            {
                var sizes = await request.SizesAsync();
                var bytes = sizes.ResponseBodySize + sizes.ResponseHeadersSize;
                all += bytes;
                script += request.ResourceType == "script" ? bytes : 0;
            }

            Assert.DoesNotContain(requests, r => r.ResourceType == "stylesheet");
            Assert.InRange(all, 1, 50 * 1024);
            Assert.Equal(0, script);
        }
    }

    /// <summary>Prints to paper and keeps the sheets as pictures; how many they are.</summary>
    private static async Task<int> PrintAsync(IPage page, string paper, string name)
    {
        Directory.CreateDirectory(Visitor.Screens);
        var pdf = Path.Combine(Visitor.Screens, name + ".pdf");
        await page.PdfAsync(new() { Path = pdf, Format = paper });
        foreach (var old in Directory.GetFiles(Visitor.Screens, name + "-*.png"))
        {
            File.Delete(old);
        }

        using var process = Process.Start(
            new ProcessStartInfo("pdftoppm", ["-r", "80", "-png", pdf, Path.Combine(Visitor.Screens, name)])
        )!;
        await process.WaitForExitAsync(TestContext.Current.CancellationToken);
        Assert.Equal(0, process.ExitCode);
        return Directory.GetFiles(Visitor.Screens, name + "-*.png").Length;
    }
}
