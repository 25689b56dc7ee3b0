using System.Globalization;
using AngleSharp.Dom;
using AngleSharp.Html.Parser;
using CsCheck;
using Reports.Domain.Briefs;
using Reports.Domain.Measures;
using Reports.Web.Pages.Shared.Charts;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Pages;

/// <summary>Drawings: every plotted value can be read back from the geometry within half a pixel.</summary>
public sealed class ChartTests
{
    private const double HalfAPixel = 0.5;

    [Fact]
    public void BarsOfSizesStandWhereTheirWeightsAndSharesAre()
    {
        Gen.Double[0, 1]
            .Array[1, 24]
            .Select(x => new SizeTable([], [.. x.Select((s, i) => new SizeBar(i * 5, (i + 1) * 5, s / x.Length))]))
            .Where(t => t.Bars.Any(b => b.Share > 0))
            .Sample(table =>
            {
                var size = SampleBrief.Good(Fleet.Bank, "SBF").Size! with { Lb = table };
                var svg = Parse(SizeChart.Draw(size, [], WeightUnit.Lb, "a test", "/x.csv").Drawing);

                var bars = svg.QuerySelectorAll("rect.bar");
                var shown = table.Bars.Where(b => b.Share > 0).ToList();
                Assert.Equal(shown.Count, bars.Length);
                var (across, up) = (SizeChart.Across(table), SizeChart.Up(table));
                foreach (var (bar, rect) in shown.Zip(bars))
                {
                    // Half a pixel of air on each side of a bar.
                    Near(across.Position(bar.From) + 0.5, Number(rect, "x"));
                    Near(across.Position(bar.To) - 0.5, Number(rect, "x") + Number(rect, "width"));
                    Near(up.Position(bar.Share), Number(rect, "y"));
                    Near(SizeChart.Bottom, Number(rect, "y") + Number(rect, "height"));
                    Assert.InRange(Number(rect, "y"), SizeChart.Top - 0.01, SizeChart.Bottom + 0.01);
                }
            });
    }

    [Fact]
    public void OutfitsReachOverTheFishThatTheyAreMeantFor()
    {
        var brief = SampleBrief.Good(Fleet.Bank, "SBF");
        var svg = Parse(SizeChart.Draw(brief.Size!, brief.OutfitSets[0], WeightUnit.Lb, "a test", "/x.csv").Drawing);

        var reach = Assert.Single(svg.QuerySelectorAll("rect.reach"));
        // The sample's thirty is meant for 15 to 45 lb.
        var across = SizeChart.Across(brief.Size!.Lb);
        Near(across.Position(15), Number(reach, "x"));
        Near(across.Position(45), Number(reach, "x") + Number(reach, "width"));
    }

    [Fact]
    public void DaysStandInOrderWithTheirRates()
    {
        Gen.Select(Gen.Double[0, 9], Gen.Int[0, 2])
            .Array[28]
            .Sample(draws =>
            {
                var days = draws
                    .Select(
                        (d, i) =>
                            new DayMark(
                                Fleet.Today.AddDays(i - 27),
                                d.Item2 switch
                                {
                                    0 => null,
                                    1 => 0,
                                    _ => 5,
                                },
                                d.Item2 == 2 ? d.Item1 : null
                            )
                    )
                    .ToList();
                var svg = Parse(DayChart.Draw(days, null, "a test", Fleet.Today, "/x.csv").Drawing);

                var pitch = (DayChart.Right - DayChart.Left) / 28;
                var up = DayChart.Up(days);
                var bars = svg.QuerySelectorAll("rect.bar");
                var shown = days.Index().Where(d => d.Item.PerAngler is not null).ToList();
                Assert.Equal(shown.Count, bars.Length);
                foreach (var ((i, day), rect) in shown.Zip(bars))
                {
                    Near(DayChart.Left + (i * pitch) + 1, Number(rect, "x"));
                    Near(up.Position(day.PerAngler!.Value), Number(rect, "y"));
                }

                Assert.Equal(days.Count(d => d.Boats is null), svg.QuerySelectorAll("line.hidden-day").Length);
            });
    }

