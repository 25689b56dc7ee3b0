using System.Globalization;
using Reports.Domain.Briefs;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using Reports.Domain.Trade;

namespace Reports.Web.Pages.Shared.Charts;

/// <summary>
/// A hook in use or advised, and the bait lengths that it goes with, within what the chart shows; null for none. Of an advised hook those that the
/// outfits have it for, else by custom.
/// </summary>
public sealed record HookReach(HookStyle Style, int Step, bool IsAdvised, (int FromMm, int ToMm)? Bait);

/// <summary>
/// Bait lengths against hooks: a row for each hook that is in use or advised, over the bait that it goes with, by the outfits or by common
/// practice; the bait of the day as a band behind all rows.
/// </summary>
public static class BaitChart
{
    public const double Width = 320;
    public const double Left = 8;
    public const double Right = 312;
    public const double RowHeight = 34;
    private const int ShortestMm = 50;
    private const int LongestMm = 310;

    public static Scale Across(LengthUnit unit) =>
        new(Length.FromMillimetres(ShortestMm, unit), Length.FromMillimetres(LongestMm, unit), Left, Right);

    /// <summary>Hooks by style and size; those for lures don't follow the bait and are left out.</summary>
    public static IReadOnlyList<HookReach> Hooks(IReadOnlyList<RigRecord> rigs, IReadOnlyList<Outfit> outfits)
    {
        var advised = outfits
            .Where(o => IsBaited(o.Technique) && o.HookStyle is HookStyle.Circle or HookStyle.J)
            .SelectMany(Advised)
            .GroupBy(h => (h.Style, h.Step), h => h.Bait)
            .ToDictionary(
                g => g.Key,
                g =>
                    g.Where(b => b is not null).Select(b => b!.Value).ToList() is { Count: > 0 } baits
                        ? (baits.Min(b => b.FromMm), baits.Max(b => b.ToMm))
                        : BaitOf(g.Key.Step)
            );
        return
        [
            .. rigs.Where(r =>
                    IsBaited(r.Technique) && r.HookStyle is HookStyle.Circle or HookStyle.J && r.HookStep is not null
                )
                .Take(RigCharts.MostRows)
                .Select(r => (Style: r.HookStyle!.Value, Step: r.HookStep!.Value))
                .Union(advised.Keys)
                .Order()
                .Select(h =>
                    advised.TryGetValue(h, out var bait)
                        ? new HookReach(h.Style, h.Step, true, bait)
                        : new HookReach(h.Style, h.Step, false, BaitOf(h.Step))
                ),
        ];
    }

    /// <summary>The hooks of an outfit with the bait that each is for; null where that is not known.</summary>
    private static IEnumerable<(HookStyle Style, int Step, (int FromMm, int ToMm)? Bait)> Advised(Outfit outfit)
    {
        yield return (outfit.HookStyle, outfit.HookStep, null);
        var from = ShortestMm;
        foreach (var hook in outfit.HooksByBait)
        {
            var to = Math.Min(hook.UpToMm ?? LongestMm, LongestMm);
            yield return (outfit.HookStyle, hook.Step, (from, to));
            from = to + 1;
        }
    }

