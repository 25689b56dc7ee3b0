using System.Globalization;
using Reports.Domain.Briefs;
using Reports.Web.Pages.Shared.Charts;

namespace Reports.Web.Pages.Gauge;

/// <summary>
/// Drawings at true scale, in millimetres. 170 mm wide: an A4 sheet (210 mm) and a Letter sheet (215.9 mm) both hold that.
/// </summary>
public static class GaugeDrawings
{
    public const double Width = 170;

    /// <summary>ISO/IEC 7810, ID-1: the size of a bank card (from memory of the standard).</summary>
    public const double CardWidth = 85.6;
    public const double CardHeight = 53.98;

    /// <summary>Where the measures start, so that the first label fits.</summary>
    private const double Left = 4;
    private const double Longest = Width - Left - 2;
    private const double Inch = 25.4;

    public static Svg Card()
    {
        var svg = new Svg(
            "card",
            CardWidth + 2,
            CardHeight + 2,
            "Outline of a bank card at true scale.",
            "A rectangle 85.60 mm wide and 53.98 mm high, to lay a card on after printing.",
            trueScale: true
        );
        return svg.Rect(1, 1, CardWidth, CardHeight, "outline")
            .Text(1 + (CardWidth / 2), 24, "Lay a bank card here.", Anchor.Middle)
            .Text(1 + (CardWidth / 2), 30, "If it fits the outline, this sheet is true.", Anchor.Middle)
            .Text(1 + (CardWidth / 2), 36, "85.60 by 53.98 mm", Anchor.Middle, "quiet");
    }

    /// <summary>Centimetres on the upper edge, inches on the lower.</summary>
    public static Svg Rulers()
    {
        const double Centimetres = 16;
        const double Inches = 6;
        const double Bottom = 26;
        var svg = new Svg(
            "rulers",
            Width,
            Bottom,
            "A ruler of 16 cm and one of 6 in, at true scale.",
            "Centimetres with marks at each millimetre above, inches with marks at each eighth below.",
            trueScale: true
        ).Line(Left, 0.5, Left + (Centimetres * 10), 0.5, "mark");
        for (var mm = 0; mm <= Centimetres * 10; mm++)
        {
            var x = Left + mm;
            svg.Line(
                x,
                0.5,
                x,
                mm % 10 == 0 ? 6.5
                    : mm % 5 == 0 ? 5
                    : 3.5,
                "mark"
            );
            if (mm % 10 == 0)
            {
                svg.Text(x, 10, mm == 0 ? "0 cm" : Number(mm / 10), Anchor.Middle);
            }
        }

        for (var eighth = 0; eighth <= Inches * 8; eighth++)
        {
            var x = Left + (eighth * Inch / 8);
            svg.Line(
                x,
                Bottom - 0.5,
                x,
                Bottom
                    - (
                        eighth % 8 == 0 ? 6.5
                        : eighth % 4 == 0 ? 5
                        : 3.5
                    ),
                "mark"
            );
            if (eighth % 8 == 0)
            {
                svg.Text(x, Bottom - 7.5, eighth == 0 ? "0 in" : Number(eighth / 8), Anchor.Middle);
            }
        }

        return svg.Line(Left, Bottom - 0.5, Left + (Inches * Inch), Bottom - 0.5, "mark");
    }

    /// <summary>The middle bait as a fish, and under it a bar over the lengths of most; null where a sheet can't hold them.</summary>
    public static Svg? Bait(BaitPicture bait, string finding)
    {
        if (bait.P90Mm > Longest)
        {
            return null;
        }

        var deep = 0.22 * bait.P50Mm;
        var axis = 2 + (deep / 2);
        var bar = deep + 6;
        var svg = new Svg(
            "bait",
            Width,
            bar + 8,
            finding,
            "A fish as long as the middle bait; under it a bar from the short baits' length to the long ones'.",
            trueScale: true
        );
        svg.Area([Fish(bait.P50Mm).Select(p => (Left + p.X, axis + p.Y)).ToList()], "bait-fish");
        svg.Circle(Left + (0.07 * bait.P50Mm), axis - (0.025 * bait.P50Mm), 0.9, "bait-eye");
        svg.Line(Left, bar + 1.5, Left + bait.P90Mm, bar + 1.5, "mark");
        svg.Rect(Left + bait.P10Mm, bar, Math.Max(bait.P90Mm - bait.P10Mm, 0.4), 3, "bait-range");
        svg.Line(Left + bait.P50Mm, bar - 1, Left + bait.P50Mm, bar + 4, "middle");
        return svg.Line(Left, bar - 1, Left, bar + 4, "mark");
    }

    /// <summary>One gap as a bar between two jaws.</summary>
    public static Svg Gape(int order, double mm) =>
        new Svg(
            $"gape-{Number(order)}",
            mm + 2,
            8,
            string.Create(CultureInfo.InvariantCulture, $"A gap of {mm:0.#} mm at true scale."),
            "Two upright lines as far apart as point and shank of the hook.",
            trueScale: true
        )
            .Line(1, 0, 1, 8, "mark")
            .Line(1 + mm, 0, 1 + mm, 8, "mark")
            .Rect(1, 3, mm, 2, "bait-range");

    /// <summary>A plain bait fish of a length, from the snout at the origin to the tips of its tail; a fifth as deep as long.</summary>
    private static IEnumerable<(double X, double Y)> Fish(double length)
    {
        const int Steps = 24;
        // The body is a leaf, blunter at the head, up to the root of the tail; the tail is a fork.
        const double Root = 0.82;
        static double Half(double t) => (0.105 * Math.Pow(Math.Sin(Math.PI * Math.Pow(t, 0.75)), 0.85)) + (0.018 * t);
        var back = Enumerable.Range(0, Steps).Select(i => (double)i / Steps).Select(t => (X: t * Root, Y: -Half(t)));
        (double X, double Y)[] upper = [.. back, (Root, -0.018), (1, -0.1)];
        (double X, double Y)[] outline = [.. upper, (0.93, 0), .. upper.Reverse().Select(p => (p.X, -p.Y))];
        return outline.Select(p => (p.X * length, p.Y * length));
    }

    private static string Number(int value) => value.ToString(CultureInfo.InvariantCulture);
}
