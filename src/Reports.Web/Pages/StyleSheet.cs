using System.Security.Cryptography;
using System.Text;
using System.Text.RegularExpressions;

namespace Reports.Web.Pages;

/// <summary>
/// The style sheet, written into each page: who comes for the first time waits for one answer, not for two one after the other
/// (docs/decisions/0011). It is part of the program, so a page with another sheet has another stamp.
/// </summary>
public static partial class StyleSheet
{
    /// <summary>What stands between the style tags: the sheet without its comments and indentation.</summary>
    public static string Text { get; } = Read();

    /// <summary>The content policy's word for exactly this text (CSP level 3, section 2.3.1).</summary>
    public static string Source { get; } =
        $"'sha256-{Convert.ToBase64String(SHA256.HashData(Encoding.UTF8.GetBytes(Text)))}'";

    private static string Read()
    {
        using var sheet = typeof(StyleSheet).Assembly.GetManifestResourceStream("site.css")!;
        using var reader = new StreamReader(sheet);
        return NotForBrowsers().Replace(reader.ReadToEnd().ReplaceLineEndings("\n"), "");
    }

    [GeneratedRegex(@"/\*.*?\*/|^\s+", RegexOptions.Singleline | RegexOptions.Multiline)]
    private static partial Regex NotForBrowsers();
}
