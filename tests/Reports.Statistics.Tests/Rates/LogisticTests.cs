using CsCheck;

namespace Reports.Statistics.Tests;

public sealed class LogisticTests
{
    private static readonly Gen<(double[][] X, double[] Y, double[] N)> Rows = Gen.Select(
            Gen.Select(Gen.Int[-20, 20].Select(x => x / 10.0), Gen.Int[0, 1].Select(x => (double)x))
                .Select(x => new[] { x.Item1, x.Item2 }),
            Gen.Int[1, 12],
            Gen.Double[0, 1]
        )
        .Select(r => (X: r.Item1, Y: Math.Floor(r.Item3 * (r.Item2 + 0.999)), N: (double)r.Item2))
        .Array[8, 25]
        .Select(a => (a.Select(r => r.X).ToArray(), a.Select(r => r.Y).ToArray(), a.Select(r => r.N).ToArray()))
        .Where(r =>
            r.Item1.Select(x => x[1]).Distinct().Count() == 2 && r.Item1.Select(x => x[0]).Distinct().Count() > 3
        );

    [Fact]
    public void Weights_are_repeats_order_and_units_do_not_matter() =>
        Draws.ForAll(
            Rows,
            60,
            d =>
            {
                var weights = d.Y.Select((_, i) => i < 3 ? 2.0 : 1).ToArray();
                var once = new BinomialRows([.. d.X, .. d.X[..3]], [.. d.Y, .. d.Y[..3]], [.. d.N, .. d.N[..3]]);
                var weighted = new BinomialRows(d.X, d.Y, d.N, weights);
                var turned = new BinomialRows(
                    [.. d.X.Reverse()],
                    [.. d.Y.Reverse()],
                    [.. d.N.Reverse()],
                    [.. weights.Reverse()]
                );
                var scaled = new BinomialRows([.. d.X.Select(x => new[] { 25.4 * x[0] + 3, x[1] })], d.Y, d.N, weights);
                foreach (
                    var fit in new Func<BinomialRows, CoefficientFit>[]
                    {
                        Logistic.Firth,
                        Logistic.MaximumLikelihood,
                        r => Logistic.Ridge(r, 0.7),
                    }
                )
                {
                    var a = fit(once);
                    Assert.NotEqual(StopReason.IterationLimit, a.Summary.Stopped);
                    Near(a.Coefficients, fit(weighted).Coefficients);
                    Near(a.Coefficients, fit(turned).Coefficients);
                    Near(a.StandardErrors, fit(turned).StandardErrors);
                }

                // Slopes without prior per millimetre instead of per inch.
                var inch = Logistic.Firth(weighted).Coefficients;
                var mm = Logistic.Firth(scaled).Coefficients;
                Assert.Equal(inch[1], mm[1] * 25.4, 1e-6);
                Assert.Equal(inch[2], mm[2], 1e-6);
            }
        );

    [Fact]
    public void The_answer_is_the_top_of_what_it_climbs() =>
        Draws.ForAll(
            Rows,
            60,
            d =>
            {
                var rows = new BinomialRows(d.X, d.Y, d.N);
                var prior = new GaussianPrior([0.2, -1, 0.5], [0.01, 2, 0.5]);
                var fit = Logistic.WithPrior(rows, prior);
                Assert.Equal(fit.PenalisedLogLikelihood, Value(fit.Coefficients), 1e-9);
                for (var j = 0; j < 3; j++)
                {
                    foreach (var step in new[] { -1e-3, 1e-3 })
                    {
                        var moved = (double[])fit.Coefficients.Clone();
                        moved[j] += step;
                        Assert.True(Value(moved) < fit.PenalisedLogLikelihood);
                    }
                }

                // Written down again from the model, row by row.
                double Value(double[] b)
                {
                    var log = 0.0;
                    for (var i = 0; i < d.Y.Length; i++)
                    {
                        var p = 1 / (1 + Math.Exp(-(b[0] + b[1] * d.X[i][0] + b[2] * d.X[i][1])));
                        log += d.Y[i] * Math.Log(p) + (d.N[i] - d.Y[i]) * Math.Log(1 - p);
                    }

                    return log
                        - b.Select((c, j) => prior.Precision[j] * (c - prior.Mean[j]) * (c - prior.Mean[j]) / 2).Sum();
                }
            }
        );

