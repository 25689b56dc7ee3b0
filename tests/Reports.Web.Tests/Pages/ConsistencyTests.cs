using System.Globalization;
using System.Text.RegularExpressions;
using Reports.Domain.Briefs;
using Reports.Domain.Measures;
using Reports.Web.Pages;
using Reports.Web.Pages.Shared.Charts;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Pages;

/// <summary>
/// Over 10,000 briefs of every kind: the sentence, the numbers in words, the drawing and the table say the same of one figure, no
/// wording is surer than its range, and one is never many.
/// </summary>
public sealed partial class ConsistencyTests
{
    private const int Briefs = 10_000;
    private const double Rounding = 1e-9;

    [Fact]
    public void WordsDrawingsAndTablesNeverDisagree() =>
        Parallel.For(
            0,
            Briefs,
            seed =>
            {
                var brief = RandomBrief.Of(seed);
                var unit = seed % 2 == 0 ? WeightUnit.Lb : WeightUnit.Kg;
                try
                {
                    Check(brief, unit);
                }
                catch (Exception e)
                {
                    throw new InvalidOperationException($"Brief {seed} in {unit}: {e.Message}", e);
                }
            }
        );

    private static void Check(Brief brief, WeightUnit unit)
    {
        var verdict = Verdict.Of(brief, "Cannery Bank", "bluefin", unit);
        var said = new List<string> { verdict, Say.Count(brief.Evidence) };
        if (brief.ClosedNotice is not null || brief.CatchRate is not { } rate)
        {
            Assert.DoesNotMatch(@"\d in 10", verdict);
            SoundWords(said);
            return;
        }

        if (rate.PerAngler.Mean <= 0)
        {
            Assert.Contains("nobody got a bluefin", verdict, StringComparison.Ordinal);
        }
        else if (rate.AtLeastOne is { } odds)
        {
            Odds(odds, rate.Angler!, verdict, said);
        }

        Spread(rate.PerAngler, said);
        Assert.Equal(rate.Trend == Trend.Up, verdict.Contains("up on the week", StringComparison.Ordinal));
        Assert.Equal(rate.Trend == Trend.Down, verdict.Contains("down on the week", StringComparison.Ordinal));
        var days = DayChart.Draw(brief.Days, rate, "a test", Fleet.Today, "/x.csv");
        said.Add(days.Finding);
        Assert.StartsWith("Catches: " + Say.Heading(rate.Trend), days.Finding, StringComparison.Ordinal);
        if (brief.Size is { } size)
        {
            Sizes(brief, size, unit, verdict, said);
        }

        Rigs(brief.Rigs, unit, said);
        foreach (var set in brief.OutfitSets)
        {
            Bring(set, unit, said);
        }

        SoundWords(said);
    }

    /// <summary>The sentence names the first outfit's line, and each outfit's hook once, in the order of the cards.</summary>
    private static void Bring(IReadOnlyList<Outfit> set, WeightUnit unit, List<string> said)
    {
        var words = Say.Bring(set, unit);
        said.Add(words);
        Assert.StartsWith("Tie on " + Say.Line(set[0].RungLb, unit), words, StringComparison.Ordinal);
        var from = 0;
        foreach (var outfit in set)
        {
            var hook = Say.Hook(outfit.HookStyle, outfit.HookStep);
            from = words.IndexOf(hook, from, StringComparison.Ordinal);
            Assert.True(from >= 0, $"{hook} in {words}");
            from += hook.Length;
        }

        Assert.All(
            set.Select(o => o.RungLb).Distinct(),
            rung => Assert.Contains(Say.Line(rung, unit), words, StringComparison.Ordinal)
        );
    }

    private static void Odds(Share odds, FishPerAngler angler, string verdict, List<string> said)
    {
        var words = Say.InTen(odds, "anglers");
        said.Add(words);
        var tens = Tens(words);
        var (low, high) = Ends(words);

        // Outwards: the range said holds the range computed, and its middle.
        Assert.InRange(odds.Low, (low / 10.0) - Rounding, 1);
        Assert.InRange(odds.High, 0, (high / 10.0) + Rounding);
        Assert.InRange(tens, low, high);
        Assert.Equal(tens, Tens(verdict));
        Assert.Equal(10, tens + Tens(Say.OthersInTen(odds.Mean)));
        var drawn = OddsDots.Draw("o", odds).ToString();
        Assert.Equal(tens, Count(drawn, "angler-fish"));
        Assert.Equal(10 - tens, Count(drawn, "angler-blank"));

        var chart = FishChart.Draw(angler, "a trip of a day", "a test", "/x.csv");
        said.Add(chart.Finding);
        if (chart.Finding.Contains("land none", StringComparison.Ordinal))
        {
            Assert.Equal(10, tens + Tens(chart.Finding));
        }

        foreach (var (drawing, dots, cell) in new[] { (chart.Drawing, 20, 1), (chart.Wide!, 50, 2) })
        {
            var text = drawing.ToString();
            var with = Count(text, "angler-fish");
            Assert.Equal(dots, with + Count(text, "angler-blank"));
            Assert.Equal((dots - with).ToString(CultureInfo.InvariantCulture), chart.Rows[0][cell]);

            // Half an angler of ten of rounding in the words, half a dot in the drawing.
            Assert.InRange(10.0 * with / dots, tens - 0.5 - (5.0 / dots) - 0.001, tens + 0.5 + (5.0 / dots) + 0.001);
        }
    }

