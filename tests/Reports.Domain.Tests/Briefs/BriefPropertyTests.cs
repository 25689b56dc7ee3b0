using System.Globalization;
using System.Text.RegularExpressions;
using CsCheck;
using Reports.Domain.Briefs;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;

namespace Reports.Domain.Tests.Briefs;

public partial class BriefPropertyTests
{
    private const int Cases = 150;

    [Fact]
    public void ReportsInAnyOrderGiveTheSameBytes() =>
        Gen.Select(RandomEvidence.Any, Gen.Int)
            .Sample(
                (evidence, seed) =>
                {
                    var random = new Random(seed);
                    var shuffled = evidence with
                    {
                        Reports = [.. evidence.Reports.OrderBy(_ => random.Next())],
                        Trips = [.. evidence.Trips.OrderBy(_ => random.Next())],
                    };
                    return BriefMaker.Make(shuffled).ToJson() == BriefMaker.Make(evidence).ToJson();
                },
                iter: Cases
            );

    [Fact]
    public void EveryFigureIsFiniteOrderedAndReadsBack() =>
        RandomEvidence.Any.Sample(
            evidence =>
            {
                var brief = BriefMaker.Make(evidence);
                var json = brief.ToJson();
                Assert.Equal(json, Brief.FromJson(json).ToJson());
                foreach (var share in Shares(brief))
                {
                    Assert.InRange(share.Mean, share.Low, share.High);
                    Assert.InRange(share.Low, 0, 1);
                    Assert.InRange(share.High, 0, 1);
                }

                if (brief.Size is { } size)
                {
                    var q = size.Quantiles;
                    Assert.Equal(
                        new[] { q.P05, q.P25, q.P50, q.P75, q.P95 }.Order(),
                        [q.P05, q.P25, q.P50, q.P75, q.P95]
                    );
                    Assert.Equal(1, size.Grades.Sum(g => g.Share), 2);
                    Assert.All(
                        size.Grades,
                        g => Assert.True(g.LowGrams <= g.MedianGrams && g.MedianGrams <= g.HighGrams)
                    );
                    foreach (var table in new[] { size.Lb, size.Kg })
                    {
                        Assert.Equal(1, table.Bars.Sum(b => b.Share), 2);
                        Assert.All(
                            table.Over.Zip(table.Over.Skip(1)),
                            o => Assert.True(o.First.Fish.Mean >= o.Second.Fish.Mean)
                        );
                    }
                }

                if (brief.CatchRate is { } rate)
                {
                    Assert.InRange(rate.PerAngler.Mean, rate.PerAngler.Low, rate.PerAngler.High);
                    // No more anglers with a fish than fish (rounded figures).
                    Assert.True(rate.AtLeastOne is null || rate.AtLeastOne.Mean <= rate.PerAngler.Mean + 1e-4);
                    Assert.True(rate.PerAnglerIfSilentBlank is not { } blank || blank <= rate.PerAngler.Mean);
                    Assert.True(rate.PerAnglerIfSilentAlike is not { } alike || alike >= rate.PerAngler.Mean - 1e-4);
                }
            },
            iter: Cases
        );

