using Reports.Domain.Reporting;
using Reports.Domain.Rigs;
using Reports.Statistics;

namespace Reports.Domain.Briefs;

/// <summary>
/// When a brief says that one rig did better than another; otherwise it says "no clear difference". Better by a tenth, for less
/// is no reason to change, with 39 chances in 40: of two equal rigs either may come out ahead, so that at most one pair in twenty
/// is ranked that is none (measured: docs/method/rigs.md).
/// </summary>
internal static class Ranks
{
    public const double WorthTelling = 1.1;
    private const double Certainty = 0.975;

    /// <summary>
    /// Fish landed on each of two rigs, of the same boat trips only: a rig that the lucky boats fished is not the better rig.
    /// </summary>
    public static bool LandedClear(RigUse better, RigUse other, double halfLifeDays) =>
        Clear(
            better,
            other,
            l => l is { Rods: > 0, Landed: not null },
            l => l.Rods!.Value * Luck(l.RungLb),
            halfLifeDays
        );

    /// <summary>Anglers go lighter after a blank spell, so rods on light line are the unlucky ones.</summary>
    private static double Luck(int rungLb) => Math.Pow(rungLb / RigPriors.ReferenceLb, RigPriors.UnluckyRods);

    /// <summary>Fish landed of those hooked, of the same boat trips only: they hooked the same fish.</summary>
    public static bool HeldClear(RigUse better, RigUse other, double halfLifeDays) =>
        Clear(better, other, l => l is { Hooked: > 0, Landed: not null }, l => l.Hooked!.Value, halfLifeDays);

    /// <summary>
    /// Boat trips that each of two rigs won: every trip that named a winner is one chance for either. No tenth is asked for here: the
    /// winner is the largest of counts, so a small difference in what rigs land is a large one in their wins.
    /// </summary>
    public static bool WinsClear(
        RigKey better,
        RigKey other,
        IEnumerable<(Sighting Sighting, IReadOnlySet<RigKey> Winners)> trips,
        double halfLifeDays
    )
    {
        double Won(IReadOnlySet<RigKey> winners, RigKey rig) => winners.Contains(rig) ? 1.0 / winners.Count : 0;
        RatePair[] won =
        [
            .. trips.Select(t => new RatePair(
                Won(t.Winners, better),
                1,
                Won(t.Winners, other),
                1,
                t.Sighting.Weight(halfLifeDays),
                t.Sighting.Day
            )),
        ];
        return Clear(won, 1);
    }

    private static bool Clear(
        RigUse better,
        RigUse other,
        Func<RigMeasure, bool> told,
        Func<RigMeasure, double> exposure,
        double halfLifeDays
    )
    {
        var lines = other.Lines.Where(l => told(l.Line)).ToLookup(l => l.Sighting, ReferenceEqualityComparer.Instance);
        RatePair[] shared =
        [
            .. from l in better.Lines
            where told(l.Line)
            from o in lines[l.Sighting]
            select new RatePair(
                l.Line.Landed!.Value,
                exposure(l.Line),
                o.Line.Landed!.Value,
                exposure(o.Line),
                l.Sighting.Weight(halfLifeDays),
                l.Sighting.Day
            ),
        ];
        return Clear(shared, WorthTelling);
    }

    private static bool Clear(RatePair[] trips, double beyond) =>
        PairedRateRatio.Of(trips) is { } ratio && ratio.ProbabilityAbove(beyond) >= Certainty;
}
