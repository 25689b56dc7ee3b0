using Reports.Domain.Coast;
using Reports.Domain.Reporting;

namespace Reports.Storage;

/// <summary>A report's head: what it is the report of, and which version stands.</summary>
public sealed class ReportRow
{
    /// <summary>32 hexadecimal digits of a version 7 UUID: public, sortable by age, the same text on both databases.</summary>
    public required string Id { get; init; }
    public required string Boat { get; set; }
    public required string Zone { get; set; }
    public required DateOnly FishedOn { get; set; }
    public required int Sailing { get; set; }

    /// <summary>The version that stands; also the concurrency token.</summary>
    public required int Version { get; set; }
    public required ReportState State { get; set; }

    public ReportKey Key => new(Boat, Zone, FishedOn, Sailing);
}

/// <summary>
/// One version of a report, never changed and never deleted: the bytes that were answered, and the measures that statistics
/// read. The idempotency key of the request that made it is a column of this row, so it is used up by exactly the transaction
/// that stores the report.
/// </summary>
public sealed class ReportVersionRow
{
    public required string ReportId { get; init; }
    public required int Version { get; init; }
    public required DateTimeOffset StoredAt { get; init; }
    public required string Boat { get; init; }
    public required string Zone { get; init; }
    public required DateOnly FishedOn { get; init; }
    public required ReportState State { get; init; }

    /// <summary>The report as answered, UTF-8 JSON: what a repeated request is answered with, byte for byte.</summary>
    public required string Body { get; init; }

    /// <summary><see cref="ReportMeasures"/> as JSON: whole grams and millimetres.</summary>
    public required string Measures { get; init; }

    /// <summary>Who stored it: the id of an API key.</summary>
    public required string Credential { get; init; }
    public Guid? IdempotencyKey { get; init; }

    /// <summary>SHA-256 of the request's canonical JSON; null where there was no idempotency key.</summary>
    public byte[]? RequestHash { get; init; }
}

/// <summary>
/// A zone and species whose brief is older than its reports. Rows are only added (in the report's transaction) and deleted (with
/// the brief), so writers never wait for each other on them.
/// </summary>
public sealed class TouchedRow
{
    /// <summary>In place of a zone: what the coast's part of the briefs rests on has changed.</summary>
    public const string Coast = "*";

    public long Id { get; init; }
    public required string Zone { get; set; }
    public required string Species { get; init; }

    /// <summary>The day that a report was fished; null where no report is the cause.</summary>
    public DateOnly? FishedOn { get; init; }

    public static TouchedRow Of(Touch touch) =>
        new()
        {
            Zone = touch.Zone,
            Species = touch.Species,
            FishedOn = touch.FishedOn,
        };
}

/// <summary>What a report, or the bait of a day, changes.</summary>
public readonly record struct Touch(string Zone, string Species, DateOnly FishedOn);

/// <summary>What the coast tells of a species on a day (<see cref="Domain.Briefs.CoastPrior"/>): the briefs of that day lean on it.</summary>
public sealed class CoastRow
{
    public required string Species { get; init; }
    public required DateOnly Day { get; set; }
    public required DateTimeOffset OpenedAt { get; set; }

    /// <summary>Counted reports of the coast when it was opened, whatever their species.</summary>
    public required int Reports { get; set; }

    /// <summary>As JSON.</summary>
    public required string Body { get; set; }
}

/// <summary>A computed brief: immutable, versioned per zone and species. The highest version is the one that is served.</summary>
public sealed class BriefRow
{
    public required string Zone { get; init; }
    public required string Species { get; init; }
    public required int Version { get; init; }
    public required DateOnly AsOf { get; init; }
    public required DateTimeOffset ComputedAt { get; init; }

    /// <summary>It is the whole coast's.</summary>
    public required bool Pooled { get; init; }

    /// <summary><see cref="Domain.Briefs.Brief"/> as JSON.</summary>
    public required string Body { get; init; }
}

/// <summary>The day for which every brief was last recomputed.</summary>
public sealed class EpochRow
{
    public required DateOnly Day { get; init; }
    public required DateTimeOffset OpenedAt { get; init; }
}

public sealed class LandingRow
{
    public required string Code { get; init; }
    public required string Name { get; set; }
    public required string TimeZone { get; set; }
}

public sealed class BoatRow
{
    public required string Code { get; init; }
    public required string Name { get; set; }
    public required string Landing { get; set; }
}

public sealed class ZoneRow
{
    public required string Code { get; init; }
    public required string Name { get; set; }

    /// <summary>GeoJSON as it was given.</summary>
    public required string Area { get; set; }

    /// <summary>JSON list of landing and hours.</summary>
    public required string Reach { get; set; }
}

public sealed class SpeciesRow
{
    public required string Code { get; init; }
    public required string Name { get; set; }
    public required string ScientificName { get; set; }
    public required SpeciesKind Kind { get; set; }
    public string? ClosedNotice { get; set; }
}

public sealed class DepartureRow
{
    public required string Boat { get; init; }
    public required DateOnly Date { get; init; }
    public required int Sailing { get; init; }
    public decimal? TripDays { get; set; }
    public TripKind? Kind { get; set; }
    public int? Anglers { get; set; }
    public int? Capacity { get; set; }
    public string? Zone { get; set; }
    public required DepartureStatus Status { get; set; }

    public static DepartureRow Of(Departure departure)
    {
        var row = new DepartureRow
        {
            Boat = departure.Boat,
            Date = departure.Date,
            Sailing = departure.Sailing,
            Status = departure.Status,
        };
        row.Take(departure);
        return row;
    }

    /// <summary>Becomes what the departure says; the key stays.</summary>
    public void Take(Departure departure)
    {
        TripDays = departure.TripDays;
        Kind = departure.Kind;
        Anglers = departure.Anglers;
        Capacity = departure.Capacity;
        Zone = departure.Zone;
        Status = departure.Status;
    }

    /// <summary>As it was put: PostgreSQL pads a decimal to its column's scale (1.50), so trailing zeros go.</summary>
    public Departure ToDeparture() =>
        new(Boat, Date, Sailing, TripDays / 1.0000000000m, Kind, Anglers, Capacity, Zone, Status);
}

/// <summary>A landing's bait of a day, which reports without bait of their own inherit.</summary>
public sealed class LandingBaitRow
{
    public required string Landing { get; init; }
    public required DateOnly Date { get; init; }

    /// <summary>The bait as given (contract JSON with its units) and in whole millimetres.</summary>
    public required string Body { get; set; }
    public required string Measures { get; set; }

    public LandingDay Day => new(Landing, Date);
}

/// <summary>What a key may do.</summary>
public enum KeyScope
{
    Admin,
    Landing,
    Boat,
    Shop,
}

/// <summary>An API key: only its SHA-256 is kept.</summary>
public sealed class ApiKeyRow
{
    public required string Id { get; init; }
    public required string Name { get; set; }
    public required byte[] Hash { get; set; }
    public required KeyScope Scope { get; init; }

    /// <summary>Code of the landing or boat that a key of that scope acts for.</summary>
    public string? Owner { get; init; }
    public required DateTimeOffset CreatedAt { get; init; }
    public DateTimeOffset? RevokedAt { get; set; }

    /// <summary>The last minute in which it was used, as far as that is written yet.</summary>
    public DateTimeOffset? LastUsedAt { get; set; }
}
