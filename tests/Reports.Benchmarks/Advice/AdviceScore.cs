using Reports.Domain.Briefs;

namespace Reports.Benchmarks.Advice;

/// <summary>
/// Sets of outfits from evidence: item k - 1 is the set of k. Fewer sets than asked for: the largest serves. None at all: the
/// angler falls back on habit, and it is counted.
/// </summary>
internal delegate IReadOnlyList<IReadOnlyList<Outfit>> Advisor(Evidence evidence);

/// <summary>What an advisor says.</summary>
/// <param name="BaitSeenAs">
/// Its angler ties on the hook that the advice has for the bait that he sees: the true length times each of these, as often. None: he keeps the hooks printed.
/// </param>
internal readonly record struct Counsel(
    string Name,
    IReadOnlyList<IReadOnlyList<Outfit>> Sets,
    params IReadOnlyList<double> BaitSeenAs
);

/// <summary>Fish that a season's advice gave against the oracle's, who knows every boat-day's best single rig beforehand.</summary>
internal sealed class AdviceScore(SimulatedFleet fleet)
{
    public const int MostOutfits = 3;
    private readonly Dictionary<string, double[]> finder = [];
    private readonly Dictionary<string, double[]> follower = [];
    private double oracle;

    public int Silent { get; private set; }

    /// <summary>What the briefs said of their evidence.</summary>
    public List<Strength> Strengths { get; } = [];

    /// <summary>In the order of their first advice.</summary>
    public IEnumerable<string> Advisors => finder.Keys;

    public double FinderShare(string advisor, int outfits) => finder[advisor][outfits - 1] / oracle;

    public double FollowerShare(string advisor, int outfits) => follower[advisor][outfits - 1] / oracle;

    /// <summary>Scores a week's advice on the boat-days of the zone that follow.</summary>
    public void Add(
        IReadOnlyList<BoatDay> days,
        IEnumerable<Counsel> advice,
        IReadOnlyList<IReadOnlyList<Outfit>> habit
    )
    {
        foreach (var day in days)
        {
            oracle += Rig.All.Max(rig => Angler.Landed(fleet, rig, day));
        }

        foreach (var (name, given, seenAs) in advice)
        {
            Silent += given.Count == 0 ? 1 : 0;
            var sets = given.Count == 0 ? habit : given;
            var (found, followed) = (Sums(finder, name), Sums(follower, name));
            for (var k = 1; k <= MostOutfits; k++)
            {
                var set = sets[Math.Min(k, sets.Count) - 1];
                IReadOnlyList<IReadOnlyList<Outfit>> On(BoatDay day) =>
                    seenAs.Count == 0 ? [set] : [.. seenAs.Select(factor => Angler.ByBait(set, factor * day.BaitMm))];
                found[k - 1] += days.Sum(day => On(day).Average(tied => Angler.Finder(fleet, tied, day)));
                followed[k - 1] += days.Sum(day => On(day).Average(tied => Angler.RuleFollower(fleet, tied, day)));
            }
        }
    }

    /// <summary>
    /// The best set for a finder on given boat-days, chosen greedily, one rig after another. Of the week to come: what no
    /// advice can beat. Of the day asked about: what the best advice could know.
    /// </summary>
    /// <param name="slots">The rigs to choose the first, second, third from; the last holds for the rest.</param>
    public IReadOnlyList<Rig> Best(IReadOnlyList<BoatDay> days, params IReadOnlyList<IReadOnlyList<Rig>> slots)
    {
        var best = new double[days.Count];
        var rigs = new List<Rig>();
        foreach (var slot in Enumerable.Range(0, MostOutfits).Select(k => slots[Math.Min(k, slots.Count - 1)]))
        {
            var (rig, landed) = slot.Select(rig =>
                    (Rig: rig, Landed: days.Select(day => Angler.Landed(fleet, rig, day)).ToArray())
                )
                .MaxBy(v => v.Landed.Select((x, i) => Math.Max(x, best[i])).Sum());
            rigs.Add(rig);
            best = [.. best.Select((x, i) => Math.Max(x, landed[i]))];
        }

        return rigs;
    }

    private static double[] Sums(Dictionary<string, double[]> of, string name) =>
        of.TryGetValue(name, out var sums) ? sums : of[name] = new double[MostOutfits];
}
