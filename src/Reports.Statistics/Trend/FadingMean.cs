namespace Reports.Statistics;

/// <summary>Values told on a day, one or more.</summary>
/// <param name="AgeDays">Days ago, 0 or more.</param>
/// <param name="Values">One for each telling.</param>
public sealed record ValuesOfDay(int AgeDays, IReadOnlyList<double> Values);

/// <summary>How far a decayed mean of the past misses the days to come.</summary>
/// <remarks>
/// <para>Method: each day's mean is set against the decayed mean of all values told so many days before it and earlier (a replay of the
/// past at one lead time). The mean square of the misses, less what values of one day differ by among themselves (pooled variance over the day's
/// number of them), is drawn to a prior's as days of it would.</para>
/// <para>Accuracy: worked by hand (tests of this class); no reference case. The noise of the decayed mean itself is not taken off, so spreads come
/// out a little too wide where days are told of by few.</para>
/// </remarks>
public static class FadingMean
{
    /// <summary>Standard deviation of a day's level about what the decayed mean foretold; not negative. No days: the prior's.</summary>
    /// <param name="days">One item a day, in any order.</param>
    /// <param name="leadDays">Days from the last value that may be known to the day foretold.</param>
    /// <param name="halfLifeDays">Of a value in the mean, above 0.</param>
    /// <param name="priorSpread">Before a day was told.</param>
    /// <param name="priorDays">What that is worth, above 0.</param>
    public static double SpreadOfMisses(
        IReadOnlyList<ValuesOfDay> days,
        int leadDays,
        double halfLifeDays,
        double priorSpread,
        double priorDays
    )
    {
        var told = days.Select(d =>
            {
                var mean = d.Values.Average();
                return (
                    d.AgeDays,
                    d.Values.Count,
                    Sum: d.Values.Sum(),
                    Mean: mean,
                    Scatter: d.Values.Sum(x => (x - mean) * (x - mean))
                );
            })
            .OrderByDescending(d => d.AgeDays)
            .ToList();
        var within = told.Sum(d => d.Scatter) / Math.Max(1, told.Sum(d => d.Count - 1));
        var (squares, worth) = (priorSpread * priorSpread * priorDays, priorDays);
        foreach (var day in told)
        {
            var (sum, weights) = (0.0, 0.0);
            foreach (var past in told.Where(p => p.AgeDays >= day.AgeDays + leadDays))
            {
                var weight = Evidence.DecayWeight(past.AgeDays - day.AgeDays, halfLifeDays);
                (sum, weights) = (sum + weight * past.Sum, weights + weight * past.Count);
            }

            if (weights > 0)
            {
                var miss = day.Mean - sum / weights;
                (squares, worth) = (squares + miss * miss - within / day.Count, worth + 1);
            }
        }

        return Math.Sqrt(Math.Max(0, squares / worth));
    }
}
