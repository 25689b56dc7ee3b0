using Reports.Domain.Measures;

namespace Reports.Domain.Rigs;

/// <summary>Weights in pounds on a grid of equal steps in the logarithm: fine enough for lines, whose rungs differ by a fifth.</summary>
internal static class SizeGrid
{
    private const double Step = 0.1;
    private const double Lightest = 2;
    private const double ClassWidth = 0.25;

    public const int Count = 60;

    /// <summary>ln weight in lb at the middle of each cell.</summary>
    public static readonly double[] LogLb =
    [
        .. Enumerable.Range(0, Count).Select(i => Math.Log(Lightest) + (i + 0.5) * Step),
    ];

    public static int Cell(double grams) =>
        Math.Clamp(
            (int)Math.Floor((Math.Log(grams / (double)Weight.GramsPer(WeightUnit.Lb) / Lightest) + 1e-9) / Step),
            0,
            Count - 1
        );

    /// <summary>Class of a distribution over the cells by its mean ln weight: trips of one class met like fish.</summary>
    public static int Class(double[] shares)
    {
        var mean = 0.0;
        for (var j = 0; j < shares.Length; j++)
        {
            mean += shares[j] * LogLb[j];
        }

        return (int)Math.Floor(mean / ClassWidth);
    }
}
