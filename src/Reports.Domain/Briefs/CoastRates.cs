using Reports.Domain.Reporting;
using Reports.Statistics;

namespace Reports.Domain.Briefs;

/// <summary>
/// What the whole coast tells of a species' catch rates: what a zone of few reports leans on, how fast the sea changes, how unequal
/// luck is. Free of any one zone, plain numbers, so that it is computed once a night and kept.
/// </summary>
/// <param name="AsOf">Sailings fished up to this day are in.</param>
/// <param name="Mean">Fish per angler and day of an average zone, 0 or more, had no boat stopped at its limit.</param>
/// <param name="MeanLanded">The same as boats landed it: they stop at their limits.</param>
/// <param name="MeanVariance">Of the logarithm of the mean: how well it is known.</param>
/// <param name="HalfLifeDays">Days after which half of a zone's passing excursion is left.</param>
/// <param name="ZoneVariance">Between zones' lasting levels, of logarithms.</param>
/// <param name="DriftVariance">Of a zone's passing excursions, of logarithms.</param>
/// <param name="DayVariance">Of single days, relative to the squared mean.</param>
/// <param name="BoatVariance">Between the boats of one zone and day, relative to the squared mean.</param>
/// <param name="AnglerK">Negative binomial k between the anglers of one boat.</param>
/// <param name="AnglerLogError">Standard error of ln k.</param>
public sealed record CoastRates(
    string Species,
    DateOnly AsOf,
    double Mean,
    double MeanLanded,
    double MeanVariance,
    double HalfLifeDays,
    double ZoneVariance,
    double DriftVariance,
    double DayVariance,
    double BoatVariance,
    double AnglerK,
    double AnglerLogError
)
{
    /// <summary>Half-lives to choose from, days.</summary>
    private static readonly double[] HalfLifeChoices = [3, 5, 7, 10, 14, 21];

    /// <summary>
    /// What stands in where a coast has too short a past, and what a short past is weighed against (common practice, no source):
    /// zones differ by some 35 % for the season, a zone wanders by some 35 % for a week or two, single days differ by some 17 % more;
    /// each variance known to a factor of two, four times in five.
    /// </summary>
    private static readonly DriftPrior Drift = new(
        Between: 0.12,
        Drift: 0.12,
        Day: 0.03,
        LogSpread: 0.6,
        HalfLife: 7,
        LogHalfLifeSpread: 0.5
    );

    /// <summary>
    /// Boats of one day: a gamma of shape near 1.25 (common practice, no source). The variance of so skew a spread is told by n boats
    /// with a relative variance of (9 - 1)/n, kurtosis 9 being that of the exponential: knowing it to 40 % beforehand is worth 50 boats.
    /// </summary>
    private const double PriorBoatVariance = 0.8;
    private const double PriorBoats = 50;

    /// <summary>Beyond these a sample of few boats shows an accident, not how boats differ (common practice, no source).</summary>
    private const double LeastBoatVariance = 0.02;
    private const double MostBoatVariance = 4;

    /// <summary>Anglers of one boat: k near 1, give or take a half (common practice, no source).</summary>
    private const double PriorLogK = 0;
    private const double PriorLogKSpread = 0.7;

    /// <summary>Reports that tell of unequal luck, the newest first; more cost time and tell little.</summary>
    private const int MostTelling = 500;

    /// <summary>A boat that stopped at its limit is compared with its zone's rate this many days before and after.</summary>
    private const int NearDays = 7;

    /// <summary>How many days ahead the forecast looks: the middle of the week to come.</summary>
    private const int AheadDays = 4;

    /// <param name="coastReports">The coast's counted reports; those older than <see cref="Windows.Mechanics"/> are not used.</param>
    public static CoastRates Of(IReadOnlyList<ReportMeasures> coastReports, string species, DateOnly asOf) =>
        Of(Sighting.Of(coastReports, species, asOf), species, asOf);

    internal static CoastRates Of(IReadOnlyList<Sighting> coast, string species, DateOnly asOf)
    {
        var spread = AnglerSpread.Fit(
            [.. coast.Reverse().Select(Shared).OfType<SharedCatch>().Take(MostTelling)],
            PriorLogK,
            PriorLogKSpread
        );
        var k = Figures.Round(spread.K);
        // Twice: how far a stopped boat would have gone depends on how boats differ.
        var boats = BoatVarianceOf(coast.Select(s => (s, (double)s.Fish)), k);
        var fish = Uncapped(coast, boats, k);
        boats = Figures.Round(BoatVarianceOf(fish, k));
        var zones = ByZone(fish);
        var open = OfThreeBoats(fish);
        var rate = DriftingRate.Fit(zones, boats, k, HalfLifeChoices, Drift);
        rate = new DriftingRate(
            rate.HalfLife,
            Math.Round(rate.Between, 6),
            Math.Round(rate.Drift, 6),
            Math.Round(rate.Day, 6)
        );
        var whole = rate.Whole(ByZone(open), boats, k);
        return new CoastRates(
            species,
            asOf,
            Math.Round(whole.Mean, 6),
            Math.Round(whole.Mean * LandedShare(open), 6),
            Math.Round(whole.Variance, 6),
            rate.HalfLife,
            rate.Between,
            rate.Drift,
            rate.Day,
            boats,
            k,
            Figures.Round(spread.LogError)
        )
        {
            Others = open.Select(s => s.Sighting.Zone)
                .Distinct(StringComparer.Ordinal)
                .Order(StringComparer.Ordinal)
                .Select(zone => (Zone: zone, Others: open.Where(s => s.Sighting.Zone != zone).ToList()))
                .Where(z => z.Others.Any(s => s.Fish > 0))
                .ToDictionary(
                    z => z.Zone,
                    z =>
                        rate.Whole(ByZone(z.Others), boats, k) is var of
                            ? new WholeRate(Math.Round(of.Mean, 6), Math.Round(of.Variance, 6))
                            : default,
                    StringComparer.Ordinal
                ),
        };
    }

    /// <summary>
    /// For each zone of three boats the mean of the others, which is what it leans on: its own reports would count twice in the coast's.
    /// A zone that is alone has none.
    /// </summary>
    public IReadOnlyDictionary<string, WholeRate> Others { get; init; } = new Dictionary<string, WholeRate>();

    /// <summary>
    /// A zone's fish per angler on a coming day, from its own reports and the coast, as boats will land it: they stop at their
    /// limits again.
    /// </summary>
    /// <param name="zone">The zone's reports in order; none leans on the coast alone.</param>
    internal RateForecast Forecast(IReadOnlyList<Sighting> zone, DateOnly asOf)
    {
        var fish = Uncapped(zone, BoatVariance, AnglerK);
        var unlimited = Rate.Forecast(
            ByDay(fish),
            asOf.DayNumber,
            zone.Count > 0 && Others.TryGetValue(zone[0].Zone, out var others)
                ? others
                : new WholeRate(Mean, MeanVariance),
            BoatVariance,
            AnglerK,
            AheadDays
        );
        var coast = Mean > 0 ? MeanLanded / Mean : 1;
        var share = coast + unlimited.Credibility * (LandedShare(fish) - coast);
        return unlimited with { Mean = unlimited.Mean * share };
    }

    /// <summary>How much of what boats would have caught they land, stopping at their limits; the newest count most.</summary>
    private static double LandedShare(List<(Sighting Sighting, double Fish)> fish)
    {
        double Weighed(Func<(Sighting Sighting, double Fish), double> of) =>
            fish.Sum(s => s.Sighting.Weight(HalfLives.RateDays) * of(s));
        var whole = Weighed(s => s.Fish);
        return whole > 0 ? Weighed(s => s.Sighting.Fish) / whole : 1;
    }

    private DriftingRate Rate => new(HalfLifeDays, ZoneVariance, DriftVariance, DayVariance);

    private static double BoatVarianceOf(IEnumerable<(Sighting Sighting, double Fish)> fish, double k) =>
        Math.Clamp(
            BoatSpread.Fit(
                fish.GroupBy(s => (s.Sighting.Zone, s.Sighting.Day))
                    .Select(g => g.Select(s => (s.Fish, s.Sighting.Effort, s.Fish - s.Sighting.Fish)).ToList()),
                k,
                PriorBoatVariance,
                PriorBoats
            ),
            LeastBoatVariance,
            MostBoatVariance
        );

    /// <summary>
    /// A boat that stopped at its limit would have caught more: its count is replaced by what boats of its zone and days have on average
    /// that have at least that. One step of the EM algorithm, for where every boat stopped the further ones have no end.
    /// </summary>
    private static List<(Sighting Sighting, double Fish)> Uncapped(
        IReadOnlyList<Sighting> coast,
        double boatVariance,
        double k
    )
    {
        var days = coast
            .GroupBy(s => (s.Zone, s.Day))
            .ToDictionary(g => g.Key, g => (Fish: g.Sum(s => s.Fish), Effort: g.Sum(s => s.Effort)));
        double RateNear(Sighting s)
        {
            var (fish, effort) = (0.0, 0.0);
            for (var day = s.Day - NearDays; day <= s.Day + NearDays; day++)
            {
                var of = days.GetValueOrDefault((s.Zone, day));
                (fish, effort) = (fish + of.Fish, effort + of.Effort);
            }

            return fish / effort;
        }

        return
        [
            .. coast.Select(s =>
            {
                if (!s.Line.Limit || s.Fish == 0)
                {
                    return (s, (double)s.Fish);
                }

                var mean = RateNear(s) * s.Effort;
                var spread = boatVariance + 1 / (k * s.Report.Anglers);
                var count = new CountDistribution(mean, 1 / spread);
                return (s, s.Fish + Math.Min(mean, count.ExpectedExcess(s.Fish) / count.AtLeast(s.Fish)));
            }),
        ];
    }

    /// <summary>
    /// Zones that three boats fished in the display window make the coast's mean: one boat's luck is no zone's level, and must
    /// not show through the others' figures. Where there is none, all of them.
    /// </summary>
    private static List<(Sighting Sighting, double Fish)> OfThreeBoats(List<(Sighting Sighting, double Fish)> fish)
    {
        var shown = fish.Where(s => s.Sighting.AgeDays < Windows.Display).ToList();
        var open = shown
            .GroupBy(s => s.Sighting.Zone, StringComparer.Ordinal)
            .Where(z => Sample.Boats(z.Select(s => s.Sighting)) >= Confidentiality.FewestBoats)
            .Select(z => z.Key)
            .ToHashSet(StringComparer.Ordinal);
        return open.Count == 0 ? shown : [.. shown.Where(s => open.Contains(s.Sighting.Zone))];
    }

    private static List<List<DayTotal>> ByZone(IEnumerable<(Sighting Sighting, double Fish)> fish) =>
        [
            .. fish.GroupBy(s => s.Sighting.Zone, StringComparer.Ordinal)
                .OrderBy(g => g.Key, StringComparer.Ordinal)
                .Select(ByDay),
        ];

    private static List<DayTotal> ByDay(IEnumerable<(Sighting Sighting, double Fish)> fish) =>
        [
            .. fish.GroupBy(s => s.Sighting.Day)
                .OrderBy(g => g.Key)
                .Select(g => new DayTotal(
                    g.Key,
                    g.Sum(s => s.Fish),
                    g.Sum(s => s.Sighting.Effort),
                    g.Sum(s => s.Sighting.Effort * s.Sighting.Effort),
                    g.Sum(s => s.Sighting.Effort * s.Sighting.Report.DaysFished)
                )),
        ];

    /// <summary>What a trip of one day tells of unequal luck: how many anglers had a fish, counted or said.</summary>
    private static SharedCatch? Shared(Sighting s)
    {
        var anglers = s.Report.Anglers;
        return s.Fish == 0 || s.Report.DaysCovered > 1 ? null
            : s.Line.AnglersWithFish is > 0 and var number
                ? new SharedCatch(anglers, s.Fish, Math.Min(number, Math.Min(anglers, s.Fish)))
            : s.Line.AnglersWithFishWord is { } word
                ? new SharedCatch(anglers, s.Fish, Math.Min(ShareOf(word) * anglers, s.Fish))
            : null;
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
}
