using System.Globalization;
using NetTopologySuite.Geometries;
using Reports.Domain.Coast;

namespace Reports.Web.Demo;

/// <summary>
/// The Skerrow Coast as reference data: everything here is invented. It lies in the open South Pacific, where there is no land
/// for a thousand kilometres.
/// </summary>
/// <param name="TimeZone">IANA zone of both landings and of the coast as a whole.</param>
/// <param name="CoastLine">Longitude and latitude, north to south; the sea lies east of it.</param>
public sealed record DemoWorld(
    string TimeZone,
    IReadOnlyList<Landing> Landings,
    IReadOnlyList<Boat> Boats,
    IReadOnlyList<Zone> Zones,
    IReadOnlyList<Species> Species,
    IReadOnlyList<(double Longitude, double Latitude)> CoastLine
)
{
    /// <summary>IANA zone of the coast: for <c>Reports__TimeZone</c>.</summary>
    public const string TimeZoneId = "Pacific/Auckland";

    internal const string CorranQuay = "corran-quay";
    internal const string OldCanneryDock = "old-cannery-dock";

    internal const string InnerShelf = "inner-shelf";
    internal const string CanneryBank = "cannery-bank";
    internal const string FortyFathomEdge = "forty-fathom-edge";
    internal const string SkerrowSeamount = "skerrow-seamount";
    internal const string SouthTrench = "south-trench";

    // Corners that neighbouring zones share, so that their edges meet exactly. Rows: coast, shelf break, outer edge.
    private static readonly (double, double)[] Coast =
    [
        (-171.92, -36.50),
        (-171.98, -36.72),
        (-171.90, -36.95),
        (-171.94, -37.18),
        (-171.84, -37.42),
        (-171.88, -37.62),
    ];

    private static readonly (double, double)[] Break =
    [
        (-171.62, -36.50),
        (-171.66, -36.78),
        (-171.58, -37.05),
        (-171.61, -37.33),
        (-171.55, -37.62),
    ];

    private static readonly (double, double) EdgeNorth = (-171.14, -36.50);
    private static readonly (double, double) EdgeMiddle = (-171.08, -36.80);
    private static readonly (double, double) EdgeSouth = (-171.12, -37.08);
    private static readonly (double, double) BankEast = (-171.00, -37.34);
    private static readonly (double, double) BankSouth = (-171.05, -37.60);
    private static readonly (double, double) SeamountSouth = (-170.35, -37.38);

    internal static readonly DemoWorld Skerrow = Build();

    /// <summary>The register that a report of this coast is read against.</summary>
    public Register ToRegister() => new(Landings, Boats, Zones, Species);

    private static DemoWorld Build() =>
        new(
            TimeZoneId,
            [new(CorranQuay, "Corran Quay", TimeZoneId), new(OldCanneryDock, "Old Cannery Dock", TimeZoneId)],
            [.. DemoFleet.Boats.Select(b => b.Boat)],
            [
                ZoneOf(InnerShelf, "Inner Shelf", 0.75m, 0.75m, [.. Coast, .. Break.Reverse()]),
                ZoneOf(
                    CanneryBank,
                    "Cannery Bank",
                    3.5m,
                    2.25m,
                    [Break[2], Break[3], Break[4], BankSouth, BankEast, EdgeSouth]
                ),
                ZoneOf(
                    FortyFathomEdge,
                    "Forty Fathom Edge",
                    2.5m,
                    4m,
                    [Break[0], Break[1], Break[2], EdgeSouth, EdgeMiddle, EdgeNorth]
                ),
                ZoneOf(
                    SkerrowSeamount,
                    "Skerrow Seamount",
                    5.5m,
                    5.5m,
                    [EdgeMiddle, EdgeSouth, BankEast, SeamountSouth, (-170.22, -37.02), (-170.45, -36.70)]
                ),
                ZoneOf(
                    SouthTrench,
                    "South Trench",
                    6.5m,
                    4.75m,
                    [
                        Break[4],
                        (-171.45, -38.05),
                        (-170.90, -38.22),
                        (-170.30, -37.95),
                        SeamountSouth,
                        BankEast,
                        BankSouth,
                    ]
                ),
            ],
            [
                new("SBF", "southern bluefin tuna", "Thunnus maccoyii", SpeciesKind.Catch),
                new("ALB", "albacore", "Thunnus alalunga", SpeciesKind.Catch),
                new("YTC", "yellowtail kingfish", "Seriola lalandi", SpeciesKind.Catch),
                new("YFT", "yellowfin tuna", "Thunnus albacares", SpeciesKind.Catch),
                new("DOL", "dolphinfish", "Coryphaena hippurus", SpeciesKind.Catch),
                new("PIL", "sardine", "Sardina pilchardus", SpeciesKind.Bait),
                new("ANE", "anchovy", "Engraulis encrasicolus", SpeciesKind.Bait),
                new("MAS", "chub mackerel", "Scomber japonicus", SpeciesKind.Bait),
            ],
            Coast
        );

    private static Zone ZoneOf(
        string code,
        string name,
        decimal hoursFromCorranQuay,
        decimal hoursFromOldCanneryDock,
        IReadOnlyList<(double Longitude, double Latitude)> corners
    )
    {
        // Counter-clockwise and closed, as RFC 7946 asks.
        var ring = corners.Append(corners[0]).ToList();
        var text = string.Join(
            ",",
            ring.Select(c => string.Create(CultureInfo.InvariantCulture, $"[{c.Longitude},{c.Latitude}]"))
        );
        var area = new GeometryFactory(new PrecisionModel(), 4326).CreatePolygon([
            .. ring.Select(c => new Coordinate(c.Longitude, c.Latitude)),
        ]);
        return new Zone(
            code,
            name,
            "{\"type\":\"Polygon\",\"coordinates\":[[" + text + "]]}",
            area,
            [new(CorranQuay, hoursFromCorranQuay), new(OldCanneryDock, hoursFromOldCanneryDock)]
        );
    }
}
