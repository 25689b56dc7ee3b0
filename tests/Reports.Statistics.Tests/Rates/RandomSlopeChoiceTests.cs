using MathNet.Numerics.Distributions;

namespace Reports.Statistics.Tests;

public sealed class RandomSlopeChoiceTests
{
    private static readonly GaussianPrior Weak = GaussianPrior.Ridge(2, 0.1);
    private static readonly SpreadPrior None = SpreadPrior.Fixed(0);

    [Fact]
    public void Without_spreads_it_is_the_plain_conditional_logit()
    {
        var strata = Simulate(new Random(1), 40, -1.2, 0.5, 0.2, 25);
        var plain = ConditionalLogit.Fit(strata, Weak);
        var got = RandomSlopeChoice.Fit(strata, 0, Weak, None, None);
        for (var j = 0; j < 2; j++)
        {
            Assert.Equal(plain.Coefficients[j], got.Fixed.Coefficients[j], 1e-9);
            Assert.Equal(plain.StandardErrors[j], got.Fixed.StandardErrors[j], 1e-9);
        }

        Assert.Equal(plain.Summary.LogLikelihood, got.Summary.LogLikelihood, 1e-9);
        Assert.All(got.Slopes, s => Assert.Equal(new StratumSlope(got.Fixed.Coefficients[0], 0), s));
    }

    [Theory]
    [InlineData(0.3, 0)]
    [InlineData(1, 0)]
    [InlineData(2, 0)]
    [InlineData(0.8, 0.4)]
    public void The_integral_over_the_slope_equals_brute_force(double tau, double omega)
    {
        // Two rigs, 7 against 3 hook-ups, slope s + tau u: a sum over 200,001 points of the (beta-)binomial times the
        // normal density. Two categories of a Dirichlet-multinomial are a beta-binomial, written with Gamma functions.
        double[] counts = [3, 7];
        var sum = 0.0;
        const int steps = 200_000;
        for (var i = 0; i <= steps; i++)
        {
            var u = -12 + 24.0 * i / steps;
            var p = 1 / (1 + Math.Exp(-(0.4 + tau * u)));
            var log =
                omega > 0
                    ? BetaBinomial.LogLikelihood([7], [10], p / (omega * omega), (1 - p) / (omega * omega))
                        - Math.Log(120)
                    : 7 * Math.Log(p) + 3 * Math.Log(1 - p);
            sum += Math.Exp(log - u * u / 2) / Math.Sqrt(2 * Math.PI) * 24.0 / steps;
        }

        var got = RandomSlopeChoice.LogLikelihood(
            [
                new(
                    [
                        [0.0],
                        [1],
                    ],
                    counts
                ),
            ],
            0,
            [0.4],
            tau,
            omega
        );
        Assert.Equal(Math.Log(sum), got, 1e-8);
    }

    [Fact]
    public void The_answer_is_a_top_of_the_posterior_and_its_covariance_the_curvature()
    {
        var strata = Simulate(new Random(3), 8, -1.5, 0.8, 0.3, 12);
        var fit = RandomSlopeChoice.Fit(strata, 0, Weak, SpreadPrior.HalfNormal(1), SpreadPrior.HalfNormal(0.5));
        Assert.Equal(StopReason.Converged, fit.Summary.Stopped);
        double[] top = [.. fit.Fixed.Coefficients, Math.Log(fit.SlopeSpread), Math.Log(fit.Overdispersion)];
        Assert.Equal(fit.LogPosterior, Posterior(top), 1e-9);
        const double h = 1e-4;
        var information = MathNet.Numerics.LinearAlgebra.Matrix<double>.Build.Dense(4, 4);
        for (var i = 0; i < 4; i++)
        {
            Assert.Equal(0, (At(i, h, i, 0) - At(i, -h, i, 0)) / (2 * h), 1e-6);
            for (var j = 0; j < 4; j++)
            {
                information[i, j] =
                    -(At(i, h, j, h) - At(i, h, j, -h) - At(i, -h, j, h) + At(i, -h, j, -h)) / (4 * h * h);
            }
        }

        var covariance = information.Inverse();
        Assert.Equal(covariance[0, 0], fit.Fixed.Covariance[0], 1e-4 * covariance[0, 0]);
        Assert.Equal(covariance[1, 1], fit.Fixed.Covariance[3], 1e-4 * covariance[1, 1]);

        double At(int i, double di, int j, double dj)
        {
            var moved = (double[])top.Clone();
            moved[i] += di;
            moved[j] += dj;
            return Posterior(moved);
        }

        double Posterior(double[] at)
        {
            var (tau, omega) = (Math.Exp(at[2]), Math.Exp(at[3]));
            return RandomSlopeChoice.LogLikelihood(strata, 0, at[..2], tau, omega)
                - 0.05 * (at[0] * at[0] + at[1] * at[1])
                + at[2]
                - tau * tau / 2
                + at[3]
                - omega * omega / 2 / 0.25;
        }
    }

