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
    public void EachDotIsAnAnglerInTheColumnOfItsFish() =>
        Gen.Select(Gen.Double[-4, 2], Gen.Double[-1, 3], Gen.Double[-1.5, 3])
            .Sample(
                (mean, shape, k) =>
                {
                    var angler = new FishPerAngler(Math.Exp(mean), Math.Exp(shape), Math.Exp(k));
                    var chart = FishChart.Draw(angler, "a trip of a day", "a test", "/x.csv");
                    var columns = FishChart.Columns(FishChart.Anglers(angler, FishChart.ManyDots)[^1]);
                    Assert.InRange(columns.Count, 1, 8);
                    Assert.Equal(columns.Count, chart.Rows.Count);
                    foreach (var (drawing, dots, cell) in new[] { (chart.Drawing, 20, 1), (chart.Wide!, 50, 2) })
                    {
                        var circles = Parse(drawing).QuerySelectorAll("circle");
                        Assert.Equal(dots, circles.Length);
                        Assert.Equal(dots, chart.Rows.Sum(r => int.Parse(r[cell], CultureInfo.InvariantCulture)));
                        var places = circles.Select(c => (X: Number(c, "cx"), Y: Number(c, "cy"))).ToList();
                        Assert.All(
                            places,
                            p => Assert.InRange(p.Y, 0, Number(Parse(drawing).QuerySelector("line.axis")!, "y1"))
                        );
                        var radius = Number(circles[0], "r");
                        for (var i = 0; i < places.Count; i++)
                        {
                            Assert.All(
                                places.Skip(i + 1),
                                p =>
                                    Assert.True(
                                        Math.Max(Math.Abs(p.X - places[i].X), Math.Abs(p.Y - places[i].Y)) > 2 * radius
                                    )
                            );
                        }

                        var read = places
                            .Select(p => (int)Math.Floor((p.X - FishChart.Left) / FishChart.ColumnWidth))
                            .ToList();
                        for (var c = 0; c < columns.Count; c++)
                        {
                            Assert.Equal(
                                read.Count(r => r == c).ToString(CultureInfo.InvariantCulture),
                                chart.Rows[c][cell]
                            );
                        }

                        // The dots of an n are the shares of the law to half a dot.
                        Near(angler.Probability(0) * dots, read.Count(r => r == 0));
                        Assert.Equal(
                            circles.Length - read.Count(r => r == 0),
                            Parse(drawing).QuerySelectorAll(".angler-fish").Length
                        );
                    }
                },
                iter: 150
            );

    [Fact]
    public void DotsAreTheQuantilesAndTheSampleHasTheOddsThatItSays()
    {
        var angler = SampleBrief.Good(Fleet.Bank, "SBF").CatchRate!.Angler!;
        Assert.Equal(0.61, angler.AtLeast(1), 2);
        foreach (var dots in new[] { FishChart.FewDots, FishChart.ManyDots })
        {
            Assert.Equal(
                Enumerable.Range(0, dots).Select(i => angler.Quantile((i + 0.5) / dots)),
                FishChart.Anglers(angler, dots)
            );
        }
    }

    [Theory]
    [InlineData(new[] { 0, 0, 0, 0, 0, 0, 0, 0, 0, 0 }, 0.02, "More than 9 in 10 anglers land none")]
    [InlineData(
        new[] { 0, 0, 0, 0, 0, 0, 0, 0, 0, 3 },
        0.1,
        "About 9 in 10 anglers land none, one in ten lands 3 or more"
    )]
    [InlineData(
        new[] { 0, 1, 1, 2, 2, 3, 3, 4, 5, 7 },
        0.9,
        "Half of the anglers land 2 or fewer, one in ten lands 7 or more"
    )]
    [InlineData(new[] { 2, 2, 2, 2, 2, 2, 2, 2, 2, 2 }, 1, "Half of the anglers land 2 or more")]
    public void TheFindingSaysTheMiddleAndTheLuckiest(int[] anglers, double atLeastOne, string finding) =>
        Assert.Equal(finding, FishChart.Finding(anglers, atLeastOne));

    [Theory]
    [InlineData(0, 1)]
    [InlineData(7, 8)]
    [InlineData(8, 5)] // none and twos up to 8
    [InlineData(30, 7)] // none and fives up to 30
    public void ColumnsAreFewAndHoldAll(int most, int columns)
    {
        var found = FishChart.Columns(most);
        Assert.Equal(columns, found.Count);
        Assert.Equal(
            Enumerable.Range(0, most + 1),
            found.SelectMany(c => Enumerable.Range(c.From, c.To - c.From + 1)).Take(most + 1)
        );
    }

    [Theory]
    [InlineData(LengthUnit.In)]
    [InlineData(LengthUnit.Cm)]
    public void BaitAndHooksStandWhereTheirLengthsAre(LengthUnit unit)
    {
        var brief = SampleBrief.Good(Fleet.Bank, "SBF");
        var chart = BaitChart.Draw(brief.Bait, brief.Rigs, brief.OutfitSets[1], unit, "a test", "/x.csv")!;
        var svg = Parse(chart.Drawing);

        var across = BaitChart.Across(unit);
        double At(double mm) => across.Position(Length.FromMillimetres((int)mm, unit));
        var band = svg.QuerySelector("rect.band")!;
        Near(At(97), Number(band, "x"));
        Near(At(132), Number(band, "x") + Number(band, "width"));
        Near(At(114), Number(svg.QuerySelector("line.bait-middle")!, "x1"));

        // Circles in use: 2 and 1/0; advised: 1/0 and 2/0; J in use: 5/0. By the table, two steps about its centre: a 2 (-1) goes
        // with centres of -3 to 1, that is up to 178 mm; a 1/0 (1) with -1 to 3: 138 (137.2 by the line from 127 to 178) to 229 mm; a
        // 2/0 (2) with 0 to 4: 158 to 259 mm; a 5/0 (5) with 3 to 7: from 229 mm on.
        Assert.Equal(
            ["size 2 circle", "1/0 circle, advised", "2/0 circle, advised", "5/0 J hook"],
            chart.Rows.Select(r => r[0])
        );
        var bars = svg.QuerySelectorAll("rect.bar, rect.reach").ToList();
        (double From, double To)[] expected = [(50, 178), (138, 229), (158, 259), (229, 310)];
        foreach (var (bar, (from, to)) in bars.Zip(expected))
        {
            Near(At(from), Number(bar, "x"));
            Near(At(to), Number(bar, "x") + Number(bar, "width"));
        }

        Assert.Equal(
            ["goes with it", "for larger bait", "for larger bait", "for larger bait"],
            chart.Rows.Select(r => r[2])
        );
        Assert.StartsWith("The middle bait, ", chart.Finding, StringComparison.Ordinal);
        Assert.EndsWith("goes with the size 2 circle", chart.Finding, StringComparison.Ordinal);
        // Where an outfit tells the bait of its hooks, that stands for the hooks advised.
        var told = brief.OutfitSets[0][0] with
        {
            HooksByBait = [new(114, -1), new(152, 1), new(null, 2)],
        };
        Assert.Equal(
            [
                (-1, (50, 114), "goes with it"),
                (1, (115, 152), "for larger bait"),
                (2, (153, 310), "for larger bait"),
                (5, (229, 310), "for larger bait"),
            ],
            BaitChart.Hooks(brief.Rigs, [told]).Select(h => (h.Step, h.Bait!.Value, BaitChart.Fit(h, brief.Bait!)))
        );
        Assert.Null(BaitChart.Draw(null, brief.Rigs, [], unit, "a test", "/x.csv"));
        Assert.Null(BaitChart.Draw(brief.Bait, [], [], unit, "a test", "/x.csv"));
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
