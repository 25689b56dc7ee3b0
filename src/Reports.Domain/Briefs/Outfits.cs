using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using Reports.Domain.Trade;

namespace Reports.Domain.Briefs;

/// <summary>
/// What to bring, for one to five outfits: what won first, distinct lines before more of the same, and something for the heavy
/// fish where boats meet them. Where reports are silent, custom speaks and says so.
/// </summary>
internal sealed class Outfits
{
    public const int MostOutfits = 5;

    /// <summary>Fish met on at least this share of boat trips are worth an outfit (common practice, no source).</summary>
    private const double WorthBringing = 0.1;

    private readonly Rigs rigs;
    private readonly SizePicture? size;
    private readonly BaitPicture? bait;
    private readonly IReadOnlyList<RigRecord> winners;
    private readonly int floor;

    private Outfits(Rigs rigs, SizePicture? size, BaitPicture? bait)
    {
        (this.rigs, this.size, this.bait) = (rigs, size, bait);
        floor = Floor(size);
        winners = [.. rigs.Records.Where(r => r.Wins is not null && r.RungLb >= floor)];
    }

    public static IReadOnlyList<IReadOnlyList<Outfit>> Make(
        Rigs rigs,
        SizePicture? size,
        BaitPicture? bait,
        Missing missing
    )
    {
        var outfits = new Outfits(rigs, size, bait);
        if (outfits.winners.Count == 0 && size is null)
        {
            missing.Add(
                "/outfits",
                "nothing-to-go-on",
                "Neither sizes nor rigs are known, so no outfit can be advised."
            );
            return [];
        }

        var picks = outfits.Picks();
        return [.. Enumerable.Range(1, picks.Count).Select(k => outfits.Set(picks.Take(k)))];
    }

    /// <summary>Fish of about 100 lb are about when one boat trip in ten lands one.</summary>
    private static int Floor(SizePicture? size)
    {
        if (size is null)
        {
            return TackleTable.FloorLb;
        }

        var heavy = size.Lb.Over.Single(o => o.Weight == TackleTable.HeavyFishLb);
        return heavy.BoatDays.Mean >= WorthBringing ? TackleTable.HeavyFishFloorLb
            : size.Quantiles.P50 < TackleTable.Grams(TackleTable.SmallFishLb) ? TackleTable.SmallFishFloorLb
            : TackleTable.FloorLb;
    }

    /// <summary>An outfit before it has its place in a set.</summary>
    private sealed record Pick(int RungLb, RigRecord? Rig);

    private List<Pick> Picks()
    {
        var picks = new List<Pick>();
        // First the best of the reports, else what custom has for the commonest fish.
        var main = size?.Grades.MaxBy(g => g.Share);
        Add(winners.Count > 0 ? new Pick(winners[0].RungLb, winners[0]) : ForFish(main!.MedianGrams));
        // Then what the first can't hold, the grade that most boats meet first.
        foreach (
            var grade in (size?.Grades ?? [])
                .Where(g => g.BoatDays >= WorthBringing)
                .OrderByDescending(g => g.BoatDays)
                .ThenByDescending(g => g.MedianGrams)
        )
        {
            if (!picks.Any(p => TackleTable.Holds(p.RungLb, grade.MedianGrams)))
            {
                Add(ForFish(grade.MedianGrams));
            }
        }

        foreach (var rig in winners.Where(w => picks.All(p => p.RungLb != w.RungLb)).DistinctBy(w => w.RungLb).ToList())
        {
            Add(new Pick(rig.RungLb, rig));
        }

        // Custom fills the rest: a step down for shy fish, a step up for strong ones, in turn; at both ends, what lies between.
        for (var up = false; picks.Count < MostOutfits; up = !up)
        {
            var lighter = LineClass.Below(picks.Min(p => p.RungLb)) is { } below && below >= floor ? below : (int?)null;
            var heavier = LineClass.Above(picks.Max(p => p.RungLb));
            var between = LineClass.Ladder.First(r => r >= floor && picks.All(p => p.RungLb != r));
            Add(OfRung((up ? heavier ?? lighter : lighter ?? heavier) ?? between));
        }

        return picks;

        void Add(Pick pick)
        {
            if (picks.Count < MostOutfits && picks.All(p => p.RungLb != pick.RungLb))
            {
                picks.Add(pick);
            }
        }
    }

