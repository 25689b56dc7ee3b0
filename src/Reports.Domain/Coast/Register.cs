using NetTopologySuite.Geometries;

namespace Reports.Domain.Coast;

/// <summary>A dock business that runs boats. Its day ends at 04:00 in its IANA time zone.</summary>
public sealed record Landing(string Code, string Name, string TimeZone)
{
    /// <summary>The landing's day of an instant: an hour before four in the morning still belongs to the day before.</summary>
    public DateOnly DayOf(DateTimeOffset instant) => DayIn(TimeZoneInfo.FindSystemTimeZoneById(TimeZone), instant);

    /// <summary>The instant at which a fishing day ends in a time zone: 04:00 of the next.</summary>
    public static DateTimeOffset EndIn(TimeZoneInfo zone, DateOnly day)
    {
        var end = day.AddDays(1).ToDateTime(new TimeOnly(4, 0));

        // Where clocks are put forward over 04:00 the day ends with the gap.
        return new DateTimeOffset(
            end,
            zone.GetUtcOffset(zone.IsInvalidTime(end) ? end.AddHours(1) : end)
        ).ToUniversalTime();
    }

    /// <summary>The fishing day of an instant in a time zone, a day ending at 04:00.</summary>
    public static DateOnly DayIn(TimeZoneInfo zone, DateTimeOffset instant) =>
        DateOnly.FromDateTime(TimeZoneInfo.ConvertTime(instant, zone).DateTime.AddHours(-4));
}

/// <summary>A vessel of a landing.</summary>
public sealed record Boat(string Code, string Name, string Landing);

/// <summary>Hours' run from a landing to a zone.</summary>
public sealed record Reach(string Landing, decimal Hours);

/// <summary>A named fishing area: a GeoJSON polygon in WGS 84 (RFC 7946), kept as given, and its reach.</summary>
public sealed record Zone(string Code, string Name, string AreaGeoJson, Geometry Area, IReadOnlyList<Reach> Reach);

public enum SpeciesKind
{
    Catch,
    Bait,
}

/// <summary>A species of the coast. The code is FAO ASFIS 3-alpha.</summary>
public sealed record Species(string Code, string Name, string ScientificName, SpeciesKind Kind)
{
    /// <summary>Heaviest fish credible at all, in grams: 1.1 times the all-tackle record; null when no record is known.</summary>
    public int? CredibleGrams =>
        Trade.Records.AllTackleKg.TryGetValue(Code, out var kg) ? (int)Math.Round(kg * 1100m) : null;

    /// <summary>The operator has closed the species: no advice is given for it, and this notice is shown instead.</summary>
    public string? ClosedNotice { get; init; }
}

public enum DepartureStatus
{
    Planned,
    Cancelled,
}

/// <summary>What kind of trip a departure is.</summary>
public enum TripKind
{
    HalfDay,
    FullDay,
    Overnight,
    MultiDay,
}

/// <summary>One sailing of a boat, planned or cancelled. Bookings (anglers) are never public.</summary>
public sealed record Departure(
    string Boat,
    DateOnly Date,
    int Sailing,
    decimal? TripDays,
    TripKind? Kind,
    int? Anglers,
    int? Capacity,
    string? Zone,
    DepartureStatus Status
)
{
    public DepartureKey Key => new(Boat, Date, Sailing);
}

/// <summary>What makes a departure the same departure.</summary>
public sealed record DepartureKey(string Boat, DateOnly Date, int Sailing);

/// <summary>
/// The coast as it is known when a report is read: a snapshot of landings, boats, zones and species. Immutable.
/// </summary>
public sealed class Register(
    IEnumerable<Landing> landings,
    IEnumerable<Boat> boats,
    IEnumerable<Zone> zones,
    IEnumerable<Species> species
)
{
    public IReadOnlyDictionary<string, Landing> Landings { get; } =
        landings.ToDictionary(l => l.Code, StringComparer.Ordinal);
    public IReadOnlyDictionary<string, Boat> Boats { get; } = boats.ToDictionary(b => b.Code, StringComparer.Ordinal);
    public IReadOnlyDictionary<string, Zone> Zones { get; } = zones.ToDictionary(z => z.Code, StringComparer.Ordinal);
    public IReadOnlyDictionary<string, Species> Species { get; } =
        species.ToDictionary(s => s.Code, StringComparer.Ordinal);

    /// <summary>The zone whose area covers a position; of several the first by code. Null outside every zone.</summary>
    public Zone? ZoneAt(decimal latitude, decimal longitude)
    {
        var point = new Point((double)longitude, (double)latitude) { SRID = 4326 };
        return Zones
            .Values.OrderBy(z => z.Code, StringComparer.Ordinal)
            .FirstOrDefault(z => z.Area.EnvelopeInternal.Covers(point.Coordinate) && z.Area.Covers(point));
    }
}
