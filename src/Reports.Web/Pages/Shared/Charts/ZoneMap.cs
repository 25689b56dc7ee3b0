using NetTopologySuite.Geometries;
using Reports.Domain.Coast;

namespace Reports.Web.Pages.Shared.Charts;

/// <summary>A zone of the map with its fish per angler; null where it has no figure of its own.</summary>
public sealed record ZoneShade(Zone Zone, double? PerAngler);

/// <summary>
/// The zones as they lie, north up, in a stronger shade where more is caught. Flat, with a degree of longitude shortened by the cosine of
/// the middle latitude: good enough for a coast.
/// </summary>
public static class ZoneMap
{
    public const double Width = 340;
    public const int Shades = 4;
    private const double Margin = 4;
    private const double LineHeight = 12;

    public static Chart? Draw(IReadOnlyList<ZoneShade> zones, string species, string period)
    {
        if (zones.Count == 0)
        {
            return null;
        }

        var known = zones.Where(z => z.PerAngler is not null).OrderByDescending(z => z.PerAngler).ToList();
        var finding =
            known.Count == 0 ? $"No zone has enough boats of its own to compare for {species}"
            : known.Count == 1 ? $"Only {known[0].Zone.Name} has enough boats of its own"
            : $"{species}: most for each angler on {known[0].Zone.Name}, least on {known[^1].Zone.Name}";
        var flat = Flat.Over([.. zones.Select(z => z.Zone.Area)]);
        var svg = new Svg(
            "map",
            Width,
            flat.Height,
            finding,
            "The zones as they lie, north up. The stronger the shade, the more fish for each angler. Dashed: too few boats of its own."
        );
        foreach (var (zone, perAngler) in zones)
        {
            svg.Area(
                flat.Rings(zone.Area),
                "zone " + Look(perAngler, known.Count == 0 ? 0 : known[0].PerAngler!.Value)
            );
        }

        foreach (var (zone, perAngler) in zones)
        {
            var (x, y) = flat.Place(zone.Area.InteriorPoint.Coordinate);
            var words = zone.Name.Split(' ').Append(perAngler is { } f ? Say.Fish(f) : "?").ToList();
            for (var i = 0; i < words.Count; i++)
            {
                svg.Text(
                    x,
                    y + ((i - ((words.Count - 1) / 2.0)) * LineHeight) + 4,
                    words[i],
                    Anchor.Middle,
                    i == words.Count - 1 ? "zone-figure" : "zone-name"
                );
            }
        }

        return new Chart(
            finding,
            $"Fish for each angler and trip day; a stronger shade is more, dashed (?) is too few boats of its own; {period}.",
            svg,
            ["Zone", "Fish for each angler"],
            [
                .. zones.Select(z =>
                    (IReadOnlyList<string>)
                        [z.Zone.Name, z.PerAngler is { } f ? Say.Fish(f) : "too few boats of its own"]
                ),
            ],
            null
        );
    }

    private static string Look(double? perAngler, double most) =>
        perAngler is not { } f
            ? "zone-unknown"
            : $"zone-shade-{(most <= 0 ? 1 : Math.Clamp((int)Math.Ceiling(f / most * Shades), 1, Shades))}";

    /// <summary>Longitudes and latitudes as positions of the drawing.</summary>
    private sealed record Flat(
        double West,
        double North,
        double PerDegreeEast,
        double PerDegreeSouth,
        double Height,
        bool AcrossDateLine
    )
    {
        public static Flat Over(IReadOnlyList<Geometry> areas)
        {
            var corners = areas.SelectMany(a => a.Coordinates).ToList();
            // Zones on both sides of the date line lie side by side, not a world apart.
            var across = corners.Max(c => c.X) - corners.Min(c => c.X) > 180;
            var (west, east) = (corners.Min(c => East(c.X, across)), corners.Max(c => East(c.X, across)));
            var (south, north) = (corners.Min(c => c.Y), corners.Max(c => c.Y));
            var shorten = Math.Cos((north + south) / 2 * Math.PI / 180);
            var scale = Math.Min((Width - (2 * Margin)) / ((east - west) * shorten), 1.6 * Width / (north - south));
            return new(west, north, scale * shorten, scale, ((north - south) * scale) + (2 * Margin), across);
        }

        public (double X, double Y) Place(Coordinate c) =>
            (Margin + ((East(c.X, AcrossDateLine) - West) * PerDegreeEast), Margin + ((North - c.Y) * PerDegreeSouth));

        public IEnumerable<IReadOnlyList<(double X, double Y)>> Rings(Geometry area) =>
            Enumerable
                .Range(0, area.NumGeometries)
                .Select(area.GetGeometryN)
                .OfType<Polygon>()
                .SelectMany(p => p.InteriorRings.Prepend(p.ExteriorRing))
                .Select(ring => (IReadOnlyList<(double, double)>)[.. ring.Coordinates.SkipLast(1).Select(Place)]);

        private static double East(double longitude, bool across) =>
            across && longitude < 0 ? longitude + 360 : longitude;
    }
}
