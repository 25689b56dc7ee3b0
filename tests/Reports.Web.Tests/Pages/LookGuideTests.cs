using System.Text.RegularExpressions;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Pages;

/// <summary>The written guide to the look and the style sheet say the same.</summary>
public sealed partial class LookGuideTests
{
    private static readonly string Sheet = Read("src/Reports.Web/Pages/site.css");
    private static readonly string Guide = Read("docs/look.md");

    [Fact]
    public void TheGuideNamesTheTokensOfTheSheetWithTheirValues()
    {
        var light = Tokens(Sheet.IndexOf(":root {", StringComparison.Ordinal));
        var dark = Tokens(Sheet.IndexOf("@media (prefers-color-scheme: dark)", StringComparison.Ordinal));
        var paper = Tokens(Sheet.LastIndexOf(":root {", StringComparison.Ordinal));
        var rows = Row()
            .Matches(Guide)
            .ToDictionary(
                m => m.Groups["name"].Value,
                m => Value().Matches(m.Groups["values"].Value).Select(v => v.Groups[1].Value).ToList()
            );

        Assert.Equal(light.Keys.Order(), rows.Keys.Order());
        Assert.Equal(dark.Keys.Order(), paper.Keys.Order());
        foreach (var (name, values) in rows)
        {
            string[] expected = dark.TryGetValue(name, out var night)
                ? [light[name], night, paper[name]]
                : [light[name]];
            Assert.Equal(expected, values);
        }
    }

    [Fact]
    public void EveryTokenIsUsedAndNoColourStandsOutsideOfThem()
    {
        var names = Declared().Matches(Sheet).Select(m => m.Groups["name"].Value).ToHashSet();
        Assert.Equal(names.Order(), Used().Matches(Sheet).Select(m => m.Groups[1].Value).Distinct().Order());
        Assert.Empty(
            Sheet.Split('\n').Where(line => Colour().IsMatch(line) && !Declared().IsMatch(line)).Select(l => l.Trim())
        );
    }

    /// <summary>What is declared from a place to the end of that block.</summary>
    private static Dictionary<string, string> Tokens(int from)
    {
        Assert.True(from >= 0);
        return Declared()
            .Matches(Sheet[from..Sheet.IndexOf('}', from)])
            .ToDictionary(m => m.Groups["name"].Value, m => m.Groups["value"].Value);
    }

    private static string Read(string path) => File.ReadAllText(Path.Combine(Repository.Root, path));

    [GeneratedRegex(@"^\s*--(?<name>[a-z0-9-]+):\s*(?<value>[^;]+);", RegexOptions.Multiline)]
    private static partial Regex Declared();

    [GeneratedRegex(@"var\(--([a-z0-9-]+)\)")]
    private static partial Regex Used();

    [GeneratedRegex(@":[^;]*(#[0-9a-f]{3,8}\b|rgb|hsl)", RegexOptions.IgnoreCase)]
    private static partial Regex Colour();

    [GeneratedRegex(@"^\| `--(?<name>[a-z0-9-]+)` \|[^|]*\|(?<values>.*)\|$", RegexOptions.Multiline)]
    private static partial Regex Row();

    [GeneratedRegex("`([^`]+)`")]
    private static partial Regex Value();
}
