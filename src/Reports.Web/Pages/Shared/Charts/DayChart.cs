using Reports.Domain.Briefs;

namespace Reports.Web.Pages.Shared.Charts;

/// <summary>The last four weeks, a bar a day; a dash where too few boats reported to show one, a gap where none did.</summary>
public static class DayChart
{
    public const double Width = 320;
    public const double Left = 34;
    public const double Right = 316;
    public const double Top = 12;
    public const double Bottom = 112;

    public static Scale Up(IReadOnlyList<DayMark> days) =>
        new(0, Scale.RoundUp(days.Max(d => d.PerAngler ?? 0)), Bottom, Top);

    public static Chart Draw(
        IReadOnlyList<DayMark> days,
        CatchRate? rate,
        string subtitle,
        DateOnly today,
        string csvHref
    )
    {
        var up = Up(days);
        var best = days.Where(d => d.PerAngler is not null).MaxBy(d => d.PerAngler);
        var finding =
            (rate is null ? "The last four weeks" : Say.Capital("catches: " + Say.Heading(rate.Trend)))
            + (best is { PerAngler: > 0 } ? $". Best day: {Say.Day(best.Date, today)}" : "");
        var svg = new Svg(
            "days",
            Width,
            136,
            finding,
            "A bar for each day, as high as the fish caught by each angler; a dash where fewer than three boats reported, nothing where none did."
        );
        foreach (var tick in up.Ticks(2))
        {
            svg.Line(Left, up.Position(tick), Right, up.Position(tick), "grid")
                .Text(Left - 5, up.Position(tick) + 4, Scale.Tick(tick), Anchor.End);
        }

        var pitch = (Right - Left) / days.Count;
        for (var i = 0; i < days.Count; i++)
        {
            var x = Left + (i * pitch);
            if (days[i].PerAngler is { } perAngler)
            {
                svg.Rect(x + 1, up.Position(perAngler), pitch - 2, Bottom - up.Position(perAngler), "bar");
            }
            else if (days[i].Boats is null)
            {
                svg.Line(x + 2, Bottom - 4, x + pitch - 2, Bottom - 4, "hidden-day");
            }

            if ((days.Count - 1 - i) % 7 == 0)
            {
                svg.Line(x + (pitch / 2), Bottom, x + (pitch / 2), Bottom + 4, "axis");
            }
        }

        svg.Line(Left, Bottom, Right, Bottom, "axis")
            .Text(Left, Bottom + 18, Say.Day(days[0].Date, today))
            .Text(Right, Bottom + 18, Say.Day(days[^1].Date, today), Anchor.End);
        return new Chart(
            finding,
            subtitle,
            svg,
            ["Day", "Boats", "Fish for each angler"],
            [
                .. days.Reverse()
                    .Select(d =>
                        (IReadOnlyList<string>)
                            [
                                Say.Day(d.Date, today),
                                d.Boats is { } boats ? Scale.Tick(boats) : "too few to show",
                                d.PerAngler is { } f ? Say.Fish(f) : "",
                            ]
                    ),
            ],
            csvHref
        );
    }
}
