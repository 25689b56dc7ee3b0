using NetTopologySuite.Geometries;
using Reports.Domain.Coast;

namespace Reports.Domain.Tests.Coast;

/// <summary>Expected values are common practice, no source.</summary>
public sealed class TripLengthTests
{
    [Theory]
    [InlineData(0.5, 0.5)]
    [InlineData(0.75, 0.75)]
    [InlineData(1, 1)]
    [InlineData(1.5, 1)]
    [InlineData(2, 2)]
    [InlineData(2.5, 2)]
    [InlineData(3, 3)]
    public void AnOvernightFishesItsWholeDays(double days, double fished) =>
        Assert.Equal(fished, new TripLength((decimal)days).DaysFished);

    [Theory]
    [InlineData(null, 1, 1)]
    [InlineData(0.5, 1, 0.5)]
    [InlineData(1.0, 1, 1)]
    [InlineData(1.5, 1, 1)]
    [InlineData(3.0, 1, 1)]
    [InlineData(3.0, 3, 3)]
    [InlineData(null, 2, 2)]
    public void AReportTellsOfTheDaysThatItCoversAndOfAShortTripItsPart(double? tripDays, int covered, double fished) =>
        Assert.Equal(
            fished,
            (
                new Briefs.Fleet().Trip("boat-a").Reports[0] with
                {
                    TripDays = (decimal?)tripDays,
                    DaysCovered = covered,
                }
            ).DaysFished
        );

    [Theory]
    [InlineData(null, TripKind.HalfDay, 0.5, true)]
    [InlineData(null, TripKind.FullDay, 1.0, true)]
    [InlineData(null, TripKind.Overnight, 1.5, true)]
    [InlineData(null, TripKind.MultiDay, 2.5, true)]
    [InlineData(null, null, 1.0, true)]
    [InlineData(0.0, null, 1.0, true)]
    [InlineData(0.75, TripKind.FullDay, 0.75, false)]
    public void ALengthThatNobodyToldIsThatOfItsKind(double? told, TripKind? kind, double days, bool assumed) =>
        Assert.Equal(new TripLength((decimal)days, assumed), TripLength.Of((decimal?)told, kind));

    [Theory]
    [InlineData(0.25, "")]
    [InlineData(0.5, "shelf")]
    [InlineData(0.75, "shelf,edge")]
    [InlineData(1, "shelf,edge,bank")]
    [InlineData(1.5, "shelf,edge,bank,trench")]
    public void ARunTakesAThirdOfTheTripAtMost(double days, string reached)
    {
        Zone[] zones = [At("trench", 6.5m), At("bank", 4), At("edge", 2.5m), At("shelf", 1.25m), At("elsewhere")];
        Assert.Equal(
            reached.Split(',', StringSplitOptions.RemoveEmptyEntries),
            new TripLength((decimal)days).InReach("corran-quay", zones).Select(z => z.Code)
        );
    }

    private static Zone At(string code, params decimal[] hours) =>
        new(
            code,
            code,
            "",
            Point.Empty,
            [new("old-cannery-dock", 0.5m), .. hours.Select(h => new Reach("corran-quay", h))]
        );
}
