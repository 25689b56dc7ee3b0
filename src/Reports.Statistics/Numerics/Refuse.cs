namespace Reports.Statistics;

/// <summary>The refusals that every estimator shares, so that none of them answers NaN.</summary>
internal static class Refuse
{
    internal static void Empty(int length, string parameter)
    {
        if (length == 0)
        {
            throw new InvalidSampleException(SampleFault.Empty, parameter, "no observations");
        }
    }

    internal static void LengthMismatch(int expected, int length, string parameter)
    {
        if (expected != length)
        {
            throw new InvalidSampleException(
                SampleFault.LengthMismatch,
                parameter,
                $"{length} values beside {expected} observations"
            );
        }
    }

    internal static void Negative(ReadOnlySpan<int> counts, string parameter)
    {
        foreach (var x in counts)
        {
            if (x < 0)
            {
                throw new InvalidSampleException(SampleFault.Negative, parameter, "a count is negative");
            }
        }
    }

    internal static void NotFinite(ReadOnlySpan<double> values, string parameter)
    {
        foreach (var x in values)
        {
            if (!double.IsFinite(x))
            {
                throw new InvalidSampleException(SampleFault.NotFinite, parameter, "a value is not a finite number");
            }
        }
    }

    /// <summary>Weights as given, or all one when none are given; their total must be positive.</summary>
    internal static double[] UnusableWeights(ReadOnlySpan<double> weights, int length, string parameter)
    {
        if (weights.IsEmpty)
        {
            var ones = new double[length];
            Array.Fill(ones, 1.0);
            return ones;
        }

        LengthMismatch(length, weights.Length, parameter);
        NotFinite(weights, parameter);
        var total = 0.0;
        foreach (var w in weights)
        {
            if (w < 0)
            {
                throw new InvalidSampleException(SampleFault.Negative, parameter, "a weight is negative");
            }

            total += w;
        }

        return total > 0
            ? weights.ToArray()
            : throw new InvalidSampleException(SampleFault.NoWeight, parameter, "all weights are zero");
    }

    internal static void NotPositive(double value, string parameter)
    {
        if (double.IsNaN(value))
        {
            throw new InvalidSampleException(SampleFault.NotFinite, parameter, "not a number");
        }

        if (value <= 0)
        {
            throw new InvalidSampleException(SampleFault.OutOfRange, parameter, "must be greater than zero");
        }
    }

    /// <summary>A probability strictly between 0 and 1.</summary>
    internal static void NotOpenProbability(double value, string parameter)
    {
        if (!(value > 0 && value < 1))
        {
            throw new InvalidSampleException(SampleFault.OutOfRange, parameter, "must lie between 0 and 1");
        }
    }
}
