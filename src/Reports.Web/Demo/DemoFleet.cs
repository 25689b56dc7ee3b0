using Reports.Domain.Coast;
using static Reports.Web.Demo.DemoWorld;

namespace Reports.Web.Demo;

/// <summary>A boat, the trips that it sells and the zones that it runs to.</summary>
/// <param name="Zones">Zones with the share of its trips that make for each first.</param>
internal sealed record FleetBoat(
    Boat Boat,
    int Index,
    TripKind Kind,
    decimal TripDays,
    int Capacity,
    IReadOnlyList<(string Zone, double Share)> Zones
)
{
    /// <summary>Fixed factor on the boat's catch: lognormal, 0.2.</summary>
    public double Skill { get; } = Math.Exp(0.2 * new Draws("skill", Index).Normal() - 0.02);
}

/// <summary>One sailing, as it turned out.</summary>
/// <param name="Leaves">Day on which the boat leaves the dock.</param>
/// <param name="FishedOn">Day fished; of several the last.</param>
/// <param name="Zones">Zones fished, the planned one first.</param>
/// <param name="Silent">Sailed and never reported.</param>
internal sealed record Trip(
    FleetBoat Boat,
    DateOnly Leaves,
    DateOnly FishedOn,
    int Sailing,
    int DaysFished,
    int Anglers,
    IReadOnlyList<string> Zones,
    bool Cancelled,
    bool Silent
);

/// <summary>Who sails when, where to, with how many aboard: a function of the day fished and the boat.</summary>
internal static class DemoFleet
{
    private static readonly (string, double)[] Inshore = [(InnerShelf, 1)];
    private static readonly (string, double)[] NorthDay =
    [
        (FortyFathomEdge, 0.55),
        (InnerShelf, 0.25),
        (CanneryBank, 0.2),
    ];
    private static readonly (string, double)[] SouthDay = [(CanneryBank, 0.7), (InnerShelf, 0.3)];
    private static readonly (string, double)[] Night =
    [
        (CanneryBank, 0.3),
        (FortyFathomEdge, 0.15),
        (SkerrowSeamount, 0.35),
        (SouthTrench, 0.2),
    ];
    private static readonly (string, double)[] Far = [(SkerrowSeamount, 0.6), (SouthTrench, 0.4)];

    public static readonly IReadOnlyList<FleetBoat> Boats = Build();

    /// <summary>The sailings whose last day fished is this one, in the order of the fleet's list.</summary>
    public static IEnumerable<Trip> On(DateOnly fishedOn)
    {
        var weather = DemoSea.WeatherOn(fishedOn);
        return Boats.SelectMany(b => Trips(b, fishedOn, weather));
    }

    private static IEnumerable<Trip> Trips(FleetBoat boat, DateOnly fishedOn, DemoWeather weather)
    {
        var t = fishedOn.DayNumber;
        var turn = boat.Kind switch
        {
            TripKind.Overnight => 2,
            TripKind.MultiDay => 4,
            _ => 1,
        };
        if ((t + boat.Index) % turn != 0)
        {
            yield break;
        }

        var weekend = fishedOn.DayOfWeek is DayOfWeek.Saturday or DayOfWeek.Sunday;
        for (var sailing = 1; sailing <= (boat.Kind == TripKind.HalfDay ? 2 : 1); sailing++)
        {
            var draws = new Draws("trip", t, boat.Index, sailing);
            if (!draws.Chance(weekend ? 0.99 : 0.95))
            {
                continue;
            }

            var load = Math.Clamp((weekend ? 0.78 : 0.58) + 0.18 * draws.Normal(), 0.2, 1);
            var daysFished = boat.Kind == TripKind.MultiDay ? 2 : 1;
            var leaves = boat.Kind switch
            {
                TripKind.Overnight => fishedOn.AddDays(-1),
                TripKind.MultiDay => fishedOn.AddDays(-2),
                _ => fishedOn,
            };
            var kept = weather switch
            {
                DemoWeather.Storm => 0,
                DemoWeather.Rough => 0.5,
                _ => 0.97,
            };
            yield return new Trip(
                boat,
                leaves,
                fishedOn,
                sailing,
                daysFished,
                Math.Max(4, (int)Math.Round(load * boat.Capacity)),
                ZonesOf(draws, boat),
                Cancelled: !draws.Chance(kept),
                Silent: draws.Chance(0.08)
            );
        }
    }

