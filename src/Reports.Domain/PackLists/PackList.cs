using Reports.Domain.Briefs;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using Reports.Domain.Trade;
using Reports.Statistics;

namespace Reports.Domain.PackLists;

/// <summary>
/// What an angler takes along for a trip into one or more zones for one or more species: the outfits of the briefs made one list,
/// what each needs, and which of the angler's own lines serve. Quantities are common practice, no source, unless reports told them.
/// </summary>
/// <param name="Outfits">The most useful first; empty where no brief advises any.</param>
/// <param name="Unused">Lines that the angler owns and no outfit here needs, in lb, ascending.</param>
public sealed record PackList(IReadOnlyList<PackedOutfit> Outfits, IReadOnlyList<int> Unused)
{
    public const int MostOutfits = 5;
    public const decimal ShortestDays = 0.5m;
    public const decimal LongestDays = 21m;

    /// <summary>Chance that the spares of one outfit last the trip.</summary>
    public const double ServiceLevel = 0.9;

    /// <summary>Hooks that an angler loses or changes in a day where no report tells (common practice, no source).</summary>
    public const double HooksPerDayByCustom = 3;

    /// <summary>Of a negative binomial: how unequal losses are where reports tell their mean. A judgement, no source.</summary>
    public const double LossDispersion = 1;

    /// <summary>Over this drag a rail or a harness is needed (common practice, no source).</summary>
    public const int HarnessFromLb = 20;

    /// <summary>From this line on the leader is usually crimped (common practice, no source).</summary>
    public const int CrimpFromLb = 130;

    /// <summary>Leader for one tying, millimetres (common practice, no source).</summary>
    private const int LeaderMm = 1_500;

