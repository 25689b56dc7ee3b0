using System.Globalization;
using Reports.Domain.TrackRecord;

namespace Reports.Web.Pages.Shared.Charts;

/// <summary>
/// Odds that were said, across, against the share of anglers who then had a fish, upwards: a dot for each tenth with its interval,
/// on the diagonal where what was said is what came.
/// </summary>
public static class CalibrationChart
{
    public const double Width = 320;
    public const double Height = 340;
    private const double Left = 40;
    private const double Right = 304;
    private const double Top = 30;
    private const double Bottom = 280;

    public static Scale Across(double end) => new(0, end, Left, Right);

    public static Scale Up(double end) => new(0, end, Bottom, Top);

    public static Chart Draw(OddsScore odds, string period, string csvHref)
    {
        var finding = Finding(odds.Bins);
        // Both axes as far as there is something to see: on a whole ten, intervals of well-told odds hide behind their dots.
        var end = Math.Min(10, Scale.RoundUp(odds.Bins.Max(b => (double?)(10 * Math.Max(b.Said, b.Came.High))) ?? 10));
        var (across, up) = (Across(end), Up(end));
        var svg = new Svg(
            "said-came",
            Width,
            Height,
            $"{finding}.",
            "A dot for each tenth of the odds that were said, as high as the share of anglers who then had a fish, with its interval. On the slanting line what was said is what came."
        );
        foreach (var tick in up.Ticks(5))
        {
            svg.Line(Left, up.Position(tick), Right, up.Position(tick), "grid")
                .Text(Left - 6, up.Position(tick) + 4, Scale.Tick(tick), Anchor.End)
                .Text(across.Position(tick), Bottom + 18, Scale.Tick(tick), Anchor.Middle);
        }

        svg.Line(Left, Bottom, Right, Top, "axis")
            .Line(Left, Bottom, Right, Bottom, "axis")
            .Text((Left + Right) / 2, Bottom + 40, "said, of 10 anglers", Anchor.Middle)
            .Text(4, 12, "came, of 10");
        foreach (var bin in odds.Bins)
        {
            var x = across.Position(10 * bin.Said);
            svg.Line(x, up.Position(10 * bin.Came.Low), x, up.Position(10 * bin.Came.High), "range")
                .Circle(x, up.Position(10 * bin.Came.Mean), 5, "dot");
        }

        return new Chart(
            finding,
            $"Anglers of 10 with at least one fish, said and came, with what chance alone makes likely; {odds.Anglers.ToString("N0", CultureInfo.InvariantCulture)} anglers on {Say.Plural(odds.Trips, "boat trip")}; {period}.",
            svg,
            ["Said, of 10", "Came, of 10", "Anglers", "Boat trips"],
            [
                .. odds.Bins.Select(b =>
                    (IReadOnlyList<string>)
                        [
                            Tenths(b.Said),
                            $"{Tenths(b.Came.Mean)}, {Say.Likely(b.Came)}",
                            b.Anglers.ToString(CultureInfo.InvariantCulture),
                            b.Trips.ToString(CultureInfo.InvariantCulture),
                        ]
                ),
            ],
            csvHref
        );
    }

    /// <summary>"3.4": a tenth of ten, as the record tells it.</summary>
    public static string Tenths(double share) => (10 * share).ToString("0.0", CultureInfo.InvariantCulture);

    private static string Finding(IReadOnlyList<OddsBin> bins)
    {
        var off = bins.Where(b => b.Said < b.Came.Low || b.Said > b.Came.High).MaxBy(b => b.Anglers);
        if (bins.Count == 0)
        {
            return "Too few boats at any one number to compare";
        }

        return off is null
            ? "What was said is what came, as far as chance lets one see"
            : $"Where {Tenths(off.Said)} in 10 was said, {Tenths(off.Came.Mean)} in 10 had a fish";
    }
}