    [Fact]
    public void NoFigureRestsOnFewerThanThreeBoats() =>
        RandomEvidence.Any.Sample(
            evidence =>
            {
                var brief = BriefMaker.Make(evidence);
                var coast = evidence
                    .Reports.Where(r => r.Catch.Any(c => c.Species == "SBF") && r.FishedOn <= evidence.AsOf)
                    .ToList();
                var display = coast.Where(r => r.FishedOn > evidence.AsOf.AddDays(-Windows.Display)).ToList();
                var own = Boats(display.Where(r => r.Zone == evidence.Zone));
                Assert.Equal(own < 3, brief.Evidence.Pooled);
                if (Boats(display) < 3)
                {
                    Assert.Null(brief.CatchRate);
                    Assert.Null(brief.Size);
                    Assert.Null(brief.Evidence.Fish);
                    Assert.Null(brief.Evidence.Newest);
                    Assert.Empty(brief.Rigs);
                    Assert.Empty(brief.OutfitSets);
                    Assert.Empty(brief.Days);
                    Assert.Contains(brief.Missing, m => m.Pointer == "/catchRate");
                    return;
                }

                var used = display.Where(r => own < 3 || r.Zone == evidence.Zone).ToList();
                Assert.Equal(used.Count, brief.Evidence.Reports);
                var hidden = new HashSet<string>();
                foreach (var day in brief.Days)
                {
                    var boats = used.Where(r => r.FishedOn == day.Date).Select(r => r.Boat).ToHashSet();
                    Assert.True(day.PerAngler is null || boats.Count >= 3);
                    hidden.UnionWith(day.Boats is null ? boats : []);
                }

                Assert.True(hidden.Count is 0 or >= 3 || brief.Days.All(d => d.PerAngler is null));
                var mechanics = coast
                    .Where(r => r.FishedOn > evidence.AsOf.AddDays(-Windows.Mechanics))
                    .Where(r => own < 3 || r.Zone == evidence.Zone)
                    .ToList();
                foreach (var rig in brief.Rigs)
                {
                    bool Same(RigMeasure r) =>
                        r.Species == "SBF"
                        && (r.Technique, r.RungLb, r.HookStyle, r.HookStep)
                            == (rig.Technique, rig.RungLb, rig.HookStyle, rig.HookStep);
                    Assert.True(Boats(mechanics.Where(r => r.Rigs.Any(Same))) >= 3);
                    Assert.True(
                        rig.Held is null
                            || Boats(
                                mechanics.Where(r => r.Rigs.Any(x => Same(x) && x.Hooked > 0 && x.Landed is not null))
                            ) >= 3
                    );
                    Assert.True(
                        rig.LandedPerRod is null
                            || Boats(
                                mechanics.Where(r => r.Rigs.Any(x => Same(x) && x.Rods > 0 && x.Landed is not null))
                            ) >= 3
                    );
                }
            },
            iter: Cases
        );

    [Fact]
    public void WhatIsNotThereHasItsReason() =>
        RandomEvidence.Any.Sample(
            evidence =>
            {
                var brief = BriefMaker.Make(evidence);
                var pointers = brief.Missing.Select(m => m.Pointer).ToHashSet();
                Assert.True(brief.Size is not null || pointers.Contains("/size"));
                Assert.True(brief.Bait is not null || pointers.Contains("/bait"));
                Assert.True(brief.Signs is not null || pointers.Contains("/signs"));
                Assert.True(brief.Rigs.Count > 0 || pointers.Contains("/rigs"));
                Assert.True(brief.OutfitSets.Count > 0 || pointers.Contains("/outfits"));
                Assert.True(brief.CatchRate is not null || pointers.Contains("/catchRate"));
                for (var i = 0; i < brief.Rigs.Count; i++)
                {
                    Assert.True(brief.Rigs[i].Held is not null || pointers.Contains($"/rigs/{i}/held"));
                    Assert.True(brief.Rigs[i].Wins is not null || pointers.Contains($"/rigs/{i}/wins"));
                    Assert.True(brief.Rigs[i].LandedPerRod is not null || pointers.Contains($"/rigs/{i}/landedPerRod"));
                }
            },
            iter: Cases
        );