    /// <param name="briefs">Of the zones and species of the trip; closed ones and those without outfits add nothing.</param>
    /// <param name="days">Length of the trip in days, <see cref="ShortestDays"/> to <see cref="LongestDays"/>.</param>
    /// <param name="carried">How many outfits, 1 to <see cref="MostOutfits"/>.</param>
    /// <param name="owned">Rungs in lb of the angler's own lines.</param>
    public static PackList Make(IReadOnlyList<Brief> briefs, decimal days, int carried, IReadOnlyCollection<int> owned)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(days, ShortestDays);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(days, LongestDays);
        ArgumentOutOfRangeException.ThrowIfLessThan(carried, 1);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(carried, MostOutfits);
        var advised = briefs
            .Where(b => b is { ClosedNotice: null, OutfitSets.Count: > 0 })
            .SelectMany(b => b.OutfitSets[Math.Min(carried, b.OutfitSets.Count) - 1].Select(o => (Brief: b, Outfit: o)))
            .ToList();
        // A rod and its line are one outfit whatever hook is tied on; what several briefs try early is the most useful.
        var chosen = advised
            .GroupBy(a => (a.Outfit.Technique, a.Outfit.RungLb))
            .OrderByDescending(g => g.Sum(a => 1.0 / a.Outfit.Order))
            .ThenBy(g => g.Key.RungLb)
            .Take(carried)
            .ToList();
        var serving = Serving([.. chosen.Select(g => g.Key.RungLb)], owned);
        return new(
            [
                .. chosen.Select(
                    (group, i) => Packed(i + 1, [.. group], (double)days * Use([.. group], chosen.Count), serving[i])
                ),
            ],
            [.. owned.Where(o => !serving.Contains(o)).Distinct().Order()]
        );
    }

    /// <summary>Share of the trip that an outfit is fished: at least its even share, more where it is more often the best.</summary>
    private static double Use(IReadOnlyList<(Brief Brief, Outfit Outfit)> group, int outfits) =>
        Math.Max(1.0 / outfits, group.Max(a => a.Outfit.BestOn ?? 0));

    /// <summary>For each outfit the owned line that serves it: first those of its own class, then neighbours on the ladder, each once.</summary>
    private static int?[] Serving(IReadOnlyList<int> rungs, IReadOnlyCollection<int> owned)
    {
        var left = owned.ToHashSet();
        var serving = new int?[rungs.Count];
        foreach (var kind in new Func<int, int?>[] { r => r, LineClass.Above, LineClass.Below })
        {
            for (var i = 0; i < rungs.Count; i++)
            {
                if (serving[i] is null && kind(rungs[i]) is { } rung && left.Remove(rung))
                {
                    serving[i] = rung;
                }
            }
        }

        return serving;
    }

    private static PackedOutfit Packed(
        int order,
        IReadOnlyList<(Brief Brief, Outfit Outfit)> group,
        double days,
        int? servedBy
    )
    {
        var first = group.MinBy(a => a.Outfit.Order).Outfit;
        var loss = LossPerDay(group);
        // One of each hook at least: the bait of the day decides which is tied on.
        var hooks = group
            .SelectMany(a => a.Outfit.HookSteps, (a, step) => (Style: a.Outfit.HookStyle, Step: step))
            .Distinct()
            .OrderBy(h => h.Style)
            .ThenBy(h => h.Step)
            .ToList();
        var spare = first.HookStyle == HookStyle.None ? 0 : Math.Max(hooks.Count, Spare(loss, days));
        var ties = 1 + spare;
        var p95 = group.Max(a => Math.Min(a.Brief.Size?.Quantiles.P95 ?? 0, a.Outfit.FishHighGrams));
        var heaviest = p95 > 0 ? p95 : first.FishHighGrams;
        var sinker = first.Technique == Technique.Sinker;
        return new PackedOutfit
        {
            Order = order,
            Advice = first,
            Briefs = [.. group.Select(a => (a.Brief.Zone, a.Brief.Species)).Distinct()],
            Hooks = hooks,
            ServedByRungLb = servedBy,
            RodLowLb = LineClass.Below(first.RungLb) ?? first.RungLb,
            RodHighLb = LineClass.Above(first.RungLb) ?? first.RungLb,
            ReelLineMm = ReelLineMm(heaviest),
            SpareHooks = spare,
            SparesFromReports = loss is not null,
            LeaderMm = first.Leader == LeaderMaterial.None ? 0 : ties * LeaderMm,
            Sinkers = sinker ? ties : 0,
            RubberBands = sinker ? 2 * ties : 0,
            Crimps = first.LeaderTestLb >= CrimpFromLb ? 2 * ties : 0,
            Harness = first.DragHighGrams > TackleTable.Grams(HarnessFromLb),
        };
    }

    /// <summary>
    /// Fish lost by a rod in a day, the worst of the briefs and of its hooks: landed times (1 - held)/held. Each is counted as a hook, since reports do
    /// not always tell a broken line from a pulled hook. Null where no brief knows both.
    /// </summary>
    private static double? LossPerDay(IEnumerable<(Brief Brief, Outfit Outfit)> group) =>
        group
            .SelectMany(a =>
                a.Brief.Rigs.Where(r =>
                    r.Technique == a.Outfit.Technique
                    && r.RungLb == a.Outfit.RungLb
                    && r.HookStyle == a.Outfit.HookStyle
                    && r.HookStep is { } step
                    && a.Outfit.HookSteps.Contains(step)
                )
            )
            .Where(r => r is { LandedPerRod: not null, Held.Mean: > 0 })
            .Max(r => (double?)(r.LandedPerRod!.Mean * (1 - r.Held!.Mean) / r.Held.Mean));

    /// <summary>
    /// Spare hooks that last the days with <see cref="ServiceLevel"/>, at least one: a quantile of a negative binomial about what reports
    /// tell, of a Poisson about custom.
    /// </summary>
    /// <param name="lossPerDay">Hooks per day, at least 0; null for custom.</param>
    /// <param name="days">Days on which the outfit is fished, above 0.</param>
    public static int Spare(double? lossPerDay, double days)
    {
        var demand = lossPerDay is { } told
            ? new CountDistribution(told, LossDispersion)
            : CountDistribution.Poisson(HooksPerDayByCustom);
        return Math.Max(1, OrderUpTo.ForServiceLevel(demand, ServiceLevel, days).Level);
    }

    /// <summary>Line on the reel, millimetres, for a fish (common practice, no source): 250 m, 350 m from 40 lb, 500 m from 100 lb.</summary>
    private static int ReelLineMm(int fishGrams) =>
        fishGrams >= TackleTable.Grams(TackleTable.HeavyFishLb) ? 500_000
        : fishGrams >= TackleTable.Grams(40) ? 350_000
        : 250_000;
}

/// <summary>One outfit to pack.</summary>
public sealed record PackedOutfit
{
    /// <summary>To try, from 1.</summary>
    public required int Order { get; init; }

    /// <summary>The advice that speaks for this line: that of the brief which tries it earliest.</summary>
    public required Outfit Advice { get; init; }

    /// <summary>Zones and species, by code, whose briefs advise it.</summary>
    public required IReadOnlyList<(string Zone, string Species)> Briefs { get; init; }
    public required IReadOnlyList<(HookStyle Style, int Step)> Hooks { get; init; }

    /// <summary>The angler's own line that serves, a neighbour on the ladder at most; null where none does.</summary>
    public required int? ServedByRungLb { get; init; }

    /// <summary>Line range that the rod should be rated for, both ends included (common practice, no source).</summary>
    public required int RodLowLb { get; init; }
    public required int RodHighLb { get; init; }
    public required int ReelLineMm { get; init; }

    /// <summary>Beside the one that is tied on, over all its hook sizes.</summary>
    public required int SpareHooks { get; init; }
    public required bool SparesFromReports { get; init; }
    public required int LeaderMm { get; init; }
    public required int Sinkers { get; init; }
    public required int RubberBands { get; init; }
    public required int Crimps { get; init; }
    public required bool Harness { get; init; }
}
