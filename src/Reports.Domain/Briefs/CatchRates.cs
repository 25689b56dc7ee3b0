using MathNet.Numerics;
using MathNet.Numerics.Distributions;
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

    public static CatchRate? Make(
        Sample sample,
        CoastRates coast,
        IReadOnlyList<KnownTrip> silent,
        DateOnly asOf,
        Missing missing
    )
    {
        // A pooled brief leans on the coast alone: what one or two boats did here must not show through.
        var forecast = coast.Forecast(sample.Pooled ? [] : sample.Display, asOf);
        var angler = new FishPerAngler(
            Figures.Round(forecast.Mean),
            Math.Max(LeastShape, Figures.Round(SeaAndBoat(forecast, coast))),
            coast.AnglerK
        );
        var trend = TrendOf(sample);
        if (trend is null)
        {
            missing.Add(
                "/catchRate/trend",
                "not-clear",
                "The last seven days and the seven before do not differ, or agree, clearly enough to call."
            );
        }

        var rate = PerAngler(forecast, sample);
        var (blank, alike) = Bounds(sample, silent, asOf, rate.Mean);
        return new CatchRate(
            rate,
            AtLeastOne(angler, forecast, rate, coast),
            trend,
            blank,
            alike,
            Figures.Round(sample.Display.Where(s => s.Line.Limit).Sum(Weight) / sample.Display.Sum(Weight))
        )
        {
            Angler = angler,
        };
    }

    /// <summary>
    /// Shape of the one gamma that leaves as many anglers without a fish as the sea's and the boat's spread together do. One of the
    /// same variance would leave more: the sea is no gamma, and its spread is all in the tail.
    /// </summary>
    private static double SeaAndBoat(RateForecast forecast, CoastRates coast)
    {
        var boat = 1 / coast.BoatVariance;
        if (forecast.Mean <= 0 || forecast.Variance <= 0)
        {
            return boat;
        }

        var blank = SeaNodes.Average(p => 1 - new FishPerAngler(forecast.Quantile(p), boat, coast.AnglerK).AtLeast(1));
        return Math.Exp(
            FindRoots.OfFunction(
                log => 1 - new FishPerAngler(forecast.Mean, Math.Exp(log), coast.AnglerK).AtLeast(1) - blank,
                Math.Log(LeastShape),
                Math.Log(boat) + 1
            )
        );
    }

    private const double LeastShape = 0.02;

    /// <summary>Middles of equal parts of what the sea may do.</summary>
    private static readonly double[] SeaNodes = [.. Enumerable.Range(0, 20).Select(i => (i + 0.5) / 20)];

    private static double Weight(Sighting s) => s.Weight(HalfLives.RateDays);

    private static ClusteredRatio RateOf(IReadOnlyList<Sighting> sightings) =>
        ClusteredRatio.Rate(
            [.. sightings.Select(s => (double)s.Fish)],
            [.. sightings.Select(s => s.Effort)],
            [.. sightings.Select(Weight)],
            [.. sightings.Select(s => s.Day)]
        );

    /// <summary>
    /// The zone's rate on a coming day. Where nobody caught anything, the interval is that of a blank sample.
    /// </summary>
    private static Rate PerAngler(RateForecast forecast, Sample sample)
    {
        if (forecast.Mean <= 0)
        {
            return Figures.Rate(RateOf(sample.Display));
        }

        var tail = (1 - Figures.Level) / 2;
        var mean = Figures.Round(forecast.Mean);
        return new Rate(
            mean,
            Math.Min(mean, Figures.Round(forecast.Quantile(tail))),
            Math.Max(mean, Figures.Round(forecast.Quantile(1 - tail)))
        );
    }

    /// <summary>
    /// The odds of an angler of a coming trip, over the sea, the boat and the luck. Their interval is that of the zone's odds on a
    /// coming day: the odds at either end of the rate, and how well the spread of luck is known.
    /// </summary>
    private static Share AtLeastOne(FishPerAngler angler, RateForecast forecast, Rate rate, CoastRates coast)
    {
        if (angler.Mean <= 0)
        {
            return new Share(0, 0, 0);
        }

        var z = Normal.InvCDF(0, 1, 0.5 + Figures.Level / 2);
        var shape = coast.BoatVariance > 0 ? 1 / coast.BoatVariance : double.PositiveInfinity;
        double Logit(double mean, double k) =>
            SpecialFunctions.Logit(Math.Clamp(new FishPerAngler(mean, shape, k).AtLeast(1), 1e-9, 1 - 1e-9));
        var middle = Logit(forecast.Mean, coast.AnglerK);
        double End(double mean, double logK)
        {
            var sea = Logit(mean, coast.AnglerK) - middle;
            var luck = Logit(forecast.Mean, coast.AnglerK * Math.Exp(logK)) - middle;
            return SpecialFunctions.Logistic(middle + Math.Sign(logK) * Math.Sqrt(sea * sea + luck * luck));
        }

        var tail = (1 - Figures.Level) / 2;
        return Figures.Share(
            // No more anglers with a fish than fish, also once rounded.
            Math.Min(angler.AtLeast(1), rate.Mean),
            (
                End(forecast.Quantile(tail), -z * coast.AnglerLogError),
                End(forecast.Quantile(1 - tail), z * coast.AnglerLogError)
            )
        );
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
            Figures.Round((perAngler * effort + Math.Max(perAngler, RateOf(best).Estimate) * silentEffort) / whole)
        );
    }
}
