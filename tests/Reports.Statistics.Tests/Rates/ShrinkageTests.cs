using CsCheck;

namespace Reports.Statistics.Tests;

public sealed class ShrinkageTests
{
    [Fact]
    public void Shrunk_rates_lie_between_the_group_and_the_population() =>
        Draws.ForAll(
            Draws.Groups,
            150,
            g =>
            {
                foreach (var fit in Both(g.Y, g.N).Where(f => f.Concentration > 0))
                {
                    for (var i = 0; i < g.Y.Length; i++)
                    {
                        var got = fit.Posterior(g.Y[i], g.N[i]);
                        var own = g.Y[i] / g.N[i];
                        Assert.InRange(got.Estimate, Math.Min(own, fit.Mean) - 1e-12, Math.Max(own, fit.Mean) + 1e-12);
                        Assert.True(got.Low <= got.High && got.Low >= 0 && got.High <= 1);
                    }
                }
            }
        );

    [Fact]
    public void Overdispersion_never_lowers_the_likelihood_and_its_answer_is_a_top() =>
        Draws.ForAll(
            Draws.Groups,
            150,
            g =>
            {
                var fit = BetaBinomial.Fit(g.Y, g.N);
                Assert.NotEqual(StopReason.IterationLimit, fit.Summary.Stopped);
                Assert.True(fit.Summary.LogLikelihood >= fit.LogLikelihoodBinomial);
                if (fit.Summary.Stopped == StopReason.Converged)
                {
                    foreach (var (a, b) in new[] { (1.01, 1.0), (1, 1.01), (0.99, 1), (1, 0.99), (3, 3), (0.3, 0.3) })
                    {
                        var other = BetaBinomial.LogLikelihood(g.Y, g.N, a * fit.Alpha, b * fit.Beta);
                        Assert.True(other < fit.Summary.LogLikelihood);
                    }
                }
            }
        );

    [Fact]
    public void Order_does_not_matter_and_weights_are_repeats() =>
        Draws.ForAll(
            Draws.Groups,
            60,
            g =>
            {
                var once = Both([.. g.Y, .. g.Y[..2]], [.. g.N, .. g.N[..2]]);
                var weights = g.Y.Select((_, i) => i < 2 ? 2.0 : 1).ToArray();
                var weighted = Both(g.Y, g.N, weights);
                var turned = Both([.. g.Y.Reverse()], [.. g.N.Reverse()], [.. weights.Reverse()]);
                for (var i = 0; i < 2; i++)
                {
                    Same(once[i], weighted[i]);
                    Same(once[i], turned[i]);
                }

                static void Same(BetaBinomialFit a, BetaBinomialFit b)
                {
                    Assert.Equal(a.Mean, b.Mean, 1e-7);
                    Assert.Equal(a.Rho, b.Rho, 1e-7);
                    Assert.Equal(a.Summary.LogLikelihood, b.Summary.LogLikelihood, 1e-8);
                }
            }
        );

    [Fact]
    public void The_prior_keeps_the_concentration_finite_where_the_likelihood_does_not()
    {
        var fit = BetaBinomial.FitWithPrior([5, 5, 5, 5], [10, 10, 10, 10]);
        Assert.Equal(StopReason.Converged, fit.Summary.Stopped);
        Assert.InRange(fit.Concentration, 1, 1000);
        // Nobody landed anything: only a prior on the mean keeps it off 0, and without one the edge is said.
        Assert.Equal(StopReason.Boundary, BetaBinomial.FitWithPrior([0, 0], [4, 6]).Summary.Stopped);
        var held = BetaBinomial.FitWithPrior([0, 0], [4, 6], default, 1, 1);
        Assert.Equal(StopReason.Converged, held.Summary.Stopped);
        Assert.InRange(held.Posterior(0, 4).Estimate, 0.001, 0.3);
    }