    [Fact]
    public void One_binary_covariate_has_the_closed_form()
    {
        // Saturated 2 x 2: intercept ln(4/8), slope ln(6/3) - ln(4/8); variance 1/a + 1/b + 1/c + 1/d. Firth adds 1/2 to
        // each cell there (Firth 1993, section 3.3).
        var rows = new BinomialRows(
            [
                [0.0],
                [1.0],
            ],
            [4, 6],
            [12, 9]
        );
        var plain = Logistic.MaximumLikelihood(rows);
        Near([Math.Log(0.5), Math.Log(4)], plain.Coefficients);
        Assert.Equal(Math.Sqrt(1 / 4.0 + 1 / 8.0 + 1 / 6.0 + 1 / 3.0), plain.StandardErrors[1], 1e-10);
        var firth = Logistic.Firth(rows);
        Near([Math.Log(4.5 / 8.5), Math.Log(6.5 / 3.5) - Math.Log(4.5 / 8.5)], firth.Coefficients);
        var (difference, error) = plain.Combination([0, 1]);
        Assert.Equal((plain.Coefficients[1], plain.StandardErrors[1]), (difference, error));
    }

    [Fact]
    public void Separation_is_seen_and_answered()
    {
        // Complete; quasi-complete (one covariate value with both); nothing at all; a free intercept under a ridge.
        Separated(
            new BinomialRows(
                [
                    [1.0],
                    [2.0],
                    [3.0],
                    [4.0],
                ],
                [0, 0, 1, 1],
                [1, 1, 1, 1]
            ),
            0
        );
        Separated(
            new BinomialRows(
                [
                    [1.0],
                    [2.0],
                    [2.0],
                    [3.0],
                ],
                [0, 0, 1, 1],
                [1, 1, 1, 1]
            ),
            0
        );
        Separated(
            new BinomialRows(
                [
                    [0.0, 0],
                    [1, 0],
                    [0, 1.0],
                ],
                [4, 0, 6],
                [12, 5, 9]
            ),
            0
        );
        Separated(
            new BinomialRows(
                [
                    [1.0],
                    [2.0],
                    [3.0],
                ],
                [0, 0, 0],
                [5, 5, 5]
            ),
            1
        );
        // Overlap by a single fish is no separation.
        var close = Logistic.MaximumLikelihood(
            new BinomialRows(
                [
                    [1.0],
                    [2.0],
                    [3.0],
                    [2.5],
                ],
                [0, 1, 20, 0],
                [20, 20, 20, 1]
            )
        );
        Assert.Equal(StopReason.Converged, close.Summary.Stopped);

        static void Separated(BinomialRows rows, double lambda)
        {
            var fit = Logistic.Ridge(rows, lambda);
            Assert.Equal(StopReason.Separated, fit.Summary.Stopped);
            Assert.All(fit.Coefficients, b => Assert.InRange(Math.Abs(b), 0, 20));
            Assert.All(fit.StandardErrors, s => Assert.InRange(s, 0.01, 50));
        }
    }

    [Fact]
    public void Random_intercepts_recover_the_truth_and_say_when_there_are_none()
    {
        var random = new Random(31);
        var (x, y, n, boats) = (new List<double[]>(), new List<double>(), new List<double>(), new List<string>());
        for (var boat = 0; boat < 300; boat++)
        {
            var u = 0.8 * Draws.Normal(random);
            for (var rig = 0; rig < 3; rig++)
            {
                x.Add([rig - 1]);
                n.Add(15);
                boats.Add($"boat {boat}");
                y.Add(
                    MathNet.Numerics.Distributions.Binomial.Sample(
                        random,
                        1 / (1 + Math.Exp(-(-0.4 + 0.7 * (rig - 1) + u))),
                        15
                    )
                );
            }
        }

        var fit = RandomIntercept.Fit(new BinomialRows(x, [.. y], [.. n]), boats);
        Assert.Equal(StopReason.Converged, fit.Summary.Stopped);
        Assert.InRange((fit.Fixed.Coefficients[0] + 0.4) / fit.Fixed.StandardErrors[0], -3, 3);
        Assert.InRange((fit.Fixed.Coefficients[1] - 0.7) / fit.Fixed.StandardErrors[1], -3, 3);
        Assert.Equal(0.8, fit.Spread, 0.12);
        Assert.Equal(0, fit.Modes.Average(), 0.05);

        var even = RandomIntercept.Fit(
            new BinomialRows(
                [
                    [0.0],
                    [1],
                    [0],
                    [1],
                ],
                [4, 6, 4, 6],
                [10, 10, 10, 10]
            ),
            ["a", "a", "b", "b"]
        );
        Assert.Equal((StopReason.Boundary, 0.0), (even.Summary.Stopped, even.Spread));
        Assert.All(even.Modes, m => Assert.Equal(0, m));
    }

