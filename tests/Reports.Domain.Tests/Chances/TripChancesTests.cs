using Reports.Domain.Briefs;
using Reports.Domain.Chances;

namespace Reports.Domain.Tests.Chances;

public sealed class TripChancesTests
{
    /// <summary>Half-way of the fourth decimal on either side.</summary>
    private const double Rounding = 0.0001;

    /// <summary>Invented figures; at least one of (1.4, 8, 1.53) is 0.61.</summary>
    private static readonly CatchRate Rate = new(
        new(1.4, 1.1, 1.8),
        new(0.61, 0.52, 0.69),
        Trend.Up,
        1.1,
        2.3,
        StoppedAtLimit: 0
    )
    {
        Angler = new(1.4, 8, 1.53),
    };

    [Fact]
    public void ADayAndOneFishAreTheBriefsOwnFigures()
    {
        var day = TripChances.Of(Rate, 1, 1);

        Assert.Equal(Rate.PerAngler, day.PerAngler);
        Assert.Equal(Rate.AtLeastOne, day.AtLeastOne);
        Assert.Equal(Rate.AtLeastOne, day.AtLeastLimit);
        Assert.Equal(Rate.PerAnglerIfSilentBlank, day.PerAnglerIfSilentBlank);
        Assert.Equal(Rate.PerAnglerIfSilentAlike, day.PerAnglerIfSilentAlike);
    }

    [Fact]
    public void AnyBriefsOwnFiguresComeBackForADay()
    {
        var random = new Random(7);
        for (var i = 0; i < 300; i++)
        {
            var rate = RandomRate(random);
            var day = TripChances.Of(rate, 1, 1);
            Assert.Equal(rate.PerAngler, day.PerAngler);
            Close(rate.AtLeastOne!, day.AtLeastOne!);
        }
    }

    /// <summary>
    /// Anglers of geometric luck (k = 1) on boats that hardly differ (shape 1e6): P(0) = 1 / (1 + m), P(at least n) = (m / (1 + m))^n.
    /// By hand: m = 1 gives 1/2, 1/4, 1/8; two days are m = 2: 2/3, 4/9; half a day m = 1/2: 1/3, 1/9. The interval's ends 1/3 and 2/3
    /// are m = 1/2 and 2; on two days m = 1 and 4: 1/2 and 4/5, for two fish 1/4 and 16/25.
    /// </summary>
    [Fact]
    public void GeometricLuckIsAsByHand()
    {
        var rate = new CatchRate(new(1, 0.5, 2), new(0.5, 1 / 3.0, 2 / 3.0), null, null, null, 0)
        {
            Angler = new(1, 1e6, 1),
        };

        var day = TripChances.Of(rate, 1, 2);
        Close(new(0.25, 1 / 9.0, 4 / 9.0), day.AtLeastLimit!);
        Close([0.5, 0.25, 0.125, 0.125], day.Fish!);

        var two = TripChances.Of(rate, 2, 2);
        Assert.Equal(new Rate(2, 1, 4), two.PerAngler);
        Close(new(2 / 3.0, 0.5, 0.8), two.AtLeastOne!);
        Close(new(4 / 9.0, 0.25, 0.64), two.AtLeastLimit!);
        Close([1 / 3.0, 2 / 9.0, 4 / 27.0, 8 / 27.0], two.Fish!);

        var half = TripChances.Of(rate, 0.5, 2);
        Close(new(1 / 3.0, 0.2, 0.5), half.AtLeastOne!);
        Close(new(1 / 9.0, 0.04, 0.25), half.AtLeastLimit!);
    }

    [Fact]
    public void LongerTripsGiveBetterOddsAndMoreFishWorse()
    {
        var random = new Random(11);
        double[] days = [0.25, 0.5, 0.75, 1, 2, 3, 7];
        for (var i = 0; i < 40; i++)
        {
            var rate = RandomRate(random);
            var byDays = days.Select(d => TripChances.Of(rate, d, 3)).ToList();
            foreach (var (shorter, longer) in byDays.Zip(byDays.Skip(1)))
            {
                NoWorse(shorter.AtLeastOne!, longer.AtLeastOne!);
                NoWorse(shorter.AtLeastLimit!, longer.AtLeastLimit!);
                Assert.True(shorter.PerAngler.Mean <= longer.PerAngler.Mean);
            }

            var byLimit = Enumerable.Range(1, 8).Select(n => TripChances.Of(rate, 1.5, n).AtLeastLimit!).ToList();
            foreach (var (fewer, more) in byLimit.Zip(byLimit.Skip(1)))
            {
                NoWorse(more, fewer);
            }
        }
    }

