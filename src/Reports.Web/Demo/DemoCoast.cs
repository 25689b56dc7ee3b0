using Reports.Domain.Coast;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;

namespace Reports.Web.Demo;

/// <summary>What is wrong with a report that was spoilt on purpose.</summary>
public enum DemoSlip
{
    /// <summary>A "2/0" written as "2".</summary>
    LostAught,

    /// <summary>Kilograms given as pounds.</summary>
    OtherUnit,

    /// <summary>A largest fish with a digit too many.</summary>
    WildSize,

    /// <summary>A count with a nought too many.</summary>
    WildCount,
}

/// <summary>A report as a client would send it.</summary>
/// <param name="FishedOn">With boat, zone and sailing the report's key; the same as in the document.</param>
/// <param name="ReceivedAt">When it came in, UTC: within the landing's day <paramref name="FishedOn"/>, which ends at 04:00.</param>
/// <param name="Json">Body of <c>POST /api/v1/reports</c>.</param>
/// <param name="SoFar">A count during the day that nobody finalised.</param>
/// <param name="Slip">Truth about the report, not part of it: how it was spoilt; null for an honest one.</param>
public sealed record DemoReport(
    string Boat,
    string Zone,
    DateOnly FishedOn,
    int Sailing,
    Guid IdempotencyKey,
    DateTimeOffset ReceivedAt,
    string Json,
    bool SoFar,
    DemoSlip? Slip
);

/// <summary>What a landing declares of its bait for a day.</summary>
public sealed record DemoLandingBait(string Landing, DateOnly Date, IReadOnlyList<BaitLine> Bait);

/// <summary>A day of the coast: its reports in the order in which they came in, and the landings' bait.</summary>
public sealed record DemoDay(DateOnly Date, IReadOnlyList<DemoReport> Reports, IReadOnlyList<DemoLandingBait> Bait);

/// <summary>A sailing for the landing's book.</summary>
/// <param name="Departure">Its date is the day on which the boat leaves.</param>
/// <param name="FishedOn">
/// Day that its report carries: the same for half- and full-day trips, the day after for an overnight, two days after for a
/// multi-day trip.
/// </param>
/// <param name="Silent">Truth: it sails and nobody ever reports. Silence is not a zero.</param>
public sealed record DemoDeparture(Departure Departure, DateOnly FishedOn, bool Silent);

/// <summary>
/// The demo coast: an invented fleet whose reports are drawn from a stated model (docs/demo.md), so that the briefs can be
/// checked against the truth. Every day is a function of the seed and its date alone: to renew the demo, drop the oldest day and
/// add <see cref="Days"/> of yesterday.
/// </summary>
public static class DemoCoast
{
    /// <summary>Another seed is another coast.</summary>
    public const ulong Seed = 0x5EAB1ED5;

    /// <summary>Days of reports that a fresh demo holds, up to yesterday.</summary>
    public const int HistoryDays = 120;

    /// <summary>Days of departures behind and ahead of today.</summary>
    public const int DeparturesBack = 28;
    public const int DeparturesAhead = 14;

    /// <summary>Fish that one angler may land of a species in a day, by the coast's invented custom.</summary>
    internal const int LimitPerAnglerDay = 3;

    internal static readonly TimeZoneInfo Clock = TimeZoneInfo.FindSystemTimeZoneById(DemoWorld.TimeZoneId);

    /// <summary>Landings, boats, zones and species.</summary>
    public static DemoWorld World() => DemoWorld.Skerrow;

    /// <summary>The days from first to last, both inclusive, oldest first; drawn as they are enumerated.</summary>
    public static IEnumerable<DemoDay> Days(DateOnly first, DateOnly last) => Each(first, last).Select(Day);

    /// <summary>
    /// Sailings that leave from first to last, both inclusive, ordered by date, boat and sailing; those called off are
    /// cancelled, those that the boat never planned are absent.
    /// </summary>
    public static IEnumerable<DemoDeparture> Departures(DateOnly first, DateOnly last) =>
        Each(first, last.AddDays(2))
            .SelectMany(DemoFleet.On)
            .Where(t => t.Leaves >= first && t.Leaves <= last)
            .OrderBy(t => t.Leaves)
            .ThenBy(t => t.Boat.Boat.Code, StringComparer.Ordinal)
            .ThenBy(t => t.Sailing)
            .Select(DepartureOf);

    /// <summary>The state of the sea on a day: what the day's reports were drawn from.</summary>
    public static DemoTruth Truth(DateOnly day) => DemoSea.On(day);

    /// <summary>A boat's own factor on its hook-ups; 1 is average.</summary>
    public static double Skill(string boat) => DemoFleet.Boats.First(b => b.Boat.Code == boat).Skill;

