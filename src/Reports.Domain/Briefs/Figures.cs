using Reports.Statistics;

namespace Reports.Domain.Briefs;

/// <summary>How figures are stored: four decimals, so that no platform's last bit makes another brief.</summary>
internal static class Figures
{
    public const double Level = 0.8;

    public static double Round(double value) => Math.Round(value, 4, MidpointRounding.AwayFromZero);

    public static Share Share(ClusteredRatio ratio) => Share(ratio.Estimate, ratio.Interval(Level));

    public static Share Share(RateInterval interval) => Share(interval.Estimate, (interval.Low, interval.High));

    /// <summary>The mean lies within its interval, also where both came from different estimates.</summary>
    public static Share Share(double mean, (double Low, double High) interval) =>
        new(
            Round(Math.Clamp(mean, 0, 1)),
            Round(Math.Clamp(Math.Min(interval.Low, mean), 0, 1)),
            Round(Math.Clamp(Math.Max(interval.High, mean), 0, 1))
        );

    public static Rate Rate(ClusteredRatio ratio)
    {
        var (low, high) = ratio.Interval(Level);
        return new(Round(ratio.Estimate), Round(low), Round(high));
    }
}
