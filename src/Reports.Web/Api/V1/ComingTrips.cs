using Microsoft.EntityFrameworkCore;
using Reports.Domain.Chances;
using Reports.Domain.Coast;
using Reports.Storage;

namespace Reports.Web.Api.V1;

/// <summary>A planned departure with the zones that it may go to. Its bookings are not even read.</summary>
/// <param name="Zones">The one it makes for, where that is known; else those in reach, the nearest first; none where none is.</param>
/// <param name="IsZonePlanned">The departure names its zone.</param>
public sealed record ComingTrip(
    Boat Boat,
    DateOnly Date,
    int Sailing,
    TripKind? Kind,
    TripLength Length,
    IReadOnlyList<Zone> Zones,
    bool IsZonePlanned
);

/// <summary>What a trip of a length may bring in a zone, whichever boat sails it.</summary>
/// <param name="Published">The brief that stands; null where none was computed.</param>
/// <param name="Chances">Null where there is no brief, where it tells no catch rate, and for a closed species.</param>
/// <param name="ClosedNotice">Of a closed species, for which no advice is given.</param>
public sealed record ZoneChances(
    Zone Zone,
    decimal TripDays,
    PublishedBrief? Published,
    TripChances? Chances,
    string? ClosedNotice
);

/// <summary>The trips that were asked about, and the chances of every zone and length among them, each said once.</summary>
/// <param name="Trips">By day, boat and sailing. None where no departure is known that fits.</param>
/// <param name="HasMore">There are more trips than an answer holds.</param>
/// <param name="Chances">
/// By zone and length. Without a trip: of every zone that one may ask about, for the length asked about or a day.
/// </param>
public sealed record Outlook(
    ChancesQuery Query,
    IReadOnlyList<ComingTrip> Trips,
    bool HasMore,
    IReadOnlyList<ZoneChances> Chances
)
{
    public string? ClosedNotice =>
        Query.Species.ClosedNotice ?? Chances.Select(c => c.ClosedNotice).FirstOrDefault(n => n is not null);
}

/// <summary>Reads the planned departures and the standing briefs that an outlook is made of. Nothing is estimated here.</summary>
public sealed class ComingTrips(ReportsDbContext db, BriefStore briefs)
{
    /// <summary>Trips of one answer.</summary>
    public const int Most = 500;

    public async Task<Outlook> OutlookAsync(ChancesQuery query, Register register, CancellationToken ct)
    {
        var trips = await TripsAsync(query, register, ct);
        var pairs =
            trips.Count > 0
                ? trips.SelectMany(t => t.Zones.Select(z => (Zone: z, t.Length.Days)))
                : Without(query, register).Select(z => (Zone: z, Days: query.TripDays ?? TripLength.OneDay.Days));
        var standing = await briefs.OfSpeciesAsync(query.Species.Code, ct);
        return new(
            query,
            [.. trips.Take(Most)],
            trips.Count > Most,
            [
                .. pairs
                    .DistinctBy(p => (p.Zone.Code, p.Days))
                    .OrderBy(p => p.Zone.Code, StringComparer.Ordinal)
                    .ThenBy(p => p.Days)
                    .Select(p => Of(query, p.Zone, p.Days, standing.GetValueOrDefault(p.Zone.Code))),
            ]
        );
    }

    private async Task<List<ComingTrip>> TripsAsync(ChancesQuery query, Register register, CancellationToken ct)
    {
        var departures = await db
            .Departures.AsNoTracking()
            .Where(d => d.Status == DepartureStatus.Planned && d.Date >= query.From && d.Date <= query.To)
            .Select(d => new
            {
                d.Boat,
                d.Date,
                d.Sailing,
                d.TripDays,
                d.Kind,
                d.Zone,
            })
            .ToListAsync(ct);
        var trips = new List<ComingTrip>();
        foreach (
            var d in departures.OrderBy(d => d.Date).ThenBy(d => d.Boat, StringComparer.Ordinal).ThenBy(d => d.Sailing)
        )
        {
            var length = TripLength.Of(d.TripDays / 1.0000000000m, d.Kind);
            if (
                !register.Boats.TryGetValue(d.Boat, out var boat)
                || (query.Landing is { } landing && boat.Landing != landing.Code)
                || (query.TripDays is { } days && length.Days != days)
            )
            {
                continue;
            }

            var planned = d.Zone is { } code ? register.Zones.GetValueOrDefault(code) : null;
            IEnumerable<Zone> zones = planned is null ? length.InReach(boat.Landing, register.Zones.Values) : [planned];
            List<Zone> asked = [.. zones.Where(z => query.Zone is null || z.Code == query.Zone.Code)];
            if (query.Zone is null || asked.Count > 0)
            {
                trips.Add(new(boat, d.Date, d.Sailing, d.Kind, length, asked, planned is not null));
            }
        }

        return trips;
    }

    /// <summary>Zones to speak of where no departure is known.</summary>
    private static IEnumerable<Zone> Without(ChancesQuery query, Register register)
    {
        IEnumerable<Zone> zones = query.Zone is { } zone ? [zone] : register.Zones.Values;
        return query.Landing is { } landing
            ? new TripLength(query.TripDays ?? TripLength.OneDay.Days).InReach(landing.Code, zones)
            : zones;
    }

    private static ZoneChances Of(ChancesQuery query, Zone zone, decimal days, PublishedBrief? published)
    {
        var notice = query.Species.ClosedNotice ?? published?.Brief.ClosedNotice;
        return new(
            zone,
            days,
            published,
            notice is null && published?.Brief.CatchRate is { } rate
                ? TripChances.Of(rate, new TripLength(days).DaysFished, query.Limit)
                : null,
            notice
        );
    }
}