    [Fact]
    public void ReportsOutsideTheWindowDoNotCount() =>
        RandomEvidence.Any.Sample(
            evidence =>
            {
                var inside = evidence with
                {
                    Reports =
                    [
                        .. evidence.Reports.Where(r =>
                            r.FishedOn <= evidence.AsOf && r.FishedOn > evidence.AsOf.AddDays(-Windows.Mechanics)
                        ),
                    ],
                };
                Assert.Equal(BriefMaker.Make(inside).ToJson(), BriefMaker.Make(evidence).ToJson());
                var recent = inside with
                {
                    Reports = [.. inside.Reports.Where(r => r.FishedOn > evidence.AsOf.AddDays(-Windows.Display))],
                };
                var (all, few) = (BriefMaker.Make(inside), BriefMaker.Make(recent));
                // The past of the coast says how fast rates and sizes change; the counts themselves are those of the window.
                Assert.Equal(few.CatchRate?.StoppedAtLimit, all.CatchRate?.StoppedAtLimit);
                Assert.Equal(few.Evidence, all.Evidence);
            },
            iter: Cases
        );

    [Fact]
    public void OutfitsKeepTheRulesOfTheTrade() =>
        RandomEvidence.Any.Sample(
            evidence =>
            {
                var brief = BriefMaker.Make(evidence);
                var heavy = brief.Size?.Lb.Over.Single(o => o.Weight == 100).BoatDays.Mean >= 0.1;
                for (var k = 1; k <= brief.OutfitSets.Count; k++)
                {
                    var set = brief.OutfitSets[k - 1];
                    Assert.Equal(k, set.Count);
                    Assert.Equal(Enumerable.Range(1, k), set.Select(o => o.Order));
                    Assert.Equal(k, set.Select(o => o.RungLb).Distinct().Count());
                    foreach (var outfit in set)
                    {
                        Assert.True(!heavy || outfit.RungLb >= 25);
                        var hooks = outfit.HooksByBait;
                        Assert.Equal(brief.Bait is null, hooks.Count == 0);
                        Assert.All(hooks, (h, i) => Assert.Equal(i == hooks.Count - 1, h.UpToMm is null));
                        Assert.All(hooks.Zip(hooks.Skip(1)), h => Assert.NotEqual(h.First.Step, h.Second.Step));
                        var lighter = set.Where(o => o.RungLb < outfit.RungLb).Max(o => (int?)o.RungLb);
                        Assert.True(
                            lighter is not null
                                ? outfit.IfNotBitRungLb == lighter
                                : outfit.IfNotBitRungLb is null
                                    || outfit.IfNotBitRungLb == LineClass.Below(outfit.RungLb)
                        );
                        Assert.True(!heavy || outfit.IfNotBitRungLb is null or >= 25);
                        Assert.True(outfit.Wire != HookWire.Light || outfit.RungLb <= 25);
                        Assert.True(outfit.DragLowGrams < outfit.DragHighGrams);
                        var outmatched = outfit.IfOutmatchedOrder is { } order ? set[order - 1] : null;
                        Assert.Equal(set.Where(o => o.RungLb > outfit.RungLb).MinBy(o => o.RungLb), outmatched);
                        // A rig that nobody is known to fish here is custom, and nothing else is.
                        Assert.Equal(
                            outfit.Basis == OutfitBasis.Reports,
                            brief.Rigs.Any(r =>
                                r.Wins is not null && r.RungLb == outfit.RungLb && r.Technique == outfit.Technique
                            )
                        );
                    }
                }
            },
            iter: Cases
        );

