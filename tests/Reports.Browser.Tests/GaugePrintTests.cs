using System.Diagnostics;
using System.Globalization;
using System.Text;

namespace Reports.Browser.Tests;

/// <summary>The gauge as it comes out of a printer: the card's outline measured on the printed sheet.</summary>
public sealed class GaugePrintTests(DemoSite site)
{
    private const int Dpi = 600;

    [Theory]
    [InlineData("A4")]
    [InlineData("Letter")]
    public async Task TheCardIsTrueToAFifthOfAMillimetreOnOneSheet(string paper)
    {
        await using var visitor = await site.VisitAsync(1280, 900);
        await visitor.OpenAsync("/gauge?zone=cannery-bank&species=SBF");
        var folder = Directory.CreateTempSubdirectory("gauge-");
        try
        {
            var pdf = Path.Combine(folder.FullName, "gauge.pdf");
            await visitor.Page.PdfAsync(
                new()
                {
                    Path = pdf,
                    Format = paper,
                    PrintBackground = false,
                    PreferCSSPageSize = false,
                }
            );
            await RunAsync("pdftoppm", "-r", Dpi.ToString(CultureInfo.InvariantCulture), "-gray", pdf, pdf);
            var sheets = folder.GetFiles("*.pgm");
            Assert.Single(sheets);
            var (width, height) = CardOf(sheets[0].FullName);

            // ISO/IEC 7810, ID-1 (from memory of the standard).
            Assert.InRange(width, 85.60 - 0.2, 85.60 + 0.2);
            Assert.InRange(height, 53.98 - 0.2, 53.98 + 0.2);
        }
        finally
        {
            folder.Delete(recursive: true);
        }
    }

    /// <summary>
    /// Millimetres between the middles of the outline's strokes: the first and last long dark runs that are near a card's width along
    /// the rows and near its height along the columns. Nothing else on the sheet has lines of these lengths.
    /// </summary>
    private static (double Width, double Height) CardOf(string pgm)
    {
        var bytes = File.ReadAllBytes(pgm);
        var words = new List<string>();
        var at = 0;
        while (words.Count < 4)
        {
            var end = Array.FindIndex(bytes, at, b => b is (byte)' ' or (byte)'\n');
            words.Add(Encoding.ASCII.GetString(bytes, at, end - at));
            at = end + 1;
        }

        Assert.Equal("P5", words[0]);
        var (w, h) = (
            int.Parse(words[1], CultureInfo.InvariantCulture),
            int.Parse(words[2], CultureInfo.InvariantCulture)
        );
        bool Dark(int x, int y) => bytes[at + (y * w) + x] < 128;
        var rows = Lines(h, w, (line, along) => Dark(along, line), 80, 90);
        var columns = Lines(w, h, Dark, 50, 58);
        return (Between(columns), Between(rows));
    }

    /// <summary>The lines that hold one dark run of so many millimetres.</summary>
    private static List<int> Lines(int lines, int length, Func<int, int, bool> dark, double fromMm, double toMm)
    {
        var found = new List<int>();
        for (var line = 0; line < lines; line++)
        {
            var run = 0;
            for (var along = 0; along <= length; along++)
            {
                if (along < length && dark(line, along))
                {
                    run++;
                    continue;
                }

                if (run * 25.4 / Dpi >= fromMm && run * 25.4 / Dpi <= toMm)
                {
                    found.Add(line);
                }

                run = 0;
            }
        }

        return found;
    }

    private static double Between(List<int> lines)
    {
        Assert.NotEmpty(lines);
        var middle = (lines[0] + lines[^1]) / 2.0;
        return (lines.Where(l => l > middle).Average() - lines.Where(l => l < middle).Average()) * 25.4 / Dpi;
    }

    private static async Task RunAsync(string program, params string[] words)
    {
        using var process = Process.Start(new ProcessStartInfo(program, words))!;
        await process.WaitForExitAsync(TestContext.Current.CancellationToken);
        Assert.Equal(0, process.ExitCode);
    }
}
