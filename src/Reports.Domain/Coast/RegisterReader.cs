using System.Text.Json;
using NetTopologySuite.Geometries;
using NetTopologySuite.IO.Converters;
using Reports.Domain.Reporting;

namespace Reports.Domain.Coast;

/// <summary>Reads what an administrator puts: landings, zones, boats, species, departures, each with every fault named.</summary>
public static class RegisterReader
{
    private const int NameLength = 80;
    private const int AreaPoints = 5000;

    private static readonly JsonSerializerOptions GeoJson = new() { Converters = { new GeoJsonConverterFactory() } };

    public static Reading<Landing> Landing(string code, JsonElement document) =>
        Read(
            document,
            reader =>
            {
                var name = reader.Text("name", NameLength, required: true);
                var zone = reader.Text("timeZone", 60, required: true);
                if (zone is not null && !IsIanaZone(zone))
                {
                    reader.Refuse(
                        "timeZone",
                        "unknown-time-zone",
                        "must be an IANA time zone, such as \"Pacific/Auckland\"."
                    );
                }

                return new Landing(code, name ?? "", zone ?? "");
            },
            code
        );

    public static Reading<Boat> Boat(string code, JsonElement document, Register register) =>
        Read(
            document,
            reader =>
            {
                var name = reader.Text("name", NameLength, required: true);
                var landing = reader.Code("landing", "landing", register.Landings.Keys, required: true);
                return new Boat(code, name ?? "", landing ?? "");
            },
            code
        );

    public static Reading<Species> Species(string code, JsonElement document)
    {
        var reading = Read(
            document,
            reader =>
            {
                var name = reader.Text("name", NameLength, required: true);
                var scientific = reader.Text("scientificName", NameLength, required: true);
                var kind = reader.Word("kind", Words.Of<SpeciesKind>(), required: true);
                var closed = reader.Text("closedNotice", 500);
                return new Species(code, name ?? "", scientific ?? "", kind ?? default)
                {
                    ClosedNotice = string.IsNullOrWhiteSpace(closed) ? null : closed,
                };
            }
        );
        return Code.IsSpecies(code) ? reading : WithBadCode(reading, code, Code.AcceptedSpecies);
    }

    public static Reading<Zone> Zone(string code, JsonElement document, Register register) =>
        Read(
            document,
            reader =>
            {
                var name = reader.Text("name", NameLength, required: true);
                var area = reader.Raw("area", required: true);
                Geometry? geometry = null;
                if (area is { } json)
                {
                    geometry = Area(reader, json);
                }

                var reach = reader
                    .Objects("reach", 200)
                    .Select(r =>
                    {
                        var landing = r.Code("landing", "landing", register.Landings.Keys, required: true);
                        var hours = r.Number("hours", 0, 240, "hours", required: true);
                        r.RefuseUnknown();
                        return new Reach(landing ?? "", hours ?? 0);
                    })
                    .ToList();
                return new Zone(code, name ?? "", area?.GetRawText() ?? "", geometry ?? Polygon.Empty, reach);
            },
            code
        );

    /// <summary>Reads a departure whose key stands in the address.</summary>
    public static Reading<Departure> Departure(DepartureKey key, JsonElement document, Register register) =>
        Read(
            document,
            reader =>
            {
                // What was read can be put back.
                reader.Ignore("boat", "date", "sailing");
                return Departure(key, reader, register);
            }
        );

    /// <summary>Reads a departure whose key stands in the document.</summary>
    public static Reading<Departure> Departure(JsonElement document, Register register) =>
        Read(
            document,
            reader =>
            {
                var boat = reader.Code("boat", "boat", register.Boats.Keys, required: true);
                var date = reader.Date("date", required: true);
                var sailing = reader.Whole("sailing", 1, ReportReader.MostSailings);
                return Departure(new(boat ?? "", date ?? default, sailing ?? 1), reader, register);
            }
        );

