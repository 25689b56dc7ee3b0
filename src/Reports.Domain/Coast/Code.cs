using System.Text.RegularExpressions;

namespace Reports.Domain.Coast;

/// <summary>Codes: what landings, boats and zones are called in an address, and FAO 3-alpha species codes.</summary>
public static partial class Code
{
    public const int MaxLength = 40;

    public const string Accepted =
        "lower-case letters, digits and single hyphens, starting with a letter, at most 40 characters, such as \"grey-petrel\"";

    public const string AcceptedSpecies = "an FAO ASFIS 3-alpha code in capitals, such as \"SBF\"";

    public static bool IsSlug(string text) => text.Length <= MaxLength && Slug().IsMatch(text);

    public static bool IsSpecies(string text) => Alpha3().IsMatch(text);

    [GeneratedRegex(@"^[a-z][a-z0-9]*(?:-[a-z0-9]+)*\z", RegexOptions.CultureInvariant)]
    private static partial Regex Slug();

    [GeneratedRegex(@"^[A-Z0-9]{3}\z", RegexOptions.CultureInvariant)]
    private static partial Regex Alpha3();

    /// <summary>The known codes nearest to a mistyped one, for a message; none when nothing is near.</summary>
    public static IReadOnlyList<string> Near(string wrong, IEnumerable<string> known) =>
        [
            .. known
                .Select(k => (Code: k, Distance: EditDistance(wrong.ToLowerInvariant(), k.ToLowerInvariant())))
                .Where(k => k.Distance <= Math.Max(1, Math.Min(k.Code.Length, wrong.Length) / 3))
                .OrderBy(k => k.Distance)
                .ThenBy(k => k.Code, StringComparer.Ordinal)
                .Take(3)
                .Select(k => k.Code),
        ];

    // Damerau-Levenshtein, optimal string alignment: two neighbouring letters swapped count as one slip.
    private static int EditDistance(string a, string b)
    {
        if (Math.Abs(a.Length - b.Length) > 20)
        {
            return int.MaxValue;
        }

        var d = new int[a.Length + 1, b.Length + 1];
        for (var i = 0; i <= a.Length; i++)
        {
            d[i, 0] = i;
        }

        for (var j = 0; j <= b.Length; j++)
        {
            d[0, j] = j;
        }

        for (var i = 1; i <= a.Length; i++)
        {
            for (var j = 1; j <= b.Length; j++)
            {
                var change = a[i - 1] == b[j - 1] ? 0 : 1;
                d[i, j] = Math.Min(Math.Min(d[i - 1, j] + 1, d[i, j - 1] + 1), d[i - 1, j - 1] + change);
                if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                {
                    d[i, j] = Math.Min(d[i, j], d[i - 2, j - 2] + 1);
                }
            }
        }

        return d[a.Length, b.Length];
    }
}
