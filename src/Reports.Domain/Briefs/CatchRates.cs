using Reports.Domain.Reporting;
using Reports.Statistics;

namespace Reports.Domain.Briefs;

/// <summary>Fish per angler, the odds of at least one, and where they are heading.</summary>
internal static class CatchRates
{
    /// <summary>Days of a trend: a week against the week before.</summary>
    private const int TrendDays = 7;

    /// <summary>A change under a tenth is no news, and none is named that is not at least this likely.</summary>
    private const double TrendRatio = 1.1;
    private const double TrendCertainty = 0.9;

    /// <summary>The silent at their best: like the best tenth of the boat trips that reported, three boats at least.</summary>
    private const double BestShare = 0.1;

    /// <summary>Reports that the spreads are fitted to.</summary>
    private const int MostForSpread = 30;

    /// <summary>
    /// With this many fish for each angler next to nobody is blank, and more tell nothing of the odds. (Also the cost of a
    /// boat with known blanks grows with the square of its fish.)
    /// </summary>
    private const int PlentyForOne = 12;

    public static CatchRate? Make(Sample sample, IReadOnlyList<KnownTrip> silent, DateOnly asOf, Missing missing)
    {
        var rate = RateOf(sample.Display);
        var odds = AtLeastOne(sample, rate.Estimate);
        var trend = TrendOf(sample);
        if (trend is null)
        {
            missing.Add(
                "/catchRate/trend",
                "not-clear",
                "The last seven days and the seven before do not differ, or agree, clearly enough to call."
            );
        }

        if (odds is null)
        {
            missing.Add(
                "/catchRate/atLeastOne",
                "not-known",
                "The reports do not tell enough of how the fish were shared among the anglers."
            );
        }

        var (blank, alike) = Bounds(sample, silent, asOf, rate.Estimate);
        return new CatchRate(
            Figures.Rate(rate),
            odds,
            trend,
            blank,
            alike,
            Figures.Round(sample.Display.Where(s => s.Line.Limit).Sum(Weight) / sample.Display.Sum(Weight))
        );
    }

    /// <summary>Rough numbers for a crew's words (common practice, no source).</summary>
    private static double ShareOf(AnglerShare word) =>
        word switch
        {
            AnglerShare.Few => 0.2,
            AnglerShare.Half => 0.5,
            AnglerShare.Most => 0.75,
            _ => 0.93,
        };

    private static double Weight(Sighting s) => s.Weight(HalfLives.RateDays);

    private static ClusteredRatio RateOf(IReadOnlyList<Sighting> sightings) =>
        ClusteredRatio.Rate(
            [.. sightings.Select(s => (double)s.Fish)],
            [.. sightings.Select(s => s.Effort)],
            [.. sightings.Select(Weight)],
            [.. sightings.Select(s => s.Day)]
        );

    /// <summary>Share of the anglers with a fish, where one trip of one day tells it: none of a blank, else as counted or said.</summary>
    private static double? WithFish(Sighting s) =>
        s.Fish == 0 && s.Line is { AnglersWithFish: null, AnglersWithFishWord: null } ? 0
        : s.Report.DaysCovered > 1 ? null
        : s.Line.AnglersWithFish is { } number ? Math.Min(1, (double)number / s.Report.Anglers)
        : s.Line.AnglersWithFishWord is { } word ? ShareOf(word)
        : null;

    /// <summary>
    /// As told, where the boat trips that caught something mostly tell it; else by the two-level model, which integrates over
    /// the spread between boat trips and the spread between the anglers of one.
    /// </summary>
    private static Share? AtLeastOne(Sample sample, double perAngler)
    {
        var told = sample.Display.Where(s => WithFish(s) is not null).ToList();
        var caught = sample.Display.Where(s => s.Fish > 0).ToList();
        var tellingOfCaught = told.Where(s => s.Fish > 0).Sum(Weight);
        if (caught.Count == 0 || tellingOfCaught >= 0.5 * caught.Sum(Weight))
        {
            if (Sample.Boats(told) >= Confidentiality.FewestBoats)
            {
                var share = ClusteredRatio.Proportion(
                    [.. told.Select(s => WithFish(s)!.Value * s.Effort)],
                    [.. told.Select(s => s.Effort)],
                    [.. told.Select(Weight)],
                    [.. told.Select(s => s.Day)]
                );
                // No more anglers with a fish than fish: those who tell may have done better than those who don't.
                return Figures.Share(Math.Min(share.Estimate, perAngler), share.Interval(Figures.Level));
            }
        }

        return Modelled(sample, perAngler);
    }

