using CsCheck;

namespace Reports.Statistics.Tests;

public sealed class RegressionTests
{
    private const string Seed = "0000KOIPe036";

    [Fact]
    public void An_intercept_alone_gives_the_rate_and_the_plain_fit() =>
        Gen.Int[0, 20]
            .Array[3, 30]
            .Sample(
                x =>
                {
                    if (x.Sum() == 0)
                    {
                        return;
                    }

                    var plain = NegativeBinomial.Fit(x);
                    double[][] none = [.. x.Select(_ => Array.Empty<double>())];
                    var fit = CountRegression.FitNegativeBinomial(none, x, [.. x.Select(_ => 1.0)]);
                    Assert.Equal(plain.Mean, Math.Exp(fit.Coefficients[0]), 1e-8 * plain.Mean);
                    Assert.Equal(plain.Fit.LogLikelihood, fit.Fit.LogLikelihood, 2e-6);
                },
                seed: Seed,
                iter: 60
            );

    [Fact]
    public void Doubling_the_effort_halves_the_rate_and_leaves_the_rest()
    {
        var (rows, counts, effort) = Trips();
        var one = CountRegression.FitNegativeBinomial(rows, counts, effort);
        var two = CountRegression.FitNegativeBinomial(rows, counts, [.. effort.Select(e => 2 * e)]);
        Assert.Equal(one.Coefficients[0] - Math.Log(2), two.Coefficients[0], 1e-8);
        Assert.Equal(one.Coefficients[1], two.Coefficients[1], 1e-8);
        Assert.Equal(one.Theta, two.Theta, 1e-7 * one.Theta);
    }

    [Fact]
    public void Weights_act_as_repeats()
    {
        var (rows, counts, effort) = Trips();
        double[] weights = [.. counts.Select((_, i) => (double)(i % 3))];
        IEnumerable<int> Repeats() => Enumerable.Range(0, counts.Length).SelectMany(i => Enumerable.Repeat(i, i % 3));
        var weighted = CountRegression.FitNegativeBinomial(rows, counts, effort, weights);
        var repeated = CountRegression.FitNegativeBinomial(
            [.. Repeats().Select(i => rows[i])],
            [.. Repeats().Select(i => counts[i])],
            [.. Repeats().Select(i => effort[i])]
        );
        Assert.Equal(repeated.Coefficients[1], weighted.Coefficients[1], 1e-8);
        Assert.Equal(repeated.Theta, weighted.Theta, 1e-6 * weighted.Theta);
        Assert.Equal(repeated.StandardErrors[1], weighted.StandardErrors[1], 1e-8);
    }

    [Fact]
    public void A_group_of_zeros_only_is_said_to_be_separated()
    {
        double[][] rows =
        [
            [0],
            [0],
            [0],
            [1],
            [1],
        ];
        var fit = CountRegression.FitPoisson(rows, [3, 1, 4, 0, 0], [10, 10, 10, 10, 10]);
        Assert.Equal(StopReason.Separated, fit.Fit.Stopped);
        Assert.Equal(8.0 / 30, Math.Exp(fit.Coefficients[0]), 1e-6);
        Assert.True(double.IsFinite(fit.Fit.LogLikelihood));
        Assert.All(fit.StandardErrors, e => Assert.False(double.IsNaN(e)));
        Assert.Equal(
            StopReason.Separated,
            CountRegression.FitNegativeBinomial(rows, [3, 1, 4, 0, 0], [10, 10, 10, 10, 10]).Fit.Stopped
        );
    }

    [Fact]
    public void Theta_is_that_of_glm_nb()
    {
        // R 4.2.2, MASS 7.3-58.2: glm.nb(y ~ 1 + offset(log(e))), control epsilon 1e-10; the check beside case C-GLM-08.
        int[] counts = [0, 1, 2, 30, 7, 0, 55, 3];
        var fit = CountRegression.FitNegativeBinomial(
            [.. counts.Select(_ => Array.Empty<double>())],
            counts,
            [1, 2, 5, 40, 20, 3, 60, 10]
        );
        Assert.Equal(6.52348385013534, fit.Theta, 1e-9);
        Assert.Equal(-0.59061330835799, fit.Coefficients[0], 1e-11);
    }

    [Fact]
    public void Bad_tables_are_refused()
    {
        double[][] rows =
        [
            [1],
            [2],
        ];
        Assert.Equal(SampleFault.Empty, CountTests.Fault(() => CountRegression.FitPoisson([], [], [])));
        Assert.Equal(SampleFault.Negative, CountTests.Fault(() => CountRegression.FitPoisson(rows, [1, -1], [1, 1])));
        Assert.Equal(SampleFault.OutOfRange, CountTests.Fault(() => CountRegression.FitPoisson(rows, [1, 1], [1, 0])));
        Assert.Equal(SampleFault.LengthMismatch, CountTests.Fault(() => CountRegression.FitPoisson(rows, [1], [1])));
        // The column is constant, so it repeats the intercept.
        Assert.Equal(
            SampleFault.OutOfRange,
            CountTests.Fault(() =>
                CountRegression.FitPoisson(
                    [
                        [1],
                        [1],
                    ],
                    [1, 2],
                    [1, 1]
                )
            )
        );
    }

    private static (double[][] Rows, int[] Counts, double[] Effort) Trips()
    {
        var random = new MathNet.Numerics.Random.Xoshiro256StarStar(11);
        double[] effort = [.. Enumerable.Range(0, 60).Select(_ => 4.0 + random.Next(40))];
        double[][] rows = [.. effort.Select(_ => new[] { (double)random.Next(2) })];
        int[] counts = [.. effort.Select((e, i) => CountTests.Draw(random, e * Math.Exp(-0.7 + 0.4 * rows[i][0]), 2))];
        return (rows, counts, effort);
    }
}
