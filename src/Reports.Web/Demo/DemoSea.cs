using static Reports.Web.Demo.DemoWorld;

namespace Reports.Web.Demo;

/// <summary>
/// A weight class of a species: weights are lognormal. A school is of one grade.
/// </summary>
/// <param name="MedianLb">Median weight in lb.</param>
/// <param name="Sigma">Standard deviation of ln weight.</param>
/// <param name="Bites">Hook-ups that a school of the grade gives, relative to the species' first grade.</param>
public sealed record DemoGrade(double MedianLb, double Sigma, double Bites);

/// <summary>The true state of one species in one zone on one day.</summary>
/// <param name="Target">Share of trips into the zone that fish for the species.</param>
/// <param name="Rate">
/// Mean hook-ups per angler of a full day with the reference rig (30 lb, the hook that suits the bait), on a school of the first
/// grade; a boat trip's own mean is this times boat, effort, luck and the grades it stops on.
/// </param>
/// <param name="HeavySchools">Share of schools that are of the second grade; 0 where there is none.</param>
/// <param name="Slope">
/// Mean over boat trips of the slope of ln hook-ups in ln(line class / 30 lb): very negative when picky, near 0 when wide open.
/// </param>
public sealed record DemoGround(
    string Zone,
    string Species,
    double Target,
    double Rate,
    double HeavySchools,
    double Slope,
    IReadOnlyList<DemoGrade> Grades
)
{
    /// <summary>Chance that a boat trip stops on at least one school of the heavy grade: E[1 - (1 - p)^schools].</summary>
    public double HeavyTrips =>
        DemoFishing.SchoolCounts.Select((share, i) => share * (1 - Math.Pow(1 - HeavySchools, i + 1))).Sum();
}

/// <summary>The bait that a landing has on a day: one kind, its median length and what nine in ten lie between.</summary>
public sealed record DemoBait(string Landing, string Species, double MedianInches)
{
    /// <summary>Standard deviation of ln length.</summary>
    public const double Sigma = 0.09;

    public double ShortestInches => MedianInches * Math.Exp(-1.645 * Sigma);

    public double LongestInches => MedianInches * Math.Exp(1.645 * Sigma);
}

/// <summary>How much of the fleet a day's weather lets out.</summary>
public enum DemoWeather
{
    Fair,

    /// <summary>Half the fleet stays in.</summary>
    Rough,

    /// <summary>Nobody sails.</summary>
    Storm,
}

/// <summary>What is true of a day, whoever fished: the state from which reports are drawn.</summary>
public sealed record DemoTruth(
    DateOnly Day,
    DemoWeather Weather,
    IReadOnlyList<DemoGround> Grounds,
    IReadOnlyList<DemoBait> Baits
)
{
    public DemoGround Ground(string zone, string species) => Grounds.First(g => g.Zone == zone && g.Species == species);

    public DemoBait Bait(string landing) => Baits.First(b => b.Landing == landing);
}

/// <summary>The sea: its state is a function of the day alone.</summary>
internal static class DemoSea
{
    /// <summary>Memory in days and spread (of ln rate) of a ground's abundance.</summary>
    private const double RateMemory = 9;
    private const double RateSpread = 0.5;

    private const double HeavyMemory = 12;
    private const double HeavySpread = 0.7;

    private const double SlopeMean = -0.9;
    private const double CoastMoodMemory = 8;
    private const double CoastMoodSpread = 0.3;
    private const double ZoneMoodMemory = 4;
    private const double ZoneMoodSpread = 0.35;

    private const double BaitMemory = 14;
    private const double BaitSpread = 0.2;
    private const double LandingBaitMemory = 5;
    private const double LandingBaitSpread = 0.06;

    private static readonly Dictionary<string, DemoGrade[]> Grades = new()
    {
        ["SBF"] = [new(26, 0.25, 1), new(150, 0.2, 0.6)],
        ["ALB"] = [new(18, 0.25, 1)],
        ["YTC"] = [new(12, 0.25, 1), new(36, 0.2, 0.6)],
        ["YFT"] = [new(20, 0.25, 1), new(80, 0.22, 0.5)],
        ["DOL"] = [new(10, 0.35, 1)],
    };

    // Season: exp(amplitude cos(2 pi (day of year - peak) / 365.25)) multiplies the rate.
    private sealed record Habit(
        string Zone,
        string Species,
        double Target,
        double Rate,
        double Season,
        int Peak,
        double HeavySchools
    );