    [Theory]
    [InlineData(0.8, 0.0)]
    [InlineData(0.8, 0.3)]
    [InlineData(0.0, 0.3)]
    public void Simulated_truth_is_recovered(double tau, double omega)
    {
        var strata = Simulate(new Random(11), 250, -1.2, tau, omega, 40);
        var fit = RandomSlopeChoice.Fit(strata, 0, Weak, SpreadPrior.HalfNormal(1), SpreadPrior.HalfNormal(0.5));
        Assert.Equal(StopReason.Converged, fit.Summary.Stopped);
        Assert.InRange((fit.Fixed.Coefficients[0] + 1.2) / fit.Fixed.StandardErrors[0], -3, 3);
        Assert.InRange((fit.Fixed.Coefficients[1] + 0.3) / fit.Fixed.StandardErrors[1], -3, 3);
        // Over 20 seeds the fitted τ has mean 0.78 and standard deviation 0.08 at 0.8; at 0 the logarithm holds it off by
        // 0.23, standard deviation 0.07.
        Assert.InRange(fit.SlopeSpread, tau - 0.25, tau > 0 ? tau + 0.25 : 0.45);
        Assert.InRange(fit.Overdispersion, omega - 0.06, omega + 0.06);
    }

    [Fact]
    public void Intervals_of_the_slope_cover_the_truth_as_often_as_they_say()
    {
        // 40 seasons of 30 boat-days; 90 % intervals. 40 draws at 0.9: 30 or fewer has probability 0.005 (binomial).
        var random = new Random(23);
        var covered = 0;
        for (var season = 0; season < 40; season++)
        {
            var strata = Simulate(random, 30, -1, 0.6, 0.2, 20);
            var fit = RandomSlopeChoice.Fit(strata, 0, Weak, SpreadPrior.HalfNormal(1), SpreadPrior.HalfNormal(0.5));
            covered += Math.Abs(fit.Fixed.Coefficients[0] + 1) <= 1.645 * fit.Fixed.StandardErrors[0] ? 1 : 0;
        }

        Assert.InRange(covered, 31, 40);
    }

    [Fact]
    public void Slopes_of_days_lie_between_the_day_and_the_centre_and_large_counts_recover_them()
    {
        // Two rigs a unit apart, rates e^s: the day's own slope is ln(y1/y0).
        double[] truth = [-2, -1, 0, -0.5, -1.5, -1];
        ChoiceStratum[] Days(double scale) =>
            [
                .. truth.Select(s => new ChoiceStratum(
                    [
                        [0.0],
                        [1],
                    ],
                    [scale, scale * Math.Exp(s)]
                )),
            ];
        var prior = GaussianPrior.Ridge(1, 0.01);
        var few = RandomSlopeChoice.Fit(Days(6), 0, prior, SpreadPrior.HalfNormal(1), None);
        var many = RandomSlopeChoice.Fit(Days(1e5), 0, prior, SpreadPrior.HalfNormal(1), None);
        for (var d = 0; d < truth.Length; d++)
        {
            var centre = few.Fixed.Coefficients[0];
            Assert.InRange(few.Slopes[d].Mean, Math.Min(centre, truth[d]) - 0.05, Math.Max(centre, truth[d]) + 0.05);
            Assert.Equal(truth[d], many.Slopes[d].Mean, 1e-3);
            Assert.True(many.Slopes[d].StandardDeviation < few.Slopes[d].StandardDeviation);
        }
    }

