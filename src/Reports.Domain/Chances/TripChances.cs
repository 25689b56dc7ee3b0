using MathNet.Numerics.RootFinding;
using Reports.Domain.Briefs;
using Reports.Domain.Coast;

namespace Reports.Domain.Chances;

/// <summary>Shares of anglers by how many fish they land; together 1.</summary>
public sealed record FishShares(double None, double One, double Two, double ThreeOrMore);

/// <summary>What one angler of a coming trip may land in a zone: the brief's catch rate, carried over to a trip's length and a limit.</summary>
/// <remarks>
/// Fish land in proportion to the days fished, on one sea: rates are the brief's times the days, and so are their intervals; days
/// that even each other out would make those of long trips narrower. Odds are the brief's law of <see cref="FishPerAngler"/> at so
/// many days. Their intervals are that law at the two means that give the ends of the brief's own interval, so that for one day and one
/// fish all agree with the brief; the uncertainty of luck is carried along as if it were the sea's.
/// </remarks>
/// <param name="PerAngler">Fish per angler of the whole trip.</param>
/// <param name="AtLeastOne">Null when the reports can't tell.</param>
/// <param name="AtLeastLimit">Odds of as many fish as the reader asked about; null when the reports can't tell.</param>
/// <param name="Fish">Null when the reports can't tell.</param>
/// <param name="PerAnglerIfSilentBlank">As in <see cref="CatchRate"/>, for the whole trip.</param>
/// <param name="PerAnglerIfSilentAlike">As in <see cref="CatchRate"/>, for the whole trip.</param>
public sealed record TripChances(
    Rate PerAngler,
    Share? AtLeastOne,
    Share? AtLeastLimit,
    FishShares? Fish,
    double? PerAnglerIfSilentBlank,
    double? PerAnglerIfSilentAlike
)
{
    /// <summary>What one angler may land on the whole trip; null when the reports can't tell.</summary>
    public FishPerAngler? Angler { get; init; }

    /// <summary>Fish that may be asked about.</summary>
    public const int MostLimit = 50;

    /// <summary>Where no mean gives an end of the interval, so many fish an angler stand in for it.</summary>
    private const double MostMean = 1e6;
    private const double LeastMean = 1e-9;

    /// <param name="rate">The brief's.</param>
    /// <param name="daysFished">Above 0, see <see cref="TripLength.DaysFished"/>.</param>
    /// <param name="limit">1 to <see cref="MostLimit"/>.</param>
    public static TripChances Of(CatchRate rate, double daysFished, int limit)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(daysFished);
        ArgumentOutOfRangeException.ThrowIfLessThan(limit, 1);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(limit, MostLimit);
        double? Whole(double? daily) => daily is { } d ? Figures.Round(d * daysFished) : null;
        var trip = new TripChances(
            new(
                Figures.Round(rate.PerAngler.Mean * daysFished),
                Figures.Round(rate.PerAngler.Low * daysFished),
                Figures.Round(rate.PerAngler.High * daysFished)
            ),
            null,
            null,
            null,
            Whole(rate.PerAnglerIfSilentBlank),
            Whole(rate.PerAnglerIfSilentAlike)
        );
        if (rate is not { Angler: { } angler, AtLeastOne: { } odds })
        {
            return trip with { AtLeastOne = daysFished == 1 ? rate.AtLeastOne : null };
        }

        var middle = WithOdds(angler, odds.Mean);
        var (low, high) = (WithOdds(angler, odds.Low), WithOdds(angler, odds.High));
        Share AtLeast(int fish) =>
            Figures.Share(
                middle.AtLeast(fish, daysFished),
                (low.AtLeast(fish, daysFished), high.AtLeast(fish, daysFished))
            );
        var (none, one, two) = (
            Figures.Round(middle.Probability(0, daysFished)),
            Figures.Round(middle.Probability(1, daysFished)),
            Figures.Round(middle.Probability(2, daysFished))
        );
        var first = AtLeast(1);
        return trip with
        {
            AtLeastOne = first,
            AtLeastLimit = limit == 1 ? first : AtLeast(limit),
            Fish = new(none, one, two, Figures.Round(Math.Max(0, 1 - none - one - two))),
            Angler = middle with { Mean = middle.Mean * daysFished },
        };
    }

    /// <summary>The same law with the mean at which one angler's odds of a fish on a day are these.</summary>
    private static FishPerAngler WithOdds(FishPerAngler angler, double odds)
    {
        if (odds <= 0)
        {
            return angler with { Mean = 0 };
        }

        double Excess(double logMean) => (angler with { Mean = Math.Exp(logMean) }).AtLeast(1) - odds;
        var (from, to) = (Math.Log(LeastMean), Math.Log(MostMean));
        return angler with
        {
            Mean =
                Excess(to) <= 0 ? MostMean
                : Excess(from) >= 0 ? LeastMean
                : Math.Exp(Brent.FindRoot(Excess, from, to, accuracy: 1e-9)),
        };
    }
}
