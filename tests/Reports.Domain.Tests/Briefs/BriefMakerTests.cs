using Reports.Domain.Briefs;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;

namespace Reports.Domain.Tests.Briefs;

public class BriefMakerTests
{
    private static readonly string[] Boats = ["grey-petrel", "ardent-tern", "little-auk", "storm-skua"];

    /// <summary>Four boats a day for some days, all alike unless said.</summary>
    private static Fleet Week(int days = 7, Action<Fleet, string, int>? trip = null)
    {
        var fleet = new Fleet();
        for (var day = 0; day < days; day++)
        {
            foreach (var boat in Boats)
            {
                (trip ?? ((f, b, d) => f.Trip(b, d, 20, 0, 15, 40, withFish: 12)))(fleet, boat, day);
            }
        }

        return fleet;
    }

    [Fact]
    public void NothingReported()
    {
        var brief = new Fleet().Brief();
        Assert.Equal(Strength.None, brief.Evidence.Strength);
        Assert.Null(brief.CatchRate);
        Assert.All(brief.Missing, m => Assert.Equal("no-reports", m.Code));
        Assert.Equal(
            ["/bait", "/catchRate", "/outfits", "/rigs", "/signs", "/size"],
            brief.Missing.Select(m => m.Pointer).Order()
        );
    }

    [Fact]
    public void OneReportIsNobodysBusiness()
    {
        var brief = new Fleet().Trip("grey-petrel", 1, 20, 0, 15, 40).Brief();
        Assert.Null(brief.Size);
        Assert.Null(brief.Evidence.Fish);
        Assert.All(brief.Missing, m => Assert.Equal("too-few-boats", m.Code));
    }

    [Fact]
    public void TwoBoatsLeanOnTheCoast()
    {
        var fleet = Week(5, (f, b, d) => f.Trip(b, d, 20, 0, 15, 40, inZone: "inner-shelf"));
        fleet.Trip("grey-petrel", 2, 5, 0, 100, 150, sailing: 2).Trip("ardent-tern", 1, 0, 0, sailing: 2);
        var brief = fleet.Brief();
        Assert.True(brief.Evidence.Pooled);
        Assert.Equal(Strength.Thin, brief.Evidence.Strength);
        Assert.Equal(22, brief.Evidence.Reports);
        // The coast's count less the inner shelf's own would be the count of two boats.
        Assert.Null(brief.Evidence.Fish);
        Assert.Contains(brief.Missing, m => m.Pointer == "/evidence/fish");
        Assert.Null(brief.Evidence.BoatTrips);
    }

    [Fact]
    public void AZoneOfThreeBoatsSpeaksForItself()
    {
        var brief = Week(7, (f, b, d) => f.Trip(b, d, 20, 4, 15, 40)).Trip("x", 0, 500, inZone: "inner-shelf").Brief();
        Assert.False(brief.Evidence.Pooled);
        Assert.Equal(28 * 24, brief.Evidence.Fish);
        // 24 fish of 20 anglers on every trip; the interval still knows that chance alone spreads counts.
        Assert.InRange(brief.CatchRate!.PerAngler.Mean, 1.16, 1.24);
        Assert.True(brief.CatchRate.PerAngler.Low < 1.2 && brief.CatchRate.PerAngler.High > 1.2);
    }

    [Fact]
    public void OtherSpeciesDoNotCount()
    {
        var brief = Week().Trip("grey-petrel", 0, 900, fish: "ALB", sailing: 2).Brief();
        Assert.Equal(28, brief.Evidence.Reports);
    }

    [Fact]
    public void ABlankWeekIsBlank()
    {
        var brief = Week(7, (f, b, d) => f.Trip(b, d, 0, 0)).Brief();
        Assert.Equal(0, brief.CatchRate!.PerAngler.Mean);
        Assert.True(brief.CatchRate.PerAngler.High > 0);
        Assert.Equal(0, brief.CatchRate.AtLeastOne!.Mean);
        Assert.Null(brief.CatchRate.Trend);
        Assert.Null(brief.Size);
        Assert.Empty(brief.OutfitSets);
        Assert.Equal("Blank on Cannery Bank: nobody got a bluefin on 28 boat trips.", Say(brief));
    }

    [Fact]
    public void TwoSizesAreTwoFish()
    {
        var brief = Week(3, (f, b, d) => f.Trip(b, d, 1, 0, 20, 120)).Brief();
        Assert.Equal(0.5, brief.Size!.Lb.Over.Single(o => o.Weight == 100).Fish.Mean, 3);
        Assert.Equal(1, brief.Size.Lb.Over.Single(o => o.Weight == 100).BoatDays.Mean, 3);
    }

