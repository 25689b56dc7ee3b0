namespace Reports.Statistics;

/// <summary>
/// A weighted observation known to lie between two ends: exact when they coincide, left-censored when
/// <paramref name="Lower"/> is zero or minus infinity, right-censored when <paramref name="Upper"/> is infinite. Each end
/// is closed (belongs to the interval) unless said to be open.
/// </summary>
/// <param name="Lower">Lower end, any unit; -Infinity allowed.</param>
/// <param name="Upper">Upper end, same unit; Infinity allowed.</param>
/// <param name="Weight">Weight, 0 or more; an observation of weight 2 counts as two.</param>
public readonly record struct IntervalObservation(
    double Lower,
    double Upper,
    double Weight = 1,
    bool LowerOpen = false,
    bool UpperOpen = false
)
{
    /// <summary>The value x itself.</summary>
    public static IntervalObservation Exact(double x, double weight = 1) => new(x, x, weight);

    /// <summary>Closed [lower, upper].</summary>
    public static IntervalObservation Closed(double lower, double upper, double weight = 1) =>
        new(lower, upper, weight);

    /// <summary>Half-open [lower, upper): the cell of a rounded number.</summary>
    public static IntervalObservation RightOpen(double lower, double upper, double weight = 1) =>
        new(lower, upper, weight, UpperOpen: true);

    /// <summary>Half-open (lower, upper]: inspection times.</summary>
    public static IntervalObservation LeftOpen(double lower, double upper, double weight = 1) =>
        new(lower, upper, weight, LowerOpen: true);

    // An end is ordered by its value, then by its side: just before it (-1), at it (0), just after it (+1).
    internal (double Value, int Side) Left => (Lower, LowerOpen ? 1 : 0);
    internal (double Value, int Side) Right => (Upper, UpperOpen ? -1 : 0);

    internal static void Validate(IReadOnlyList<IntervalObservation> observations, string parameter)
    {
        ArgumentNullException.ThrowIfNull(observations, parameter);
        if (observations.Count == 0)
        {
            throw new InvalidSampleException(SampleFault.Empty, parameter, "no observations");
        }

        var total = 0.0;
        for (var i = 0; i < observations.Count; i++)
        {
            var o = observations[i];
            if (
                double.IsNaN(o.Lower)
                || double.IsNaN(o.Upper)
                || double.IsPositiveInfinity(o.Lower)
                || double.IsNegativeInfinity(o.Upper)
                || !double.IsFinite(o.Weight)
            )
            {
                throw new InvalidSampleException(SampleFault.NotFinite, parameter, $"observation {i} is {o}");
            }

            if (o.Weight < 0)
            {
                throw new InvalidSampleException(
                    SampleFault.Negative,
                    parameter,
                    $"observation {i} has weight {o.Weight}"
                );
            }

            if (o.Left.CompareTo(o.Right) > 0)
            {
                throw new InvalidSampleException(
                    SampleFault.ReversedInterval,
                    parameter,
                    $"observation {i} runs from {o.Lower} to {o.Upper}"
                );
            }

            total += o.Weight;
        }

        if (!(total > 0))
        {
            throw new InvalidSampleException(SampleFault.NoWeight, parameter, "all weights are zero");
        }
    }
}
