using MathNet.Numerics.Distributions;
using Reports.Domain.Briefs;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using Reports.Domain.Rigs;
using Reports.Domain.Trade;

namespace Reports.Domain.Tests.Briefs;

/// <summary>
/// What outfits follow: how fish bite and hold within boat trips, not what is popular. Counts are drawn from the rates that each
/// test states (seeded); expectations are what those rates make best.
/// </summary>
public class RigAdviceTests
{
    private static readonly string[] Boats = ["grey-petrel", "ardent-tern", "little-auk", "storm-skua"];

    private sealed record Fished(
        int Rung,
        int Rods,
        double HookedPerRod,
        double Held,
        int Step = 1,
        HookStyle Style = HookStyle.Circle
    );

    private static Brief Month(
        IReadOnlyList<Fished> rigs,
        double smallest = 25,
        double largest = 38,
        double bait = 6
    ) => Month((_, _) => (rigs, bait), smallest, largest);

    /// <summary>Four boats a day for a month, 30 lb fish; the rig that landed most is named.</summary>
    /// <param name="fished">By boat and day: what was fished, and the bait's length in inches.</param>
    private static Brief Month(
        Func<string, int, (IReadOnlyList<Fished> Rigs, double Bait)> fished,
        double smallest = 25,
        double largest = 38
    ) => MonthOf(fished, smallest, largest).Brief();

    private static CoastRigs Coast(Func<string, int, (IReadOnlyList<Fished> Rigs, double Bait)> fished) =>
        MonthOf(fished, 25, 38).Coast();

    private static Fleet MonthOf(
        Func<string, int, (IReadOnlyList<Fished> Rigs, double Bait)> fished,
        double smallest,
        double largest
    )
    {
        var random = new Random(7);
        var fleet = new Fleet();
        for (var day = 0; day < 28; day++)
        {
            foreach (var boat in Boats)
            {
                var (rigs, bait) = fished(boat, day);
                var lines = rigs.Select(r =>
                    {
                        var hooked = Poisson.Sample(random, r.Rods * r.HookedPerRod);
                        return Fleet.Rig(
                            r.Rung,
                            r.Style,
                            step: r.Step,
                            rods: r.Rods,
                            hooked: hooked,
                            landed: hooked == 0 ? 0 : Binomial.Sample(random, r.Held, hooked)
                        );
                    })
                    .ToList();
                var most = lines.MaxBy(l => l.Landed)!;
                var landed = lines.Sum(l => l.Landed!.Value);
                fleet.Trip(
                    boat,
                    day,
                    landed,
                    0,
                    landed == 0 ? null : smallest,
                    landed == 0 ? null
                        : landed == 1 ? smallest
                        : largest,
                    rigs: [.. lines.Select(l => l with { Winning = landed > 0 && l == most })],
                    bait: [Fleet.Bait(bait - 0.5, bait + 0.5)]
                );
            }
        }

        return fleet;
    }

    [Fact]
    public void NotThePopularLineButTheOneThatLandsMore()
    {
        // Most rods fish forty, which wins nearly every trip; a rod on twenty-five lands more than twice as many.
        var brief = Month([new(40, 12, 0.5, 0.9), new(25, 3, 1.3, 0.85)]);
        Assert.Equal(40, brief.Rigs[0].RungLb);
        Assert.InRange(brief.OutfitSets[0][0].RungLb, 20, 25);
    }

    [Fact]
    public void WideOpenAndHeavyFishAskForHeavyLine()
    {
        // The line makes no difference to the bite, and light line loses most of these fish.
        var brief = Month([new(30, 8, 0.8, 0.25), new(50, 4, 0.8, 0.55), new(80, 4, 0.8, 0.85)], 110, 170);
        Assert.InRange(brief.OutfitSets[0][0].RungLb, 80, 130);
        Assert.InRange(brief.OutfitSets[0][0].HookStep, 1, 5);
        Assert.All(brief.OutfitSets[4], o => Assert.True(o.RungLb >= 25));
    }

    [Fact]
    public void TheHookThatBitesIsAdvisedWhateverCustomSays()
    {
        // Custom has about a 1 for six-inch bait; here fish take three times as well on a 3/0.
        var brief = Month([
            new(30, 8, 0.5, 0.8, Step: 1),
            new(30, 8, 1.1, 0.8, Step: 2),
            new(30, 8, 1.5, 0.8, Step: 3),
        ]);
        Assert.InRange(brief.OutfitSets[0][0].HookStep, 2, 4);
    }

    [Fact]
    public void LongerBaitLargerHook()
    {
        // One hook on every line: the reports tell nothing of hooks, so custom speaks.
        IReadOnlyList<Fished> rigs = [new(25, 8, 0.8, 0.8), new(30, 8, 0.8, 0.8)];
        Assert.True(Month(rigs, bait: 4.5).OutfitSets[0][0].HookStep < Month(rigs, bait: 8).OutfitSets[0][0].HookStep);
    }

