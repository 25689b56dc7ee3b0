using Reports.Domain.Measures;
using Reports.Domain.Reporting;

namespace Reports.Domain.Rigs;

/// <summary>
/// Which hooks a coast's anglers tie on, in steps from what custom has for their bait. A lost or an added aught is told apart by it: a
/// hook that nobody fished, and that caught as well as any, would make the model believe that the fish don't mind hooks.
/// </summary>
/// <param name="Centre">Median steps from custom's hook.</param>
/// <param name="Spread">Standard deviation by the median absolute deviation, which slips hardly move (Hampel 1974).</param>
public sealed record HookHabit(double Centre, double Spread)
{
    private const double MadToSpread = 1.4826;

    internal static HookHabit Custom { get; } = new(0, RigPriors.PopularHookSteps);

    internal static HookHabit Of(IEnumerable<RigTrip> trips)
    {
        var off = trips.SelectMany(t => t.Features).Select(f => f.Off).OfType<double>().ToList();
        if (off.Count < RigPriors.HabitWorth)
        {
            return Custom;
        }

        var centre = Median(off);
        return new(
            centre,
            Math.Max(RigPriors.LeastHabitSpread, MadToSpread * Median(off.ConvertAll(x => Math.Abs(x - centre))))
        );
    }

    /// <summary>Is it likelier that the aught was lost or added than that such a hook was fished?</summary>
    internal bool Slipped(int step, BaitAsk bait) =>
        HookSize.FromStep(step).AughtSlip is { } meant
        && Math.Log(RigPriors.SlipShare) + Rarity(step - bait.CentreStep) - Rarity(meant.Step - bait.CentreStep) > 0;

    /// <summary>- ln of how usual a hook is so many steps from custom's, against the most usual one.</summary>
    /// <param name="wider">By how much the spread is taken wider.</param>
    internal double Rarity(double off, double wider = 1) => Math.Pow((off - Centre) / (wider * Spread), 2) / 2;

    private static double Median(List<double> values) => values.Order().ElementAt(values.Count / 2);
}
