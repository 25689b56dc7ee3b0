using System.Text.RegularExpressions;
using CsCheck;
using Reports.Domain.Briefs;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using Reports.Web.Pages;

namespace Reports.Web.Tests.Pages;

/// <summary>How numbers sound.</summary>
public sealed partial class SayTests
{
    private static readonly Gen<Share> Shares = Gen.Double[0, 1]
        .Array[3]
        .Select(x =>
        {
            Array.Sort(x);
            return new Share(x[1], x[0], x[2]);
        });

    [Theory]
    [InlineData(0.61, 0.52, 0.69, "about 6 in 10 anglers, likely 5 to 7")] // rounded by hand
    [InlineData(0.02, 0, 0.04, "fewer than 1 in 10 anglers, likely 0 to 1")]
    [InlineData(0.97, 0.9, 0.99, "more than 9 in 10 anglers, likely 9 to 10")]
    [InlineData(0.3, 0.3, 0.3, "about 3 in 10 anglers, likely 3")]
    public void ChancesAreNaturalFrequencies(double mean, double low, double high, string words) =>
        Assert.Equal(words, Say.InTen(new Share(mean, low, high), "anglers"));

    [Fact]
    public void WhatToBringIsABreath()
    {
        static Outfit Of(int rung, int step, Technique technique = Technique.FlyLine) =>
            SampleBrief.Good("cannery-bank", "SBF").OutfitSets[0][0] with
            {
                RungLb = rung,
                HookStep = step,
                HookStyle = HookStyle.Circle,
                Technique = technique,
            };

        Assert.Equal("", Say.Bring([], WeightUnit.Lb));
        Assert.Equal("Tie on 30 lb fluorocarbon and a 1/0 circle first.", Say.Bring([Of(30, 1)], WeightUnit.Lb));
        Assert.Equal(
            "Tie on 30 lb fluorocarbon and a 1/0 circle first. Go by the bait you get: size 2 for the shortest, 2/0 over 6 in.",
            Say.Bring([Of(30, 1) with { HooksByBait = [new(114, -1), new(152, 1), new(null, 2)] }], WeightUnit.Lb)
        );
        Assert.Equal(
            "Tie on 25 lb fluorocarbon and a size 1 circle first; bring a 1/0 circle for the same rod and 80 lb with an 8/0 circle as well.",
            Say.Bring([Of(25, 0), Of(25, 1), Of(80, 8)], WeightUnit.Lb)
        );
        Assert.Equal(
            "Tie on 11 kg fluorocarbon and a size 1 circle first; bring 24 kg with a 1/0 circle, a 2/0 circle for the 24 kg too and 15 kg with a size 2 circle as well.",
            Say.Bring([Of(25, 0), Of(50, 1), Of(50, 2), Of(30, -1)], WeightUnit.Kg)
        );
    }

    [Theory]
    [InlineData(22, 33, "20 to 35 lb for half of them, 10 to 50 lb for nine in ten")]
    [InlineData(12, 49, "10 to 50 lb for nine in ten")]
    public void SizesAreSaidOnceWhereHalfAndNineInTenAreOneRange(int p25, int p75, string words)
    {
        static int Grams(int lb) => (int)Math.Round(lb * 453.59237);
        Assert.Equal(
            words,
            Say.Sizes(new SizeQuantiles(Grams(11), Grams(p25), Grams(30), Grams(p75), Grams(50)), WeightUnit.Lb)
        );
    }

    [Fact]
    public void TheRangeSaidHoldsTheRangeKnownAndTheNumberSaid() =>
        Shares.Sample(share =>
        {
            var (low, high) = Say.RangeOfTen(share);
            Assert.InRange(share.Low * 10, low - 1e-6, high + 1e-6);
            Assert.InRange(share.High * 10, low - 1e-6, high + 1e-6);
            Assert.InRange(low, 0, 10);
            Assert.InRange(high, low, 10);
            // "fewer than 1" and "more than 9" stand for the ends.
            Assert.InRange(Say.OfTen(share.Mean), low, high);
        });

    [Fact]
    public void BothFramingsSumToTen() =>
        Gen.Double[0, 1].Sample(share => Assert.Equal(10, Tens(Say.InTen(share)) + Tens(Say.OthersInTen(share))));

