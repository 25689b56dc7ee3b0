using Reports.Domain.Briefs;

namespace Reports.Benchmarks.Advice;

/// <summary>What an average rod lands on a boat-day with a set of outfits, in expectation.</summary>
internal static class Angler
{
    private const int Spells = 2;

    public static Rig RigOf(Outfit outfit) => new(outfit.Technique, outfit.RungLb, outfit.HookStyle, outfit.HookStep);

    public static double Landed(SimulatedFleet fleet, Rig rig, BoatDay day)
    {
        var (hooked, held) = fleet.Expect(rig, day);
        return hooked * held;
    }

    /// <summary>Always fishes the best of the set that day.</summary>
    public static double Finder(SimulatedFleet fleet, IReadOnlyList<Outfit> set, BoatDay day) =>
        set.Max(outfit => Landed(fleet, RigOf(outfit), day));

    /// <summary>A set with the hooks that its brief has for bait of this length, which an angler sees at the dock.</summary>
    public static IReadOnlyList<Outfit> ByBait(IReadOnlyList<Outfit> set, double baitMm) =>
        [.. set.Select(o => o with { HookStep = o.HookFor(baitMm) })];

    /// <summary>
    /// Starts with the first outfit and looks back at half of the day. Landed a fish: stays. Hooked and lost every
    /// one: to the outfit that the brief names for fish that are too much. Not bit though others are, which is judged by
    /// whether any of ten rods on the first outfit was: to the outfit of the set with the next lighter line; where there is
    /// none, a lighter leader as the brief says; where it says none, the outfit next in order. Nobody bit: stays.
    /// </summary>
    public static double RuleFollower(SimulatedFleet fleet, IReadOnlyList<Outfit> set, BoatDay day)
    {
        // Beside the outfits, each once with the lighter leader.
        var rigs = set.Select(RigOf).Concat(set.Select(o => RigOf(o) with { RungLb = o.IfNotBitRungLb ?? o.RungLb }));
        var expected = rigs.Select(rig => fleet.Expect(rig, day))
            .Select(e => (Hooked: e.Hooked / Spells, e.Held))
            .ToList();
        var othersBit = 1 - Math.Exp(-10 * expected[0].Hooked);
        var at = new double[expected.Count];
        at[0] = 1;
        var landed = 0.0;
        for (var spell = 0; spell < Spells; spell++)
        {
            var next = new double[at.Length];
            for (var i = 0; i < at.Length; i++)
            {
                var (hooked, held) = expected[i];
                landed += at[i] * hooked * held;
                var noBite = Math.Exp(-hooked);
                var allLost = Math.Exp(-hooked * held) - noBite;
                next[IfNotBit(i)] += at[i] * noBite * othersBit;
                next[IfOutmatched(i)] += at[i] * allLost;
                next[i] += at[i] * (1 - allLost - noBite * othersBit);
            }

            at = next;
        }

        return landed;

        int IfNotBit(int i)
        {
            if (i >= set.Count)
            {
                return (i - set.Count + 1) % set.Count;
            }

            var lighter = set.Where(o => o.RungLb < set[i].RungLb).MaxBy(o => o.RungLb);
            return lighter is not null ? set.ToList().IndexOf(lighter)
                : set[i].IfNotBitRungLb is not null ? set.Count + i
                : (i + 1) % set.Count;
        }

        int IfOutmatched(int i) =>
            i >= set.Count ? i - set.Count
            : set[i].IfOutmatchedOrder is { } order ? order - 1
            : i;
    }
}
