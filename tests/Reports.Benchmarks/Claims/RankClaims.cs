using Reports.Benchmarks.Advice;
using Reports.Domain.Briefs;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;

namespace Reports.Benchmarks.Claims;

/// <summary>
/// Where a brief says that one rig did better than another: the rows of its rigs (landed for each rod, fish held, wins) and the
/// order of its outfits. Rows: fleets that fish two rigs which land equally many, or one twice as many as the other, forty boat
/// trips with tallies at a time. Outfits: ordinary fleets, each two neighbours of a set against what they truly land on that
/// day's sea.
/// </summary>
internal static class RankClaims
{
    private const int Trips = 40;
    private const int Zone = 0;
    private static readonly Rig Light = new(Technique.FlyLine, 25, HookStyle.Circle, 1);
    private static readonly Rig Heavy = Light with { RungLb = 40 };

    /// <summary>Without slips: a hook that one boat told hides the wins of all, by the rule of three.</summary>
    private static readonly TellingMix Tallied = new(1, 0, 0, 0);

    /// <summary>Outfits are called equal to within this, twofold from the other on.</summary>
    private const double Equal = 1.05;
    private const double Twofold = 1.9;

    /// <summary>One line and hook, which hold alike; what they land is not the question.</summary>
    private static readonly Contest AlikeHeld = new(Light, Light with { Technique = Technique.Sinker }, 1, false);

    public static void Run(int replicates, int seeds)
    {
        ClaimsVerb.Print($"rows: {Trips} boat trips with tallies of a 25 and a 40 lb line");
        foreach (var boats in new[] { 6, 24 })
        {
            foreach (var (ratio, changing) in new[] { (1.0, false), (2, false), (1, true), (2, true) })
            {
                var briefs = Briefs(boats, new Contest(Light, Heavy, ratio, changing), replicates);
                var name =
                    $"{boats} boats, {(ratio > 1 ? "twofold" : "equal")}{(changing ? ", anglers go lighter" : "")}";
                Row(name, "landed for each rod", briefs, r => r.LandedPerRod is not null, r => r.LandedPerRodClear);
                if (!changing)
                {
                    // Wins count rods too: where anglers go lighter the light line wins more.
                    Row(name, "wins", briefs, r => r.Wins is not null, r => r.WinsClear);
                }
            }

            Row(
                $"{boats} boats, equal hold",
                "held",
                Briefs(boats, AlikeHeld, replicates),
                r => r.Held is not null,
                r => r.HeldClear
            );
        }

        foreach (var boats in new[] { 6, 24 })
        {
            Outfits(boats, seeds);
        }
    }

    private static List<IReadOnlyList<RigRecord>> Briefs(int boats, Contest contest, int replicates) =>
        [
            .. Enumerable
                .Range(1, int.MaxValue)
                .SelectMany(seed => Blocks(new Telling(new SimulatedFleet(seed, boats, contest), Tallied)))
                .Take(replicates)
                .AsParallel()
                .AsOrdered()
                .Select(evidence => BriefMaker.Make(evidence).Rigs),
        ];

    /// <summary>Of the briefs that show the figure of both rigs, how many call the first, and the second, clearly ahead.</summary>
    private static void Row(
        string name,
        string figure,
        List<IReadOnlyList<RigRecord>> briefs,
        Func<RigRecord, bool> shown,
        Func<RigRecord, bool> clear
    )
    {
        var told = briefs.Where(rigs => rigs.Count == 2 && rigs.All(shown)).ToList();
        string Ahead(Func<RigRecord, bool> rig) =>
            ClaimsVerb.Share(told.Count(rigs => rigs.Any(r => rig(r) && clear(r))), told.Count);
        bool First(RigRecord r) => r.RungLb == Light.RungLb && r.Technique == Light.Technique;
        ClaimsVerb.Print($"{name, -38}{figure, -21}first {Ahead(First), -36}second {Ahead(r => !First(r))}");
    }

    /// <summary>The season in runs of so many tallied trips of the zone, each with what the coast's other boats told on its days.</summary>
    private static IEnumerable<Evidence> Blocks(Telling telling)
    {
        var run = new List<ReportMeasures>();
        var trips = 0;
        foreach (var report in telling.Reports)
        {
            run.Add(report);
            trips += report.Zone == Telling.ZoneCode(Zone) && report.Rigs.Count > 1 ? 1 : 0;
            if (trips == Trips)
            {
                yield return new Evidence(Telling.ZoneCode(Zone), Telling.Species, report.FishedOn, [.. run], [], null);
                run.Clear();
                trips = 0;
            }
        }
    }

    private static void Outfits(int boats, int seeds)
    {
        const int first = 13;
        const int week = 7;
        var asked =
            from seed in Enumerable.Range(1, seeds)
            let fleet = new SimulatedFleet(seed, boats)
            let telling = new Telling(fleet, Tallied)
            from asOf in Enumerable.Range(0, 12).Select(i => first + i * week)
            from zone in Enumerable.Range(0, SimulatedFleet.Zones)
            let evidence = telling.Evidence(asOf, zone)
            where evidence.Reports.Count(r => r.Zone == evidence.Zone) >= Trips
            select (fleet, zone, asOf, evidence);
        var pairs = asked
            .AsParallel()
            .AsOrdered()
            .SelectMany(q =>
            {
                var brief = BriefMaker.Make(q.evidence);
                var days = q.fleet.Sample(q.asOf + 1, q.zone, 200);
                double Landed(Outfit o)
                {
                    var rig = Angler.RigOf(o);
                    return days.Sum(d => Angler.Landed(q.fleet, rig, d));
                }

                return brief
                    .OutfitSets.SelectMany(set => set.Zip(set.Skip(1)))
                    .DistinctBy(p => (Angler.RigOf(p.First), Angler.RigOf(p.Second)))
                    .Select(p => (Told: !p.First.NoClearDifference, Ratio: Landed(p.First) / Landed(p.Second)))
                    .ToList();
            })
            .ToList();
        Cell("equal within 5 %", 1 / Equal, Equal);
        Cell("second better", 0, 1 / Equal);
        Cell("first better, below 1.2", Equal, 1.2);
        Cell("first better, 1.2 to 1.9", 1.2, Twofold);
        Cell("first better, twofold", Twofold, double.PositiveInfinity);

        void Cell(string name, double from, double to)
        {
            var of = pairs.Where(p => p.Ratio >= from && p.Ratio < to).ToList();
            ClaimsVerb.Print(
                $"{$"{boats} boats, outfits, {name}", -59}{ClaimsVerb.Share(of.Count(p => p.Told), of.Count)}"
            );
        }
    }
}
