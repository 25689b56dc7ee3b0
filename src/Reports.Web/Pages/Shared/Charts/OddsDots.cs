using Reports.Domain.Briefs;

namespace Reports.Web.Pages.Shared.Charts;

/// <summary>Ten anglers in a row, as many filled as are likely to get a fish; a line under those that the range leaves open.</summary>
public static class OddsDots
{
    public const double Pitch = 20;
    private const double Radius = 7;
    private const double Middle = 10;

    public static Svg Draw(string id, Share odds)
    {
        var filled = Say.OfTen(odds.Mean);
        var (low, high) = Say.RangeOfTen(odds);
        var svg = new Svg(
            id,
            10 * Pitch,
            28,
            $"{Say.Capital(Say.InTen(odds, "anglers"))}.",
            "Ten dots, one for each of ten anglers; a filled dot is an angler with a fish. The line underneath runs from the low to the high end of the likely range."
        );
        for (var i = 0; i < 10; i++)
        {
            svg.Circle((i + 0.5) * Pitch, Middle, Radius, i < filled ? "angler-fish" : "angler-blank");
        }

        return svg.Line(low * Pitch, 24, high * Pitch, 24, "range");
    }
}
