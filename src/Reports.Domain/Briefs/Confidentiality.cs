namespace Reports.Domain.Briefs;

/// <summary>
/// The rule of three: no public figure rests on fewer than three boats (a fisheries confidentiality rule: fewer than three
/// vessels is withheld).
/// </summary>
internal static class Confidentiality
{
    public const int FewestBoats = 3;

    /// <summary>
    /// Which cells of a table may be shown: those of three boats, less the smallest of them while the hidden ones together
    /// rest on fewer than three, for then the total minus the shown cells would give a boat away.
    /// </summary>
    /// <param name="boats">The boats behind each cell; an empty cell has nothing to hide and is shown.</param>
    public static bool[] Shown(IReadOnlyList<IReadOnlySet<string>> boats)
    {
        var shown = boats.Select(b => b.Count is 0 or >= FewestBoats).ToArray();
        while (true)
        {
            var hidden = boats.Where((_, i) => !shown[i]).SelectMany(b => b).ToHashSet(StringComparer.Ordinal);
            var smallest = Enumerable
                .Range(0, shown.Length)
                .Where(i => shown[i] && boats[i].Count > 0)
                .OrderBy(i => boats[i].Count)
                .Select(i => (int?)i)
                .FirstOrDefault();
            if (hidden.Count is 0 or >= FewestBoats || smallest is not { } next)
            {
                return shown;
            }

            shown[next] = false;
        }
    }
}
