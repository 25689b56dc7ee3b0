using Reports.Domain.Briefs;
using Reports.Domain.Measures;
using Reports.Statistics;

namespace Reports.Benchmarks.Advice;

/// <summary>How a season's briefs of one fleet forecast the week after, and how often their intervals hold the truth.</summary>
internal sealed class ForecastScore
{
    /// <summary>Evidence is little below this many reports in the display window.</summary>
    private const int FewReports = 10;
    private static readonly double[] Levels = [0.05, 0.25, 0.5, 0.75, 0.95];

    private readonly List<(double Forecast, int WithFish, int Anglers)> odds = [];
    private readonly Dictionary<string, (int Held, int Of)> coverage = [];
    private double forecastFish;
    private double observedFish;
    private double pinball;
    private double truePinball;

    public double CatchRatio => forecastFish / observedFish;
    public double SizePinballRatio => pinball / truePinball;
    private double Anglers => odds.Sum(o => o.Anglers);

    /// <summary>Forecast less observed share of anglers with a fish.</summary>
    public double OddsBias => odds.Sum(o => o.Forecast * o.Anglers - o.WithFish) / Anglers;

    /// <summary>Against always saying the season's share.</summary>
    public double BrierSkill
    {
        get
        {
            var season = odds.Sum(o => o.WithFish) / Anglers;
            return 1 - odds.Sum(o => Brier(o.Forecast, o)) / odds.Sum(o => Brier(season, o));
        }
    }

    public double CalibrationSlope => Slope([this]);

    /// <summary>
    /// Of several seasons together. Within one season a right forecast that learns the season's level has a slope below one: its errors
    /// lie on one side for weeks.
    /// </summary>
    public static double Slope(IEnumerable<ForecastScore> seasons)
    {
        var odds = seasons.SelectMany(s => s.odds).ToList();
        var p = odds.SelectMany(o => Enumerable.Repeat(o.Forecast, o.Anglers)).ToArray();
        var y = odds.SelectMany(o => Enumerable.Range(0, o.Anglers).Select(i => i < o.WithFish)).ToArray();
        return Calibration.Fit(p, y, 1e-3).Slope;
    }

    /// <summary>Groups of statements that say "k in 10", with what happened.</summary>
    public IEnumerable<(int InTen, int WithFish, int Anglers)> Statements =>
        odds.GroupBy(o => (int)Math.Round(10 * o.Forecast, MidpointRounding.AwayFromZero))
            .Select(g => (g.Key, g.Sum(o => o.WithFish), g.Sum(o => o.Anglers)));

    /// <summary>Intervals that held the truth, of all; by name of the figure.</summary>
    public (int Held, int Of) Coverage(string figure) => coverage.GetValueOrDefault(figure);

    /// <param name="week">Boat-days of the zone in the week after.</param>
    /// <param name="now">The zone's truth on the day asked about.</param>
    /// <param name="coming">The zone's truth over the week after.</param>
    public void Add(Brief brief, IReadOnlyList<Outcome> week, ZoneTruth now, ZoneTruth coming)
    {
        var few = brief.Evidence.Reports < FewReports || brief.Evidence.Pooled;
        var anglers = week.Sum(o => o.PerAngler.Length);
        if (brief.CatchRate is { } rate)
        {
            forecastFish += rate.PerAngler.Mean * anglers;
            observedFish += week.Sum(o => o.Fish);
            Cover(Rate, few, rate.PerAngler.Low, rate.PerAngler.High, now.PerAngler, coming.PerAngler);
            if (rate.AtLeastOne is { } one)
            {
                odds.Add((one.Mean, week.Sum(o => o.PerAngler.Count(n => n > 0)), anglers));
                Cover(One, few, one.Low, one.High, now.AtLeastOne, coming.AtLeastOne);
            }
        }

        if (brief.Size is { } size)
        {
            var heavy = size.Lb.Over.Single(o => o.Weight == 100).Fish;
            Cover(Heavy, few, heavy.Low, heavy.High, now.Over100, coming.Over100);
            double[] told =
            [
                .. new[]
                {
                    size.Quantiles.P05,
                    size.Quantiles.P25,
                    size.Quantiles.P50,
                    size.Quantiles.P75,
                    size.Quantiles.P95,
                }.Select(g => Weight.FromGrams(g, WeightUnit.Lb)),
            ];
            foreach (var lb in week.SelectMany(o => o.WeightsLb))
            {
                for (var i = 0; i < Levels.Length; i++)
                {
                    pinball += Pinball(Levels[i], told[i], lb);
                    truePinball += Pinball(Levels[i], coming.QuantileLb(Levels[i]), lb);
                }
            }
        }
    }

    public const string Rate = "fish per angler";
    public const string One = "at least one";
    public const string Heavy = "share over 100 lb";

    public static string Few(string figure) => figure + ", few reports";

    public static string Coming(string figure) => figure + ", week after";

    private void Cover(string figure, bool few, double low, double high, double now, double coming)
    {
        Count(figure, now);
        Count(Coming(figure), coming);
        if (few)
        {
            Count(Few(figure), now);
            Count(Coming(Few(figure)), coming);
        }

        void Count(string name, double truth)
        {
            var (held, of) = coverage.GetValueOrDefault(name);
            coverage[name] = (held + (low <= truth && truth <= high ? 1 : 0), of + 1);
        }
    }

    private static double Brier(double p, (double Forecast, int WithFish, int Anglers) o) =>
        o.WithFish * (1 - p) * (1 - p) + (o.Anglers - o.WithFish) * p * p;

    private static double Pinball(double level, double quantile, double value) =>
        value >= quantile ? level * (value - quantile) : (1 - level) * (quantile - value);
}
