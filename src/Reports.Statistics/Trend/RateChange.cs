using MathNet.Numerics.Distributions;

namespace Reports.Statistics;

/// <summary>Fish and effort of one day, all boats together. Effort in anglers or angler-hours, above 0.</summary>
public readonly record struct DayCatch(double Fish, double Effort);

/// <summary>This week's catch rate over last week's, the day being the unit that varies.</summary>
/// <param name="Ratio">Recent rate over earlier rate; infinite when the earlier week had no fish, null when neither had.</param>
/// <param name="LogRatioError">Standard error of ln(ratio); null with fewer than two days, or no fish, in a week.</param>
/// <param name="DegreesOfFreedom">Days of both weeks minus two.</param>
/// <remarks>
/// <para>Model: rate = sum T_d / sum E_d; ln ratio = ln rate_1 - ln rate_2. Boats of one day share their fish, so days are
/// clusters: var(ln rate) = G/(G - 1) sum_d (T_d - rate E_d)^2 / (sum T_d)^2, but never below the Poisson 1 / sum T_d: a few days
/// that happen to agree do not prove a precise rate.</para>
/// <para>Parameters: T_d fish, >= 0; E_d effort, > 0; G days of a week.</para>
/// <para>Method: linearised ratio estimator; Pr(ratio &gt; r) from Student's t with G_1 + G_2 - 2 degrees of freedom.</para>
/// <para>Reference: Cochran 1977, Sampling Techniques, section 6.3 (from memory).</para>
/// <para>Accuracy: closed form; share of false alarms measured by simulation in TrendTests.</para>
/// </remarks>
public sealed record RateChange(double? Ratio, double? LogRatioError, int DegreesOfFreedom)
{
    public static RateChange Between(ReadOnlySpan<DayCatch> recent, ReadOnlySpan<DayCatch> earlier)
    {
        var (rate1, variance1) = Rate(recent, nameof(recent));
        var (rate2, variance2) = Rate(earlier, nameof(earlier));
        return new RateChange(
            rate1 == 0 && rate2 == 0 ? null
                : rate2 == 0 ? double.PositiveInfinity
                : rate1 / rate2,
            variance1 + variance2 is { } v ? Math.Sqrt(v) : null,
            recent.Length + earlier.Length - 2
        );
    }

    /// <summary>Probability that the true ratio exceeds this one; null where the error is unknown.</summary>
    public double? ProbabilityAbove(double ratio)
    {
        Refuse.NotPositive(ratio, nameof(ratio));
        return LogRatioError is { } error && Ratio is { } r
            ? StudentT.CDF(0, 1, DegreesOfFreedom, Math.Log(r / ratio) / error)
            : null;
    }

    /// <summary>Interval of the ratio; null where the error is unknown.</summary>
    public (double Low, double High)? Interval(double level = 0.8)
    {
        Refuse.NotOpenProbability(level, nameof(level));
        if (LogRatioError is not { } error || Ratio is not { } r)
        {
            return null;
        }

        var reach = StudentT.InvCDF(0, 1, DegreesOfFreedom, 0.5 + level / 2) * error;
        return (r * Math.Exp(-reach), r * Math.Exp(reach));
    }

    private static (double Rate, double? LogVariance) Rate(ReadOnlySpan<DayCatch> days, string parameter)
    {
        Refuse.Empty(days.Length, parameter);
        double fish = 0;
        double effort = 0;
        foreach (var day in days)
        {
            Refuse.NotFinite([day.Fish, day.Effort], parameter);
            if (day.Fish < 0)
            {
                throw new InvalidSampleException(SampleFault.Negative, parameter, "a catch is negative");
            }

            Refuse.NotPositive(day.Effort, parameter);
            fish += day.Fish;
            effort += day.Effort;
        }

        var rate = fish / effort;
        if (fish == 0 || days.Length < 2)
        {
            return (rate, null);
        }

        double squares = 0;
        foreach (var day in days)
        {
            var residual = day.Fish - rate * day.Effort;
            squares += residual * residual;
        }

        double g = days.Length;
        return (rate, Math.Max(g / (g - 1) * squares / (fish * fish), 1 / fish));
    }
}