    [Fact]
    public void TheVerdictSaysTheNumbersOfTheBrief() =>
        Gen.Select(RandomEvidence.Any, Gen.Bool)
            .Sample(
                (evidence, metric) =>
                {
                    var brief = BriefMaker.Make(evidence);
                    var unit = metric ? WeightUnit.Kg : WeightUnit.Lb;
                    var verdict = Verdict.Of(brief, "Cannery Bank", "bluefin", unit);
                    Assert.EndsWith(".", verdict, StringComparison.Ordinal);
                    Assert.DoesNotContain("NaN", verdict, StringComparison.Ordinal);
                    if (brief.ClosedNotice is not null || brief.CatchRate is not { } rate)
                    {
                        Assert.DoesNotContain(" in 10", verdict, StringComparison.Ordinal);
                        return;
                    }

                    Assert.Equal(brief.Evidence.Pooled, verdict.Contains("whole coast", StringComparison.Ordinal));
                    var odds = AnglersInTen().Match(verdict);
                    if (odds.Success)
                    {
                        var k = int.Parse(odds.Groups["k"].Value, CultureInfo.InvariantCulture);
                        var p = rate.AtLeastOne!.Mean;
                        Assert.True(
                            odds.Groups["how"].Value switch
                            {
                                "fewer than " => p < 0.05,
                                "more than " => p > 0.95,
                                _ => Math.Abs(p - k / 10.0) <= 0.0501,
                            },
                            verdict
                        );
                    }

                    var sizes = Sizes().Match(verdict);
                    if (sizes.Success)
                    {
                        double Number(string name) =>
                            !sizes.Groups[name].Success
                                ? Number("from")
                                : double.Parse(sizes.Groups[name].Value, CultureInfo.InvariantCulture);
                        Assert.InRange(
                            Weight.FromGrams(brief.Size!.Quantiles.P50, unit),
                            Number("from") - 0.01,
                            Number("to") + 0.01
                        );
                    }

                    Assert.Equal(
                        rate.Trend == Trend.Up,
                        verdict.Contains("catches are up", StringComparison.OrdinalIgnoreCase)
                    );
                },
                iter: Cases
            );

    [Fact]
    public void PoundsAndKilogramsOfTheSameFishGiveNearlyTheSameBrief() =>
        Gen.Int[0, 100_000]
            .Sample(
                seed =>
                {
                    var lb = new School(seed).Season(28, 5).Evidence();
                    var kg = lb with { Reports = [.. lb.Reports.Select(InKilograms)] };
                    var (x, y) = (BriefMaker.Make(lb), BriefMaker.Make(kg));
                    Assert.Equal(x.CatchRate, y.CatchRate);
                    Assert.Equal(x.Rigs, y.Rigs);
                    // A quantile that falls between two grades jumps from one to the other with a hair; shares do not. At weights whose
                    // tenth of a kilogram is not below them: a fish of just that weight stays at or above it.
                    foreach (var weight in new[] { 20, 80, 100 })
                    {
                        double Over(Brief brief) => brief.Size!.Lb.Over.Single(o => o.Weight == weight).Fish.Mean;
                        Assert.InRange(Over(y), Over(x) - 0.06, Over(x) + 0.06);
                    }
                },
                iter: 12
            );

    private static ReportMeasures InKilograms(ReportMeasures report)
    {
        static int? Tenth(int? grams) => grams is { } g ? Fleet.Grams(Math.Round(g / 1000.0, 1), WeightUnit.Kg) : null;
        return report with
        {
            GivenIn = WeightUnit.Kg,
            Catch =
            [
                .. report.Catch.Select(c =>
                    c with
                    {
                        SmallestGrams = Tenth(c.SmallestGrams),
                        LargestGrams = Tenth(c.LargestGrams),
                    }
                ),
            ],
        };
    }

    private static int Boats(IEnumerable<ReportMeasures> reports) => reports.Select(r => r.Boat).Distinct().Count();

    private static IEnumerable<Share> Shares(Brief brief)
    {
        foreach (var over in (brief.Size?.Lb.Over ?? []).Concat(brief.Size?.Kg.Over ?? []))
        {
            yield return over.Fish;
            yield return over.BoatDays;
        }

        foreach (var share in brief.Rigs.SelectMany(r => new[] { r.Wins, r.Held }).Append(brief.CatchRate?.AtLeastOne))
        {
            if (share is not null)
            {
                yield return share;
            }
        }
    }

    [GeneratedRegex(@"(?<how>fewer than |more than |)(?<k>\d+) in 10 anglers")]
    private static partial Regex AnglersInTen();

    [GeneratedRegex(@"mostly (?:about )?(?<from>\d+)(?: to (?<to>\d+))? (?:lb|kg)")]
    private static partial Regex Sizes();
}
