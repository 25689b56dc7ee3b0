using Reports.Domain.Trade;
using Reports.Statistics;

namespace Reports.Domain.Briefs;

/// <summary>What bait is about, what the boats saw, and how to pin the bait.</summary>
internal static class BaitAndSigns
{
    public static BaitPicture? Bait(Sample sample, Missing missing)
    {
        var told = sample.Display.Where(s => s.Report.Bait.Count > 0).ToList();
        var measured = told.SelectMany(s => s.Report.Bait, (s, b) => (Sighting: s, Bait: b))
            .Where(x => (x.Bait.ShortestMm ?? x.Bait.LongestMm) is not null)
            .ToList();
        if (measured.Count == 0)
        {
            missing.Add("/bait", "no-bait", "No report in the last four weeks told how long the bait was.");
            return null;
        }

        if (Sample.Boats(measured.Select(m => m.Sighting)) < Confidentiality.FewestBoats)
        {
            missing.TooFewBoats("/bait", "told how long the bait was");
            return null;
        }

        var spread = new double[measured.Max(m => Longest(m.Bait)) + 1];
        foreach (var (sighting, line) in measured)
        {
            // The ends are the odd ones out of a tank full, so the bait is taken as spread evenly between them.
            var (shortest, longest) = (Shortest(line), Longest(line));
            for (var mm = shortest; mm <= longest; mm++)
            {
                spread[mm] += sighting.Weight(HalfLives.BaitDays) / (longest - shortest + 1);
            }
        }

        int Quantile(double q)
        {
            var need = q * spread.Sum() - 1e-9;
            var mm = 0;
            for (var sum = spread[0]; sum < need; sum += spread[mm])
            {
                mm++;
            }

            return mm;
        }

        var total = told.Sum(s => s.Weight(HalfLives.BaitDays));
        return new BaitPicture(
            Quantile(0.1),
            Quantile(0.5),
            Quantile(0.9),
            [
                .. told.SelectMany(
                        s => s.Report.Bait.Select(b => b.Species).Distinct(StringComparer.Ordinal),
                        (s, kind) => (Kind: kind, Weight: s.Weight(HalfLives.BaitDays))
                    )
                    .GroupBy(x => x.Kind, StringComparer.Ordinal)
                    .Select(g => new BaitKind(g.Key, Figures.Round(g.Sum(x => x.Weight) / total)))
                    .OrderByDescending(k => k.Share)
                    .ThenBy(k => k.Species, StringComparer.Ordinal),
            ]
        );
    }

    public static SignsPicture? Signs(Sample sample, BaitPicture? bait, Missing missing)
    {
        var surface = Seen(sample, s => s.Report.SurfaceFish);
        var birds = Seen(sample, s => s.Report.Birds);
        var marked = sample.Display.Where(s => s.Report.DepthMm is not null).ToList();
        int? depth = null;
        if (Sample.Boats(marked) >= Confidentiality.FewestBoats)
        {
            var (low, high) = IntervalNpmle
                .Fit([
                    .. marked.Select(s =>
                        IntervalObservation.Exact(s.Report.DepthMm!.Value, s.Weight(HalfLives.BaitDays))
                    ),
                ])
                .Quantile(0.5);
            depth = (int)Math.Round((low + high) / 2, MidpointRounding.AwayFromZero);
        }

        if (surface is null && birds is null && depth is null && bait is null)
        {
            missing.TooFewBoats("/signs", "told of signs or bait");
            return null;
        }

        foreach (
            var (name, isNull, what) in new[]
            {
                ("surface", surface is null, "told whether fish showed on top"),
                ("depth", depth is null, "told the depth at which fish were marked"),
                ("birds", birds is null, "told whether birds took the bait"),
            }
        )
        {
            if (isNull)
            {
                missing.TooFewBoats($"/signs/{name}", what);
            }
        }

        return new SignsPicture(surface, depth, birds, HowToPin(surface, depth, birds, bait));
    }

    /// <summary>
    /// Common practice, no source: anchovy by the collar; fish marked deep, or birds stealing bait: low in the belly, which
    /// makes the bait dive; else through the nose. (With a sinker always the nose.)
    /// </summary>
    private static Hooking HowToPin(double? surface, int? depthMm, double? birds, BaitPicture? bait)
    {
        if (bait is { Kinds: [{ Species: var kind }, ..] } && BaitTable.IsAnchovy(kind))
        {
            return Hooking.Collar;
        }

        var deep = depthMm is not null && surface is not >= 0.5;
        return deep || birds >= 0.5 ? Hooking.Belly : Hooking.Nose;
    }

    private static int Shortest(Reporting.BaitMeasure bait) => bait.ShortestMm ?? bait.LongestMm!.Value;

    private static int Longest(Reporting.BaitMeasure bait) => bait.LongestMm ?? bait.ShortestMm!.Value;

    private static double? Seen(Sample sample, Func<Sighting, bool?> sign)
    {
        var told = sample.Display.Where(s => sign(s) is not null).ToList();
        return Sample.Boats(told) < Confidentiality.FewestBoats
            ? null
            : Figures.Round(
                told.Where(s => sign(s) == true).Sum(s => s.Weight(HalfLives.BaitDays))
                    / told.Sum(s => s.Weight(HalfLives.BaitDays))
            );
    }
}