    /// <summary>
    /// The spreads come from the freshest reports, which is where most of the weight lies: more of them would cost time and
    /// tell little. The mean is that of all.
    /// </summary>
    private static Share? Modelled(Sample sample, double perAngler)
    {
        var freshest = sample.Display.OrderBy(s => s.AgeDays).Take(MostForSpread).ToList();
        var rescale = Statistics.Evidence.Rescale([.. freshest.Select(Weight)]);
        var fit = Statistics.CatchRate.Fit([.. freshest.Select(s => Summary(s, Weight(s) * rescale))], OddsPrior) with
        {
            Mean = perAngler,
        };
        return fit.AtLeastOneInterval(Figures.Level) is { } interval
            ? Figures.Share(Math.Min(fit.AtLeastOne(), perAngler), interval)
            : null;
    }

    /// <summary>
    /// Totals alone can't tell how unequal the luck of one boat's anglers is. Weak knowledge: catches per angler are spread
    /// about as a negative binomial of k near 1, boat trips about as a gamma of shape near 1 (common practice, no source).
    /// </summary>
    private static readonly CatchRatePrior OddsPrior = new(
        LogBetweenShape: 0,
        LogBetweenShapeSpread: 1,
        LogWithinK: 0,
        LogWithinKSpread: 0.7
    );

    /// <summary>
    /// A boat at its limit enters with what it had: its share of anglers with a fish is what it is, only the fish that it
    /// might have had besides are unknown.
    /// </summary>
    private static BoatSummary Summary(Sighting s, double weight)
    {
        var anglers = s.Report.Anglers;
        var fish = Math.Min(s.Fish, PlentyForOne * anglers * s.Report.DaysCovered);
        int? blanks =
            s.Report.DaysCovered == 1
            && s.Line.AnglersWithFish is { } with
            && with <= Math.Min(anglers, fish)
            && (with > 0 || fish == 0)
                ? anglers - with
                : null;
        return new BoatSummary(anglers, fish, blanks, Effort: s.Report.DaysCovered, Weight: weight);
    }

    private static Trend? TrendOf(Sample sample)
    {
        var now = sample.Display.Where(s => s.AgeDays < TrendDays).ToList();
        var before = sample.Display.Where(s => s.AgeDays is >= TrendDays and < 2 * TrendDays).ToList();
        if (Sample.Boats(now) < Confidentiality.FewestBoats || Sample.Boats(before) < Confidentiality.FewestBoats)
        {
            return null;
        }

        var change = RateChange.Between(ByDay(now), ByDay(before));
        if (
            change.ProbabilityAbove(TrendRatio) is not { } up
            || change.ProbabilityAbove(1 / TrendRatio) is not { } notDown
        )
        {
            return null;
        }

        var down = 1 - notDown;
        return up >= TrendCertainty ? Trend.Up
            : down >= TrendCertainty ? Trend.Down
            : 1 - up - down >= TrendCertainty ? Trend.Steady
            : null;
    }

    private static DayCatch[] ByDay(List<Sighting> sightings) =>
        [
            .. sightings
                .GroupBy(s => s.Day)
                .OrderBy(g => g.Key)
                .Select(g => new DayCatch(g.Sum(s => s.Fish), g.Sum(s => s.Effort))),
        ];

    private static (double? IfBlank, double? IfAlike) Bounds(
        Sample sample,
        IReadOnlyList<KnownTrip> silent,
        DateOnly asOf,
        double perAngler
    )
    {
        if (silent.Count == 0)
        {
            return (null, null);
        }

        var weight = sample.Display.Sum(Weight);
        var effort = sample.Display.Sum(s => Weight(s) * s.Effort);
        // A silent trip carried as many anglers as the others did on average.
        var silentEffort =
            effort
            / weight
            * silent
                .OrderBy(t => t.Date)
                .Sum(t => Statistics.Evidence.DecayWeight(asOf.DayNumber - t.Date.DayNumber, HalfLives.RateDays));
        var best = new List<Sighting>();
        foreach (var s in sample.Display.OrderByDescending(s => s.Fish / s.Effort))
        {
            if (best.Sum(Weight) >= BestShare * weight && Sample.Boats(best) >= Confidentiality.FewestBoats)
            {
                break;
            }

            best.Add(s);
        }

        var whole = effort + silentEffort;
        return (
            Figures.Round(perAngler * effort / whole),
            Figures.Round((perAngler * effort + RateOf(best).Estimate * silentEffort) / whole)
        );
    }
}
