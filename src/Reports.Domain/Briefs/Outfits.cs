using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using Reports.Domain.Rigs;
using Reports.Domain.Trade;

namespace Reports.Domain.Briefs;

/// <summary>
/// What to bring, for one to five outfits: the sets that the rig model foresees most fish of, with what goes with each by the
/// trade's rules. Where reports are silent the model's prior, which is custom, speaks and says so.
/// </summary>
internal sealed class Outfits
{
    public const int MostOutfits = 5;

    /// <summary>Fish met on at least this share of boat trips are worth an outfit (common practice, no source).</summary>
    private const double WorthBringing = 0.1;

    /// <summary>
    /// Sets from this size on have room for the heavy fish, though they be few; two outfits have where one trip in four meets them
    /// (common practice, no source).
    /// </summary>
    private const int RoomForHeavy = 3;
    private const double RoomInTwo = 0.25;

    /// <summary>An outfit answers for fish that it lands as often as not.</summary>
    private const double Answers = 0.5;

    private readonly Rigs rigs;
    private readonly CoastRigs coast;
    private readonly Prospect prospect;
    private readonly SizePicture? size;
    private readonly int floor;
    private readonly HashSet<int> won;

    private Outfits(Rigs rigs, CoastRigs coast, Prospect prospect, SizePicture? size, int floor)
    {
        (this.rigs, this.coast, this.prospect, this.size, this.floor) = (rigs, coast, prospect, size, floor);
        won = [.. rigs.Records.Where(r => r.Wins is not null && r.RungLb >= floor).Select(r => r.RungLb)];
    }

    public static IReadOnlyList<IReadOnlyList<Outfit>> Make(
        Rigs rigs,
        CoastRigs coast,
        IReadOnlyList<Sighting> own,
        string species,
        SizePicture? size,
        BaitPicture? bait,
        Missing missing
    )
    {
        if (!coast.Speaks && size is null)
        {
            missing.Add(
                "/outfits",
                "nothing-to-go-on",
                "Neither sizes nor rigs are known, so no outfit can be advised."
            );
            return [];
        }

        var floor = Floor(size);
        var prospect = Prospect.Of(coast, own, species, bait, Rungs(size, floor));
        var outfits = new Outfits(rigs, coast, prospect, size, floor);
        return [.. Enumerable.Range(1, MostOutfits).Select(outfits.Set)];
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

    /// <summary>
    /// Lines from the floor to one above those that are meant for fish that are about, for custom steps up by one where fish are lost; always
    /// enough for the largest set (common practice, no source). About are the heaviest size group that one boat trip in ten meets, and nineteen
    /// fish in twenty.
    /// </summary>
    private static List<int> Rungs(SizePicture? size, int floor)
    {
        var heaviest = size is null
            ? int.MaxValue
            : size
                .Grades.Where(g => g.BoatDays >= WorthBringing)
                .Select(g => g.HighGrams)
                .Append(size.Quantiles.P95)
                .Max();
        var rungs = LineClass.Ladder.Where(r => r >= floor).ToList();
        return [.. rungs.Take(Math.Max(MostOutfits, 1 + rungs.Count(r => TackleTable.FishGrams(r).Low <= heaviest)))];
    }

    private List<Outfit> Set(int count)
    {
        var order = prospect.Best(count, set => Won(set) && AnswersHeavy(set), floor);
        var bestOn = prospect.BestOn(order);
        var set = prospect.Tied(order);
        return
        [
            .. set.Select(
                (rig, i) =>
                    Fitted(rig, i, set) with
                    {
                        HooksByBait = prospect.HooksByBait(order[i]),
                        BestOn = coast.Speaks && count > 1 ? Figures.Round(bestOn[i]) : null,
                        NoClearDifference = i + 1 < count && !prospect.Clear(order[i], order[i + 1]),
                    }
            ),
        ];
    }

    /// <summary>The heaviest size group that boats meet is answered by one of the set, where any line can.</summary>
    private bool AnswersHeavy(int[] set)
    {
        var least =
            set.Length >= RoomForHeavy ? WorthBringing
            : set.Length == 2 ? RoomInTwo
            : double.PositiveInfinity;
        var heavy = (size?.Grades ?? []).Where(g => g.BoatDays >= least).MaxBy(g => g.MedianGrams);
        return heavy is null || set.Any(c => prospect.Holds(c, heavy.MedianGrams) >= Answers);
    }

    /// <summary>Where no size is known nobody can weigh what a line holds: the lines that won come first.</summary>
    private bool Won(int[] set) =>
        size is not null || set.Count(c => won.Contains(prospect.Rig(c).RungLb)) == Math.Min(set.Length, won.Count);

    private Outfit Fitted(Candidate rig, int index, List<Candidate> set)
    {
        var rung = rig.RungLb;
        var record = rigs.Records.FirstOrDefault(r =>
            r.Technique == rig.Technique && r.RungLb == rung && r.HookStyle == rig.Style && r.HookStep == rig.Step
        );
        var lines = record is null ? [] : rigs.Lines(record);
        var (fishLow, fishHigh) = TackleTable.FishGrams(rung);
        var (dragLow, dragHigh) = TackleTable.DragGrams(rung);
        var below = LineClass.Below(rung) is { } next && next >= floor ? next : (int?)null;
        var lighter = set.Where(c => c.RungLb < rung).Max(c => (int?)c.RungLb);
        var stronger = set.Where(c => c.RungLb > rung)
            .OrderBy(c => c.RungLb)
            .Select(c => (Candidate?)c)
            .FirstOrDefault();
        return new Outfit
        {
            Order = index + 1,
            Technique = rig.Technique,
            RungLb = rung,
            Leader = Common(lines, l => l.Leader is LeaderMaterial.None ? null : l.Leader) ?? TackleTable.Leader(rung),
            LeaderTestLb = rung,
            DragLowGrams = dragLow,
            DragHighGrams = dragHigh,
            HookStyle = rig.Style,
            HookStep = rig.Step,
            GapeMm = Common(lines, l => l.GapeMm),
            Wire = TackleTable.Wire(rung),
            FishLowGrams = fishLow,
            FishHighGrams = fishHigh,
            IfNotBitRungLb = lighter ?? below,
            IfOutmatchedOrder = stronger is { } s ? set.IndexOf(s) + 1 : null,
            // Fished here by three boats; else the coast's reports speak through the model; else custom.
            Basis =
                rigs.Records.Any(r => r.Wins is not null && r.RungLb == rung && r.Technique == rig.Technique)
                    ? OutfitBasis.Reports
                : coast.Speaks ? OutfitBasis.Model
                : OutfitBasis.Custom,
        };
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
