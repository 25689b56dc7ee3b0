namespace Reports.Statistics.Tests.Rates;

/// <summary>Expectations are worked by hand from the normal-normal formulas, and checked by their symmetries.</summary>
public class DriftingLevelTests
{
    private static readonly LevelPrior Prior = new(-1, 0.6, 0.4, 6, 0.25, 0.3, 4);
    private const double Whole = 0.36 + 0.16 + 0.0625 + 0.09;

    [Fact]
    public void NothingSeenIsThePrior()
    {
        var (mean, variance) = new DriftingLevel(Prior, []).At(3, 17);
        Assert.Equal(-1, mean, 12);
        Assert.Equal(Whole, variance, 12);
    }

    [Fact]
    public void OneGroupOnOneDayIsNormalNormal()
    {
        // Posterior mean m + K/(K+v) (y - m), variance K v/(K+v).
        var level = new DriftingLevel(Prior, [new(0, 5, 0.2, 0.5)]);
        var (mean, variance) = level.At(0, 5);
        Assert.Equal(-1 + Whole / (Whole + 0.5) * 1.2, mean, 12);
        Assert.Equal(Whole * 0.5 / (Whole + 0.5), variance, 12);
        Assert.Equal(mean, level.AtObservations()[0], 12);
        Assert.Equal(-0.5 * (1.44 / (Whole + 0.5) + Math.Log(2 * Math.PI * (Whole + 0.5))), level.LogLikelihood, 12);
    }

    [Fact]
    public void AnotherGroupSharesWhatIsCommonAndADayAwayHalfOfTheDrift()
    {
        var level = new DriftingLevel(Prior, [new(0, 0, 0.2, 0.5)]);
        // Another group, one common half-life later: the mean's variance and half of the common drift are shared.
        var (other, _) = level.At(1, 6);
        Assert.Equal(-1 + (0.36 + 0.08) / (Whole + 0.5) * 1.2, other, 12);
        var (own, _) = level.At(0, 4);
        Assert.Equal(-1 + (0.36 + 0.16 * Math.Pow(2, -4.0 / 6) + 0.0625 + 0.045) / (Whole + 0.5) * 1.2, own, 12);
    }

    [Fact]
    public void TwoMeasuresOfADayAreOneOfTheirMean()
    {
        var two = new DriftingLevel(Prior, [new(0, 0, 0.2, 0.5), new(0, 0, -0.6, 0.5)]).At(0, 2);
        var one = new DriftingLevel(Prior, [new(0, 0, -0.2, 0.25)]).At(0, 2);
        Assert.Equal(one.Mean, two.Mean, 10);
        Assert.Equal(one.Variance, two.Variance, 10);
    }

    [Theory]
    [InlineData(0)]
    [InlineData(-1)]
    [InlineData(double.PositiveInfinity)]
    public void AVarianceIsPositiveAndFinite(double variance) =>
        Assert.Throws<InvalidSampleException>(() => new DriftingLevel(Prior, [new(0, 0, 0, variance)]));

    [Fact]
    public void SmallSystemsAreSolved()
    {
        // By hand: inverse of [[4, 2], [2, 3]] is [[3, -2], [-2, 4]] / 8; L = [[2, 0], [1, sqrt 2]].
        double[] matrix = [4, 2, 2, 3];
        Assert.Equal(
            [3 / 8.0, -2 / 8.0, -2 / 8.0, 4 / 8.0],
            SymmetricSolver.Inverse(matrix, 2),
            (a, b) => Math.Abs(a - b) < 1e-12
        );
        Assert.Equal([0.5, 1], SymmetricSolver.Solve(matrix, [4, 4]), (a, b) => Math.Abs(a - b) < 1e-12);
        Assert.Equal([2, 0, 1, Math.Sqrt(2)], SymmetricSolver.Factor(matrix, 2), (a, b) => Math.Abs(a - b) < 1e-12);
        Assert.Equal([5, 0, 0, 7], SymmetricSolver.Diagonal([5, 7]));
    }
}
