using Reports.Domain.Reporting;

namespace Reports.Domain.Briefs;

/// <summary>
/// Everything a brief is computed from: a value, so that the same stored reports give the same brief whatever the order in which
/// they came, the culture or the database.
/// </summary>
/// <param name="Zone">Code of the zone asked about.</param>
/// <param name="Species">Code of the species.</param>
/// <param name="AsOf">Sailings fished up to this day are in.</param>
/// <param name="Reports">
/// Counted reports that list the species (the zone's; the whole coast's where its part is computed too), fished in the <see cref="Windows.Mechanics"/> days up to
/// <paramref name="AsOf"/>, in the order of (date, zone, boat, sailing); the landing's bait filled in where a report has none.
/// </param>
/// <param name="Trips">Departures into the zone known in the display window and not cancelled.</param>
/// <param name="ClosedNotice">The operator's notice when the species is closed.</param>
public sealed record Evidence(
    string Zone,
    string Species,
    DateOnly AsOf,
    IReadOnlyList<ReportMeasures> Reports,
    IReadOnlyList<KnownTrip> Trips,
    string? ClosedNotice
);

/// <summary>A departure that the service knows of, whether or not its boat has reported.</summary>
/// <param name="Reported">
/// A counted report of it exists, of whatever species: a boat that fished for something else was not silent. A report among the
/// evidence with the same boat, date and sailing says so as well.
/// </param>
public sealed record KnownTrip(string Boat, DateOnly Date, int Sailing, bool Reported = false);

/// <summary>How far back each kind of statistic looks, in days up to and including the day asked about.</summary>
public static class Windows
{
    /// <summary>For what a reader is shown.</summary>
    public const int Display = 28;

    /// <summary>For the mechanics of rigs, which change slowly.</summary>
    public const int Mechanics = 90;
}
