namespace Reports.Statistics;

/// <summary>The checks that every estimator of this folder makes of what it is handed.</summary>
internal static class RateInput
{
    /// <summary>Rounding slack for sums of weights: successes may exceed trials by this share before it is an error.</summary>
    private const double Slack = 1e-9;

    internal static void Level(double level)
    {
        if (!(level > 0 && level < 1))
        {
            throw new InvalidSampleException(
                SampleFault.OutOfRange,
                nameof(level),
                "must lie strictly between 0 and 1"
            );
        }
    }

    internal static void Finite(double value, string parameter)
    {
        if (!double.IsFinite(value))
        {
            throw new InvalidSampleException(SampleFault.NotFinite, parameter, "must be a finite number");
        }
    }

    internal static void Finite(ReadOnlySpan<double> values, string parameter)
    {
        foreach (var value in values)
        {
            Finite(value, parameter);
        }
    }

    internal static void NotNegative(double value, string parameter)
    {
        Finite(value, parameter);
        if (value < 0)
        {
            throw new InvalidSampleException(SampleFault.Negative, parameter, "must not be negative");
        }
    }

    internal static void NotNegative(ReadOnlySpan<double> values, string parameter)
    {
        foreach (var value in values)
        {
            NotNegative(value, parameter);
        }
    }

    internal static void NotEmpty(int count, string parameter)
    {
        if (count == 0)
        {
            throw new InvalidSampleException(SampleFault.Empty, parameter, "is empty");
        }
    }

    internal static void SameLength(int expected, int actual, string parameter)
    {
        if (expected != actual)
        {
            throw new InvalidSampleException(
                SampleFault.LengthMismatch,
                parameter,
                $"has {actual} values where {expected} are needed"
            );
        }
    }

    /// <summary>Checks successes out of trials and returns the successes, cut to the trials where rounding exceeds them.</summary>
    internal static double Successes(double successes, double trials)
    {
        NotNegative(successes, nameof(successes));
        NotNegative(trials, nameof(trials));
        return successes <= trials * (1 + Slack)
            ? Math.Min(successes, trials)
            : throw new InvalidSampleException(SampleFault.OutOfRange, nameof(successes), "exceed the trials");
    }

    /// <summary>Checked weights: ones when none were given; some weight must be positive.</summary>
    internal static double[] Weights(ReadOnlySpan<double> weights, int count, string parameter = "weights")
    {
        if (weights.IsEmpty)
        {
            var ones = new double[count];
            Array.Fill(ones, 1);
            return ones;
        }

        SameLength(count, weights.Length, parameter);
        NotNegative(weights, parameter);
        HasWeight(weights, parameter);
        return weights.ToArray();
    }

    internal static void HasWeight(ReadOnlySpan<double> weights, string parameter)
    {
        foreach (var weight in weights)
        {
            if (weight > 0)
            {
                return;
            }
        }

        throw new InvalidSampleException(SampleFault.NoWeight, parameter, "are all zero");
    }
}