    [Theory]
    [InlineData(1.6, 0.85, HookStyle.J)]
    [InlineData(0.8, 0.85, HookStyle.Circle)]
    [InlineData(1.0, 0.55, HookStyle.Circle)]
    public void TheStyleThatLandsMoreOnTheSameBoatsIsAdvised(double hooked, double held, HookStyle advised)
    {
        var brief = Month([
            new(30, 8, 0.8, 0.85, Step: -1),
            new(30, 8, 1, 0.85),
            new(30, 8, 0.8, 0.85, Step: 3),
            new(30, 4, hooked, held, Style: HookStyle.J),
        ]);
        Assert.Equal(advised, brief.OutfitSets[0][0].HookStyle);
    }

    [Fact]
    public void AStyleOfFewerThanThreeBoatsIsNotAdvised()
    {
        var brief = Month(
            (boat, _) =>
                (
                    boat is "grey-petrel" or "little-auk"
                        ? [new(30, 8, 1, 0.85), new(30, 4, 2, 0.85, Style: HookStyle.J)]
                        : [new(30, 8, 1, 0.85), new(25, 4, 1, 0.85)],
                    6
                )
        );
        Assert.DoesNotContain(brief.OutfitSets.SelectMany(s => s), o => o.HookStyle == HookStyle.J);
    }

    [Fact]
    public void ALostAughtDoesNotMakeTheFishIndifferentToHooks()
    {
        // Fish take a 2 twice as well as a 1/0. On every seventh day a boat's 2 is told as a 2/0, which then seems to catch best of all.
        IReadOnlyList<Fished> told =
        [
            new(30, 8, 1.4, 0.85, Step: -1),
            new(25, 4, 1.4, 0.85, Step: -1),
            new(40, 4, 1.4, 0.85, Step: -1),
            new(30, 8, 0.7, 0.85, Step: 1),
        ];
        IReadOnlyList<Fished> slipped = [told[0] with { Step = 2 }, .. told.Skip(1)];
        var brief = Month((_, day) => (day % 7 == 0 ? slipped : told, 5));
        Assert.InRange(brief.OutfitSets[0][0].HookStep, -2, 0);
        Assert.All(brief.OutfitSets[2], o => Assert.InRange(o.HookStep, -3, 0));
    }

    [Fact]
    public void BaitOfTwoDocksAsksForTwoHooks()
    {
        IReadOnlyList<Fished> Right(int step) => [new(30, 8, 1.2, 0.85, step), new(30, 8, 0.5, 0.85, step + 2)];
        var brief = Month((boat, _) => boat is "grey-petrel" or "little-auk" ? (Right(-2), 4.5) : (Right(2), 8));
        var hooks = brief.OutfitSets[1].Select(o => o.HookStep).Order().ToList();
        Assert.InRange(hooks[0], -3, -1);
        Assert.InRange(hooks[1], 1, 3);
    }

    [Fact]
    public void TheBaitAtTheDockDecidesTheHookOfEveryLine()
    {
        IReadOnlyList<Fished> Right(int step) =>
            [new(30, 8, 1.2, 0.85, step), new(30, 4, 0.5, 0.85, step + 2), new(40, 4, 0.7, 0.85, step)];
        var brief = Month((boat, _) => boat is "grey-petrel" or "little-auk" ? (Right(-2), 4.5) : (Right(2), 8));
        Assert.All(
            brief.OutfitSets.SelectMany(set => set),
            o =>
            {
                Assert.InRange(o.HookFor(4.5 * 25.4), -3, -1);
                Assert.InRange(o.HookFor(8 * 25.4), 1, 3);
                Assert.Null(o.HooksByBait[^1].UpToMm);
                Assert.Equal(o.HooksByBait.SkipLast(1).OrderBy(h => h.UpToMm), o.HooksByBait.SkipLast(1));
            }
        );
        // A line is one outfit, whatever hooks go with it.
        Assert.All(
            brief.OutfitSets,
            set => Assert.Equal(set.Count, set.DistinctBy(o => (o.RungLb, o.HookStyle)).Count())
        );
    }

    [Fact]
    public void WhoTiesHisRodsBeforeHeSeesTheBaitHasHooksForBoth()
    {
        IReadOnlyList<Fished> Right(int step) => [new(30, 8, 1.2, 0.85, step), new(25, 8, 1.2, 0.85, step)];
        var brief = Month((boat, _) => boat is "grey-petrel" or "little-auk" ? (Right(-2), 4.5) : (Right(2), 8));
        Assert.NotEqual(brief.OutfitSets[1][0].HookStep, brief.OutfitSets[1][1].HookStep);
        // The first hook is the same however many outfits are carried.
        Assert.All(
            brief.OutfitSets.Where(set => set[0].RungLb == brief.OutfitSets[0][0].RungLb),
            set => Assert.Equal(brief.OutfitSets[0][0].HookStep, set[0].HookStep)
        );
    }

