using Reports.Domain.Briefs;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Pages;

/// <summary>Briefs made by hand: pages are tested on what they say of a brief, whoever computed it. The figures are invented.</summary>
public static class SampleBrief
{
    public static Brief Good(string zone, string species) =>
        new()
        {
            Zone = zone,
            Species = species,
            AsOf = Fleet.Today,
            Evidence = new BriefEvidence(
                41,
                9,
                812,
                18.3,
                11.2,
                Fleet.Today.AddDays(-1),
                Strength.Good,
                false,
                new(38, 31)
            ),
            Size = new SizePicture(
                SizeOf.Landed,
                new SizeQuantiles(Lb(16), Lb(21), Lb(27), Lb(38), Lb(178)),
                [new Grade(0.86, Lb(15), Lb(44), Lb(26), 0.93), new Grade(0.14, Lb(100), Lb(210), Lb(150), 0.31)],
                new SizeTable(
                    [new OverWeight(100, new Share(0.11, 0.08, 0.15), new Share(0.31, 0.22, 0.4))],
                    [new(0, 20, 0.2), new(20, 40, 0.55), new(40, 60, 0.11), new(60, 80, 0), new(80, 100, 0.14)]
                ),
                new SizeTable(
                    [new OverWeight(50, new Share(0.1, 0.07, 0.14), new Share(0.3, 0.21, 0.39))],
                    [new(0, 10, 0.3), new(10, 20, 0.5), new(20, 30, 0.2)]
                )
            ),
            Bait = new BaitPicture(97, 114, 132, [new BaitKind("PIL", 0.9)]),
            Signs = new SignsPicture(0.6, 32_000, 0.2, Hooking.Nose),
            Rigs =
            [
                new(
                    Technique.FlyLine,
                    30,
                    HookStyle.Circle,
                    1,
                    20,
                    new(0.42, 0.31, 0.54),
                    new(1.3, 0.9, 1.7),
                    new(0.81, 0.72, 0.88)
                ),
                new(Technique.FlyLine, 25, HookStyle.Circle, -1, 12, new(0.4, 0.28, 0.52), new(1.2, 0.8, 1.7), null)
                {
                    WinsClear = true,
                },
                new(Technique.Sinker, 80, HookStyle.J, 5, 6, new(0.05, 0.03, 0.08), null, null),
            ],
            OutfitSets = [.. Enumerable.Range(1, 3).Select(Set)],
            CatchRate = new CatchRate(new(1.4, 1.1, 1.8), new(0.61, 0.52, 0.69), Trend.Up, 1.1, 2.3, 0)
            {
                Angler = new(1.4, 8, 1.53), // at least one: 0.61 (checked in ChartTests)
            },
            Days = [.. Enumerable.Range(0, 28).Select(Day)],
        };

    /// <summary>The coast's answer for a zone that has too few boats of its own.</summary>
    public static Brief Pooled(string zone, string species)
    {
        var good = Good(zone, species);
        return good with
        {
            Evidence = good.Evidence with { Strength = Strength.Thin, Pooled = true, BoatTrips = null },
        };
    }

    public static Brief Thin(string zone, string species)
    {
        var good = Good(zone, species);
        return good with
        {
            Evidence = good.Evidence with { Reports = 4, Boats = 3, Strength = Strength.Thin },
            Size = null,
            Rigs = [],
            OutfitSets = [],
            CatchRate = new CatchRate(new(0.3, 0.1, 0.8), null, null, null, null, 0),
            Missing =
            [
                new("/size", "too-few-boats", "Fewer than three boats told how big the fish were, so it is not shown."),
            ],
        };
    }

    public static Brief Closed(string zone, string species) =>
        Good(zone, species) with
        {
            OutfitSets = [],
            ClosedNotice = "Closed from 1 November by the invented authority of the coast.",
        };

    /// <summary>Fewer than three boats of the whole coast.</summary>
    public static Brief Silent(string zone, string species) =>
        new()
        {
            Zone = zone,
            Species = species,
            AsOf = Fleet.Today,
            Evidence = new BriefEvidence(2, 1, null, 0, 0, null, Strength.None, true, null),
            Missing =
            [
                new(
                    "/catchRate",
                    "too-few-boats",
                    "Fewer than three boats of the whole coast have reported this fish."
                ),
            ],
        };

    private static List<Outfit> Set(int k) =>
        [
            .. new[] { 30, 80, 50 }
                .Take(k)
                .Select(
                    (rung, i) =>
                        new Outfit
                        {
                            Order = i + 1,
                            Technique = Technique.FlyLine,
                            RungLb = rung,
                            Leader = LeaderMaterial.Fluorocarbon,
                            LeaderTestLb = rung,
                            DragLowGrams = Lb(rung * 0.25),
                            DragHighGrams = Lb(rung * 0.3),
                            HookStyle = HookStyle.Circle,
                            HookStep = i + 1,
                            GapeMm = i == 0 ? 12 : null,
                            Wire = HookWire.Regular,
                            FishLowGrams = Lb(rung / 2.0),
                            FishHighGrams = Lb(rung * 1.5),
                            BestOn = k == 1 ? null : 0.55 - (0.2 * i),
                            IfNotBitRungLb =
                                i == 0 ? 25
                                : i == 1 && k > 2 ? 50
                                : 30,
                            IfOutmatchedOrder = i == 0 && k > 1 ? 2 : null,
                            Basis = i == 2 ? OutfitBasis.Custom : OutfitBasis.Reports,
                        }
                ),
        ];

    private static DayMark Day(int i) =>
        (i % 5) switch
        {
            3 => new(Fleet.Today.AddDays(i - 27), null, null),
            4 => new(Fleet.Today.AddDays(i - 27), 0, null),
            _ => new(Fleet.Today.AddDays(i - 27), 4, 0.1 * (i + 1)),
        };

    private static int Lb(double lb) => new Weight((decimal)lb, WeightUnit.Lb).Grams;
}