    [Fact]
    public void RangesRunFromLowToHighWithTheirMiddleBetween()
    {
        List<RangeRow> rows = [new("one", (0.42, 0.31, 0.54)), new("two", null), new("three", (0.02, 0, 0.9))];

        var svg = Parse(RangeChart.Draw("r", "t", "d", rows, 1, Scale.Tick));

        var across = RangeChart.Across(rows, 1);
        var ranges = svg.QuerySelectorAll("line.range");
        var dots = svg.QuerySelectorAll("circle.dot");
        Assert.Equal(2, ranges.Length);
        foreach (var (row, i) in new[] { (rows[0], 0), (rows[2], 1) })
        {
            var (mean, low, high) = row.Value!.Value;
            Near(low, across.Value(Number(ranges[i], "x1")), 0.002);
            Near(high, across.Value(Number(ranges[i], "x2")), 0.002);
            Near(mean, across.Value(Number(dots[i], "cx")), 0.002);
        }

        Assert.Contains("too few boats", svg.TextContent, StringComparison.Ordinal);
    }

    [Fact]
    public void OddsFillAsManyDotsAsTheWordsSay()
    {
        Gen.Double[0, 1]
            .Sample(mean =>
            {
                var svg = Parse(OddsDots.Draw("o", new Share(mean, mean * 0.8, mean + ((1 - mean) * 0.2))));
                Assert.Equal(Web.Pages.Say.OfTen(mean), svg.QuerySelectorAll("circle.angler-fish").Length);
                Assert.Equal(10, svg.QuerySelectorAll("circle").Length);
            });
    }

    [Fact]
    public void NamesAreEncoded()
    {
        var text = new Svg("a", 1, 1, "<b>&", "\"").Text(0, 0, "<script>").ToString();

        Assert.DoesNotContain("<script", text, StringComparison.Ordinal);
        Assert.DoesNotContain("<b>", text, StringComparison.Ordinal);
        Assert.Equal("<b>&", Parse(text).QuerySelector("title")!.TextContent);
    }

    [Theory]
    [InlineData("de-DE")]
    [InlineData("ar-SA")]
    public void TheSameDrawingIsTheSameBytesInEveryCulture(string culture)
    {
        string Draw() =>
            SizeChart
                .Draw(
                    SampleBrief.Good(Fleet.Bank, "SBF").Size!,
                    SampleBrief.Good(Fleet.Bank, "SBF").OutfitSets[2],
                    WeightUnit.Kg,
                    "p",
                    "/x"
                )
                .Drawing.ToString();
        var expected = Draw();
        var before = CultureInfo.CurrentCulture;
        try
        {
            CultureInfo.CurrentCulture = CultureInfo.GetCultureInfo(culture);
            Assert.Equal(expected, Draw());
        }
        finally
        {
            CultureInfo.CurrentCulture = before;
        }
    }

    [Theory]
    [InlineData(double.NaN)]
    [InlineData(double.PositiveInfinity)]
    public void WhatIsNoNumberIsNotDrawn(double value) =>
        Assert.Throws<ArgumentOutOfRangeException>(() => new Svg("a", 1, 1, "t", "d").Rect(value, 0, 1, 1, "bar"));

    [Theory]
    [InlineData(0, 1)]
    [InlineData(0.13, 0.15)]
    [InlineData(2.1, 3)]
    [InlineData(1, 1)]
    [InlineData(97, 100)]
    public void AxesEndAtRoundNumbers(double value, double end) => Assert.Equal(end, Scale.RoundUp(value), 12);

    [Fact]
    public void TicksLieWithinTheScale() =>
        Gen.Double[1e-3, 1e4]
            .Sample(most =>
            {
                var scale = new Scale(0, Scale.RoundUp(most), 10, 300);
                var ticks = scale.Ticks(4).ToList();
                Assert.InRange(ticks.Count, 2, 5);
                Assert.All(ticks, t => Assert.InRange(scale.Position(t), 10, 300 + 1e-6));
                Assert.DoesNotContain(ticks, double.IsNegative);
            });

    private static void Near(double expected, double actual, double within = HalfAPixel) =>
        Assert.InRange(actual, expected - within, expected + within);

    private static double Number(IElement element, string name) =>
        double.Parse(element.GetAttribute(name)!, CultureInfo.InvariantCulture);

    private static IElement Parse(object svg) =>
        new HtmlParser().ParseDocument($"<body>{svg}</body>").QuerySelector("svg")!;
}
