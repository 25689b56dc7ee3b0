using System.Collections.Concurrent;
using System.Diagnostics;
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
    private static readonly TellingMix Tallied = new(1, 0, 0);

    /// <summary>Outfits are called equal to within this, twofold from the other on.</summary>
    private const double Equal = 1.05;
    private const double Twofold = 1.9;

    public static void Run(int replicates, int seeds)
    {
        ClaimsVerb.Print($"Rows: {Trips} boat trips with tallies of two rigs, 25 and 40 lb");
        foreach (var boats in new[] { 6, 24 })
        {
            foreach (var (ratio, changing) in new[] { (1.0, false), (2, false), (1, true), (2, true) })
            {
                var clock = Stopwatch.StartNew();
                Rows(boats, new Contest(Light, Heavy, ratio, changing), replicates);
                ClaimsVerb.Print($"  {clock.Elapsed.TotalSeconds:0} s");
            }
        }

        foreach (var boats in new[] { 6, 24 })
        {
            Outfits(boats, seeds);
        }
    }

    private static void Rows(int boats, Contest contest, int replicates)
    {
        var briefs = Enumerable
            .Range(1, int.MaxValue)
            .SelectMany(seed => Blocks(new Telling(new SimulatedFleet(seed, boats, contest), Tallied)))
            .Take(replicates)
            .AsParallel()
            .AsOrdered()
            .Select(BriefMaker.Make)
            .Select(b => b.Rigs.Where(r => r.Technique == Technique.FlyLine).ToList())
            .Where(r => r.Count == 2)
            .ToList();
        var name =
            $"{boats} boats, {(contest.Ratio > 1 ? "twofold" : "equal")}{(contest.Changing ? ", anglers go lighter" : "")}";
        foreach (
            var (figure, of, clear) in new (string, Func<RigRecord, double?>, Func<RigRecord, bool>)[]
            {
                ("landed for each rod", r => r.LandedPerRod?.Mean, r => r.LandedPerRodClear),
                ("wins", r => r.Wins?.Mean, r => r.WinsClear),
                ("held", r => r.Held?.Mean, r => r.HeldClear),
            }
        )
        {
            var told = briefs.Where(b => b.All(r => of(r) is not null)).ToList();
            var light = told.Count(b => b.Any(r => clear(r) && r.RungLb == Light.RungLb));
            var heavy = told.Count(b => b.Any(r => clear(r) && r.RungLb == Heavy.RungLb));
            var old = told.Count(b => Old(b, figure));
            ClaimsVerb.Print(
                $"{name, -40}{figure, -22}light ahead {ClaimsVerb.Share(light, told.Count), -26}heavy ahead {ClaimsVerb.Share(heavy, told.Count), -26}{old}"
            );
        }

        ClaimsVerb.Print($"mean ratio {briefs.Average(b => Math.Log(b.Single(r => r.RungLb == 25).LandedPerRod!.Mean / b.Single(r => r.RungLb == 40).LandedPerRod!.Mean)):0.000}");
    }

    private static bool Old(List<RigRecord> b, string figure)
    {
        Share F(RigRecord r) => figure == "wins" ? r.Wins! : figure == "held" ? r.Held! : new Share(r.LandedPerRod!.Mean, r.LandedPerRod.Low, r.LandedPerRod.High);
        var s = b.Select(F).OrderByDescending(x => x.Mean).ToList();
        if (s[0].Low <= 0 || s[1].Low <= 0) return false;
        double Spread(Share x) => Math.Log(x.High / x.Low) / (2 * 1.2816);
        return Math.Log(s[0].Mean / s[1].Mean / 1.1) >= 1.2816 * Math.Sqrt(Spread(s[0]) * Spread(s[0]) + Spread(s[1]) * Spread(s[1]));
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
        var asked = (
            from seed in Enumerable.Range(1, seeds)
            let fleet = new SimulatedFleet(seed, boats)
            let telling = new Telling(fleet, Tallied)
            from asOf in Enumerable.Range(0, 12).Select(i => first + i * week)
            from zone in Enumerable.Range(0, SimulatedFleet.Zones)
            select (fleet, zone, asOf, evidence: telling.Evidence(asOf, zone))
        );
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
                    .Select(p => (First: Angler.RigOf(p.First), Second: Angler.RigOf(p.Second), p.First.NoClearDifference, Ratio: Landed(p.First) / Landed(p.Second)))
                    .Distinct()
                    .ToList();
            })
            .ToList();
        Cell("equal", pairs.Where(p => p.Ratio is > 1 / Equal and < Equal));
        Cell("second better by 5 % or more", pairs.Where(p => p.Ratio <= 1 / Equal));
        Cell("first better by 1.05 to 1.2", pairs.Where(p => p.Ratio is >= Equal and < 1.2));
        Cell("first better by 1.2 to 1.9", pairs.Where(p => p.Ratio is >= 1.2 and < Twofold));
        Cell("twofold or more", pairs.Where(p => p.Ratio >= Twofold));

        void Cell(string name, IEnumerable<(Rig, Rig, bool NoClearDifference, double Ratio)> of)
        {
            var list = of.ToList();
            ClaimsVerb.Print(
                $"{boats} boats, outfits {name, -32}{ClaimsVerb.Share(list.Count(p => !p.NoClearDifference), list.Count)}"
            );
        }
    }
}
