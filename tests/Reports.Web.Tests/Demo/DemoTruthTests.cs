using System.Text.Json;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using Reports.Web.Demo;

namespace Reports.Web.Tests.Demo;

/// <summary>
/// The reports are what docs/demo.md says that they are drawn from: formulas are restated here from that page, and compared
/// with what two years of honest, final reports tells. Bounds are in standard errors of the data.
/// </summary>
public sealed class DemoTruthTests
{
    private static readonly DateOnly First = new(2025, 1, 1);
    private static readonly DateOnly Last = new(2026, 12, 31);

    private sealed record Told(CatchReport Report, DemoTruth Truth)
    {
        public double BaitInches => Truth.Bait(DemoCoast.World().ToRegister().Boats[Report.Boat].Landing).MedianInches;
    }

    private static readonly Lazy<List<Told>> TwoYears = new(() =>
    {
        var register = DemoCoast.World().ToRegister();
        return
        [
            .. DemoCoast
                .Days(First, Last)
                .SelectMany(day =>
                {
                    var truth = DemoCoast.Truth(day.Date);
                    return day
                        .Reports.Where(r => r.Slip is null && !r.SoFar)
                        .Select(r =>
                        {
                            using var document = JsonDocument.Parse(r.Json);
                            return new Told(
                                ReportReader.Read(document.RootElement, register, r.ReceivedAt).Value!,
                                truth
                            );
                        });
                }),
        ];
    });

    /// <summary>ln bite, but for the slope: docs/demo.md, "Bite".</summary>
    private static double LogBiteAtNoSlope(int lineLb, HookStyle style, int step, double baitInches)
    {
        var x = Math.Log(lineLb / 30.0);
        var best = (style == HookStyle.J ? -1 : 0) + 7.7 * Math.Log(baitInches / 5);
        return -0.35 * x * x - Math.Pow((step - best) / 2, 2) / 2;
    }

    /// <summary>docs/demo.md, "Holding".</summary>
    private static double Hold(double weightLb, int lineLb, HookStyle style, int step)
    {
        var u = Math.Log(weightLb / lineLb);
        var small = Math.Max(0, 4 * Math.Log(lineLb / 30.0) - 1.5 - step);
        var logit = 2 - 1.2 * u - 0.9 * u * u + (style == HookStyle.Circle ? 0.2 : 0) - 0.35 * small;
        return 0.97 / (1 + Math.Exp(-logit));
    }

    [Fact]
    public void TalliesFollowTheBite()
    {
        // Multinomial within a boat trip: ln rate = ln rods + s x + the rest of the bite. With s = true slope of the zone and day
        // + b, the maximum-likelihood b has mean 0, up to the boats' own spread. Newton's method, from 0.
        var trips = TwoYears
            .Value.Select(t =>
                (
                    t.Report.FishedOn,
                    Slope: t.Truth.Ground(t.Report.Zone, t.Report.Catch[0].Species).Slope,
                    Rigs: t.Report.Rigs.Where(r =>
                            r.Species == t.Report.Catch[0].Species
                            && r.Hooked is not null
                            && r.Technique != Technique.Drop
                        )
                        .Select(r =>
                        {
                            var line = LineClass.Rung(r.LineClass);
                            var rest = LogBiteAtNoSlope(line, r.Hook!.Style, r.Hook.Size!.Value.Step, t.BaitInches);
                            return (
                                X: Math.Log(line / 30.0),
                                Offset: Math.Log(r.Rods!.Value) + rest,
                                Hooked: r.Hooked!.Value
                            );
                        })
                        .ToList()
                )
            )
            .Where(t => t.Rigs.Count > 1 && t.Rigs.Sum(r => r.Hooked) > 0)
            .ToList();
        Assert.True(trips.Count > 500);

        var b = 0.0;
        List<(DateOnly Day, double Score, double Information)> terms = [];
        for (var step = 0; step < 20; step++)
        {
            terms =
            [
                .. trips.Select(t =>
                {
                    var p = t.Rigs.Select(r => Math.Exp(r.Offset + (t.Slope + b) * r.X)).ToList();
                    var total = t.Rigs.Sum(r => r.Hooked);
                    var mean = t.Rigs.Zip(p, (r, q) => r.X * q).Sum() / p.Sum();
                    var square = t.Rigs.Zip(p, (r, q) => r.X * r.X * q).Sum() / p.Sum();
                    return (t.FishedOn, t.Rigs.Sum(r => r.Hooked * r.X) - total * mean, total * (square - mean * mean));
                }),
            ];
            b += terms.Sum(t => t.Score) / terms.Sum(t => t.Information);
        }

        var spread = Math.Sqrt(terms.GroupBy(t => t.Day).Sum(d => Math.Pow(d.Sum(t => t.Score), 2)));
        var error = spread / terms.Sum(t => t.Information);
        Assert.InRange(error, 0.005, 0.06);
        Assert.InRange(b, -3.5 * error, 3.5 * error);
    }

    [Fact]
    public void TalliesFollowTheHolding()
    {
        // Species of one grade: every hook-up's weight has the same law, so P(landed) is an integral over it.
        var (expected, variance, landed, hooked) = (0.0, 0.0, 0, 0);
        foreach (var told in TwoYears.Value)
        {
            foreach (var rig in told.Report.Rigs.Where(r => r.Hooked > 0 && r.Species is "ALB" or "DOL"))
            {
                var grade = told.Truth.Ground(told.Report.Zone, rig.Species).Grades.Single();
                var line = LineClass.Rung(rig.LineClass);
                var (sum, weight) = (0.0, 0.0);
                for (var z = -4.0; z <= 4; z += 0.05)
                {
                    var density = Math.Exp(-z * z / 2);
                    sum +=
                        density
                        * Hold(
                            grade.MedianLb * Math.Exp(grade.Sigma * z),
                            line,
                            rig.Hook!.Style,
                            rig.Hook.Size!.Value.Step
                        );
                    weight += density;
                }

                var p = sum / weight;
                hooked += rig.Hooked!.Value;
                landed += rig.Landed!.Value;
                expected += rig.Hooked.Value * p;
                variance += rig.Hooked.Value * p * (1 - p);
            }
        }

        Assert.True(hooked > 1000);
        Assert.InRange(landed - expected, -4 * Math.Sqrt(variance), 4 * Math.Sqrt(variance));
    }