    [Fact]
    public void NobodyIsSentToSmallFishWithHeavyLine()
    {
        // The fish mind no line at all, so the heaviest lands as many as any; but the largest weigh 14 lb.
        var brief = Month([new(20, 6, 1, 0.9), new(40, 6, 1, 0.93), new(80, 6, 1, 0.95)], 10, 14);
        Assert.All(brief.OutfitSets.SelectMany(set => set), o => Assert.InRange(o.RungLb, 15, 40));
        Assert.Equal(5, brief.OutfitSets[4].Count);
    }

    [Fact]
    public void WhereOnlyWinnersAreToldAdviceStaysWithinWhatWins()
    {
        // A coast that ties on a 3/0 where custom has a 1, on lines lighter than custom's. A win says that such a rig was on board, not that
        // fish ask for a larger one yet.
        int[] steps = [2, 3, 3, 3, 4];
        int[] rungs = [20, 20, 25, 25, 25, 30];
        var random = new Random(11);
        var brief = Winners(() =>
            Fleet.Rig(rungs[random.Next(rungs.Length)], step: steps[random.Next(steps.Length)], winning: true)
        );

        Assert.InRange(brief.OutfitSets[0][0].HookStep, 2, 3);
        Assert.InRange(brief.OutfitSets[0][0].RungLb, 20, 30);
        Assert.All(brief.OutfitSets[1], o => Assert.InRange(o.HookStep, 2, 4));
        Assert.All(brief.OutfitSets[1], o => Assert.InRange(o.HookFor(6 * 25.4), 2, 3));
        Assert.All(brief.OutfitSets[2], o => Assert.InRange(o.RungLb, 15, 50));
    }

    [Theory]
    [InlineData(0.4, HookStyle.Circle)]
    [InlineData(0.6, HookStyle.J)]
    public void WhereOnlyWinnersAreToldTheUsualStyleIsAdvised(double shareOfJ, HookStyle usual)
    {
        var random = new Random(12);
        var brief = Winners(() =>
            Fleet.Rig(
                30,
                random.NextDouble() < shareOfJ ? HookStyle.J : HookStyle.Circle,
                step: random.Next(3),
                winning: true
            )
        );

        Assert.All(brief.OutfitSets.SelectMany(set => set), o => Assert.Equal(usual, o.HookStyle));
    }

    [Fact]
    public void ARareStyleThatIsToldOfBecauseItWonIsNotAdvised()
    {
        var day = 0;
        var brief = Winners(() =>
        {
            var rare = day++ % 4 == 0;
            RigMeasure[] used =
            [
                Fleet.Rig(30, use: RigUse.Most, winning: !rare),
                Fleet.Rig(25, use: RigUse.Some),
                Fleet.Rig(30, HookStyle.J, use: RigUse.Few, winning: true),
            ];
            return rare ? used : used[..2];
        });

        Assert.All(brief.OutfitSets.SelectMany(set => set), o => Assert.Equal(HookStyle.Circle, o.HookStyle));
    }

    [Theory]
    [InlineData(17, 23, 1)]
    [InlineData(31, 39, 2)]
    [InlineData(63, 77, 1)]
    [InlineData(110, 130, 1)]
    public void WhereNobodyTellsOfRigsTheFirstLineIsNotFarBelowCustoms(int smallest, int largest, int steps)
    {
        var fleet = new Fleet();
        for (var day = 0; day < 28; day++)
        {
            foreach (var boat in Boats)
            {
                fleet.Trip(boat, day, 30, 0, smallest, largest, bait: [Fleet.Bait(5.5, 6.5)]);
            }
        }

        // The trade's table of lines and fish (common practice, no source).
        var rung = fleet.Brief().OutfitSets[0][0].RungLb;
        var middle = Fleet.Lb((smallest + largest) / 2.0);
        Assert.Contains(
            LineClass.Ladder.Where(r => r >= rung).Take(1 + steps),
            r => TackleTable.FishGrams(r) is var (low, high) && low <= middle && middle <= high
        );
    }

    private static Brief Winners(Func<RigMeasure> rig) => Winners(() => [rig()]);

    /// <summary>Four boats a day for a month that count nothing.</summary>
    private static Brief Winners(Func<IReadOnlyList<RigMeasure>> rigs)
    {
        var fleet = new Fleet();
        for (var day = 0; day < 28; day++)
        {
            foreach (var boat in Boats)
            {
                fleet.Trip(boat, day, 30, 0, 14, 22, rigs: rigs(), bait: [Fleet.Bait(5.5, 6.5)]);
            }
        }

        return fleet.Brief();
    }