    [Fact]
    public void TheQuotedEndsAreExact()
    {
        // One boat in four has one fish of 150 among 20 of 20 to 30 lb: 20 of its fish are known by the others to be small.
        var brief = Week(8, (f, b, d) => f.Trip(b, d, b == "little-auk" ? 21 : 20, 0, 20, b == "little-auk" ? 150 : 30))
            .Brief();
        var over = brief.Size!.Lb.Over.Single(o => o.Weight == 100);
        Assert.Equal(0.25, over.BoatDays.Mean, 3);
        Assert.InRange(over.Fish.Mean, 1 / 81.0, 0.06);
    }

    [Fact]
    public void TheRangeOfMostKeepsTheRestSmall()
    {
        var said = Week(6, (f, b, d) => f.Trip(b, d, 30, 0, null, 68, 18, 30)).Brief();
        Assert.InRange(said.Size!.Quantiles.P75, 0, Fleet.Lb(30));
        Assert.Equal(1, said.Size.Lb.Over.Single(o => o.Weight == 60).BoatDays.Mean, 3);
    }

    [Fact]
    public void OneEndTellsWhatItTells()
    {
        var brief = Week(6, (f, b, d) => f.Trip(b, d, 30, 0, null, 40)).Brief();
        Assert.True(brief.Size!.Quantiles.P95 <= Fleet.Lb(40));
        Assert.Equal(0, brief.Size.Lb.Over.Single(o => o.Weight == 60).Fish.Mean, 3);
    }

    [Fact]
    public void BlankTripsMetNoHeavyFish()
    {
        var brief = Week(
                6,
                (f, b, d) => f.Trip(b, d, d % 2 == 0 ? 10 : 0, 0, d % 2 == 0 ? 120 : null, d % 2 == 0 ? 160 : null)
            )
            .Brief();
        Assert.InRange(brief.Size!.Lb.Over.Single(o => o.Weight == 100).BoatDays.Mean, 0.45, 0.6);
        Assert.Equal(1, brief.Size.Lb.Over.Single(o => o.Weight == 100).Fish.Mean, 3);
    }

    [Fact]
    public void AHugeCountIsStillABrief()
    {
        var brief = Week(6, (f, b, d) => f.Trip(b, d, 100_000, 0, 15, 40, anglers: 1)).Brief();
        Assert.InRange(brief.CatchRate!.PerAngler.Mean, 97_000, 103_000);
        Assert.True(brief.CatchRate.AtLeastOne!.Mean > 0.95);
    }

    [Fact]
    public void TwoSchoolsAreTwoGrades()
    {
        var brief = Week(
                8,
                (f, b, d) =>
                {
                    var heavy = d % 3 == 0;
                    f.Trip(b, d, heavy ? 6 : 25, 0, heavy ? 110 : 15 + d, heavy ? 180 : 38 + d);
                }
            )
            .Brief();
        Assert.Equal(2, brief.Size!.Grades.Count);
        Assert.InRange(brief.Size.Grades[1].BoatDays, 0.3, 0.5);
        Assert.True(brief.Size.Grades[0].HighGrams < Fleet.Lb(60));
        // Both grades need their line (common practice, no source).
        Assert.Contains(brief.OutfitSets[1], o => o.RungLb is 60 or 80 or 100);
        Assert.Contains(brief.OutfitSets[1], o => o.RungLb is 25 or 30 or 40);
        Assert.All(brief.OutfitSets[4], o => Assert.True(o.RungLb >= 25));
        Assert.All(brief.OutfitSets[4], o => Assert.Equal(OutfitBasis.Custom, o.Basis));
    }

    [Fact]
    public void AGradeThatOneBoatMetIsNotSetApart()
    {
        var brief = Week(
                8,
                (f, b, d) =>
                {
                    var heavy = b == "little-auk" && d < 2;
                    f.Trip(b, d, 20, 0, heavy ? 110 : 15, heavy ? 180 : 40);
                }
            )
            .Brief();
        Assert.Single(brief.Size!.Grades);
    }

