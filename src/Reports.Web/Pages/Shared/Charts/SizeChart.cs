using System.Globalization;
using Reports.Domain.Briefs;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;

namespace Reports.Web.Pages.Shared.Charts;

/// <summary>How heavy the fish run, in bars, and under them what fish each outfit is meant for.</summary>
public static class SizeChart
{
    public const double Width = 320;
    public const double Left = 46;
    public const double Right = 312;
    public const double Top = 14;
    public const double Bottom = 134;
    private const double FirstReach = 166;
    private const double ReachHeight = 18;

    /// <summary>Weights of the table's unit across, from the first bar's foot to the last bar's end.</summary>
    public static Scale Across(SizeTable table) => new(table.Bars[0].From, table.Bars[^1].To, Left, Right);

    /// <summary>Share of the fish upwards, to a round share above the tallest bar.</summary>
    public static Scale Up(SizeTable table) => new(0, Scale.RoundUp(table.Bars.Max(b => b.Share)), Bottom, Top);

    public static Chart Draw(
        SizePicture size,
        IReadOnlyList<Outfit> outfits,
        WeightUnit unit,
        string period,
        string csvHref
    )
    {
        var table = unit == WeightUnit.Kg ? size.Kg : size.Lb;
        var (across, up) = (Across(table), Up(table));
        var finding =
            $"Half of the fish weigh {Say.Weights(size.Quantiles.P25, size.Quantiles.P75, unit)}; nine in ten {Say.Weights(size.Quantiles.P05, size.Quantiles.P95, unit)}";
        var reach = outfits.DistinctBy(o => o.RungLb).OrderBy(o => o.RungLb).ToList();
        var height = reach.Count == 0 ? FirstReach - 12 : FirstReach + 10 + (reach.Count * ReachHeight);
        var svg = new Svg(
            "sizes",
            Width,
            height,
            finding,
            $"Bars of the share of fish by weight in {unit.Word()}."
                + (reach.Count > 0 ? " Under them a bar for each outfit over the fish that its line is meant for." : "")
        );
        foreach (var tick in up.Ticks(2))
        {
            svg.Line(Left, up.Position(tick), Right, up.Position(tick), "grid")
                .Text(Left - 5, up.Position(tick) + 4, Say.HundredOf(tick), Anchor.End);
        }

        foreach (var bar in table.Bars.Where(b => b.Share > 0))
        {
            var (from, to, tip) = (across.Position(bar.From), across.Position(bar.To), up.Position(bar.Share));
            svg.Rect(from + 0.5, tip, to - from - 1, Bottom - tip, "bar");
        }

        svg.Line(Left, Bottom, Right, Bottom, "axis");
        foreach (var tick in across.Ticks(5))
        {
            svg.Line(across.Position(tick), Bottom, across.Position(tick), Bottom + 4, "axis")
                .Text(across.Position(tick), Bottom + 16, Scale.Tick(tick), Anchor.Middle);
        }

        for (var i = 0; i < reach.Count; i++)
        {
            Reach(svg, across, reach[i], unit, FirstReach + (i * ReachHeight));
        }

        return new Chart(
            finding,
            $"Of 100 fish {(size.Of == SizeOf.Landed ? "landed" : "met")}, how many weigh what, in {unit.Word()}; {period}."
                + (reach.Count > 0 ? " Below: the fish that each line is meant for." : ""),
            svg,
            [$"From, {unit.Word()}", $"Up to, {unit.Word()}", "Of 100 fish"],
            [
                .. table.Bars.Select(b =>
                    (IReadOnlyList<string>)[Scale.Tick(b.From), Scale.Tick(b.To), Say.HundredOf(b.Share)]
                ),
            ],
            csvHref
        );
    }

    private static void Reach(Svg svg, Scale across, Outfit outfit, WeightUnit unit, double y)
    {
        svg.Text(Left - 5, y + 12, Say.Line(outfit.RungLb, unit), Anchor.End);
        var low = Math.Max(Weight.FromGrams(outfit.FishLowGrams, unit), across.FromValue);
        var high = Math.Min(Weight.FromGrams(outfit.FishHighGrams, unit), across.ToValue);
        if (low < high)
        {
            svg.Rect(across.Position(low), y + 4, across.Position(high) - across.Position(low), 9, "reach");
        }
        else
        {
            var heavier = Weight.FromGrams(outfit.FishLowGrams, unit) >= across.ToValue;
            svg.Text(
                Left,
                y + 12,
                string.Create(CultureInfo.InvariantCulture, $"for {(heavier ? "heavier" : "smaller")} fish than landed")
            );
        }
    }
}
