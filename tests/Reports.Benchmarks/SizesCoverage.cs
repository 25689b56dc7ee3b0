using System.Globalization;
using Reports.Statistics;

namespace Reports.Benchmarks;

/// <summary>
/// How often the 80 % intervals of the share over 100 lb hold the truth, over simulated coasts. Verb <c>coverage-sizes</c>.
/// </summary>
internal static class SizesCoverage
{
    /// <summary>Prints one row for each coast. <paramref name="replicates"/> coasts of each kind, seeds 1, 2, ...</summary>
    public static void Run(TextWriter output, int replicates = 200)
    {
        (string Name, SizesCoast Coast)[] coasts =
        [
            (
                "days alike, equal weights",
                new(20, 4, DayConcentration: double.PositiveInfinity, HalfLifeDays: double.PositiveInfinity)
            ),
            ("days share a sea, equal weights", new(20, 4, HalfLifeDays: double.PositiveInfinity)),
            ("days share a sea, half-life 7 days", new(28, 4, HalfLifeDays: 7)),
            ("the same, 1 lb rounding", new(28, 4, Rounding: 1, HalfLifeDays: 7)),
            ("8 days of 3 boats", new(8, 3, HalfLifeDays: double.PositiveInfinity)),
            ("one school a boat (phi .2), half-life 7", new(28, 4, BoatConcentration: 0.2, HalfLifeDays: 7)),
            ("heavy fish rare (.08), half-life 7", new(28, 4, Heavy: 0.08, HalfLifeDays: 7)),
        ];
        output.WriteLine(
            "| coast | true share | mean estimate | by day (used) | lines as independent | NPMLE profile | mean width by day |"
        );
        output.WriteLine("|---|---|---|---|---|---|---|");
        foreach (var (name, coast) in coasts)
        {
            var truth = coast.ShareOver(100);
            var (byDay, byLine, profile, estimate, width) = (0, 0, 0, 0.0, 0.0);
            var none = 0;
            for (var seed = 1; seed <= replicates; seed++)
            {
                var (lines, days) = coast.Draw(seed);
                var rescale = Evidence.Rescale([.. lines.Select(l => l.Weight)]);
                var rescaled = lines.Select(l => l with { Weight = l.Weight * rescale }).ToArray();
                var fit = RangeFit.Fit(rescaled, 2, new(Starts: 3));
                estimate += fit.Mixture.ShareOver(100) / replicates;
                var clustered = SizeUncertainty.Of(fit, rescaled, days);
                var separate = SizeUncertainty.Of(fit, rescaled, [.. days.Select((_, i) => i)]);
                if (clustered is null || separate is null)
                {
                    // An interval that can't be given covers nothing; the row says how many.
                    none++;
                    continue;
                }

                var (low, high) = clustered.ShareInterval(100, double.PositiveInfinity, 0.8);
                byDay += low <= truth && truth <= high ? 1 : 0;
                width += (high - low) / replicates;
                var (l, h) = separate.ShareInterval(100, double.PositiveInfinity, 0.8);
                byLine += l <= truth && truth <= h ? 1 : 0;
                var (pl, ph) = IntervalNpmle
                    .Fit(SizeLine.Expand(rescaled, LineTreatment.EndsExact))
                    .ShareInterval(100, double.PositiveInfinity, 0.8);
                profile += pl <= truth && truth <= ph ? 1 : 0;
            }

            string Percent(int count) => (count / (double)replicates).ToString("P0", CultureInfo.InvariantCulture);
            output.WriteLine(
                string.Create(
                    CultureInfo.InvariantCulture,
                    $"| {name}{(none > 0 ? $" ({none} without interval)" : "")} | {truth:F3} | {estimate:F3} | {Percent(byDay)} | {Percent(byLine)} | {Percent(profile)} | {width:F3} |"
                )
            );
        }
    }
}
