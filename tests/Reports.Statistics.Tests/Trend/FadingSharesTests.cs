namespace Reports.Statistics.Tests.Trend;

/// <summary>The score worked by hand; the choice on pasts whose pace is known.</summary>
public class FadingSharesTests
{
    private static readonly double[] Choices = [2, 3, 5, 10, 20];

    [Fact]
    public void TheScoreOfAForecastWorkedByHand()
    {
        // One origin, day 6. At a half-life of 6 days the telling of day 0 weighs 1/2, that of day 3 weighs 2^-0.5: of the whole the
        // second cell has 0.7071/1.2071 = 0.58579, and of the group, drawn to the whole, the same. A hundredth is spread evenly over
        // two cells; an origin of seven days that comes every third day counts 3/7.
        SharesOfDay[] group = [new(0, [1, 0]), new(3, [0, 1]), new(7, [0, 1])];

        var score = FadingShares.LogScore([group], 2, 7, 6);

        Assert.Equal(3.0 / 7 * Math.Log(0.99 * 0.5857864376269049 + 0.005), score, 12);
    }

    [Fact]
    public void AGroupOfItsOwnIsDrawnToTheWholeByOneTelling()
    {
        // Seen from day 6 at a half-life of 6: the first group told [1, 0] with weight 1/2, the second [0, 1] with weight 1 (day 6).
        // The whole is [1/3, 2/3]; the first group's forecast is ([1/2, 0] + [1/3, 2/3]) / 1.5 = [5/9, 4/9].
        SharesOfDay[] first = [new(0, [1, 0]), new(8, [0.5, 0.5])];
        SharesOfDay[] second = [new(6, [0, 1])];

        // From day 9 nothing is left to foretell but day 8's own past: only the origin of day 6 scores.
        var score = FadingShares.LogScore([first, second], 2, 8, 6);

        var expected = 0.5 * Math.Log(0.99 * 5 / 9 + 0.005) + 0.5 * Math.Log(0.99 * 4 / 9 + 0.005);
        Assert.Equal(3.0 / 7 * expected, score, 12);
    }

    [Fact]
    public void WhatTurnsQuicklyIsForgottenQuicklyAndWhatStaysIsKept()
    {
        // Turns over every twenty days (what turns within the week that is foretold is noise), against noise about the same shares.
        var turning = Season(day => day / 20 % 2 == 0 ? 0.95 : 0.05);
        var staying = Season(day => day * 7 % 10 < 5 ? 0.75 : 0.25);

        Assert.Equal(2, FadingShares.HalfLife([turning], 89, Choices, 5, 0.4));
        Assert.InRange(FadingShares.HalfLife([staying], 89, Choices, 5, 0.4), 10, 20);
    }

    [Fact]
    public void WithoutAPastCustomStands()
    {
        Assert.Equal(5, FadingShares.HalfLife([], 89, Choices, 5, 0.4));
        Assert.Equal(
            5,
            FadingShares.HalfLife(
                [
                    [new(89, [1, 0])],
                ],
                89,
                Choices,
                5,
                0.4
            )
        );
    }

    [Fact]
    public void CellsThatDifferAreRefused()
    {
        Assert.Throws<ArgumentException>(() =>
            FadingShares.HalfLife(
                [
                    [new(1, [1, 0])],
                    [new(1, [1, 0, 0])],
                ],
                2,
                Choices,
                5,
                0.4
            )
        );
        Assert.Throws<ArgumentException>(() => FadingShares.HalfLife([], 2, [], 5, 0.4));
        Assert.Throws<ArgumentException>(() => FadingShares.HalfLife([], 2, [0], 5, 0.4));
    }

    private static SharesOfDay[] Season(Func<int, double> share) =>
        [.. Enumerable.Range(0, 90).Select(day => new SharesOfDay(day, [10 * share(day), 10 * (1 - share(day))]))];
}