    [Fact]
    public void Zero_cells_weights_order_and_shared_effects_do_no_harm()
    {
        var strata = Simulate(new Random(17), 12, -1.2, 0.6, 0.3, 3);
        Assert.Contains(strata, s => s.Counts.Any(y => y == 0));
        var spread = (SpreadPrior.HalfNormal(1), SpreadPrior.HalfNormal(0.5));
        var once = RandomSlopeChoice.Fit([.. strata, strata[0]], 0, Weak, spread.Item1, spread.Item2);
        var other = RandomSlopeChoice.Fit(
            [
                .. strata[1..]
                    .Reverse()
                    .Append(strata[0] with { Weight = 2 })
                    .Select((s, d) => s with { Offset = [.. s.Offset!.Select(o => o + d)] }),
                // Nothing hooked, and a day out of the window.
                new(
                    [
                        [0.0, 1],
                        [1, 1],
                    ],
                    [0, 0]
                ),
                strata[3] with
                {
                    Weight = 0,
                },
            ],
            0,
            Weak,
            spread.Item1,
            spread.Item2
        );
        Assert.Equal(StopReason.Converged, other.Summary.Stopped);
        Assert.Equal(once.Fixed.Coefficients[0], other.Fixed.Coefficients[0], 1e-5);
        Assert.Equal(once.SlopeSpread, other.SlopeSpread, 1e-5);
        Assert.Equal(once.LogPosterior, other.LogPosterior, 1e-7);
        // The day without hook-ups knows only the population.
        Assert.Equal(other.Fixed.Coefficients[0], other.Slopes[^2].Mean, 1e-9);
        Assert.Equal(other.SlopeSpread, other.Slopes[^2].StandardDeviation, 1e-6);
        // One rig ran dry everywhere: finite all the same.
        var dry = RandomSlopeChoice.Fit(
            [.. strata.Select(s => s with { Counts = [.. s.Counts.Select((y, j) => j == 0 ? 0 : y)] })],
            0,
            Weak,
            spread.Item1,
            spread.Item2
        );
        Assert.All(dry.Fixed.Coefficients, b => Assert.InRange(Math.Abs(b), 0, 20));
    }

    [Fact]
    public void What_is_no_model_is_refused()
    {
        ChoiceStratum[] strata =
        [
            new(
                [
                    [0.0, 1],
                    [1, 0],
                ],
                [1, 2]
            ),
        ];
        Fault(SampleFault.OutOfRange, () => RandomSlopeChoice.Fit(strata, 2, Weak, None, None));
        Fault(SampleFault.OutOfRange, () => RandomSlopeChoice.Fit(strata, 0, Weak, SpreadPrior.HalfNormal(0), None));
        Fault(SampleFault.Negative, () => RandomSlopeChoice.Fit(strata, 0, Weak, SpreadPrior.Fixed(-1), None));
        Fault(SampleFault.NotFinite, () => RandomSlopeChoice.Fit(strata, 0, Weak, None, SpreadPrior.Fixed(double.NaN)));
        Fault(SampleFault.LengthMismatch, () => RandomSlopeChoice.Fit(strata, 0, GaussianPrior.None(1), None, None));
        Fault(SampleFault.Empty, () => RandomSlopeChoice.Fit([], 0, Weak, None, None));

        static void Fault(SampleFault expected, Func<object> act) =>
            Assert.Equal(expected, Assert.Throws<InvalidSampleException>(act).Fault);
    }

    /// <summary>Boat-days with two to five line classes and a hook step of effect -0.3, rods as offset.</summary>
    private static ChoiceStratum[] Simulate(
        Random random,
        int days,
        double slope,
        double tau,
        double omega,
        double hookups
    )
    {
        double[] classes = [15, 20, 25, 30, 40, 50];
        return
        [
            .. Enumerable
                .Range(0, days)
                .Select(_ =>
                {
                    random.Shuffle(classes);
                    var s = slope + tau * Draws.Normal(random);
                    var features = classes[..random.Next(2, 6)]
                        .Select(c => new[] { Math.Log(c / 30), random.Next(-2, 3) })
                        .ToArray();
                    var rods = features.Select(_ => Math.Log(random.Next(1, 8))).ToArray();
                    var rates = features.Select((f, j) => Math.Exp(rods[j] + s * f[0] - 0.3 * f[1])).ToArray();
                    var shares = rates.Select(r => r / rates.Sum()).ToArray();
                    if (omega > 0)
                    {
                        var noisy = shares.Select(p => Gamma.Sample(random, p / (omega * omega), 1)).ToArray();
                        shares = [.. noisy.Select(g => g / noisy.Sum())];
                    }

                    var counts = Multinomial.Sample(random, shares, Poisson.Sample(random, hookups));
                    return new ChoiceStratum(features, [.. counts.Select(c => (double)c)], rods);
                }),
        ];
    }
}
