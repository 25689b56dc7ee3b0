using Reports.Domain.Measures;

namespace Reports.Domain.Tests.Measures;

public sealed class LineClassTests
{
    // IGFA line classes in kg and their US names in lb: table from a page reproducing the IGFA rules. Below the ladder's
    // lowest rung every class counts as that rung.
    [Theory]
    [InlineData(1, 12)]
    [InlineData(4, 12)]
    [InlineData(6, 12)]
    [InlineData(8, 15)]
    [InlineData(10, 20)]
    [InlineData(15, 30)]
    [InlineData(24, 50)]
    [InlineData(37, 80)]
    [InlineData(60, 130)]
    public void A_metric_class_goes_by_its_US_name(int kg, int rung) =>
        Assert.Equal(rung, LineClass.Rung(new Weight(kg, WeightUnit.Kg)));

    [Fact]
    public void Trailing_zeros_do_not_change_a_metric_class() =>
        Assert.Equal(30, LineClass.Rung(new Weight(15.00m, WeightUnit.Kg)));

    [Fact]
    public void Every_rung_is_itself() =>
        Assert.All(LineClass.Ladder, rung => Assert.Equal(rung, LineClass.Rung(new Weight(rung, WeightUnit.Lb))));

    // The nearest in log: the border between two rungs is their geometric mean, worked out by hand to two places.
    [Theory]
    [InlineData(13.41, 12)] // sqrt(12 * 15) = 13.416...
    [InlineData(13.42, 15)]
    [InlineData(34.64, 30)] // sqrt(30 * 40) = 34.641...
    [InlineData(34.65, 40)]
    [InlineData(114.01, 100)] // sqrt(100 * 130) = 114.017...
    [InlineData(114.02, 130)]
    [InlineData(0.5, 12)]
    [InlineData(400, 130)]
    public void Another_strength_counts_as_the_nearest_rung_in_log(double lb, int rung) =>
        Assert.Equal(rung, LineClass.NearestRung(lb));

    [Fact]
    public void Of_two_equally_near_rungs_the_lighter_is_taken() =>
        Assert.Equal(12, LineClass.NearestRung(Math.Sqrt(12 * 15)));

    [Theory]
    // 13.6 kg is 29.98 lb, 18 kg is 39.7 lb: no IGFA classes, so converted (1 lb = 0.45359237 kg).
    [InlineData(13.6, 30)]
    [InlineData(18, 40)]
    [InlineData(45.4, 100)]
    public void A_metric_strength_that_is_no_class_is_converted(double kg, int rung) =>
        Assert.Equal(rung, LineClass.Rung(new Weight((decimal)kg, WeightUnit.Kg)));

    [Fact]
    public void The_ladder_is_climbed_one_rung_at_a_time()
    {
        Assert.Equal(25, LineClass.Below(30));
        Assert.Equal(40, LineClass.Above(30));
        Assert.Null(LineClass.Below(12));
        Assert.Null(LineClass.Above(130));
        Assert.All(LineClass.Ladder.Skip(1), rung => Assert.Equal(rung, LineClass.Above(LineClass.Below(rung)!.Value)));
    }

    [Theory]
    // IGFA classes where there is one, else lb * 0.45359237 in whole kg.
    [InlineData(12, 6)]
    [InlineData(15, 7)]
    [InlineData(20, 10)]
    [InlineData(25, 11)]
    [InlineData(30, 15)]
    [InlineData(40, 18)]
    [InlineData(50, 24)]
    [InlineData(60, 27)]
    [InlineData(80, 37)]
    [InlineData(100, 45)]
    [InlineData(130, 60)]
    public void A_metric_shelf_calls_a_rung_by_its_class(int rung, int kg) => Assert.Equal(kg, LineClass.Kg(rung));

    [Fact]
    public void What_a_metric_shelf_calls_a_rung_counts_as_that_rung() =>
        Assert.All(
            LineClass.Ladder,
            rung => Assert.Equal(rung, LineClass.Rung(new Weight(LineClass.Kg(rung), WeightUnit.Kg)))
        );
}