    [Fact]
    public void TheFiguresOfATripAgreeWithEachOther()
    {
        var random = new Random(13);
        for (var i = 0; i < 100; i++)
        {
            var trip = TripChances.Of(RandomRate(random), 0.25 + (random.NextDouble() * 5), 3);
            var fish = trip.Fish!;
            Assert.InRange(fish.None + fish.One + fish.Two + fish.ThreeOrMore, 1 - Rounding, 1 + Rounding);
            Assert.InRange(trip.AtLeastOne!.Mean, 1 - fish.None - Rounding, 1 - fish.None + Rounding);
            Assert.InRange(
                trip.AtLeastLimit!.Mean,
                fish.ThreeOrMore - (3 * Rounding),
                fish.ThreeOrMore + (3 * Rounding)
            );
            foreach (var share in new[] { trip.AtLeastOne!, trip.AtLeastLimit! })
            {
                Assert.InRange(share.Mean, share.Low, share.High);
                Assert.InRange(share.High, 0, 1);
            }
        }
    }

    [Fact]
    public void WhereNobodyCaughtAnythingNobodyDoesOnALongTripEither()
    {
        var trip = TripChances.Of(
            new(new(0, 0, 0.1), new(0, 0, 0), null, null, null, 0) { Angler = new(0, 2, 1) },
            3,
            2
        );

        Assert.Equal(new Share(0, 0, 0), trip.AtLeastOne);
        Assert.Equal(new FishShares(1, 0, 0, 0), trip.Fish);
        Assert.Equal(0.3, trip.PerAngler.High, 4);
    }

    [Fact]
    public void WhatABriefDoesNotTellIsNotMadeUp()
    {
        var old = TripChances.Of(Rate with { Angler = null }, 2, 2);
        Assert.Null(old.AtLeastOne);
        Assert.Null(old.AtLeastLimit);
        Assert.Null(old.Fish);
        Assert.Equal(2.8, old.PerAngler.Mean);
        Assert.Equal(Rate.AtLeastOne, TripChances.Of(Rate with { Angler = null }, 1, 2).AtLeastOne);

        var untold = TripChances.Of(Rate with { AtLeastOne = null, PerAnglerIfSilentBlank = null }, 1, 1);
        Assert.Null(untold.AtLeastOne);
        Assert.Null(untold.PerAnglerIfSilentBlank);
    }

    [Theory]
    [InlineData(0, 1)]
    [InlineData(-1, 1)]
    [InlineData(1, 0)]
    [InlineData(1, TripChances.MostLimit + 1)]
    public void NonsenseIsRefused(double days, int limit) =>
        Assert.Throws<ArgumentOutOfRangeException>(() => TripChances.Of(Rate, days, limit));

    /// <summary>Figures as a brief may have them: the odds those of the law, their interval round them.</summary>
    private static CatchRate RandomRate(Random random)
    {
        var angler = new FishPerAngler(
            Math.Round(Math.Exp((random.NextDouble() * 6) - 4), 4),
            Math.Exp((random.NextDouble() * 4) - 1),
            Math.Exp((random.NextDouble() * 4) - 2)
        );
        var odds = Math.Round(angler.AtLeast(1), 4);
        return new(
            new(angler.Mean, Math.Round(angler.Mean * 0.7, 4), Math.Round(angler.Mean * 1.4, 4)),
            new(odds, Math.Round(odds * 0.8, 4), Math.Round(odds + ((1 - odds) * 0.2), 4)),
            null,
            null,
            null,
            0
        )
        {
            Angler = angler,
        };
    }

    private static void Close(Share expected, Share actual)
    {
        Assert.Equal(expected.Mean, actual.Mean, Rounding);
        Assert.Equal(expected.Low, actual.Low, Rounding);
        Assert.Equal(expected.High, actual.High, Rounding);
    }

    private static void Close(double[] expected, FishShares actual)
    {
        double[] shares = [actual.None, actual.One, actual.Two, actual.ThreeOrMore];
        // The last is what three rounded ones leave.
        Assert.All(expected.Zip(shares), pair => Assert.Equal(pair.First, pair.Second, 2 * Rounding));
    }

    private static void NoWorse(Share than, Share actual) =>
        Assert.True(
            actual.Mean >= than.Mean && actual.Low >= than.Low && actual.High >= than.High,
            $"{actual} after {than}"
        );
}
