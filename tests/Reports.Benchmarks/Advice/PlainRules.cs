using Reports.Domain.Briefs;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using Reports.Domain.Trade;

namespace Reports.Benchmarks.Advice;

/// <summary>
/// What people do without a brief, in the order in which they would tie the rigs on. Hooks of a fixed set go by custom for
/// the bait of the week.
/// </summary>
internal static class PlainRules
{
    public const int Outfits = 3;
    private const double HalfInchMm = (double)Length.MillimetresPerInch / 2;
    private static readonly int[] HabitLb = [30, 20, 50];

    public static IReadOnlyList<IReadOnlyList<Outfit>> LastWinner(Evidence evidence) =>
        Sets(
            evidence,
            Winners(evidence, int.MaxValue)
                .OrderByDescending(w => w.Day)
                .ThenByDescending(w => w.Fish)
                .Select(w => w.Rig)
        );

    public static IReadOnlyList<IReadOnlyList<Outfit>> MostWins(Evidence evidence) =>
        Sets(
            evidence,
            Winners(evidence, 7)
                .GroupBy(w => w.Rig)
                .OrderByDescending(g => g.Count())
                .ThenByDescending(g => g.Max(w => w.Day))
                .Select(g => g.Key)
        );

    public static IReadOnlyList<IReadOnlyList<Outfit>> Fixed(Evidence evidence) =>
        Sets(evidence, Customary(evidence, [25, 40, 80]));

    public static IReadOnlyList<IReadOnlyList<Outfit>> Habit(Evidence evidence) => Sets(evidence, []);

    private static IEnumerable<(Rig Rig, int Day, int Fish)> Winners(Evidence evidence, int days) =>
        evidence
            .Reports.Where(r => r.Zone == evidence.Zone && evidence.AsOf.DayNumber - r.FishedOn.DayNumber < days)
            .SelectMany(
                r => r.Rigs.Where(g => g is { Winning: true, HookStyle: not null, HookStep: not null }),
                (r, g) =>
                    (
                        new Rig(g.Technique, g.RungLb, g.HookStyle!.Value, g.HookStep!.Value),
                        r.FishedOn.DayNumber,
                        r.Catch[0].Fish
                    )
            );

    /// <summary>The rigs as sets of 1, 2 and 3 outfits, filled up by habit.</summary>
    public static List<IReadOnlyList<Outfit>> Sets(Evidence evidence, IEnumerable<Rig> rigs)
    {
        var picks = rigs.Concat(Customary(evidence, HabitLb))
            .Concat(Customary(evidence, [40, 25, 60]))
            .Distinct()
            .Take(Outfits)
            .ToList();
        return
        [
            .. Enumerable
                .Range(1, Outfits)
                .Select(k => (IReadOnlyList<Outfit>)[.. picks.Take(k).Select((rig, i) => Of(rig, i, picks.Take(k)))]),
        ];
    }

    private static IEnumerable<Rig> Customary(Evidence evidence, int[] rungs)
    {
        var lengths = evidence
            .Reports.Where(r => evidence.AsOf.DayNumber - r.FishedOn.DayNumber < 7)
            .SelectMany(r => r.Bait)
            .Select(b => (b.ShortestMm!.Value + b.LongestMm!.Value) / 2.0)
            .DefaultIfEmpty(150)
            .Average();
        var step = (int)Math.Round(HookForBait.CentreStep(lengths));
        return rungs.Select(rung => new Rig(Technique.FlyLine, rung, HookStyle.Circle, step));
    }

    /// <summary>Custom's hook by half inches of bait, for whoever goes by the bait of the day.</summary>
    private static readonly IReadOnlyList<HookOfBait> CustomsHooks =
    [
        .. Enumerable
            .Range(6, 20)
            .Select(half => new HookOfBait(
                half < 25 ? (int)Math.Round((half + 1) * HalfInchMm) : null,
                (int)Math.Round(HookForBait.CentreStep((half + 0.5) * HalfInchMm))
            )),
    ];

    /// <summary>The same lines with circle hooks as custom has them.</summary>
    public static IReadOnlyList<IReadOnlyList<Outfit>> CustomsHook(IReadOnlyList<IReadOnlyList<Outfit>> sets) =>
        [
            .. sets.Select(set =>
                (IReadOnlyList<Outfit>)
                    [.. set.Select(o => o with { HookStyle = HookStyle.Circle, HooksByBait = CustomsHooks })]
            ),
        ];

    private static Outfit Of(Rig rig, int index, IEnumerable<Rig> set)
    {
        var all = set.ToList();
        var stronger = all.Where(r => r.RungLb > rig.RungLb).OrderBy(r => r.RungLb).Cast<Rig?>().FirstOrDefault();
        return new Outfit
        {
            Order = index + 1,
            Technique = rig.Technique,
            RungLb = rig.RungLb,
            Leader = TackleTable.Leader(rig.RungLb),
            LeaderTestLb = rig.RungLb,
            DragLowGrams = 0,
            DragHighGrams = 0,
            HookStyle = rig.Style,
            HookStep = rig.Step,
            HooksByBait = CustomsHooks,
            Wire = TackleTable.Wire(rig.RungLb),
            FishLowGrams = 0,
            FishHighGrams = 0,
            IfNotBitRungLb = LineClass.Below(rig.RungLb) is >= TackleTable.FloorLb and var below ? below : null,
            IfOutmatchedOrder = stronger is { } s ? all.IndexOf(s) + 1 : null,
            Basis = OutfitBasis.Custom,
        };
    }
}
