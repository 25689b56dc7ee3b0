using System.Net;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Pages;

/// <summary>The sheet at true scale and the list of what to take along.</summary>
public sealed class GaugeAndPackTests(PageCoast coast) : IClassFixture<PageCoast>
{
    private const string Pack = $"/pack?zone={Fleet.Bank}&species=SBF";

    [Fact]
    public async Task TheGaugeIsDrawnInMillimetresWithTheBaitAndOnlyMeasuredGaps()
    {
        var page = await coast.Http.PageAsync($"/gauge?zone={Fleet.Bank}&species=SBF");

        var drawings = page.QuerySelectorAll(".true-scale svg");
        Assert.Equal(4, drawings.Length); // card, rulers, bait, the one gap that is measured
        foreach (var svg in drawings)
        {
            var box = svg.GetAttribute("viewBox")!.Split(' ');
            Assert.Equal(box[2] + "mm", svg.GetAttribute("width"));
            Assert.Equal(box[3] + "mm", svg.GetAttribute("height"));
        }

        // ISO/IEC 7810, ID-1, from memory.
        Assert.Equal("85.6", page.One(".outline").GetAttribute("width"));
        Assert.Equal("53.98", page.One(".outline").GetAttribute("height"));
        var bait = page.QuerySelectorAll(".true-scale svg")[2].QuerySelector(".bait-range")!;
        Assert.Equal("35", bait.GetAttribute("width")); // 132 - 97 mm of the sample
        Assert.Contains("gap 12 mm as measured", page.Words(), StringComparison.Ordinal);
        Assert.Contains("nobody measured its gap", page.Words(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task TheGaugeServesWithoutAChoiceAndRefusesAnUnknownOne()
    {
        Assert.Equal(2, (await coast.Http.PageAsync("/gauge")).QuerySelectorAll(".true-scale svg").Length);
        await coast.Http.PageAsync("/gauge?zone=nowhere&species=SBF", HttpStatusCode.NotFound);
        var closed = await coast.Http.PageAsync($"/gauge?zone={Fleet.Bank}&species=YTC");
        Assert.Contains("No tackle is advised", closed.Words(), StringComparison.Ordinal);
        Assert.DoesNotContain("Hooks advised", closed.Words(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task ThePackListSaysWhatServesAndWhatIsMissing()
    {
        var page = await coast.Http.PageAsync(Pack + "&days=2&outfits=3&own=30&own=60&own=12");

        var cards = page.QuerySelectorAll(".outfit");
        Assert.Equal(3, cards.Length);
        Assert.Contains("Yours serves.", cards[0].TextContent, StringComparison.Ordinal);
        Assert.Contains("Missing.", cards[1].TextContent, StringComparison.Ordinal); // 80 lb
        Assert.Contains("Your 60 lb serves, one step heavier.", cards[2].TextContent, StringComparison.Ordinal);
        Assert.Contains("Leave at home: 12 lb.", page.Words(), StringComparison.Ordinal);
        Assert.Contains("For 2 days", page.Words(), StringComparison.Ordinal);
        Assert.Contains("check the current ones with the authority", page.Words(), StringComparison.Ordinal);
        Assert.Equal(5, page.QuerySelectorAll("input[checked]").Length);
        var metric = page.One(".switch a").GetAttribute("href");
        Assert.Equal(Pack + "&days=2&outfits=3&own=30&own=60&own=12&units=kg", metric);
    }

    [Theory]
    [InlineData("&days=0", "Days: a number from 0.5 to 21")]
    [InlineData("&days=1e3", "Days: a number from 0.5 to 21")]
    [InlineData("&outfits=6", "Outfits: a whole number from 1 to 5")]
    [InlineData("&own=31", "The address names something that is not known here")]
    public async Task WhatCantBePackedIsToldAndTheAnswersKept(string more, string told)
    {
        var page = await coast.Http.PageAsync(Pack + more);

        Assert.StartsWith("Error: ", page.Title, StringComparison.Ordinal);
        Assert.Contains(told, page.Words("[role=alert]"), StringComparison.Ordinal);
        Assert.True(page.One($"input[value={Fleet.Bank}]").HasAttribute("checked"));
        Assert.Empty(page.QuerySelectorAll(".outfit"));
    }

    [Fact]
    public async Task WithNothingToAdviseThePackListSaysSo()
    {
        Assert.Empty((await coast.Http.PageAsync("/pack")).QuerySelectorAll(".outfit"));
        var page = await coast.Http.PageAsync($"/pack?zone={Fleet.Bank}&species=DOL&species=YTC");

        Assert.Empty(page.QuerySelectorAll(".outfit"));
        Assert.Contains("No outfit can be advised for this trip", page.Words(), StringComparison.Ordinal);
        Assert.Contains("Closed from 1 November", page.Words(), StringComparison.Ordinal);
    }
}