    /// <summary>The winning rig meant for such fish, or custom's line.</summary>
    private Pick ForFish(int grams)
    {
        var fit = winners.FirstOrDefault(w =>
            TackleTable.FishGrams(w.RungLb) is var (low, high) && low <= grams && grams <= high
        );
        return fit is not null ? new Pick(fit.RungLb, fit) : OfRung(Math.Max(floor, TackleTable.RungFor(grams)));
    }

    /// <summary>The best rig of a rung where one is on record.</summary>
    private Pick OfRung(int rungLb) => new(rungLb, winners.FirstOrDefault(w => w.RungLb == rungLb));

    private List<Outfit> Set(IEnumerable<Pick> picks)
    {
        // To try: by wins, custom after them as picked.
        var ordered = picks.OrderByDescending(p => p.Rig?.Wins?.Mean ?? -1).ToList();
        var wins = ordered.Sum(p => p.Rig?.Wins?.Mean ?? 0);
        return [.. ordered.Select((pick, i) => Fitted(pick, i, ordered, wins))];
    }

    private Outfit Fitted(Pick pick, int index, List<Pick> set, double wins)
    {
        var lines = pick.Rig is { } rig ? rigs.Lines(rig) : [];
        var rung = pick.RungLb;
        var (style, step) = HookFor(pick);
        var (fishLow, fishHigh) = TackleTable.FishGrams(rung);
        var (dragLow, dragHigh) = TackleTable.DragGrams(rung);
        var below = LineClass.Below(rung);
        var stronger = set.Where(p => p.RungLb > rung).MinBy(p => p.RungLb);
        return new Outfit
        {
            Order = index + 1,
            Technique = pick.Rig?.Technique ?? winners.Select(w => w.Technique).FirstOrDefault(Technique.FlyLine),
            RungLb = rung,
            Leader = Common(lines, l => l.Leader is LeaderMaterial.None ? null : l.Leader) ?? TackleTable.Leader(rung),
            LeaderTestLb = rung,
            DragLowGrams = dragLow,
            DragHighGrams = dragHigh,
            HookStyle = style,
            HookStep = step,
            GapeMm = pick.Rig?.HookStep == step ? Common(lines, l => l.GapeMm) : null,
            Wire = TackleTable.Wire(rung),
            FishLowGrams = fishLow,
            FishHighGrams = fishHigh,
            BestOn = set.Count > 1 && pick.Rig?.Wins is { } share && wins > 0 ? Figures.Round(share.Mean / wins) : null,
            IfNotBitRungLb = below >= floor ? below : null,
            IfOutmatchedOrder = stronger is null ? null : set.IndexOf(stronger) + 1,
            Basis = pick.Rig is null ? OutfitBasis.Custom : OutfitBasis.Reports,
        };
    }

    /// <summary>As reported with this rig; else the hook that the bait asks for, in the style that wins here (circle by default).</summary>
    private (HookStyle Style, int Step) HookFor(Pick pick)
    {
        if (pick.Rig is { HookStyle: { } style and not HookStyle.None, HookStep: { } step })
        {
            return (style, step);
        }

        var usual = winners
            .Select(w => w.HookStyle)
            .FirstOrDefault(s => s is HookStyle.Circle or HookStyle.J, HookStyle.Circle)!
            .Value;
        return (
            usual,
            bait is null
                ? BaitTable.HookStepForLine(pick.RungLb)
                : BaitTable.HookStep(bait.Kinds.Count > 0 ? bait.Kinds[0].Species : null, bait.P50Mm, pick.RungLb)
        );
    }

    /// <summary>The commonest telling of three boats or more; null where fewer tell it.</summary>
    private static T? Common<T>(IReadOnlyList<(Sighting Sighting, RigMeasure Line)> lines, Func<RigMeasure, T?> telling)
        where T : struct, IComparable
    {
        return lines
            .Where(l => telling(l.Line) is not null)
            .GroupBy(l => telling(l.Line)!.Value)
            .Where(g => Sample.Boats(g.Select(l => l.Sighting)) >= Confidentiality.FewestBoats)
            .OrderByDescending(g => g.Sum(l => l.Sighting.Weight(HalfLives.RigDays)))
            .ThenBy(g => g.Key)
            .Select(g => (T?)g.Key)
            .FirstOrDefault();
    }
}
