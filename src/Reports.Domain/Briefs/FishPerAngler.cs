using Reports.Statistics;

namespace Reports.Domain.Briefs;

/// <summary>
/// What one angler of a coming boat trip may land: the sea, the boat and the angler's luck all unknown. A gamma of boat trips
/// round the mean, a negative binomial of anglers round their boat. Plain numbers, so that it is stored with the brief.
/// </summary>
/// <param name="Mean">Fish per angler of an average boat trip, 0 or more.</param>
/// <param name="Shape">Gamma shape between coming boat trips: their luck and what the sea may do until then. Above 0.</param>
/// <param name="K">Negative binomial k between the anglers of a boat. Above 0.</param>
public sealed record FishPerAngler(double Mean, double Shape, double K)
{
    /// <summary>Chances are not followed further than this many fish.</summary>
    public const int MostFish = 500;

    /// <summary>Chance of exactly this many fish.</summary>
    /// <param name="effort">Length of the trip against those that the mean refers to.</param>
    public double Probability(int fish, double effort = 1) =>
        fish < 0 ? 0
        : Mean == 0 ? (fish == 0 ? 1 : 0)
        : Math.Exp(Statistics.CatchRate.LogMarginal(new BoatSummary(1, fish, Effort: effort), Mean, Shape, K));

    /// <summary>Chance of this many fish or more (of <see cref="MostFish"/> at most).</summary>
    public double AtLeast(int fish, double effort = 1) =>
        Math.Clamp(1 - Enumerable.Range(0, Math.Clamp(fish, 0, MostFish)).Sum(x => Probability(x, effort)), 0, 1);

    /// <summary>Fewest fish that a share <paramref name="p"/> of anglers do not exceed, <see cref="MostFish"/> at most.</summary>
    /// <param name="p">At least 0, below 1.</param>
    public int Quantile(double p, double effort = 1)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(p);
        ArgumentOutOfRangeException.ThrowIfGreaterThanOrEqual(p, 1);
        var (fish, below) = (0, Probability(0, effort));
        while (below < p && fish < MostFish)
        {
            below += Probability(++fish, effort);
        }

        return fish;
    }
}