    [Theory]
    [InlineData(15, 44, WeightUnit.Lb, "15 to 45 lb")]
    [InlineData(4.2, 11.8, WeightUnit.Lb, "4 to 12 lb")]
    [InlineData(30, 30, WeightUnit.Lb, "about 30 lb")]
    public void WeightsAreRoundedOutwards(double low, double high, WeightUnit unit, string words) =>
        Assert.Equal(words, Say.Weights(Grams(low), Grams(high), unit));

    [Theory]
    [InlineData(15, 35, "15 to 35 lb by custom")]
    [InlineData(8, 20, "5 to 20 lb by custom; most landed lately are heavier, so expect long fights and lost fish")]
    [InlineData(80, 150, "80 to 150 lb by custom; most landed lately are smaller")]
    public void ALineOffCustomForTheFishSaysSo(double low, double high, string words)
    {
        var brief = SampleBrief.Good("cannery-bank", "SBF");
        var outfit = brief.OutfitSets[0][0] with { FishLowGrams = Grams(low), FishHighGrams = Grams(high) };
        Assert.Equal(words, Say.MeantFor(outfit, brief.Size, WeightUnit.Lb));
        Assert.EndsWith(" by custom", Say.MeantFor(outfit, null, WeightUnit.Lb), StringComparison.Ordinal);
    }

    [Fact]
    public void HooksByTheBaitAreSaidWhereTheyDiffer()
    {
        var outfit = SampleBrief.Good("cannery-bank", "SBF").OutfitSets[0][0] with { HooksByBait = [new(null, 1)] };
        Assert.Equal("", Say.HooksByBait(outfit, LengthUnit.In));
        outfit = outfit with { HooksByBait = [new(114, -1), new(152, 0), new(null, 1)] };
        Assert.Equal("up to 4.5 in: size 2; up to 6 in: size 1; longer: 1/0", Say.HooksByBait(outfit, LengthUnit.In));
        Assert.Equal("up to 11 cm: size 2; up to 15 cm: size 1; longer: 1/0", Say.HooksByBait(outfit, LengthUnit.Cm));
    }

    [Fact]
    public void HooksOfAStyleAreSaidTogether() =>
        Assert.Equal(
            "circles 4, 2 and 1/0; size 1 J hook",
            Say.Hooks([(HookStyle.Circle, 1), (HookStyle.Circle, -3), (HookStyle.Circle, -1), (HookStyle.J, 0)])
        );

    [Fact]
    public void WhoIsNotBitIsSentToTheLighterOutfitOrKeepsHisLine()
    {
        var set = SampleBrief.Good("cannery-bank", "SBF").OutfitSets[1];
        Outfit[] outfits = [set[0] with { IfNotBitRungLb = 25 }, set[1]];
        Assert.Equal(
            "go through the order below; last, go down to 25 lb",
            Say.IfNotBit(outfits[0], outfits, WeightUnit.Lb)
        );
        Assert.Equal(
            "go through the order below; last, take outfit 1, 30 lb",
            Say.IfNotBit(outfits[1], outfits, WeightUnit.Lb)
        );
        Assert.Equal(
            "go through the order below, but keep to this line: no lighter one is advised for these fish",
            Say.IfNotBit(outfits[0] with { IfNotBitRungLb = null }, outfits, WeightUnit.Lb)
        );
    }

    [Fact]
    public void InstantsAreSaidByTheirOwnClock() =>
        Assert.Equal(
            "24 November at 01:05",
            Say.At(new DateTimeOffset(2026, 11, 24, 1, 5, 0, TimeSpan.FromHours(13)), new DateOnly(2026, 11, 23))
        );

    private static int Tens(string words) =>
        words switch
        {
            "fewer than 1 in 10" => 0,
            "more than 9 in 10" => 10,
            _ => int.Parse(About().Match(words).Groups[1].Value, System.Globalization.CultureInfo.InvariantCulture),
        };

    private static int Grams(double lb) => new Weight((decimal)lb, WeightUnit.Lb).Grams;

    [GeneratedRegex("^about ([1-9]) in 10$")]
    private static partial Regex About();
}
