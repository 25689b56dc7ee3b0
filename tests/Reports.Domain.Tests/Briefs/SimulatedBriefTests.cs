using System.Diagnostics;
using Reports.Domain.Briefs;
using Reports.Domain.Measures;

namespace Reports.Domain.Tests.Briefs;

/// <summary>Briefs against the truth of a simulated season (own model, see <see cref="School"/>; seeds fixed).</summary>
public class SimulatedBriefTests(ITestOutputHelper output)
{
    [Fact]
    public void SizesAreThoseOfTheFishLanded()
    {
        var (outside, asked, over, truth) = (0, 0, 0.0, 0.0);
        for (var seed = 1; seed <= 6; seed++)
        {
            var school = new School(seed);
            var fleet = school.Season(70, 9);
            for (var week = 0; week < 6; week++)
            {
                var asOf = Fleet.Today.AddDays(-7 * week);
                var brief = fleet.Brief(asOf);
                var landed = Landed(school, 7 * week);
                foreach (
                    var (q, grams) in new[]
                    {
                        (0.05, brief.Size!.Quantiles.P05),
                        (0.25, brief.Size.Quantiles.P25),
                        (0.5, brief.Size.Quantiles.P50),
                        (0.75, brief.Size.Quantiles.P75),
                    }
                )
                {
                    // The error of a quantile is that of its probability: how far is the share below it from q?
                    var share = Below(landed, Weight.FromGrams(grams, WeightUnit.Lb));
                    asked++;
                    outside += q < share.AtOrBelow + 0.1 && q > share.Under - 0.1 ? 0 : 1;
                }

                over += brief.Size.Lb.Over.Single(o => o.Weight == 100).Fish.Mean;
                truth += 1 - Below(landed, 100).Under;
            }
        }

        output.WriteLine(
            $"{outside} of {asked} quantiles off by more than .1; over 100 lb {over / 36:f3}, landed {truth / 36:f3}"
        );
        Assert.True(outside <= 0.1 * asked, $"{outside} of {asked}");
        Assert.InRange(over / truth, 0.7, 1.3);
    }

    [Fact]
    public void CatchRatesAreThoseOfTheFleet()
    {
        // The model's boats (gamma of shape 2) and anglers (k 0.8) under the sea of a coming day, drawn apart from the reports.
        const double Mean = 1.4;
        var random = new Random(17);
        var (covered, oddsCovered, odds, oddsTruth) = (0, 0, 0.0, 0.0);
        const int Seasons = 60;
        for (var seed = 1; seed <= Seasons; seed++)
        {
            var sea = Math.Exp(
                0.4 * Math.Sqrt(-2 * Math.Log(1 - random.NextDouble())) * Math.Cos(2 * Math.PI * random.NextDouble())
                    - 0.08
            );
            var one = 1 - Math.Exp(Statistics.CatchRate.LogMarginal(new(1, 0), Mean * sea, 2, 0.8));
            var rate = new School(seed, perAngler: Mean).Season(28, 5, rigs: false).Brief().CatchRate!;
            covered += rate.PerAngler.Low <= Mean * sea && Mean * sea <= rate.PerAngler.High ? 1 : 0;
            oddsCovered += rate.AtLeastOne!.Low <= one && one <= rate.AtLeastOne.High ? 1 : 0;
            odds += rate.AtLeastOne.Mean / Seasons;
            oddsTruth += one / Seasons;
        }

        output.WriteLine(
            $"80 % intervals: rate {covered}/{Seasons}, odds {oddsCovered}/{Seasons}; odds {odds:f3}, true {oddsTruth:f3}"
        );
        // 60 draws of .8 lie within 39 and 56 with probability .99 (binomial).
        Assert.InRange(covered, 39, 56);
        Assert.InRange(oddsCovered, 39, 56);
        Assert.InRange(odds, oddsTruth - 0.03, oddsTruth + 0.03);
    }

    [Fact]
    public void OddsFromTotalsAloneAreNear()
    {
        var (told, untold) = (0.0, 0.0);
        for (var seed = 1; seed <= 8; seed++)
        {
            told += new School(seed).Season(28, 5).Brief().CatchRate!.AtLeastOne!.Mean / 8;
            untold += new School(seed).Season(28, 5, tellAnglers: false).Brief().CatchRate!.AtLeastOne!.Mean / 8;
        }

        output.WriteLine($"told {told:f3}, from totals {untold:f3}");
        // Totals can't tell k, so the prior's k near 1 stands in for the model's 0.8.
        Assert.InRange(untold, told - 0.08, told + 0.08);
    }

    private static List<(double Lb, double Weight)> Landed(School school, int asOfDaysAgo) =>
        [
            .. school
                .Landed.Where(l => l.DaysAgo >= asOfDaysAgo && l.DaysAgo < asOfDaysAgo + Windows.Display)
                .Select(l => (l.Lb, Math.Pow(2, -(l.DaysAgo - asOfDaysAgo) / HalfLives.SizeDays))),
        ];

    private static (double Under, double AtOrBelow) Below(List<(double Lb, double Weight)> landed, double lb)
    {
        var total = landed.Sum(l => l.Weight);
        return (
            landed.Where(l => l.Lb < lb - 0.01).Sum(l => l.Weight) / total,
            landed.Where(l => l.Lb < lb + 0.01).Sum(l => l.Weight) / total
        );
    }
}
