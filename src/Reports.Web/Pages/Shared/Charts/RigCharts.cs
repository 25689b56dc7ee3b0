using Reports.Domain.Briefs;
using Reports.Domain.Measures;

namespace Reports.Web.Pages.Shared.Charts;

/// <summary>How the rigs did: three charts over the same rows (best on how many trips, landed for each rod, kept on).</summary>
public static class RigCharts
{
    /// <summary>Rows that a chart shows; the table has all.</summary>
    public const int MostRows = 8;

    public static Chart Wins(IReadOnlyList<RigRecord> rigs, WeightUnit unit, string period, string csvHref)
    {
        var rows = Rows(rigs, unit, r => r.Wins is { } w ? (w.Mean, w.Low, w.High) : null);
        var ranked = rigs.Where(r => r.Wins is not null).OrderByDescending(r => r.Wins!.Mean).ToList();
        var finding = ranked.Count switch
        {
            0 => "Too few boats told which rig did best",
            1 => $"{Name(ranked[0], unit)} did best on {Trips(ranked[0])}",
            _ when ranked[0].WinsClear => $"{Name(ranked[0], unit)} did best most often: on {Trips(ranked[0])}",
            _ => $"No clear difference between {Name(ranked[0], unit)} and {Name(ranked[1], unit)}",
        };
        return new Chart(
            finding,
            $"Of 100 boat trips, on how many the rig did best, with the likely range; {period}. A rig that few people fish seldom wins.",
            RangeChart.Draw(
                "wins",
                finding,
                "A row for each rig: the line is the likely range of its share of wins, the dot the middle.",
                rows,
                null,
                v => Scale.Tick(v * 100)
            ),
            ["Rig", "Boat trips", "Best on", "Against the row above"],
            [
                .. rigs.Select(
                    (rig, i) =>
                        (IReadOnlyList<string>)
                            [
                                Name(rig, unit),
                                Say.Plural(rig.Reports, "trip"),
                                rig.Wins is { } w ? Say.OfHundred(w, "trips") : "too few boats",
                                i == 0 || rig.Wins is null || rigs[i - 1].Wins is null ? ""
                                : rigs[i - 1].WinsClear ? "clearly less often"
                                : "no clear difference",
                            ]
                ),
            ],
            csvHref
        );
    }

    public static Chart LandedPerRod(IReadOnlyList<RigRecord> rigs, WeightUnit unit, string period, string csvHref)
    {
        var rows = Rows(rigs, unit, r => r.LandedPerRod is { } l ? (l.Mean, l.Low, l.High) : null);
        var finding = Finding(
            [.. rigs.Where(r => r.LandedPerRod is not null)],
            r => r.LandedPerRod!.Mean,
            r => r.LandedPerRodClear,
            unit,
            "landed most for each rod",
            "Too few boats counted fish and rods by rig"
        );
        return new Chart(
            finding,
            $"Fish landed for each rod and day that fished the rig, with the likely range; {period}.",
            RangeChart.Draw(
                "landed",
                finding,
                "A row for each rig: the line is the likely range of fish landed for each rod, the dot the middle.",
                rows,
                null,
                Scale.Tick
            ),
            ["Rig", "Fish for each rod and day"],
            [
                .. rigs.Select(rig =>
                    (IReadOnlyList<string>)
                        [Name(rig, unit), rig.LandedPerRod is { } l ? Say.Spread(l) : "too few boats"]
                ),
            ],
            csvHref
        );
    }

    public static Chart Held(IReadOnlyList<RigRecord> rigs, WeightUnit unit, string period, string csvHref)
    {
        var rows = Rows(rigs, unit, r => r.Held is { } h ? (h.Mean, h.Low, h.High) : null);
        var finding = Finding(
            [.. rigs.Where(r => r.Held is not null)],
            r => r.Held!.Mean,
            r => r.HeldClear,
            unit,
            "lost fewest of its fish",
            "Too few boats counted fish hooked and landed by rig"
        );
        return new Chart(
            finding,
            $"Of 10 fish hooked, how many were landed, with the likely range; {period}.",
            RangeChart.Draw(
                "held",
                finding,
                "A row for each rig: the line is the likely range of the share of hooked fish that were landed, the dot the middle.",
                rows,
                1,
                v => Scale.Tick(v * 10)
            ),
            ["Rig", "Landed of those hooked"],
            [
                .. rigs.Select(rig =>
                    (IReadOnlyList<string>)[Name(rig, unit), rig.Held is { } h ? Say.InTen(h, "fish") : "too few boats"]
                ),
            ],
            csvHref
        );
    }

    private static string Finding(
        List<RigRecord> known,
        Func<RigRecord, double> mean,
        Func<RigRecord, bool> clear,
        WeightUnit unit,
        string best,
        string none
    )
    {
        var ranked = known.OrderByDescending(mean).ToList();
        return ranked.Count == 0 ? none
            : ranked.Count == 1 ? $"Only {Name(ranked[0], unit)} can be told"
            : clear(ranked[0]) ? $"{Name(ranked[0], unit)} {best}"
            : $"No clear difference between {Name(ranked[0], unit)} and {Name(ranked[1], unit)}";
    }

    private static List<RangeRow> Rows(
        IReadOnlyList<RigRecord> rigs,
        WeightUnit unit,
        Func<RigRecord, (double, double, double)?> value
    ) => [.. rigs.Take(MostRows).Select(r => new RangeRow(Name(r, unit), value(r)))];

    private static string Name(RigRecord rig, WeightUnit unit) =>
        Say.Rig(rig.Technique, rig.RungLb, rig.HookStyle, rig.HookStep, unit);

    private static string Trips(RigRecord rig) => $"{Say.OfHundred(rig.Wins!, "boat trips")}";
}
