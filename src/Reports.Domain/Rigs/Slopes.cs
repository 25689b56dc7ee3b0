using Reports.Statistics;

namespace Reports.Domain.Rigs;

/// <summary>The coast's slope on a day: what its zones share. Days before the day asked about are positive.</summary>
public readonly record struct CoastSlope(int AgeDays, double Mean, double Variance);

/// <summary>
/// How shy of heavy line the fish are, by zone and day: boat trips about their zone's day, the zone about the coast's day, both
/// drifting.
/// </summary>
internal static class Slopes
{
    private const double TripVariance = RigPriors.TripSlopeSpread * RigPriors.TripSlopeSpread;
    private const double ZoneVariance =
        RigPriors.GroupSlopeSpread * RigPriors.GroupSlopeSpread + RigPriors.OwnSlopeSpread * RigPriors.OwnSlopeSpread;

    /// <summary>Of the coast, for all days followed and the days ahead, from the zones' days.</summary>
    public static IReadOnlyList<CoastSlope> Coast(IEnumerable<(int AgeDays, double Value, double Variance)> zoneDays)
    {
        var days = zoneDays
            .GroupBy(d => d.AgeDays)
            .OrderBy(g => g.Key)
            .Select(g =>
            {
                var precision = g.Sum(d => 1 / (d.Variance + ZoneVariance));
                return new LevelObservation(
                    0,
                    -g.Key,
                    g.Sum(d => d.Value / (d.Variance + ZoneVariance)) / precision,
                    1 / precision
                );
            })
            .ToList();
        var level = new DriftingLevel(RigPriors.CoastSlope, days);
        return
        [
            .. Enumerable
                .Range(-RigPriors.DaysAhead, RigPriors.SlopeDays + RigPriors.DaysAhead)
                .Select(age =>
                {
                    var (mean, variance) = level.At(0, -age);
                    return new CoastSlope(age, mean, variance);
                }),
        ];
    }

    /// <summary>A zone's days as measured by its trips.</summary>
    public static List<(int AgeDays, double Value, double Variance)> Days(
        IEnumerable<(RigTrip Trip, (double Value, double Variance)? Measure)> trips
    ) =>
        [
            .. trips
                .Where(t => t.Measure is not null && t.Trip.Sighting.AgeDays < RigPriors.SlopeDays)
                .GroupBy(t => t.Trip.Sighting.AgeDays)
                .OrderBy(g => g.Key)
                .Select(g =>
                {
                    var precision = g.Sum(t => 1 / (t.Measure!.Value.Variance + TripVariance));
                    return (
                        g.Key,
                        g.Sum(t => t.Measure!.Value.Value / (t.Measure!.Value.Variance + TripVariance)) / precision,
                        1 / precision
                    );
                }),
        ];

    /// <summary>
    /// Gives each trip of a zone its slope, from its own report, its day's and the coast's; returns the zone's slope ahead.
    /// </summary>
    public static (double Mean, double Variance) Settle(
        IReadOnlyList<(RigTrip Trip, (double Value, double Variance)? Measure)> trips,
        IReadOnlyList<CoastSlope> coast
    )
    {
        CoastSlope At(int age) =>
            coast[Math.Clamp(age, -RigPriors.DaysAhead, RigPriors.SlopeDays - 1) + RigPriors.DaysAhead];
        var days = Days(trips);
        var own = new DriftingLevel(
            RigPriors.ZoneSlope,
            [.. days.Select(d => new LevelObservation(0, -d.AgeDays, d.Value - At(d.AgeDays).Mean, d.Variance))]
        );
        var levels = days.Count == 0 ? [] : own.AtObservations();
        var levelOf = days.Select((d, i) => (d.AgeDays, Level: At(d.AgeDays).Mean + levels[i]))
            .ToDictionary(d => d.AgeDays, d => d.Level);
        foreach (var (trip, measure) in trips)
        {
            var age = trip.Sighting.AgeDays;
            // Before the days that are followed: anything that a coast may do.
            var (level, spread) = levelOf.TryGetValue(age, out var known)
                ? (known, 0.0)
                : (At(age).Mean, ZoneVariance + At(age).Variance);
            var (sum, precision) = (level / (spread + TripVariance), 1 / (spread + TripVariance));
            if (measure is var (value, variance))
            {
                (sum, precision) = (sum + value / variance, precision + 1 / variance);
            }

            trip.Slope = sum / precision;
        }

        var ahead = At(-RigPriors.DaysAhead);
        var (mean, more) = own.At(0, RigPriors.DaysAhead);
        return (ahead.Mean + mean, ahead.Variance + more);
    }
}
