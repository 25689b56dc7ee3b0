using System.Globalization;
using System.Text;
using System.Text.Encodings.Web;
using Microsoft.AspNetCore.Html;

namespace Reports.Web.Pages.Shared.Charts;

/// <summary>Which part of a text its position names.</summary>
public enum Anchor
{
    Start,
    Middle,
    End,
}

/// <summary>
/// Writes one drawing as SVG: an image with a name and a description for those who hear the page, its looks in classes of the
/// style sheet (no style of its own, so a strict content policy holds). Numbers are written to 0.01 of a unit in the invariant
/// culture and names are encoded, so the same drawing is the same bytes everywhere.
/// </summary>
public sealed class Svg : IHtmlContent
{
    private readonly StringBuilder body = new();
    private readonly string id;
    private readonly string title;
    private readonly string description;
    private readonly bool trueScale;

    /// <param name="id">Unique on its page.</param>
    /// <param name="width">Of the drawing in its own units; the page scales it.</param>
    /// <param name="height">As <paramref name="width"/>.</param>
    /// <param name="title">What the drawing says, in a sentence.</param>
    /// <param name="description">What is drawn, how.</param>
    /// <param name="trueScale">The units are millimetres, and print as such.</param>
    public Svg(string id, double width, double height, string title, string description, bool trueScale = false)
    {
        this.id = id;
        this.trueScale = trueScale;
        (Width, Height) = (width, height);
        (this.title, this.description) = (title, description);
    }

    public double Width { get; }
    public double Height { get; }

    public Svg Rect(double x, double y, double width, double height, string look) =>
        Add($"<rect x=\"{Of(x)}\" y=\"{Of(y)}\" width=\"{Of(width)}\" height=\"{Of(height)}\" class=\"{Of(look)}\"/>");

    public Svg Line(double x1, double y1, double x2, double y2, string look) =>
        Add($"<line x1=\"{Of(x1)}\" y1=\"{Of(y1)}\" x2=\"{Of(x2)}\" y2=\"{Of(y2)}\" class=\"{Of(look)}\"/>");

    public Svg Circle(double x, double y, double radius, string look) =>
        Add($"<circle cx=\"{Of(x)}\" cy=\"{Of(y)}\" r=\"{Of(radius)}\" class=\"{Of(look)}\"/>");

    public Svg Text(double x, double y, string text, Anchor anchor = Anchor.Start, string look = "label") =>
        Add(
            $"<text x=\"{Of(x)}\" y=\"{Of(y)}\" text-anchor=\"{Of(anchor.ToString().ToLowerInvariant())}\" class=\"{Of(look)}\">{Of(text)}</text>"
        );

    /// <summary>Closed rings; a ring inside another is a hole.</summary>
    public Svg Area(IEnumerable<IReadOnlyList<(double X, double Y)>> rings, string look)
    {
        var path = string.Concat(
            rings.Select(ring => "M" + string.Join("L", ring.Select(p => $"{Of(p.X)} {Of(p.Y)}")) + "Z")
        );
        return Add($"<path d=\"{path}\" fill-rule=\"evenodd\" class=\"{Of(look)}\"/>");
    }

    public void WriteTo(TextWriter writer, HtmlEncoder encoder)
    {
        var size = trueScale ? $"width=\"{Of(Width)}mm\" height=\"{Of(Height)}mm\" " : "";
        writer.Write(
            $"<svg {size}viewBox=\"0 0 {Of(Width)} {Of(Height)}\" role=\"img\" aria-labelledby=\"{Of(id)}-title {Of(id)}-desc\">"
        );
        writer.Write(
            $"<title id=\"{Of(id)}-title\">{Of(title)}</title><desc id=\"{Of(id)}-desc\">{Of(description)}</desc>"
        );
        writer.Write(body);
        writer.Write("</svg>");
    }

    public override string ToString()
    {
        using var writer = new StringWriter(CultureInfo.InvariantCulture);
        WriteTo(writer, HtmlEncoder.Default);
        return writer.ToString();
    }

    private static string Of(double value) =>
        double.IsFinite(value)
            ? Math.Round(value, 2, MidpointRounding.AwayFromZero).ToString("0.##", CultureInfo.InvariantCulture)
            : throw new ArgumentOutOfRangeException(nameof(value), value, "A drawing's numbers are finite.");

    private static string Of(string text) => HtmlEncoder.Default.Encode(text);

    private Svg Add(string element)
    {
        body.Append(element);
        return this;
    }
}