    private static List<string> ZonesOf(Draws draws, FleetBoat boat)
    {
        var first = draws.Pick([.. boat.Zones.Select(z => z.Share)]);
        var zones = new List<string> { boat.Zones[first].Zone };
        var second = boat.Kind switch
        {
            TripKind.HalfDay => 0,
            TripKind.MultiDay => 0.6,
            _ => 0.35,
        };
        if (draws.Chance(second))
        {
            var rest = boat.Zones.Where((_, i) => i != first).ToList();
            zones.Add(rest[draws.Pick([.. rest.Select(z => z.Share)])].Zone);
        }

        return zones;
    }

    private static List<FleetBoat> Build()
    {
        (string Name, string Landing, TripKind Kind, decimal Days, int Capacity, (string, double)[] Zones)[] boats =
        [
            ("Grey Petrel", CorranQuay, TripKind.FullDay, 1, 28, NorthDay),
            ("Little Auk", CorranQuay, TripKind.HalfDay, 0.5m, 24, Inshore),
            ("Bold Gannet", CorranQuay, TripKind.Overnight, 1.5m, 26, Night),
            ("Quiet Fulmar", CorranQuay, TripKind.FullDay, 0.75m, 30, NorthDay),
            ("Early Shearwater", CorranQuay, TripKind.HalfDay, 0.5m, 32, Inshore),
            ("Brown Noddy", CorranQuay, TripKind.FullDay, 1, 20, NorthDay),
            ("Lone Skua", CorranQuay, TripKind.MultiDay, 2.5m, 22, Far),
            ("Silver Kittiwake", CorranQuay, TripKind.FullDay, 1, 24, NorthDay),
            ("Merry Puffin", CorranQuay, TripKind.HalfDay, 0.5m, 18, Inshore),
            ("Pale Prion", CorranQuay, TripKind.Overnight, 1.5m, 20, Night),
            ("Old Cormorant", CorranQuay, TripKind.FullDay, 0.75m, 34, NorthDay),
            ("Ardent Tern", OldCanneryDock, TripKind.FullDay, 1, 26, SouthDay),
            ("Steady Guillemot", OldCanneryDock, TripKind.HalfDay, 0.5m, 28, Inshore),
            ("Black Razorbill", OldCanneryDock, TripKind.FullDay, 1, 22, SouthDay),
            ("Wide Albatross", OldCanneryDock, TripKind.MultiDay, 2.5m, 24, Far),
            ("Windward Booby", OldCanneryDock, TripKind.FullDay, 0.75m, 30, SouthDay),
            ("Copper Turnstone", OldCanneryDock, TripKind.HalfDay, 0.5m, 20, Inshore),
            ("Humble Eider", OldCanneryDock, TripKind.FullDay, 1, 18, SouthDay),
            ("Sooty Frigatebird", OldCanneryDock, TripKind.Overnight, 1.5m, 24, Night),
            ("Late Curlew", OldCanneryDock, TripKind.Overnight, 1.5m, 22, Night),
        ];
        return
        [
            .. boats.Select(
                (b, i) =>
                    new FleetBoat(
                        new Boat(b.Name.ToLowerInvariant().Replace(' ', '-'), b.Name, b.Landing),
                        i,
                        b.Kind,
                        b.Days,
                        b.Capacity,
                        b.Zones
                    )
            ),
        ];
    }
}
