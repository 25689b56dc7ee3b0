namespace Reports.Domain.Reporting;

/// <summary>
/// The catches that a coast's boats told of one species, in fish of an angler and day: a new one is doubted by how far it lies above them. A
/// kernel estimate on the logarithm (as <see cref="SizesSeen"/>, of logistic kernels), in which boat trips differ by far more than their sizes do.
/// </summary>
public sealed class CatchesSeen
{
    /// <summary>The latest rows, enough for a tail and few enough to be asked with every report.</summary>
    private const int MostRows = 300;

    /// <summary>Scale in ln fish of boat trips like a row (judgement).</summary>
    private const double Scale = 0.25;

    /// <summary>Rows' worth of the doubt that few rows say little: about their median, wider (judgement).</summary>
    private const double FewRows = 1;
    private const double FewRowsScale = 0.5;

    /// <summary>
    /// The highest rows in a hundred that are left out, one at least: a slip that nobody mended must not vouch for the next (judgement).
    /// </summary>
    private const int OutOfHundred = 1;

    /// <summary>Ascending.</summary>
    private readonly double[] logs;

    private CatchesSeen(double[] logs) => this.logs = logs;

    /// <summary>Of rows with a fish and anglers; null when they are too few.</summary>
    public static CatchesSeen? Of(IEnumerable<(ReportMeasures Report, CatchMeasure Line)> told)
    {
        double[] logs =
        [
            .. told.Where(t => t.Line.Fish > 0 && t.Report.Anglers > 0)
                .OrderByDescending(t => t.Report.FishedOn)
                .ThenBy(t => t.Report.Zone, StringComparer.Ordinal)
                .ThenBy(t => t.Report.Boat, StringComparer.Ordinal)
                .ThenBy(t => t.Report.Sailing)
                .Take(MostRows)
                .Select(t => Math.Log(t.Line.Fish / (t.Report.Anglers * t.Report.DaysFished)))
                .Order(),
        ];
        return logs.Length < CoastProfile.LeastLines ? null : new(logs[..^(1 + logs.Length * OutOfHundred / 100)]);
    }

    /// <summary>Chance that an angler's fish of a day are as many as this or more, where there are any.</summary>
    public double AsMany(double perAnglerDay)
    {
        var at = Math.Log(perAnglerDay);
        var sum = FewRows * Cumulative((logs[logs.Length / 2] - at) / FewRowsScale);
        foreach (var row in logs)
        {
            sum += Cumulative((row - at) / Scale);
        }

        return sum / (logs.Length + FewRows);
    }

    /// <summary>What the middle eight in ten had, of an angler and day: no boat's own.</summary>
    public (double Low, double High) Usual() =>
        (Math.Exp(logs[logs.Length / 10]), Math.Exp(logs[(int)(0.9 * (logs.Length - 1))]));

    private static double Cumulative(double x) => 1 / (1 + Math.Exp(-x));
}