    /// <summary>
    /// What the model expects of a boat trip that spends all its time in one zone, by simulation: the answer that a brief should
    /// come near. The same arguments give the same answer.
    /// </summary>
    /// <param name="truth">The day, from <see cref="Truth"/>.</param>
    /// <param name="landing">Code of the landing whose bait is fished.</param>
    /// <param name="anglers">Paying rods.</param>
    /// <param name="skill">The boat's factor, from <see cref="Skill"/>.</param>
    /// <param name="trips">Boat trips simulated; the standard error of a share of trips is at most 0.5 / sqrt(trips).</param>
    public static DemoExpectation Expect(
        DemoTruth truth,
        string zone,
        string species,
        string landing,
        decimal tripDays = 1,
        int anglers = 20,
        double skill = 1,
        int trips = 2000
    )
    {
        var ground = truth.Ground(zone, species);
        var draws = new Draws($"expect {zone} {species} {landing}", truth.Day.DayNumber, (long)(tripDays * 4), anglers);
        var limit = LimitPerAnglerDay * (tripDays > 2 ? 2 : 1);
        var (withFish, metHeavy) = (0, 0);
        var weights = new List<double>();
        var largest = new List<double>();
        for (var trip = 0; trip < trips; trip++)
        {
            var haul = DemoFishing.Fish(
                draws,
                ground,
                truth.Bait(landing).MedianInches,
                anglers,
                Effort(tripDays),
                skill,
                limit
            );
            var landed = haul.Landed.ToList();
            withFish += landed.Select(h => h.Angler).Distinct().Count();
            metHeavy += haul.MetHeavy ? 1 : 0;
            weights.AddRange(landed.Select(h => h.WeightLb));
            largest.Add(landed.Select(h => h.WeightLb).DefaultIfEmpty(0).Max());
        }

        return new DemoExpectation(
            (double)weights.Count / (trips * anglers),
            (double)withFish / (trips * anglers),
            (double)metHeavy / trips,
            weights,
            largest
        );
    }

    /// <summary>Fishing time of a trip in full days: its length where it is a day or less, else 1.2 for each day fished.</summary>
    internal static double Effort(decimal tripDays) =>
        tripDays switch
        {
            <= 1 => (double)tripDays,
            <= 2 => 1.2,
            _ => 2.4,
        };

    private static IEnumerable<DateOnly> Each(DateOnly first, DateOnly last) =>
        Enumerable.Range(0, Math.Max(0, last.DayNumber - first.DayNumber + 1)).Select(first.AddDays);

    private static DemoDay Day(DateOnly date)
    {
        var truth = Truth(date);
        return new DemoDay(
            date,
            [
                .. DemoFleet
                    .On(date)
                    .Where(t => !t.Cancelled && !t.Silent)
                    .SelectMany(t => DemoCrew.Reports(t, truth))
                    .OrderBy(r => r.ReceivedAt)
                    .ThenBy(r => r.Boat, StringComparer.Ordinal)
                    .ThenBy(r => r.Zone, StringComparer.Ordinal),
            ],
            [.. truth.Baits.Select(b => LandingBait(b, date))]
        );
    }

    private static DemoLandingBait LandingBait(DemoBait bait, DateOnly date) =>
        new(
            bait.Landing,
            date,
            [
                new BaitLine
                {
                    Species = bait.Species,
                    Shortest = HalfInches(bait.ShortestInches),
                    Longest = HalfInches(bait.LongestInches),
                },
            ]
        );

    private static Length HalfInches(double inches) => new((decimal)Math.Round(inches * 2) / 2, LengthUnit.In);

    private static DemoDeparture DepartureOf(Trip trip) =>
        new(
            new Departure(
                trip.Boat.Boat.Code,
                trip.Leaves,
                trip.Sailing,
                trip.Boat.TripDays,
                trip.Boat.Kind,
                trip.Anglers,
                trip.Boat.Capacity,
                trip.Zones[0],
                trip.Cancelled ? DepartureStatus.Cancelled : DepartureStatus.Planned
            ),
            trip.FishedOn,
            trip.Silent
        );
}

/// <summary>What the model expects of one boat trip.</summary>
/// <param name="weightsLb">Weights of all fish landed in the simulation.</param>
/// <param name="largestLb">Largest fish of each simulated trip, 0 for a blank.</param>
public sealed class DemoExpectation(
    double landedPerAngler,
    double atLeastOne,
    double metHeavy,
    IEnumerable<double> weightsLb,
    IEnumerable<double> largestLb
)
{
    private readonly double[] weights = [.. weightsLb.Order()];
    private readonly double[] largest = [.. largestLb.Order()];

    /// <summary>Mean fish landed per angler.</summary>
    public double LandedPerAngler => landedPerAngler;

    /// <summary>Share of anglers with a fish.</summary>
    public double AtLeastOne => atLeastOne;

    /// <summary>Share of boat trips that stopped on a school of the heavy grade.</summary>
    public double MetHeavy => metHeavy;

    /// <summary>Weight below which the share of landed fish lies, lb; null when none was landed.</summary>
    public double? Quantile(double share) =>
        weights.Length == 0 ? null : weights[(int)Math.Round(share * (weights.Length - 1))];

    /// <summary>Share of landed fish over a weight; 0 when none was landed.</summary>
    public double FishOver(double lb) => ShareOver(weights, lb);

    /// <summary>Share of boat trips, blank ones too, that landed a fish over a weight.</summary>
    public double TripsOver(double lb) => ShareOver(largest, lb);

    private static double ShareOver(double[] values, double lb) =>
        values.Length == 0 ? 0 : (double)values.Count(v => v > lb) / values.Length;
}