    [Fact]
    public void WinnersAloneMakeOutfits()
    {
        var brief = Week(6, (f, b, d) => f.Trip(b, d, 20, 0, rigs: [Fleet.Rig(d % 3 == 0 ? 40 : 30, winning: true)]))
            .Brief();
        Assert.Null(brief.Size);
        Assert.Equal([30, 40], brief.Rigs.Select(r => r.RungLb));
        Assert.True(brief.Rigs[0].Wins!.Mean > brief.Rigs[1].Wins!.Mean);
        Assert.Null(brief.Rigs[0].Held);
        Assert.Contains(brief.Missing, m => m.Pointer == "/rigs/0/held");
        Assert.Equal([30], brief.OutfitSets[0].Select(o => o.RungLb));
        var two = brief.OutfitSets[1];
        Assert.Equal([30, 40], two.Select(o => o.RungLb));
        Assert.Equal(1, two.Sum(o => o.BestOn!.Value), 3);
        Assert.Equal(2, two[0].IfOutmatchedOrder);
        Assert.Equal(25, two[0].IfNotBitRungLb);
        Assert.Equal(LeaderMaterial.Fluorocarbon, two[0].Leader);
        // 25 and 33 % of 30 lb (common practice, no source).
        Assert.Equal(Fleet.Lb(7.5), two[0].DragLowGrams);
        Assert.Equal(Fleet.Lb(9.9), two[0].DragHighGrams);
        // What nobody fished is advised by the model's word.
        Assert.Equal(3, brief.OutfitSets[4].Count(o => o.Basis == OutfitBasis.Model));
    }

    [Fact]
    public void ARigOfTwoBoatsIsNotShown()
    {
        var brief = Week(
                6,
                (f, b, d) =>
                    f.Trip(
                        b,
                        d,
                        20,
                        0,
                        15,
                        40,
                        rigs:
                        [
                            Fleet.Rig(30, winning: true),
                            .. b is "grey-petrel" or "ardent-tern" ? [Fleet.Rig(60)] : Array.Empty<RigMeasure>(),
                        ]
                    )
            )
            .Brief();
        Assert.Equal([30], brief.Rigs.Select(r => r.RungLb));
        // One minus the shown share would be the hidden rig's.
        Assert.Null(brief.Rigs[0].Wins);
        Assert.Contains(brief.Missing, m => m.Pointer == "/rigs");
    }

    [Fact]
    public void HeldIsDrawnTowardsTheRest()
    {
        var brief = Week(
                6,
                (f, b, d) =>
                    f.Trip(
                        b,
                        d,
                        20,
                        0,
                        rigs:
                        [
                            Fleet.Rig(30, winning: true, rods: 10, hooked: 12, landed: 9),
                            Fleet.Rig(60, step: 3, rods: 3, hooked: d == 0 ? 1 : 0, landed: d == 0 ? 1 : 0),
                        ]
                    )
            )
            .Brief();
        var thirty = brief.Rigs.Single(r => r.RungLb == 30);
        var sixty = brief.Rigs.Single(r => r.RungLb == 60);
        Assert.InRange(thirty.Held!.Mean, 0.7, 0.8);
        Assert.Equal(0.9, thirty.LandedPerRod!.Mean, 4);
        // Four of four landed is no proof of a rig that holds everything.
        Assert.InRange(sixty.Held!.Mean, 0.7, 0.97);
        Assert.True(sixty.Held.High - sixty.Held.Low > thirty.Held.High - thirty.Held.Low);
    }

    [Theory]
    [InlineData(true, null, null, "PIL", Hooking.Nose)]
    [InlineData(false, 110.0, null, "PIL", Hooking.Belly)]
    [InlineData(true, 110.0, null, "PIL", Hooking.Nose)]
    [InlineData(true, null, true, "PIL", Hooking.Belly)]
    [InlineData(false, 110.0, true, "ANE", Hooking.Collar)]
    public void HowToPinTheBait(bool surface, double? depthFt, bool? birds, string kind, Hooking expected)
    {
        // Common practice, no source.
        var brief = Week(
                4,
                (f, b, d) =>
                    f.Trip(b, d, 9, 0, surface: surface, depthFt: depthFt, birds: birds, bait: [Fleet.Bait(4, 5, kind)])
            )
            .Brief();
        Assert.Equal(expected, brief.Signs!.Hooking);
        Assert.Equal(surface ? 1 : 0, brief.Signs.Surface);
        Assert.InRange(brief.Bait!.P50Mm, 112, 116); // the middle of 4 and 5 in
    }

    [Fact]
    public void AClosedSpeciesGetsNoAdvice()
    {
        var brief = Week().Closed("Closed until 1 March.").Brief();
        Assert.Empty(brief.OutfitSets);
        Assert.Equal("Closed until 1 March.", brief.ClosedNotice);
        Assert.Contains(brief.Missing, m => m is { Pointer: "/outfits", Code: "closed" });
        Assert.Equal("Cannery Bank: bluefin is closed, so no tackle is advised. Closed until 1 March.", Say(brief));
    }

