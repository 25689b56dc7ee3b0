using Reports.Domain.Briefs;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using Reports.Domain.Rigs;

namespace Reports.Benchmarks.Advice;

internal static class Diagnose
{
    public static int Run(int seed, int boats)
    {
        var fleet = new SimulatedFleet(seed, boats);
        var telling = new Telling(fleet, new(0.5, 0.25, 0.2));
        foreach (var asOf in new[] { 20, 48, 76 })
        {
            var evidence = telling.Evidence(asOf, 0);
            var sample = Sample.Of(evidence);
            var clock = System.Diagnostics.Stopwatch.StartNew();
            var model = RigModel.Fit(sample, Telling.Species);
            Console.WriteLine($"== day {asOf}: fit {clock.ElapsedMilliseconds} ms; trips {model.Trips.Count}, ρ {model.BiteCorrelation:0.000} tallied {model.Trips.Count(t => t.Tallied)}");
            Console.WriteLine("  bite " + string.Join(" ", model.BiteFit.Coefficients.Select((c, i) => $"{c:0.00}±{Math.Sqrt(model.BiteFit.Covariance[i * 8]):0.00}")));
            for (var zone = 0; zone < 4; zone++)
            {
                var (m, v) = model.SlopeAhead($"zone-{zone}");
                Console.WriteLine($"  zone {zone}: slope {m:0.00} ± {Math.Sqrt(v):0.00}, mood ahead {fleet.Outcomes.Where(o => o.Day.Zone == zone && o.Day.Day > asOf && o.Day.Day <= asOf + 6).Select(o => o.Day.Mood).DefaultIfEmpty().Average():0.00}, now {fleet.Outcomes.Where(o => o.Day.Zone == zone && o.Day.Day > asOf - 2 && o.Day.Day <= asOf).Select(o => o.Day.Mood).DefaultIfEmpty().Average():0.00}");
            }

            foreach (var style in new[] { HookStyle.Circle, HookStyle.J })
            {
                foreach (var mm in new[] { 120.0, 150, 180 })
                {
                    var ask = BaitAsk.Of("PIL", mm);
                    var truth = Enumerable.Range(-4, 10).Select(s => fleet.Nature.Bite(new Rig(Technique.FlyLine, 30, style, s), -0.8, mm, 1));
                    var ours = Enumerable.Range(-4, 10).Select(s => Math.Exp(model.Bite.Rest(RigFeatures.Of(30, Technique.FlyLine, style, s, ask)))).ToList();
                    Console.WriteLine($"  {style} {mm}: true " + string.Join(" ", truth.Select(x => $"{x:0.00}")) + "   ours " + string.Join(" ", ours.Select(x => $"{x:0.00}")));
                }
            }

            foreach (var ratio in new[] { 0.3, 0.6, 1, 1.5, 2, 3, 4, 6 })
            {
                var held = new[] { 20, 30, 50, 80 }.Select(r => $"{fleet.Nature.Held(new Rig(Technique.FlyLine, r, HookStyle.Circle, 0), r * ratio):0.00}/{model.Holding.Chances(r, 0)[SizeGrid.Cell(r * ratio * 453.6)]:0.00}");
                Console.WriteLine($"  held at {ratio}: true/ours " + string.Join("  ", held));
            }

            var score = new AdviceScore(fleet);
            for (var zone = 0; zone < 4; zone++)
            {
                var brief = BriefMaker.Make(telling.Evidence(asOf, zone));
                foreach (var k in new[] { 1, 3 })
                {
                    Console.WriteLine($"  zone {zone}, {k}: brief " + string.Join(" | ", brief.OutfitSets[k - 1].Select(o => $"{o.Technique} {o.RungLb} {o.HookStyle} {o.HookStep}")));
                }

                var sea = fleet.Sample(asOf, zone, 30);
                Console.WriteLine("     knowing " + string.Join(" | ", score.Best(sea, Rig.All).Select(o => $"{o.Technique} {o.RungLb} {o.Style} {o.Step}")) + $"; bait {sea[0].BaitMm:0} {sea[1].BaitMm:0}, ours {brief.Bait?.P50Mm}; schools {string.Join(" ", sea.GroupBy(d => Math.Round(d.School.MedianLb / 20) * 20).OrderBy(g => g.Key).Select(g => $"{g.Key}:{g.Sum(x => x.Rate) / sea.Sum(x => x.Rate):0.00}"))}");
            }

            var trips = model.Trips.Where(t => t.Tallied).ToList();
            double sb = 0, n = 0, sxy = 0, sxx = 0, sx = 0, sy = 0;
            foreach (var t in trips)
            {
                var o = fleet.Outcomes.FirstOrDefault(o => $"boat-{o.Day.Boat}" == t.Sighting.Boat && Telling.DateOf(o.Day.Day) == t.Sighting.Report.FishedOn);
                if (o is null) continue;
                sb += t.Slope - o.Day.Mood; n++; sx += o.Day.Mood; sy += t.Slope; sxx += o.Day.Mood * o.Day.Mood; sxy += o.Day.Mood * t.Slope;
            }

            Console.WriteLine($"  slope bias {sb / n:0.00}; regression {(sxy / n - sx / n * sy / n) / (sxx / n - sx / n * sx / n):0.00}");
        }

        return 0;
    }
}
