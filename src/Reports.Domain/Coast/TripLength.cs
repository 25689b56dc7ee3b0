namespace Reports.Domain.Coast;

/// <summary>How long a trip is, what it can reach and how many days it fishes. All rules here are common practice, no source.</summary>
/// <param name="Days">Length in days, above 0: 0.5, 0.75, 1, 1.5 ...</param>
/// <param name="IsAssumed">Nobody told the length: it is what trips of its kind usually are, or a day.</param>
public readonly record struct TripLength(decimal Days, bool IsAssumed = false)
{
    /// <summary>What a trip is taken for of which nothing is known.</summary>
    public static readonly TripLength OneDay = new(1);

    /// <summary>Hours of a day trip, from dock to dock; a longer trip has the whole day's.</summary>
    private const decimal HoursOfDayTrip = 12;

    /// <summary>
    /// Days fished, as a report of the trip would count them: a day trip by its length, a longer one by its whole days, for what is
    /// left of it is the run by night (an overnight trip of 1.5 days fishes one).
    /// </summary>
    public double DaysFished => (double)(Days <= 1 ? Days : decimal.Floor(Days));

    /// <summary>The longest run, one way, that is worth while: a third of the trip's hours, so that a third is left to fish.</summary>
    public decimal HoursOfRun => Days * (Days <= 1 ? HoursOfDayTrip : 24) / 3;

    /// <param name="tripDays">As the departure tells it; null or 0 where it does not.</param>
    /// <param name="kind">Null where it is not told either.</param>
    public static TripLength Of(decimal? tripDays, TripKind? kind) =>
        tripDays is > 0 and var days
            ? new(days)
            : new(
                kind switch
                {
                    TripKind.HalfDay => 0.5m,
                    TripKind.Overnight => 1.5m,
                    TripKind.MultiDay => 2.5m,
                    _ => 1,
                },
                IsAssumed: true
            );

    /// <summary>Zones that a trip of this length from a landing may go to, the nearest first.</summary>
    public IEnumerable<Zone> InReach(string landing, IEnumerable<Zone> zones)
    {
        var most = HoursOfRun;
        return zones
            .SelectMany(z => z.Reach.Where(r => r.Landing == landing), (zone, reach) => (zone, reach.Hours))
            .Where(z => z.Hours <= most)
            .OrderBy(z => z.Hours)
            .ThenBy(z => z.zone.Code, StringComparer.Ordinal)
            .Select(z => z.zone);
    }
}