    [Fact]
    public void Random_intercepts_never_lower_the_likelihood() =>
        Draws.ForAll(
            Rows,
            25,
            d =>
            {
                var rows = new BinomialRows(d.X, d.Y, d.N);
                var groups = d.Y.Select((_, i) => $"g{i % 4}").ToArray();
                var mixed = RandomIntercept.Fit(rows, groups);
                var plain = Logistic.MaximumLikelihood(rows);
                Assert.NotEqual(StopReason.IterationLimit, mixed.Summary.Stopped);
                if (plain.Summary.Stopped == StopReason.Converged)
                {
                    Assert.True(mixed.Summary.LogLikelihood >= plain.Summary.LogLikelihood - 1e-9);
                }

                // Names of groups are labels only.
                var renamed = RandomIntercept.Fit(rows, [.. groups.Select(g => "z" + g[1..])]);
                Assert.Equal(mixed.Spread, renamed.Spread, 1e-9);
            }
        );

    [Fact]
    public void What_is_no_regression_is_refused()
    {
        Fault(SampleFault.Empty, () => new BinomialRows([], [], []));
        Fault(
            SampleFault.LengthMismatch,
            () =>
                new BinomialRows(
                    [
                        [1.0],
                    ],
                    [1, 2],
                    [3]
                )
        );
        Fault(
            SampleFault.LengthMismatch,
            () =>
                new BinomialRows(
                    [
                        [1.0],
                        [1, 2],
                    ],
                    [1, 2],
                    [3, 3]
                )
        );
        Fault(
            SampleFault.NotFinite,
            () =>
                new BinomialRows(
                    [
                        [double.NaN],
                    ],
                    [1],
                    [3]
                )
        );
        Fault(
            SampleFault.OutOfRange,
            () =>
                new BinomialRows(
                    [
                        [1.0],
                    ],
                    [4],
                    [3]
                )
        );
        Fault(
            SampleFault.Negative,
            () =>
                new BinomialRows(
                    [
                        [1.0],
                    ],
                    [-1],
                    [3]
                )
        );
        Fault(
            SampleFault.NoWeight,
            () =>
                new BinomialRows(
                    [
                        [1.0],
                    ],
                    [0],
                    [0]
                )
        );
        Fault(
            SampleFault.NoWeight,
            () =>
                new BinomialRows(
                    [
                        [1.0],
                    ],
                    [1],
                    [2],
                    [0]
                )
        );
        Fault(
            SampleFault.NotFinite,
            () =>
                new BinomialRows(
                    [
                        [1.0],
                    ],
                    [1],
                    [2],
                    default,
                    [double.NaN]
                )
        );
        var twins = new BinomialRows(
            [
                [1.0, 2],
                [2, 4],
                [3, 6],
            ],
            [1, 1, 1],
            [2, 2, 2]
        );
        Fault(SampleFault.OutOfRange, () => Logistic.MaximumLikelihood(twins));
        Fault(SampleFault.OutOfRange, () => Logistic.Firth(twins));
        Assert.Equal(StopReason.Converged, Logistic.Ridge(twins, 1).Summary.Stopped);
        Fault(SampleFault.Negative, () => Logistic.Ridge(twins, -1));
        Fault(SampleFault.LengthMismatch, () => RandomIntercept.Fit(twins, ["a"]));

        static void Fault(SampleFault expected, Func<object> act) =>
            Assert.Equal(expected, Assert.Throws<InvalidSampleException>(act).Fault);
    }

    private static void Near(double[] expected, double[] got, double tolerance = 1e-6)
    {
        for (var j = 0; j < expected.Length; j++)
        {
            Assert.Equal(expected[j], got[j], tolerance * (1 + Math.Abs(expected[j])));
        }
    }
}