    [Fact]
    public void All_or_nothing_groups_have_no_concentration()
    {
        // P(all) = m, P(nothing) = 1 - m as K -> 0: 3 ln(3/5) + 2 ln(2/5), by hand.
        var fit = BetaBinomial.Fit([4, 0, 7, 0, 2], [4, 6, 7, 9, 2]);
        Assert.Equal((StopReason.Boundary, 0.0, 1.0), (fit.Summary.Stopped, fit.Concentration, fit.Rho));
        Assert.Equal(3 * Math.Log(0.6) + 2 * Math.Log(0.4), fit.Summary.LogLikelihood, 1e-14);
        Assert.True(
            BetaBinomial.LogLikelihood([4, 0, 7, 0, 2], [4, 6, 7, 9, 2], 0.0006, 0.0004) < fit.Summary.LogLikelihood
        );
        var shares = DirichletMultinomial.Fit([
            [4, 0, 0],
            [0, 6, 0],
            [7, 0, 0],
        ]);
        Assert.Equal((StopReason.Boundary, 0.0), (shares.Summary.Stopped, shares.Total));
        Assert.Equal(2 * Math.Log(2 / 3.0) + Math.Log(1 / 3.0), shares.Summary.LogLikelihood, 1e-14);
    }

    [Fact]
    public void Two_categories_are_the_beta_binomial() =>
        Draws.ForAll(
            Draws.Groups,
            60,
            g =>
            {
                var two = DirichletMultinomial.Fit([.. g.Y.Zip(g.N, (y, n) => new[] { y, n - y })]);
                var one = BetaBinomial.Fit(g.Y, g.N);
                Assert.Equal(one.Summary.LogLikelihood, two.Summary.LogLikelihood, 2e-6);
                if (one.Summary.Stopped == StopReason.Converged && two.Summary.Stopped == StopReason.Converged)
                {
                    Assert.Equal(1, two.Alpha[0] / one.Alpha, 1e-4);
                    var mine = two.Posterior([g.Y[0], g.N[0] - g.Y[0]]).Shares[0];
                    Assert.Equal(one.Posterior(g.Y[0], g.N[0]).Low, mine.Low, 1e-4);
                }
            }
        );

    [Fact]
    public void Shares_sum_to_one_lie_between_row_and_pool_and_do_not_mind_the_order() =>
        Draws.ForAll(
            Gen.Int[0, 12].Select(x => (double)x).Array[3].Array[2, 8].Where(rows => rows.Any(r => r.Sum() > 0)),
            80,
            rows =>
            {
                var fit = DirichletMultinomial.Fit(rows);
                Assert.NotEqual(StopReason.IterationLimit, fit.Summary.Stopped);
                Assert.True(fit.Summary.LogLikelihood >= fit.LogLikelihoodMultinomial - 1e-9);
                Assert.Equal(1, fit.Shares.Sum(), 1e-12);
                var turned = DirichletMultinomial.Fit([.. rows.Reverse().Select(r => r.Reverse().ToArray())]);
                Assert.Equal(fit.Summary.LogLikelihood, turned.Summary.LogLikelihood, 1e-7);
                foreach (var row in rows.Where(r => r.Sum() > 0))
                {
                    var got = fit.Posterior(row).Shares;
                    Assert.Equal(1, got.Sum(s => s.Estimate), 1e-12);
                    for (var j = 0; j < 3; j++)
                    {
                        var own = row[j] / row.Sum();
                        Assert.InRange(
                            got[j].Estimate,
                            Math.Min(own, fit.Shares[j]) - 1e-9,
                            Math.Max(own, fit.Shares[j]) + 1e-9
                        );
                        Assert.True(got[j].Low <= got[j].High);
                    }
                }
            }
        );

    [Fact]
    public void Simulated_concentration_is_recovered()
    {
        var random = new Random(20261125);
        var (y, n) = (new double[4000], new double[4000]);
        for (var i = 0; i < y.Length; i++)
        {
            n[i] = 12;
            y[i] = MathNet.Numerics.Distributions.Binomial.Sample(
                random,
                MathNet.Numerics.Distributions.Beta.Sample(random, 3, 7),
                12
            );
        }

        var fit = BetaBinomial.Fit(y, n);
        Assert.Equal(0.3, fit.Mean, 0.01);
        Assert.Equal(10, fit.Concentration, 0.8);
        Assert.Equal(fit.Concentration, BetaBinomial.FitWithPrior(y, n).Concentration, 0.05);
    }

