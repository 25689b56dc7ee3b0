using Reports.Domain.Briefs;
using Reports.Domain.PackLists;
using Reports.Domain.Reporting;
using Reports.Domain.Trade;

namespace Reports.Domain.Tests.PackLists;

/// <summary>What is taken along.</summary>
public sealed class PackListTests
{
    // qpois(0.9, 3 * days); qnbinom(0.9, size = days, mu = m * days) with k = 1 is by hand for one day: the least q with
    // (m/(1 + m))^(q + 1) <= 0.1.
    [Theory]
    [InlineData(null, 1, 5)] // P(D <= 5) = 0.916, P(D <= 4) = 0.815 at mean 3
    [InlineData(null, 2, 9)] // P(D <= 9) = 0.916, P(D <= 8) = 0.847 at mean 6
    [InlineData(1.0, 1, 3)] // 0.5^4 = 0.0625, 0.5^3 = 0.125
    [InlineData(3.0, 1, 8)] // 0.75^9 = 0.0751, 0.75^8 = 0.1001
    [InlineData(0.0, 3, 1)] // never none
    public void SparesLastTheTripNineTimesInTen(double? lossPerDay, double days, int spare) =>
        Assert.Equal(spare, PackList.Spare(lossPerDay, days));

    [Fact]
    public void AnOwnedLineServesOneOutfitItsOwnClassBeforeANeighbour()
    {
        var list = PackList.Make([Advising("a", 30, 25)], 1, 2, [30, 40]);

        Assert.Equal([30, null], list.Outfits.Select(o => o.ServedByRungLb));
        Assert.Equal([40], list.Unused);
    }

    [Fact]
    public void SeveralBriefsMakeOneListOfDistinctLinesTheMostUsefulFirst()
    {
        var list = PackList.Make([Advising("a", 30, 80), Advising("b", 40, 30), Advising("c", 30, 60)], 1, 2, []);

        Assert.Equal([30, 40], list.Outfits.Select(o => o.Advice.RungLb));
        Assert.Equal(["a", "b", "c"], list.Outfits[0].Briefs.Select(b => b.Zone));
    }

    [Fact]
    public void HeavyLineBringsCrimpsAndAHarness()
    {
        var list = PackList.Make([Advising("a", 130, 30)], 1, 2, []);

        var heavy = list.Outfits.Single(o => o.Advice.RungLb == 130);
        Assert.True(heavy.Harness);
        Assert.Equal(2 * (1 + heavy.SpareHooks), heavy.Crimps);
        var light = list.Outfits.Single(o => o.Advice.RungLb == 30);
        Assert.False(light.Harness);
        Assert.Equal(0, light.Crimps);
        Assert.Equal((25, 40), (light.RodLowLb, light.RodHighLb));
    }

    [Fact]
    public void AClosedSpeciesBringsNothing() =>
        Assert.Empty(PackList.Make([Advising("a", 30) with { ClosedNotice = "closed" }], 1, 3, [30]).Outfits);

    [Fact]
    public void SparesGoByWhatAnyHookOfTheOutfitLost()
    {
        var brief = Advising("a", 30);
        var outfit = brief.OutfitSets[0][0] with { HooksByBait = [new(130, -1), new(null, 2)] };
        RigRecord lost = new(Technique.FlyLine, 30, HookStyle.Circle, -1, 9, null, Rate(3), Half);

        var list = PackList.Make(
            [
                brief with
                {
                    OutfitSets =
                    [
                        [outfit],
                    ],
                    Rigs = [lost],
                },
            ],
            1,
            1,
            []
        );

        Assert.True(list.Outfits[0].SparesFromReports);
        Assert.Equal(PackList.Spare(3, 1), list.Outfits[0].SpareHooks);
        Assert.Equal([-1, 1, 2], list.Outfits[0].Hooks.Select(h => h.Step));
        var other = PackList.Make(
            [
                brief with
                {
                    OutfitSets =
                    [
                        [outfit],
                    ],
                    Rigs = [lost with { HookStep = 5 }],
                },
            ],
            1,
            1,
            []
        );
        Assert.False(other.Outfits[0].SparesFromReports);
    }

    private static readonly Share Half = new(0.5, 0.4, 0.6);

    private static Rate Rate(double mean) => new(mean, mean / 2, mean * 2);

    private static Brief Advising(string zone, params int[] rungs) =>
        new()
        {
            Zone = zone,
            Species = "SBF",
            AsOf = new DateOnly(2026, 11, 23),
            Evidence = new BriefEvidence(9, 4, 30, 8, 8, null, Strength.Fair, false, null),
            OutfitSets =
            [
                .. Enumerable
                    .Range(1, rungs.Length)
                    .Select(k => (IReadOnlyList<Outfit>)[.. rungs.Take(k).Select((r, i) => Outfit(r, i + 1))]),
            ],
        };

    private static Outfit Outfit(int rung, int order)
    {
        var (dragLow, dragHigh) = TackleTable.DragGrams(rung);
        var (fishLow, fishHigh) = TackleTable.FishGrams(rung);
        return new()
        {
            Order = order,
            Technique = Technique.FlyLine,
            RungLb = rung,
            Leader = TackleTable.Leader(rung),
            LeaderTestLb = rung,
            DragLowGrams = dragLow,
            DragHighGrams = dragHigh,
            HookStyle = HookStyle.Circle,
            HookStep = 1,
            Wire = TackleTable.Wire(rung),
            FishLowGrams = fishLow,
            FishHighGrams = fishHigh,
            Basis = OutfitBasis.Custom,
        };
    }
}
