namespace Reports.Statistics.Tests.Trend;

/// <summary>Worked by hand.</summary>
public class FadingMeanTests
{
    private static double Spread(params ValuesOfDay[] days) => FadingMean.SpreadOfMisses(days, 3, 5, 0.1, 7);

    [Fact]
    public void NoDaysLeaveThePrior() => Assert.Equal(0.1, Spread(), 12);

    [Fact]
    public void OneDayTellsNothingOfOthers() => Assert.Equal(0.1, Spread(new ValuesOfDay(0, [4, 9])), 12);

    [Fact]
    public void AMissLessWhatADayDiffersByAmongItself()
    {
        // Variance of 1 and 3 is 2, of their mean 1; the miss is 2: (7 * 0.01 + 4 - 1) / 8.
        var days = new[] { new ValuesOfDay(0, [1, 3]), new ValuesOfDay(3, [0]) };
        Assert.Equal(Math.Sqrt(3.07 / 8), Spread(days), 12);
        Assert.Equal(Spread(days), Spread([days[1], days[0]]));
    }

    [Fact]
    public void OlderValuesCountLess()
    {
        // 0 of 3 days before at 2^(-3/5), 1 of 8 days before at half of that: a mean of 1/3. That day itself has one value, told 5 days after the other: 0 against 1.
        Assert.Equal(
            Math.Sqrt((0.07 + Math.Pow(2 - 1 / 3.0, 2) + 1) / 9),
            Spread(new(0, [2]), new(3, [0]), new(8, [1])),
            12
        );
    }

    [Fact]
    public void WithinTheLeadNothingIsKnown() => Assert.Equal(0.1, Spread(new(0, [2]), new(2, [0])), 12);

    [Fact]
    public void ManyAlikeValuesAreNoMiss() =>
        Assert.Equal(Math.Sqrt(0.07 / 8), Spread(new(0, [5, 5]), new(4, [5, 5])), 12);
}