    /// <summary>Null where there is no bait or no hook to show.</summary>
    public static Chart? Draw(
        BaitPicture? bait,
        IReadOnlyList<RigRecord> rigs,
        IReadOnlyList<Outfit> outfits,
        LengthUnit unit,
        string period,
        string csvHref
    )
    {
        var hooks = Hooks(rigs, outfits);
        if (bait is null || hooks.Count == 0)
        {
            return null;
        }

        var across = Across(unit);
        double At(int mm) => across.Position(Length.FromMillimetres(Math.Clamp(mm, ShortestMm, LongestMm), unit));
        var finding = Finding(bait, hooks, unit);
        var foot = (hooks.Count * RowHeight) + 20;
        var svg = new Svg(
            "bait-hooks",
            Width,
            foot + 22,
            $"{finding}.",
            "A row for each hook: the bar covers the bait lengths that the hook is advised for or, of hooks that are not advised, goes with by common practice. The band behind them is the bait of most boats, the line in it the middle bait."
        ).Rect(At(bait.P10Mm), 18, Math.Max(At(bait.P90Mm) - At(bait.P10Mm), 1), foot - 18, "band");
        foreach (var tick in across.Ticks(6))
        {
            svg.Line(across.Position(tick), foot, across.Position(tick), foot + 4, "axis")
                .Text(across.Position(tick), foot + 16, Scale.Tick(tick), Anchor.Middle);
        }

        svg.Line(At(bait.P50Mm), 18, At(bait.P50Mm), foot, "bait-middle")
            .Text(At(bait.P50Mm), 12, $"bait now {Say.BaitLength(bait.P50Mm, unit)}", Anchor.Middle)
            .Line(Left, foot, Right, foot, "axis");
        for (var i = 0; i < hooks.Count; i++)
        {
            var y = 20 + (i * RowHeight);
            svg.Text(Left, y + 12, Name(hooks[i]) + (hooks[i].IsAdvised ? ", advised" : ""));
            if (hooks[i].Bait is var (from, to))
            {
                svg.Rect(At(from), y + 18, At(to) - At(from), 9, hooks[i].IsAdvised ? "bar" : "reach");
            }
        }

        return new Chart(
            finding,
            $"Bait length in {unit.Word()} across; each bar is the bait that a hook is advised for or, where it is not, goes with by common practice; the band is the bait of most boats; {period}.",
            svg,
            ["Hook", $"Goes with bait of ({unit.Word()})", "Bait now"],
            [
                .. hooks.Select(h =>
                    (IReadOnlyList<string>)
                        [
                            Name(h) + (h.IsAdvised ? ", advised" : ""),
                            h.Bait is var (from, to) ? Lengths(from, to, unit) : "none that is drawn",
                            Fit(h, bait),
                        ]
                ),
            ],
            csvHref
        );
    }

    /// <summary>Whether the middle bait is among those that the hook goes with.</summary>
    public static string Fit(HookReach hook, BaitPicture bait) =>
        hook.Bait is var (from, to)
            ? bait.P50Mm < from
                ? "for larger bait"
                : bait.P50Mm > to
                    ? "for smaller bait"
                    : "goes with it"
            : hook.Step > HookForBait.CentreStep(bait.P50Mm)
                ? "for larger bait"
                : "for smaller bait";

    private static string Finding(BaitPicture bait, IReadOnlyList<HookReach> hooks, LengthUnit unit)
    {
        var fit = hooks.Where(h => Fit(h, bait) == "goes with it").ToList();
        var middle = $"The middle bait, {Say.BaitLength(bait.P50Mm, unit)}";
        return fit.Count == 0
            ? $"{middle}, goes with none of the hooks in use"
            : $"{middle}, goes with the {string.Join(", ", fit.Select(Name))}";
    }

    private static string Name(HookReach hook) => Say.Hook(hook.Style, hook.Step);

    private static bool IsBaited(Technique technique) =>
        technique is Technique.FlyLine or Technique.Sinker or Technique.Kite;

    /// <summary>Both ends of the lengths whose hooks this size is one of; whole millimetres within the chart.</summary>
    private static (int FromMm, int ToMm)? BaitOf(int step)
    {
        var fitting = Enumerable
            .Range(ShortestMm, LongestMm - ShortestMm + 1)
            .Where(mm => Math.Abs(step - HookForBait.CentreStep(mm)) <= HookForBait.SpreadSteps)
            .ToList();
        return fitting.Count == 0 ? null : (fitting[0], fitting[^1]);
    }

    private static string Lengths(int from, int to, LengthUnit unit)
    {
        string Of(int mm) =>
            Length
                .FromMillimetres(mm, unit)
                .ToString(unit == LengthUnit.In ? "0.#" : "0", CultureInfo.InvariantCulture);
        return from == ShortestMm
            ? to == LongestMm
                ? "any length"
                : $"up to {Of(to)}"
            : to == LongestMm
                ? $"{Of(from)} and more"
                : $"{Of(from)} to {Of(to)}";
    }
}