    [Fact]
    public void BaitThatGrowsAndShrinksWithinDaysIsExpectedToDoSo()
    {
        double Drift(Func<int, double> length) =>
            Coast((_, day) => ([new(30, 8, 1, 0.85), new(25, 8, 1, 0.85)], length(day))).BaitDrift;
        // 27 days before today of one length, of which the first 3 have none before them: worth 24 beside the prior's 7 of 0.1: sqrt(7 * 0.01 / 31).
        Assert.Equal(0.0475, Drift(_ => 6), 4);
        Assert.InRange(Drift(day => day / 7 % 2 == 0 ? 5 : 7), 0.15, 0.3);
        Assert.Equal(0.1, new Fleet().Coast().BaitDrift, 12);
    }

    [Fact]
    public void WhatAFlatterSlopeDoesToTheHookupsIsLearnt()
    {
        // Every other week the fish mind no line; hook-ups on a thirty are the same, or three times as many.
        double Rate(double open) =>
            Coast(
                (_, day) =>
                    (
                        day / 7 % 2 == 0
                            ? [new(20, 8, 0.8 * open, 0.85), new(30, 8, 0.8 * open, 0.85), new(50, 8, 0.8 * open, 0.85)]
                            : [new(20, 8, 1.6, 0.85), new(30, 8, 0.8, 0.85), new(50, 8, 0.3, 0.85)],
                        6
                    )
            ).RateBySlope;
        Assert.InRange(Rate(1), 0, 0.25);
        // ln 3 over the difference of the slopes, 1.6, is 0.69; drawn to 0 by the prior.
        Assert.InRange(Rate(3), 0.35, 0.75);
    }

    [Fact]
    public void EqualRigsAreNotRanked()
    {
        var brief = Month([new(30, 8, 0.8, 0.85), new(25, 8, 0.85, 0.83)]);
        var two = brief.OutfitSets[1];
        Assert.True(two[0].NoClearDifference);
        Assert.False(two[1].NoClearDifference);
        Assert.DoesNotContain(brief.Rigs, r => r.LandedPerRodClear || r.WinsClear || r.HeldClear);
    }

    [Fact]
    public void TwofoldRigsAreRanked()
    {
        var brief = Month([new(30, 8, 0.8, 0.85), new(25, 8, 1.6, 0.85)]);
        Assert.True(brief.Rigs.Single(r => r.RungLb == 25) is { LandedPerRodClear: true, WinsClear: true });
        Assert.True(brief.Rigs.Single(r => r.RungLb == 30) is { LandedPerRodClear: false, WinsClear: false });
    }

    [Fact]
    public void TheRigOfTheLuckyBoatsIsNotTheBetterRig()
    {
        // Two boats land four times as many as the others on the rigs they share, and fish mostly forties.
        var fleet = new Fleet();
        var random = new Random(5);
        for (var day = 0; day < 28; day++)
        {
            foreach (var (boat, i) in Boats.Select((b, i) => (b, i)))
            {
                var (rate, forties) = i < 2 ? (2.0, 9) : (0.5, 1);
                int Landed(int rods) => Poisson.Sample(random, rate * rods);
                fleet.Trip(
                    boat,
                    day,
                    40,
                    0,
                    25,
                    38,
                    rigs:
                    [
                        Fleet.Rig(40, rods: forties, landed: Landed(forties)),
                        Fleet.Rig(30, rods: 10 - forties, landed: Landed(10 - forties)),
                    ]
                );
            }
        }

        var (forty, thirty) = (
            fleet.Brief().Rigs.Single(r => r.RungLb == 40),
            fleet.Brief().Rigs.Single(r => r.RungLb == 30)
        );
        Assert.True(forty.LandedPerRod!.Low > 1.5 * thirty.LandedPerRod!.High);
        Assert.False(forty.LandedPerRodClear);
    }

    [Fact]
    public void WithoutRigsCustomIsAdvisedAndSaysSo()
    {
        var fleet = new Fleet();
        foreach (var boat in Boats)
        {
            fleet.Trip(boat, 1, 20, 0, 25, 38, bait: [Fleet.Bait(5, 6)]);
        }

        Assert.All(fleet.Brief().OutfitSets.SelectMany(s => s), o => Assert.Equal(OutfitBasis.Custom, o.Basis));
    }

    [Fact]
    public void AZoneThatFishedOneLineIsAdvisedOthersByTheModelsWord()
    {
        var brief = Month([new(30, 8, 0.8, 0.85)]);
        var five = brief.OutfitSets[4];
        Assert.Contains(five, o => o is { RungLb: 30, Basis: OutfitBasis.Reports });
        Assert.All(five.Where(o => o.RungLb != 30), o => Assert.Equal(OutfitBasis.Model, o.Basis));
    }
}
