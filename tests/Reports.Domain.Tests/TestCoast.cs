using NetTopologySuite.Geometries;
using Reports.Domain.Coast;

namespace Reports.Domain.Tests;

/// <summary>A piece of the invented coast: two landings in two time zones, two zones that touch nowhere.</summary>
internal static class TestCoast
{
    public static Register Register { get; } =
        new(
            [
                new Landing("corran-quay", "Corran Quay", "Etc/GMT+10"),
                new Landing("old-cannery-dock", "Old Cannery Dock", "Etc/GMT-10"),
            ],
            [
                new Boat("grey-petrel", "Grey Petrel", "corran-quay"),
                new Boat("ardent-tern", "Ardent Tern", "old-cannery-dock"),
            ],
            [Square("cannery-bank", "Cannery Bank", 10), Square("south-trench", "South Trench", 12)],
            [
                new Species("SBF", "southern bluefin", "Thunnus maccoyii", SpeciesKind.Catch),
                new Species("YFT", "yellowfin", "Thunnus albacares", SpeciesKind.Catch),
                new Species("PIL", "sardine", "Sardina pilchardus", SpeciesKind.Bait),
                new Species("ANE", "anchovy", "Engraulis encrasicolus", SpeciesKind.Bait),
            ]
        );

    // One degree square with its south-west corner at 41 south.
    private static Zone Square(string code, string name, double west) =>
        new(
            code,
            name,
            "{}",
            new GeometryFactory(new PrecisionModel(), 4326).ToGeometry(new Envelope(west, west + 1, -41, -40)),
            [new Reach("corran-quay", 3)]
        );
}