    private static void Spread(Rate rate, List<string> said)
    {
        var words = Say.Spread(rate);
        said.Add(words);
        var numbers = Numbers()
            .Matches(words)
            .Select(m => double.Parse(m.Value, CultureInfo.InvariantCulture))
            .ToList();
        var (mean, low, high) = (numbers[0], numbers[1], numbers[2]);
        Assert.InRange(mean, low, high);
        Assert.InRange(rate.Low, low - Rounding, double.MaxValue);
        Assert.InRange(rate.High, 0, high + Rounding);
        Assert.InRange(mean, rate.Mean - 0.05 - Rounding, rate.Mean + 0.05 + Rounding);
    }

    private static void Sizes(Brief brief, SizePicture size, WeightUnit unit, string verdict, List<string> said)
    {
        var table = unit == WeightUnit.Kg ? size.Kg : size.Lb;
        var half = Say.Weights(size.Quantiles.P25, size.Quantiles.P75, unit);
        var chart = SizeChart.Draw(size, [], unit, "a test", "/x.csv");
        said.Add(chart.Finding);
        Assert.Contains($"Half of the fish weigh {half};", chart.Finding, StringComparison.Ordinal);
        var ends = Numbers().Matches(half).Select(m => double.Parse(m.Value, CultureInfo.InvariantCulture)).ToList();
        Assert.InRange(Weight.FromGrams(size.Quantiles.P25, unit), ends[0] - 0.01, double.MaxValue);
        Assert.InRange(Weight.FromGrams(size.Quantiles.P75, unit), 0, ends[^1] + 0.01);
        if (brief.CatchRate!.PerAngler.Mean > 0)
        {
            Assert.Contains($"mostly {half}", verdict, StringComparison.Ordinal);
        }

        foreach (var over in table.Over)
        {
            var (hundred, tens) = (Say.HundredCell(over.Fish), Say.TenCell(over.BoatDays));
            said.AddRange([hundred, tens]);
            var (low, high) = Ends(hundred);
            Assert.InRange(over.Fish.Low, (low / 100.0) - Rounding, 1);
            Assert.InRange(over.Fish.High, 0, (high / 100.0) + Rounding);
            if (Heavy().Match(verdict) is { Success: true } heavy && heavy.Groups["weight"].Value == $"{over.Weight}")
            {
                Assert.Equal(Say.OfTen(over.BoatDays.Mean), Tens(heavy.Value));
            }
        }
    }

    private static void Rigs(IReadOnlyList<RigRecord> rigs, WeightUnit unit, List<string> said)
    {
        var chart = RigCharts.Wins(rigs, unit, "a test", "/x.csv");
        said.Add(chart.Finding);
        said.AddRange(chart.Rows.SelectMany(r => r.Skip(1)));
        foreach (var (rig, row) in rigs.Zip(chart.Rows))
        {
            Assert.Equal(Say.Plural(rig.Reports, "trip"), row[1]);
            if (rig.Wins is { } wins)
            {
                Assert.Equal(Say.OfHundred(wins, "trips"), row[2]);
                Assert.InRange(wins.Mean, wins.Low, wins.High);
            }
        }

        var known = rigs.Where(r => r.Wins is not null).OrderByDescending(r => r.Wins!.Mean).ToList();
        if (known.Count > 1)
        {
            Assert.Equal(
                known[0].WinsClear,
                !chart.Finding.StartsWith("No clear difference", StringComparison.Ordinal)
            );
        }
    }

    /// <summary>One is never many and many never one; no number is none, and none has a sign.</summary>
    private static void SoundWords(List<string> said)
    {
        foreach (var words in said)
        {
            Assert.DoesNotMatch(ManyOfOne(), words);
            Assert.DoesNotMatch(OneOfMany(), words);
            Assert.DoesNotContain("NaN", words, StringComparison.Ordinal);
            Assert.DoesNotContain("-0", words, StringComparison.Ordinal);
            Assert.DoesNotContain("only fewer", words, StringComparison.Ordinal);
            Assert.DoesNotContain("  ", words, StringComparison.Ordinal);
        }
    }

    private static int Tens(string words)
    {
        var match = InTen().Match(words.ToLowerInvariant());
        Assert.True(match.Success, words);
        return match.Groups["how"].Value switch
        {
            "fewer than " => 0,
            "more than " => 10,
            _ => int.Parse(match.Groups["k"].Value, CultureInfo.InvariantCulture),
        };
    }

    private static (int Low, int High) Ends(string words)
    {
        var match = Likely().Match(words);
        Assert.True(match.Success, words);
        var low = int.Parse(match.Groups["low"].Value, CultureInfo.InvariantCulture);
        return (
            low,
            match.Groups["high"] is { Success: true, Value: var high }
                ? int.Parse(high, CultureInfo.InvariantCulture)
                : low
        );
    }

    private static int Count(string text, string look) => Regex.Count(text, $"class=\"{look}\"");

    [GeneratedRegex(@"(?<how>fewer than |more than |)(?<k>\d+) in 10")]
    private static partial Regex InTen();

    [GeneratedRegex(@"likely (?<low>\d+)(?: to (?<high>\d+))?")]
    private static partial Regex Likely();

    [GeneratedRegex(@"\d+(?:\.\d+)?")]
    private static partial Regex Numbers();

    [GeneratedRegex(
        @"(?:fewer than |more than |about )\d+ in 10 boat trips landed one of (?<weight>\d+) ",
        RegexOptions.IgnoreCase
    )]
    private static partial Regex Heavy();

    [GeneratedRegex(@"(?<![\d.])1 (?:boat )?(?:trips|reports|boats|days|hours|outfits|anglers)\b")]
    private static partial Regex ManyOfOne();

    [GeneratedRegex(
        @"(?:(?<![\d.])(?:[02-9]|\d\d+)|\d\.\d+) (?:boat )?(?:trip|report|boat|day|hour|outfit|angler)\b(?! trip)"
    )]
    private static partial Regex OneOfMany();
}