    [Fact]
    public void SilenceIsNotAZero()
    {
        var fleet = Week(7, (f, b, d) => f.Trip(b, d, 20, 0, 15, 40, withFish: 12).Sailed(b, d));
        Assert.Null(fleet.Brief().CatchRate!.PerAnglerIfSilentBlank);
        fleet.Sailed("storm-skua", 1, 2).Sailed("little-auk", 3, 2);
        var brief = fleet.Brief();
        Assert.Equal(new BoatTrips(30, 28), brief.Evidence.BoatTrips);
        Assert.True(brief.CatchRate!.PerAnglerIfSilentBlank < 1);
        // Every boat had one for each angler; the forecast of a level from counts is true to a few hundredths.
        Assert.InRange(brief.CatchRate.PerAngler.Mean, 0.97, 1.03);
        Assert.Equal(brief.CatchRate.PerAngler.Mean, brief.CatchRate.PerAnglerIfSilentAlike!.Value, 3);
    }

    [Fact]
    public void CrewsWordsStandForRoughNumbers()
    {
        var brief = Week(7, (f, b, d) => f.Trip(b, d, 20, 0, withFishWord: AnglerShare.Half)).Brief();
        // Half of them on every trip, told in words; a coming day may be better or worse, so a little below.
        Assert.InRange(brief.CatchRate!.AtLeastOne!.Mean, 0.4, 0.51);
    }

    [Fact]
    public void ATrendIsNamedOnlyWhenItIsClear()
    {
        var up = Week(14, (f, b, d) => f.Trip(b, d, d < 7 ? 40 + d : 10 + d, 0)).Brief();
        Assert.Equal(Trend.Up, up.CatchRate!.Trend);
        Assert.Contains("atches are up on the week before.", Say(up), StringComparison.Ordinal);
        var steady = Week(14, (f, b, d) => f.Trip(b, d, 400 + d % 7, 0)).Brief();
        Assert.Equal(Trend.Steady, steady.CatchRate!.Trend);
        var wild = Week(14, (f, b, d) => f.Trip(b, d, d % 2 == 0 ? 40 : 2, 0)).Brief();
        Assert.Null(wild.CatchRate!.Trend);
        Assert.Contains(wild.Missing, m => m.Pointer == "/catchRate/trend");
    }

    [Fact]
    public void AHiddenDayCantBeWorkedOut()
    {
        // Four boats on each of three days, one boat on the fourth: hiding that day alone would leave it as the difference.
        var brief = Week(3).Trip("grey-petrel", 3, 7, 0, 15, 40).Brief();
        var hidden = brief.Days.Where(d => d.Boats is null).ToList();
        Assert.Equal(2, hidden.Count);
        Assert.Contains(hidden, d => d.Date == Fleet.Today.AddDays(-3));
        Assert.All(hidden, d => Assert.Null(d.PerAngler));
        Assert.Equal(28, brief.Days.Count);
        Assert.Equal(Fleet.Today, brief.Days[^1].Date);
    }

    [Fact]
    public void TheVerdictOfAGoodWeek()
    {
        var brief = Week(
                14,
                (f, b, d) =>
                    f.Trip(
                        b,
                        d,
                        20,
                        0,
                        b == "little-auk" ? 120 : 18 + d % 5,
                        b == "little-auk" ? 170 : 36 + d % 5,
                        withFish: 12
                    )
            )
            .Brief();
        Assert.StartsWith(
            "Cannery Bank is worth the trip: about 5 in 10 anglers land a bluefin, mostly ",
            Say(brief),
            StringComparison.Ordinal
        );
        Assert.Contains("About 3 in 10 boat trips landed one of 150 lb or more", Say(brief), StringComparison.Ordinal);
        Assert.EndsWith(
            "landed one of 150 lb or more, and catches are down on the week before.",
            Say(brief with { CatchRate = brief.CatchRate! with { Trend = Trend.Down } }),
            StringComparison.Ordinal
        );
    }

    [Fact]
    public void TheVerdictOfAThinZone()
    {
        var brief = Week(1).Brief();
        Assert.Equal(Strength.Thin, brief.Evidence.Strength);
        Assert.StartsWith(
            "Only 4 boat trips to go on at Cannery Bank, so take it lightly: about 4 in 10 anglers land an albacore",
            Verdict.Of(brief, "Cannery Bank", "albacore", WeightUnit.Kg),
            StringComparison.Ordinal
        );
    }

    private static string Say(Brief brief) => Verdict.Of(brief, "Cannery Bank", "bluefin", WeightUnit.Lb);
}
