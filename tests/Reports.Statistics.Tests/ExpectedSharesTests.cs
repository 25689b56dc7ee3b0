namespace Reports.Statistics.Tests;

public class ExpectedSharesTests
{
    private static SizeFit Fit(double concentration) =>
        new(
            new LognormalMixture([0.8, 0.2], [Math.Log(27), Math.Log(140)], [0.25, 0.2]),
            concentration,
            new FitSummary(StopReason.Converged, 1, 0),
            0,
            10,
            false
        );

    [Fact]
    public void AReportOfOneSchoolIsOfThatSchool()
    {
        Assert.Equal(1, RangeFit.ExpectedShares(new SizeLine(20, 18, 40), Fit(0.2))![0], 4);
        Assert.Equal(1, RangeFit.ExpectedShares(new SizeLine(5, 120, 170), Fit(0.2))![1], 4);
    }

    [Fact]
    public void AMixedReportIsSharedOutByItsOwnTrip()
    {
        // Schools: a trip that met both lies anywhere between. One mix: its 28 unseen fish are shared out nearly as all fish are.
        var schools = RangeFit.ExpectedShares(new SizeLine(30, 20, 190), Fit(0.5))!;
        var pooled = RangeFit.ExpectedShares(new SizeLine(30, 20, 190), Fit(double.PositiveInfinity))!;
        Assert.Equal(1, schools.Sum(), 10);
        Assert.True(schools[1] > pooled[1] + 0.05, $"{schools[1]} against {pooled[1]}");
        Assert.InRange(pooled[1], 0.1, 0.3);
    }

    [Fact]
    public void TheSimulatedShareOfSuchReports()
    {
        // The same expectation by drawing trips and keeping those that look like the report.
        var random = new Random(3);
        var (kept, heavy) = (0, 0.0);
        for (var run = 0; run < 900_000 && kept < 1500; run++)
        {
            // phi = 2 and a mean of .2: the share of the heavy group is Beta(.4, 1.6), drawn by rejection.
            var share = Math.Pow(random.NextDouble(), 1 / 0.4);
            if (random.NextDouble() > Math.Pow(1 - share, 0.6))
            {
                continue;
            }

            var sizes = new double[6];
            var count = 0;
            for (var i = 0; i < 6; i++)
            {
                var isHeavy = random.NextDouble() < share;
                count += isHeavy ? 1 : 0;
                var z = Math.Sqrt(-2 * Math.Log(1 - random.NextDouble())) * Math.Cos(2 * Math.PI * random.NextDouble());
                sizes[i] = isHeavy ? 140 * Math.Exp(0.2 * z) : 27 * Math.Exp(0.25 * z);
            }

            if (sizes.Min() is >= 15 and < 25 && sizes.Max() is >= 135 and < 145)
            {
                kept++;
                heavy += count / 6.0;
            }
        }

        var expected = RangeFit.ExpectedShares(new SizeLine(6, 20, 140, 1, 10), Fit(2))!;
        Assert.True(kept > 300);
        Assert.InRange(heavy / kept, expected[1] - 0.03, expected[1] + 0.03);
    }
}
