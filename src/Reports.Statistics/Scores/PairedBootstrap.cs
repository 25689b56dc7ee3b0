using MathNet.Numerics.Random;

namespace Reports.Statistics;

/// <summary>Mean difference of two scores on the same occasions, with what chance alone would do to it.</summary>
/// <param name="MeanDifference">First minus second; below zero the first is better where a lower score is better.</param>
/// <param name="StandardError">Of the mean difference: the value that infinitely many resamples would give when all blocks are
/// of one size, else the standard deviation of the resampled means.</param>
/// <param name="Low">Lower percentile bound.</param>
/// <param name="High">Upper percentile bound.</param>
/// <param name="ShareBelowZero">Share of resampled means below zero.</param>
/// <param name="Resamples">How many were drawn.</param>
/// <remarks>
/// <para>Model: differences d_i = a_i - b_i; days, or whole blocks of days, are drawn with replacement and the mean recomputed.</para>
/// <para>Parameters: a, b in the unit of the score; block in days or by label (weeks); level in (0, 1).</para>
/// <para>Method: percentile bounds (linear between order statistics, R's type 7) of resampled means; blocks circular, so that
/// each day is drawn equally often. The seed fixes every draw (xoshiro256**): the same call gives the same answer for ever.</para>
/// <para>Reference: Efron and Tibshirani 1993, An Introduction to the Bootstrap, ch. 13; Kuensch 1989, Annals of Statistics
/// 17:1217-1241; circular blocks, Politis and Romano 1992 (from memory).</para>
/// <para>Accuracy: on d_compare within the Monte Carlo error that 10,000 resamples allow; the standard error within 1e-12.</para>
/// </remarks>
public sealed record PairedBootstrap(
    double MeanDifference,
    double StandardError,
    double Low,
    double High,
    double ShareBelowZero,
    int Resamples
)
{
    /// <summary>Occasions are independent.</summary>
    public static PairedBootstrap Compare(
        ReadOnlySpan<double> first,
        ReadOnlySpan<double> second,
        int seed,
        int resamples = 10_000,
        double level = 0.95
    )
    {
        var d = Differences(first, second);
        return Resample([.. d.Select(v => (v, 1))], d.Length, d.Average(), seed, resamples, level);
    }

    /// <summary>Neighbouring occasions resemble each other: blocks of this many, in the order given.</summary>
    public static PairedBootstrap CompareInBlocks(
        ReadOnlySpan<double> first,
        ReadOnlySpan<double> second,
        int blockLength,
        int seed,
        int resamples = 10_000,
        double level = 0.95
    )
    {
        var d = Differences(first, second);
        if (blockLength < 1 || blockLength > d.Length)
        {
            throw new InvalidSampleException(
                SampleFault.OutOfRange,
                nameof(blockLength),
                "must lie between 1 and the number of occasions"
            );
        }

        var blocks = new (double Sum, int Size)[d.Length];
        for (var i = 0; i < d.Length; i++)
        {
            var sum = new CompensatedSum();
            for (var j = 0; j < blockLength; j++)
            {
                sum.Add(d[(i + j) % d.Length]);
            }

            blocks[i] = (sum.Value, blockLength);
        }

        var draws = (d.Length + blockLength - 1) / blockLength;
        return Resample(blocks, draws, d.Average(), seed, resamples, level);
    }

    /// <summary>Whole groups (weeks) are drawn: occasions with the same label stay together. The order does not matter.</summary>
    public static PairedBootstrap CompareByGroup(
        ReadOnlySpan<double> first,
        ReadOnlySpan<double> second,
        ReadOnlySpan<int> groups,
        int seed,
        int resamples = 10_000,
        double level = 0.95
    )
    {
        var d = Differences(first, second);
        Refuse.LengthMismatch(d.Length, groups.Length, nameof(groups));
        var sums = new SortedDictionary<int, (double Sum, int Size)>();
        for (var i = 0; i < d.Length; i++)
        {
            var (sum, size) = sums.GetValueOrDefault(groups[i]);
            sums[groups[i]] = (sum + d[i], size + 1);
        }

        return Resample([.. sums.Values], sums.Count, d.Average(), seed, resamples, level);
    }

    private static double[] Differences(ReadOnlySpan<double> first, ReadOnlySpan<double> second)
    {
        Refuse.Empty(first.Length, nameof(first));
        Refuse.LengthMismatch(first.Length, second.Length, nameof(second));
        Refuse.NotFinite(first, nameof(first));
        Refuse.NotFinite(second, nameof(second));
        var d = new double[first.Length];
        for (var i = 0; i < d.Length; i++)
        {
            d[i] = first[i] - second[i];
        }

        return d;
    }

    private static PairedBootstrap Resample(
        (double Sum, int Size)[] blocks,
        int draws,
        double mean,
        int seed,
        int resamples,
        double level
    )
    {
        Refuse.NotOpenProbability(level, nameof(level));
        if (resamples < 1)
        {
            throw new InvalidSampleException(SampleFault.OutOfRange, nameof(resamples), "at least one resample");
        }

        var random = new Xoshiro256StarStar(seed, threadSafe: false);
        var means = new double[resamples];
        var below = 0;
        for (var r = 0; r < resamples; r++)
        {
            var sum = new CompensatedSum();
            var size = 0;
            for (var i = 0; i < draws; i++)
            {
                var block = blocks[random.Next(blocks.Length)];
                sum.Add(block.Sum);
                size += block.Size;
            }

            means[r] = sum.Value / size;
            below += means[r] < 0 ? 1 : 0;
        }

        Array.Sort(means);
        var tail = (1 - level) / 2;
        return new PairedBootstrap(
            mean,
            Error(blocks, draws, mean, means),
            Percentile(means, tail),
            Percentile(means, 1 - tail),
            (double)below / resamples,
            resamples
        );
    }

    private static double Error((double Sum, int Size)[] blocks, int draws, double mean, double[] means)
    {
        var squares = new CompensatedSum();
        if (blocks.All(b => b.Size == blocks[0].Size))
        {
            foreach (var (sum, size) in blocks)
            {
                squares.Add((sum / size - mean) * (sum / size - mean));
            }

            return Math.Sqrt(squares.Value / blocks.Length / draws);
        }

        return means.Length > 1 ? Moments.Of(means).StandardDeviation!.Value : 0;
    }

    /// <summary>Linear between order statistics: position (n - 1) p, as R's quantile type 7.</summary>
    private static double Percentile(double[] sorted, double p)
    {
        var at = (sorted.Length - 1) * p;
        var i = (int)Math.Floor(at);
        return i + 1 < sorted.Length ? sorted[i] + (at - i) * (sorted[i + 1] - sorted[i]) : sorted[^1];
    }
}
