using Reports.Domain.Briefs;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using Reports.Domain.Rigs;

namespace Reports.Domain.Tests.Briefs;

/// <summary>Builds reports of an invented coast, one call a boat trip.</summary>
internal sealed class Fleet(string zone = "cannery-bank", string species = "SBF")
{
    public static readonly DateOnly Today = new(2026, 11, 23);
    private readonly List<ReportMeasures> reports = [];
    private readonly List<KnownTrip> trips = [];
    private string? closed;

    public IReadOnlyList<ReportMeasures> Reports => reports;

    public Fleet Reported(ReportMeasures report)
    {
        reports.Add(report);
        return this;
    }

    /// <summary>Sizes in lb.</summary>
    public Fleet Trip(
        string boat,
        int daysAgo = 0,
        int kept = 10,
        int? released = null,
        double? smallest = null,
        double? largest = null,
        double? mostFrom = null,
        double? mostTo = null,
        int anglers = 20,
        int? withFish = null,
        AnglerShare? withFishWord = null,
        bool limit = false,
        string? inZone = null,
        string? fish = null,
        int sailing = 1,
        int daysCovered = 1,
        decimal? tripDays = null,
        IReadOnlyList<RigMeasure>? rigs = null,
        IReadOnlyList<BaitMeasure>? bait = null,
        bool? surface = null,
        double? depthFt = null,
        bool? birds = null,
        WeightUnit unit = WeightUnit.Lb
    ) =>
        Reported(
            new ReportMeasures
            {
                Boat = boat,
                Zone = inZone ?? zone,
                FishedOn = Today.AddDays(-daysAgo),
                Sailing = sailing,
                TripDays = tripDays,
                DaysCovered = daysCovered,
                Anglers = anglers,
                GivenIn = unit,
                Catch =
                [
                    new CatchMeasure
                    {
                        Species = fish ?? species,
                        Kept = kept,
                        Released = released,
                        SmallestGrams = Grams(smallest, unit),
                        LargestGrams = Grams(largest, unit),
                        MostFromGrams = Grams(mostFrom, unit),
                        MostToGrams = Grams(mostTo, unit),
                        AnglersWithFish = withFish,
                        AnglersWithFishWord = withFishWord,
                        Limit = limit,
                    },
                ],
                Bait = bait ?? [],
                Rigs = rigs ?? [],
                SurfaceFish = surface,
                DepthMm = depthFt is { } d ? (int)Math.Round(d * 304.8) : null,
                Birds = birds,
            }
        );

    public Fleet Sailed(string boat, int daysAgo, int sailing = 1)
    {
        trips.Add(new KnownTrip(boat, Today.AddDays(-daysAgo), sailing));
        return this;
    }

    public Fleet Closed(string notice)
    {
        closed = notice;
        return this;
    }

    public Evidence Evidence(DateOnly? asOf = null) => new(zone, species, asOf ?? Today, reports, trips, closed);

    public Brief Brief(DateOnly? asOf = null) => BriefMaker.Make(Evidence(asOf));

    /// <summary>What the rigs of the coast tell.</summary>
    public CoastRigs Coast() => CoastPrior.Of(reports, species, Today).Rigs;

    public static int? Grams(double? weight, WeightUnit unit = WeightUnit.Lb) =>
        weight is { } w ? new Weight((decimal)w, unit).Grams : null;

    public static int Lb(double weight) => Grams(weight)!.Value;

    public static RigMeasure Rig(
        int rung = 30,
        HookStyle? style = HookStyle.Circle,
        int? step = 1,
        bool winning = false,
        int? rods = null,
        int? hooked = null,
        int? landed = null,
        Technique technique = Technique.FlyLine,
        LeaderMaterial? leader = null,
        RigUse? use = null,
        string fish = "SBF"
    ) =>
        new()
        {
            Species = fish,
            Use = use,
            Technique = technique,
            LineClassGrams = Lb(rung),
            RungLb = rung,
            HookStyle = style,
            HookStep = step,
            Leader = leader,
            Rods = rods,
            Hooked = hooked,
            Landed = landed,
            Winning = winning,
        };

    public static BaitMeasure Bait(double shortestIn, double longestIn, string kind = "PIL") =>
        new()
        {
            Species = kind,
            ShortestMm = (int)Math.Round(shortestIn * 25.4),
            LongestMm = (int)Math.Round(longestIn * 25.4),
        };
}