    [Fact]
    public void Integrated_rates_equal_a_dense_grid()
    {
        // Posterior means over 400 x 600 points of (logit m, ln K), prior m^(-1/2) (1-m)^(-1/2) / (1+K)², Jacobian m(1-m)K,
        // likelihood by the public function.
        double[] y = [0, 1, 3, 5, 2, 0, 7, 4];
        double[] n = [4, 3, 8, 9, 12, 2, 10, 15];
        var sums = new double[y.Length];
        var total = 0.0;
        for (var i = 0; i < 400; i++)
        {
            var m = 1 / (1 + Math.Exp(5 - 10 * i / 399.0));
            for (var j = 0; j < 600; j++)
            {
                var k = Math.Exp(-7 + 25 * j / 599.0);
                var w =
                    Math.Exp(BetaBinomial.LogLikelihood(y, n, m * k, (1 - m) * k))
                    * Math.Sqrt(m * (1 - m))
                    * k
                    / ((1 + k) * (1 + k));
                total += w;
                for (var g = 0; g < y.Length; g++)
                {
                    sums[g] += w * (m * k + y[g]) / (k + n[g]);
                }
            }
        }

        var got = BetaBinomial.Rates(y, n);
        for (var g = 0; g < y.Length; g++)
        {
            Assert.Equal(sums[g] / total, got[g].Estimate, 1e-5);
            Assert.InRange(got[g].Estimate, got[g].Low, got[g].High);
        }
    }

    [Fact]
    public void Integrated_intervals_cover_where_those_at_the_mode_do_not()
    {
        // Six rigs of 4 to 30 fish, rates from Beta(2.4, 3.6); 80 seasons. Mode of plain likelihood: far too narrow.
        var random = new Random(41);
        var (integrated, plain, count) = (0, 0, 0);
        for (var season = 0; season < 80; season++)
        {
            var p = Enumerable
                .Range(0, 6)
                .Select(_ => MathNet.Numerics.Distributions.Beta.Sample(random, 2.4, 3.6))
                .ToArray();
            var n = p.Select(_ => (double)random.Next(4, 31)).ToArray();
            var y = p.Zip(n, (rate, k) => (double)MathNet.Numerics.Distributions.Binomial.Sample(random, rate, (int)k))
                .ToArray();
            var rates = BetaBinomial.Rates(y, n, level: 0.9);
            var fit = BetaBinomial.Fit(y, n);
            for (var i = 0; i < 6; i++, count++)
            {
                integrated += rates[i].Low <= p[i] && p[i] <= rates[i].High ? 1 : 0;
                var at = fit.Posterior(y[i], n[i], 0.9);
                plain += at.Low <= p[i] && p[i] <= at.High ? 1 : 0;
            }
        }

        // 480 intervals at 0.9, correlated within seasons: standard error about 0.015.
        Assert.InRange(integrated / (double)count, 0.855, 0.945);
        Assert.True(plain / (double)count < 0.8, $"{plain} of {count}");
    }

    [Fact]
    public void What_is_no_sample_is_refused()
    {
        Fault(SampleFault.Empty, () => BetaBinomial.Fit([], []));
        Fault(SampleFault.LengthMismatch, () => BetaBinomial.Fit([1, 2], [3]));
        Fault(SampleFault.OutOfRange, () => BetaBinomial.Fit([4], [3]));
        Fault(SampleFault.Negative, () => BetaBinomial.Fit([-1], [3]));
        Fault(SampleFault.NotFinite, () => BetaBinomial.FitWithPrior([double.NaN], [3]));
        Fault(SampleFault.NoWeight, () => BetaBinomial.Fit([1], [3], [0]));
        Fault(SampleFault.NoWeight, () => BetaBinomial.Fit([0, 0], [0, 0]));
        Fault(SampleFault.Empty, () => DirichletMultinomial.Fit([]));
        Fault(
            SampleFault.LengthMismatch,
            () =>
                DirichletMultinomial.Fit([
                    [1, 2],
                    [1],
                ])
        );
        Fault(
            SampleFault.Negative,
            () =>
                DirichletMultinomial.Fit([
                    [1, -2],
                ])
        );
        Fault(
            SampleFault.NoWeight,
            () =>
                DirichletMultinomial.Fit([
                    [0, 0],
                ])
        );
        Fault(SampleFault.OutOfRange, () => BetaBinomial.Rates([0, 0], [3, 4], default, 0));
        Fault(SampleFault.NoWeight, () => DirichletMultinomial.Posterior([1, 2], [0, 0]));
        Fault(SampleFault.NotFinite, () => DirichletMultinomial.Posterior([1, double.NaN], [1, 1]));

        static void Fault(SampleFault expected, Action act) =>
            Assert.Equal(expected, Assert.Throws<InvalidSampleException>(act).Fault);
    }

    private static BetaBinomialFit[] Both(double[] y, double[] n, double[]? w = null) =>
        [BetaBinomial.Fit(y, n, w), BetaBinomial.FitWithPrior(y, n, w, 0.5, 0.5)];
}
