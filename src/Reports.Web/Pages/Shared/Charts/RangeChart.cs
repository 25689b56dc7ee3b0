namespace Reports.Web.Pages.Shared.Charts;

/// <summary>What is known of one thing in a range chart: the middle and the ends; null where too few boats told.</summary>
public sealed record RangeRow(string Name, (double Mean, double Low, double High)? Value);

/// <summary>One row for each thing: its name, and under it its range as a bar with its middle as a dot.</summary>
public static class RangeChart
{
    public const double Width = 320;
    public const double Left = 8;
    public const double Right = 300;
    public const double RowHeight = 36;

    /// <param name="rows">To draw.</param>
    /// <param name="most">End of the scale; null for a round number above the highest end.</param>
    public static Scale Across(IReadOnlyList<RangeRow> rows, double? most) =>
        new(0, most ?? Scale.RoundUp(rows.Select(r => r.Value?.High ?? 0).DefaultIfEmpty(0).Max()), Left, Right);

    public static Svg Draw(
        string id,
        string title,
        string description,
        IReadOnlyList<RangeRow> rows,
        double? most,
        Func<double, string> tickText
    )
    {
        var across = Across(rows, most);
        var bottom = (rows.Count * RowHeight) + 4;
        var svg = new Svg(id, Width, bottom + 22, title, description);
        foreach (var tick in across.Ticks(4))
        {
            svg.Line(across.Position(tick), 0, across.Position(tick), bottom, "grid")
                .Text(across.Position(tick), bottom + 16, tickText(tick), Anchor.Middle);
        }

        for (var i = 0; i < rows.Count; i++)
        {
            var middle = (i * RowHeight) + 26;
            svg.Text(Left, middle - 11, rows[i].Name);
            if (rows[i].Value is var (mean, low, high))
            {
                svg.Line(across.Position(low), middle, across.Position(high), middle, "range")
                    .Circle(across.Position(mean), middle, 5, "dot");
            }
            else
            {
                svg.Text(Left, middle + 5, "too few boats", look: "label quiet");
            }
        }

        return svg;
    }
}