    [Fact]
    public void HalfDayCatchesAreWhatTheModelExpects()
    {
        // Half-day boats fish one zone for their whole time, so each report has an expectation of its own. What a crew tells by
        // chance is weighed by the inverse of that chance (docs/demo.md, "What a crew tells"); a blank tells everything.
        const double toldReleased = 0.75;
        const double toldSizes = 0.85;
        const double toldAnglers = 0.6;
        var reports = TwoYears
            .Value.Where(t => t.Report.TripDays == 0.5m && t.Report.FishedOn.DayNumber % 6 == 0)
            .ToList();
        var counting = TwoYears
            .Value.Where(t => t.Report.Catch[0].AnglersWithFish is not null)
            .Select(t => t.Report.Boat)
            .ToHashSet();
        var landing = DemoCoast.World().Boats.ToDictionary(x => x.Code, x => x.Landing);
        var days = new Dictionary<DateOnly, (double Fish, double Over, double WithFish)>();
        foreach (var (report, truth) in reports)
        {
            var line = report.Catch[0];
            var expected = DemoCoast.Expect(
                truth,
                report.Zone,
                line.Species,
                landing[report.Boat],
                0.5m,
                report.Anglers,
                DemoCoast.Skill(report.Boat),
                trips: 50
            );
            var fish = line.Released is null ? 0 : line.Fish / toldReleased / report.Anglers;
            // Half-day boats report in lb, and 37.5 lb parts the same fish whether a boat rounds to one or to five.
            var over = line.Largest is { } largest && largest.Given > 37.4m ? 1 / toldSizes : 0;
            var day = days.GetValueOrDefault(report.FishedOn);
            day.Fish += fish - expected.LandedPerAngler;
            day.Over += over - expected.TripsOver(37.5);
            if (counting.Contains(report.Boat))
            {
                day.WithFish += (line.AnglersWithFish ?? 0) / toldAnglers / report.Anglers - expected.AtLeastOne;
            }

            days[report.FishedOn] = day;
        }

        Assert.True(days.Count > 100);
        Assert.All(reports, t => Assert.Equal(WeightUnit.Lb, t.Report.Units.Weight));
        Assert.All(
            new[]
            {
                days.Values.Select(d => d.Fish).ToList(),
                days.Values.Select(d => d.Over).ToList(),
                days.Values.Select(d => d.WithFish).ToList(),
            },
            differences =>
            {
                // The day is the cluster.
                var error = Math.Sqrt(differences.Sum(d => d * d));
                Assert.InRange(differences.Sum(), -3.5 * error, 3.5 * error);
            }
        );
    }

    [Fact]
    public void WordsForTheBiteFollowTheMood()
    {
        double SlopeOf(Bite bite) =>
            TwoYears
                .Value.Where(t => t.Report.Bite == bite)
                .Average(t => t.Truth.Ground(t.Report.Zone, t.Report.Catch[0].Species).Slope);

        Assert.True(SlopeOf(Bite.Picky) + 0.2 < SlopeOf(Bite.Steady));
        Assert.True(SlopeOf(Bite.Steady) + 0.2 < SlopeOf(Bite.WideOpen));
    }

    [Fact]
    public void TheStateMovesSlowlyRoundItsLongRunMean()
    {
        var truths = Enumerable.Range(0, 1500).Select(i => DemoCoast.Truth(First.AddDays(i))).ToList();
        var slopes = truths.Select(t => t.Ground("cannery-bank", "SBF").Slope).ToList();
        var baits = truths.Select(t => Math.Log(t.Bait("corran-quay").MedianInches)).Where(l => l > 0).ToList();
        var storms = truths.Count(t => t.Weather == DemoWeather.Storm) / 1500.0;

        // Slope: mean -0.9, variance 0.3^2 + 0.35^2; with memories of 8 and 4 days the mean of 1,500 has a standard error of 0.04.
        Assert.InRange(slopes.Average(), -0.9 - 0.16, -0.9 + 0.16);
        Assert.InRange(Variance(slopes), 0.13, 0.30);
        // Yesterday tells much of today, a season ago nothing.
        Assert.True(Correlation(slopes, 1) > 0.7);
        Assert.InRange(Correlation(slopes, 120), -0.35, 0.35);
        Assert.True(Correlation(baits, 7) > 0.3);
        // P(N > 2.05) = 0.020 and P(N > 1.2) = 0.115 (R: pnorm(-2.05), pnorm(-1.2)).
        Assert.InRange(storms, 0.008, 0.04);
        Assert.InRange(truths.Count(t => t.Weather != DemoWeather.Fair) / 1500.0, 0.08, 0.15);
    }

    private static double Variance(IReadOnlyList<double> values)
    {
        var mean = values.Average();
        return values.Sum(v => (v - mean) * (v - mean)) / (values.Count - 1);
    }

    private static double Correlation(IReadOnlyList<double> values, int lag)
    {
        var mean = values.Average();
        var products = values.Zip(values.Skip(lag), (a, b) => (a - mean) * (b - mean)).Average();
        return products / Variance(values);
    }
}