    private static readonly Habit[] Habits =
    [
        new(InnerShelf, "YTC", 1, 1.3, 0.3, 30, 0.12),
        new(InnerShelf, "DOL", 0.35, 0.8, 0.9, 40, 0),
        new(InnerShelf, "SBF", 0.15, 0.3, 0.4, 330, 0.05),
        new(CanneryBank, "SBF", 1, 1.8, 0.4, 330, 0.25),
        new(CanneryBank, "YTC", 0.5, 1.1, 0.3, 30, 0.25),
        new(CanneryBank, "ALB", 0.3, 0.7, 0.4, 350, 0),
        new(FortyFathomEdge, "SBF", 1, 1.1, 0.4, 330, 0.1),
        new(FortyFathomEdge, "ALB", 0.6, 1.3, 0.4, 350, 0),
        new(FortyFathomEdge, "YFT", 0.4, 0.7, 0.7, 45, 0.15),
        new(FortyFathomEdge, "DOL", 0.25, 0.8, 0.9, 40, 0),
        new(SkerrowSeamount, "SBF", 1, 2.0, 0.4, 330, 0.3),
        new(SkerrowSeamount, "YFT", 0.7, 1.3, 0.7, 45, 0.35),
        new(SkerrowSeamount, "ALB", 0.4, 1.0, 0.4, 350, 0),
        new(SkerrowSeamount, "YTC", 0.3, 1.0, 0.3, 30, 0.4),
        new(SouthTrench, "SBF", 1, 1.3, 0.4, 330, 0.45),
        new(SouthTrench, "ALB", 0.7, 1.5, 0.4, 350, 0),
    ];

    public static DemoWeather WeatherOn(DateOnly day) =>
        Draws.Drift("weather", day.DayNumber, 1.2) switch
        {
            > 2.05 => DemoWeather.Storm,
            > 1.2 => DemoWeather.Rough,
            _ => DemoWeather.Fair,
        };

    public static DemoTruth On(DateOnly day)
    {
        var t = day.DayNumber;
        var coastMood = CoastMoodSpread * Draws.Drift("mood", t, CoastMoodMemory);
        var moods = Habits
            .Select(h => h.Zone)
            .Distinct()
            .ToDictionary(
                z => z,
                z => SlopeMean + coastMood + ZoneMoodSpread * Draws.Drift("mood " + z, t, ZoneMoodMemory)
            );
        return new DemoTruth(
            day,
            WeatherOn(day),
            [.. Habits.Select(h => Ground(h, day, moods[h.Zone]))],
            [Bait(CorranQuay, t), Bait(OldCanneryDock, t)]
        );
    }

    private static DemoGround Ground(Habit habit, DateOnly day, double slope)
    {
        var t = day.DayNumber;
        var name = habit.Zone + " " + habit.Species;
        var season = habit.Season * Math.Cos(2 * Math.PI * (day.DayOfYear - habit.Peak) / 365.25);
        // The half variance keeps the mean of the drift's factor at 1.
        var drift = RateSpread * Draws.Drift("rate " + name, t, RateMemory) - RateSpread * RateSpread / 2;
        var heavy = habit.HeavySchools;
        if (heavy > 0)
        {
            var logit = Math.Log(heavy / (1 - heavy)) + HeavySpread * Draws.Drift("heavy " + name, t, HeavyMemory);
            heavy = 1 / (1 + Math.Exp(-logit));
        }

        return new DemoGround(
            habit.Zone,
            habit.Species,
            habit.Target,
            habit.Rate * Math.Exp(season + drift),
            heavy,
            slope,
            Grades[habit.Species]
        );
    }

    private static DemoBait Bait(string landing, int t)
    {
        // Now and then a landing has anchovy for some days instead of sardine.
        var anchovy = Draws.Drift("bait kind " + landing, t, 5) > 1.3;
        var drift =
            BaitSpread * Draws.Drift("bait", t, BaitMemory)
            + LandingBaitSpread * Draws.Drift("bait " + landing, t, LandingBaitMemory);
        return new DemoBait(
            landing,
            anchovy ? "ANE" : "PIL",
            anchovy ? 3.9 * Math.Exp(drift / 2) : 5.6 * Math.Exp(drift)
        );
    }
}