    private static Departure Departure(DepartureKey key, FieldReader reader, Register register)
    {
        var days = ReportReader.TripDays(reader);
        var kind = reader.Word("kind", Words.Of<TripKind>());
        var anglers = reader.Count("anglers", ReportReader.MostAnglers);
        var capacity = reader.Count("capacity", ReportReader.MostAnglers);
        var zone = reader.Code("zone", "zone", register.Zones.Keys, required: false);
        var status = reader.Word("status", Words.Of<DepartureStatus>()) ?? DepartureStatus.Planned;
        if (anglers > capacity)
        {
            reader.Refuse("anglers", "anglers-over-capacity", $"must be at most the capacity, {capacity}.");
        }

        return new Departure(key.Boat, key.Date, key.Sailing, days, kind, anglers, capacity, zone, status);
    }

    /// <summary>An area as it was stored.</summary>
    public static Geometry ParseArea(string geoJson) => JsonSerializer.Deserialize<Geometry>(geoJson, GeoJson)!;

    private static Reading<T> Read<T>(JsonElement document, Func<FieldReader, T> read, string? slug = null)
        where T : class
    {
        var errors = new List<FieldError>();
        var reader = FieldReader.Open(document, "", errors);
        if (reader is null)
        {
            return new(null, errors);
        }

        reader.Ignore("code");
        var value = read(reader);
        reader.RefuseUnknown();
        var reading = errors.Count > 0 ? new Reading<T>(null, errors) : new(value, errors);
        return slug is null || Code.IsSlug(slug) ? reading : WithBadCode(reading, slug, Code.Accepted);
    }

    private static Reading<T> WithBadCode<T>(Reading<T> reading, string code, string accepted)
        where T : class =>
        new(
            null,
            [
                new FieldError("", "malformed-code", $"the code in the address, \"{code}\", must be {accepted}."),
                .. reading.Errors,
            ]
        );

    private static Geometry? Area(FieldReader reader, JsonElement json)
    {
        const string accepted =
            "must be a GeoJSON Polygon or MultiPolygon (RFC 7946: longitude before latitude, rings closed)";
        // Kept as given, with whatever else is in it, and answered to everybody.
        if (!JsonText.IsText(json))
        {
            reader.Refuse("area", "malformed-text", "must hold valid Unicode text only.");
            return null;
        }

        Geometry? geometry;
        try
        {
            geometry = JsonSerializer.Deserialize<Geometry>(json, GeoJson);
        }
        catch (Exception e)
            when (e
                    is JsonException
                        or ArgumentException
                        or InvalidOperationException
                        or NotSupportedException
                        or FormatException
            )
        {
            reader.Refuse("area", "malformed-area", $"{accepted}: {e.Message}");
            return null;
        }

        if (geometry is not (Polygon or MultiPolygon) || geometry.IsEmpty)
        {
            reader.Refuse("area", "malformed-area", $"{accepted}.");
            return null;
        }

        if (geometry.NumPoints > AreaPoints)
        {
            reader.Refuse("area", "too-many", $"must have at most {AreaPoints} points; this has {geometry.NumPoints}.");
            return null;
        }

        if (geometry.Coordinates.Any(c => c.X is < -180 or > 180 || c.Y is < -90 or > 90))
        {
            reader.Refuse(
                "area",
                "out-of-range",
                "must lie within longitude -180 to 180 and latitude -90 to 90, longitude first."
            );
            return null;
        }

        if (!geometry.IsValid)
        {
            reader.Refuse("area", "malformed-area", $"{accepted}, without rings that cross themselves.");
            return null;
        }

        return geometry;
    }

    private static bool IsIanaZone(string zone) =>
        (zone.Contains('/', StringComparison.Ordinal) || zone == "UTC")
        && TimeZoneInfo.TryFindSystemTimeZoneById(zone, out var found)
        && found.HasIanaId;
}
