using System.Globalization;

namespace Reports.Web.Pages.Shared.Charts;

/// <summary>
/// A figure of a page: what it found as its headline, units, number and period under it, the drawing, the same numbers as a table,
/// and a file of them.
/// </summary>
public sealed record Chart(
    string Finding,
    string Subtitle,
    Svg Drawing,
    IReadOnlyList<string> Columns,
    IReadOnlyList<IReadOnlyList<string>> Rows,
    string? CsvHref
)
{
    /// <summary>The drawing for a wide page or a sheet, where it holds more than a phone can show.</summary>
    public Svg? Wide { get; init; }
}

/// <summary>A linear scale between values and positions of a drawing.</summary>
public readonly record struct Scale(double FromValue, double ToValue, double FromPosition, double ToPosition)
{
    private static readonly double[] Ends = [1, 1.5, 2, 3, 4, 5, 6, 8, 10];
    private static readonly double[] Steps = [1, 2, 5, 10];

    public double Position(double value) =>
        FromPosition + ((value - FromValue) / (ToValue - FromValue) * (ToPosition - FromPosition));

    public double Value(double position) =>
        FromValue + ((position - FromPosition) / (ToPosition - FromPosition) * (ToValue - FromValue));

    /// <summary>The least round number that is not below the value, to end an axis at; 1 for nothing.</summary>
    public static double RoundUp(double value) => RoundUp(value, Ends);

    /// <summary>Round values at even steps within the scale, at most so many.</summary>
    public IEnumerable<double> Ticks(int most)
    {
        var (from, to) = (FromValue, ToValue);
        var step = RoundUp((to - from) / most, Steps);
        // Plus nought: a negative nought would be written with its sign.
        for (var i = Math.Ceiling((from / step) - 1e-9) + 0.0; i * step <= to * (1 + 1e-9); i++)
        {
            yield return i * step;
        }
    }

    /// <summary>A tick as it is written under an axis.</summary>
    public static string Tick(double value) => value.ToString("0.##", CultureInfo.InvariantCulture);

    private static double RoundUp(double value, double[] leads)
    {
        if (value <= 0)
        {
            return 1;
        }

        var power = Math.Pow(10, Math.Floor(Math.Log10(value)));
        return leads.First(lead => lead * power >= value * (1 - 1e-12)) * power;
    }
}
