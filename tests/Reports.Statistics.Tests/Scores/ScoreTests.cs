using CsCheck;

namespace Reports.Statistics.Tests;

public sealed class ScoreTests
{
    private const string Seed = "0000KOIPe036";

    [Fact]
    public void The_parts_of_the_Brier_score_add_up() =>
        Gen.Select(Gen.Int[0, 100].Array[1, 60], Gen.Int[0, 1].Array[60, 60])
            .Sample(
                (hundredths, drawn) =>
                {
                    double[] p = [.. hundredths.Select(h => h / 100.0)];
                    bool[] y = [.. p.Select((_, i) => drawn[i] == 1)];
                    var plain = ProbabilityScore.Brier(p, y);
                    Assert.Equal(plain.Brier, plain.Reliability - plain.Resolution + plain.Uncertainty, 1e-12);
                    var bins = ProbabilityScore.Brier(p, y, [0, 0.2, 0.5, 1]);
                    Assert.Equal(bins.Brier, bins.Reliability - bins.GeneralisedResolution + bins.Uncertainty, 1e-12);
                },
                seed: Seed,
                iter: 300
            );

    [Fact]
    public void Yes_or_no_scores_are_best_at_the_truth() =>
        Gen.Select(Gen.Double[0.02, 0.98], Gen.Double[0.02, 0.98])
            .Sample(
                (truth, said) =>
                {
                    double Expected(Func<double, bool, double> score, double p) =>
                        truth * score(p, true) + (1 - truth) * score(p, false);
                    double Brier(double p, bool y) => ProbabilityScore.Brier([p], [y]).Brier;
                    double Log(double p, bool y) => ProbabilityScore.LogScore([p], [y]);
                    Assert.True(Expected(Brier, truth) <= Expected(Brier, said) + 1e-15);
                    Assert.True(Expected(Log, truth) <= Expected(Log, said) + 1e-15);
                },
                seed: Seed,
                iter: 300
            );

    [Fact]
    public void Count_scores_are_best_at_the_truth() =>
        Gen.Select(Gen.Double[-1, 2], Gen.Double[-1, 2], Gen.Double[-1, 2], Gen.Double[-1, 2])
            .Sample(
                (m1, k1, m2, k2) =>
                {
                    var truth = new CountDistribution(Math.Exp(m1), Math.Exp(k1));
                    var said = new CountDistribution(Math.Exp(m2), Math.Exp(k2));
                    var most = truth.Quantile(1 - 1e-9);
                    double Expected(Func<int, double> score) =>
                        Enumerable.Range(0, most + 1).Sum(y => truth.Probability(y) * score(y));
                    Assert.True(
                        Expected(y => DistributionScore.Crps(truth, y))
                            <= Expected(y => DistributionScore.Crps(said, y)) + 1e-7
                    );
                    Assert.True(
                        Expected(y => DistributionScore.LogScore(truth, y))
                            <= Expected(y => DistributionScore.LogScore(said, y)) + 1e-7
                    );
                },
                seed: Seed,
                iter: 30
            );

    [Fact]
    public void Ranked_probability_is_best_at_the_truth() =>
        Gen.Select(Gen.Double[0.05, 1].Array[4, 4], Gen.Double[0.05, 1].Array[4, 4])
            .Sample(
                (a, b) =>
                {
                    double[] truth = [.. a.Select(v => v / a.Sum())];
                    double[] said = [.. b.Select(v => v / b.Sum())];
                    double Expected(double[] p) =>
                        truth.Select((t, i) => t * DistributionScore.RankedProbability(p, i)).Sum();
                    Assert.True(Expected(truth) <= Expected(said) + 1e-12);
                },
                seed: Seed,
                iter: 300
            );

    [Fact]
    public void The_quantile_has_the_least_pinball_loss() =>
        Gen.Select(Gen.Double[-1, 3], Gen.Double[-1, 2], Gen.Double[0.05, 0.95], Gen.Int[0, 40])
            .Sample(
                (m, k, level, other) =>
                {
                    var truth = new CountDistribution(Math.Exp(m), Math.Exp(k));
                    var most = truth.Quantile(1 - 1e-10);
                    double Expected(int q) =>
                        Enumerable
                            .Range(0, most + 1)
                            .Sum(y => truth.Probability(y) * DistributionScore.Pinball(q, level, y));
                    Assert.True(Expected(truth.Quantile(level)) <= Expected(other) + 1e-7);
                },
                seed: Seed,
                iter: 60
            );

    [Fact]
    public void Crps_of_the_standard_normal_at_its_mean()
    {
        // Gneiting and Raftery 2007: 2 phi(0) - 1/sqrt(pi).
        Assert.Equal(0.2336949772551, DistributionScore.CrpsNormal(0, 1, 0), 1e-12);
        // The ensemble of its quantiles comes near.
        double[] quantiles =
        [
            .. Enumerable
                .Range(0, 2000)
                .Select(i => MathNet.Numerics.Distributions.Normal.InvCDF(2, 3, (i + 0.5) / 2000)),
        ];
        Assert.Equal(DistributionScore.CrpsNormal(2, 3, 4.2), DistributionScore.CrpsEnsemble(quantiles, 4.2), 1e-3);
    }

    [Fact]
    public void Classes_score_as_in_the_textbook()
    {
        // Wilks, from memory; PUBLIC.md D.2.
        Assert.Equal(0.73, DistributionScore.RankedProbability([0.2, 0.5, 0.3], 0), 1e-12);
        Assert.Equal(0.89, DistributionScore.RankedProbability([0.2, 0.3, 0.5], 0), 1e-12);
        Assert.Equal(0.53, DistributionScore.RankedProbability([0.2, 0.5, 0.3], 2), 1e-12);
    }

    [Fact]
    public void The_probability_of_rain_table_decomposes()
    {
        // Wilks, table of 12 forecasts (from memory); reliability, resolution, uncertainty, Brier by R: PUBLIC.md D.1.
        // The printed base rate .162 went into the last three; the table's own rates give .1615, hence the tolerances.
        double[] forecast = [0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1];
        double[] rate = [0.006, 0.019, 0.059, 0.150, 0.277, 0.377, 0.511, 0.587, 0.723, 0.779, 0.934, 0.933];
        double[] share =
        [
            0.4112,
            0.0671,
            0.1833,
            0.0986,
            0.0616,
            0.0366,
            0.0303,
            0.0275,
            0.0245,
            0.0220,
            0.0170,
            0.0203,
        ];
        var p = new List<double>();
        var y = new List<bool>();
        for (var i = 0; i < forecast.Length; i++)
        {
            // 100,000 days in these shares, each with its rate of rain.
            var days = (int)Math.Round(share[i] * 100_000);
            var wet = (int)Math.Round(rate[i] * days);
            p.AddRange(Enumerable.Repeat(forecast[i], days));
            y.AddRange(Enumerable.Range(0, days).Select(d => d < wet));
        }

        var got = ProbabilityScore.Brier(p.ToArray(), y.ToArray());
        Assert.Equal(0.0008276, got.Reliability, 5e-6);
        Assert.Equal(0.0627869, got.Resolution, 3e-4);
        Assert.Equal(0.1357560, got.Uncertainty, 4e-4);
        Assert.Equal(0.0737967, got.Brier, 4e-4);
        Assert.Equal(0.1615, y.Count(wet => wet) / (double)y.Count, 1e-4);
    }

    [Fact]
    public void A_calibrated_count_forecast_has_a_straight_transform()
    {
        var truth = new CountDistribution(3, 0.8);
        // Every count as often as it happens: weights by repetition of 20,000 quantiles.
        int[] observed = [.. Enumerable.Range(0, 20_000).Select(i => truth.Quantile((i + 0.5) / 20_000))];
        double[] u = [0, 0.1, 0.25, 0.5, 0.9, 1];
        var pit = CountPit.At(u, [.. observed.Select(_ => truth)], observed);
        for (var i = 0; i < u.Length; i++)
        {
            Assert.Equal(u[i], pit[i], 1e-4);
        }
    }

    [Fact]
    public void Calibration_agrees_with_logistic_regression_in_R()
    {
        // R 4.2.2: glm(y ~ qlogis(p), binomial), and glm(y ~ 1 + offset(qlogis(p)), binomial).
        var fit = Calibration.Fit(
            [0.1, 0.2, 0.2, 0.35, 0.5, 0.5, 0.6, 0.75, 0.8, 0.9],
            [false, false, true, false, true, false, true, true, false, true]
        );
        Assert.Equal(0.0357519895528578, fit.Intercept, 1e-9);
        Assert.Equal(0.6720870307446928, fit.Slope, 1e-9);
        Assert.Equal(0.688392156762555, fit.InterceptError, 1e-8);
        Assert.Equal(0.575204289307220, fit.SlopeError, 1e-8);
        Assert.Equal(-6.11940743211848, fit.Fit.LogLikelihood, 1e-10);
        Assert.Equal(0.0550831374487427, fit.InTheLarge, 1e-10);
        Assert.Equal(StopReason.Converged, fit.Fit.Stopped);
    }

    [Fact]
    public void Forecasts_that_split_the_outcomes_have_no_finite_slope()
    {
        var fit = Calibration.Fit([0.1, 0.2, 0.7, 0.8], [false, false, true, true]);
        Assert.Equal(StopReason.Separated, fit.Fit.Stopped);
        Assert.Equal(double.PositiveInfinity, fit.SlopeError);
        Assert.Equal(double.PositiveInfinity, Calibration.Fit([0.1, 0.2], [true, true]).InTheLarge);
    }

    [Fact]
    public void A_bootstrap_repeats_itself_and_holds_the_estimate()
    {
        double[] a = [0.2, 0.1, 0.4, 0.3, 0.25, 0.12, 0.5, 0.2];
        double[] b = [0.3, 0.1, 0.35, 0.42, 0.3, 0.2, 0.45, 0.33];
        var one = PairedBootstrap.Compare(a, b, seed: 5);
        Assert.Equal(one, PairedBootstrap.Compare(a, b, seed: 5));
        Assert.NotEqual(one, PairedBootstrap.Compare(a, b, seed: 6));
        Assert.InRange(one.MeanDifference, one.Low, one.High);
        var turned = PairedBootstrap.Compare(b, a, seed: 5);
        Assert.Equal(-one.MeanDifference, turned.MeanDifference, 1e-15);
        // Blocks of one day, and each day a group of its own, are the plain bootstrap.
        Assert.Equal(one.StandardError, PairedBootstrap.CompareInBlocks(a, b, 1, seed: 5).StandardError, 1e-15);
        Assert.Equal(
            one.StandardError,
            PairedBootstrap.CompareByGroup(a, b, [0, 1, 2, 3, 4, 5, 6, 7], 5).StandardError,
            1e-15
        );
    }

    [Fact]
    public void Days_that_resemble_their_neighbours_widen_the_blocks()
    {
        // Four runs of ten equal days: only four independent differences.
        double[] a = [.. Enumerable.Range(0, 40).Select(i => (double)(i / 10 % 2))];
        double[] b = [.. a.Select(_ => 0.4)];
        var days = PairedBootstrap.Compare(a, b, seed: 1);
        int[] weeks = [.. Enumerable.Range(0, 40).Select(i => i / 10)];
        Assert.True(PairedBootstrap.CompareInBlocks(a, b, 5, seed: 1).StandardError > 1.8 * days.StandardError);
        Assert.True(PairedBootstrap.CompareByGroup(a, b, weeks, seed: 1).StandardError > 3 * days.StandardError);
    }

    [Fact]
    public void Never_differing_is_no_evidence()
    {
        var test = McNemar.Test(0, 0);
        Assert.Null(test.ChiSquare);
        Assert.Null(test.P);
        Assert.Equal((1, 1), (test.PExact, test.PMid));
    }

    [Fact]
    public void Bad_forecasts_are_refused()
    {
        Assert.Equal(SampleFault.Empty, CountTests.Fault(() => ProbabilityScore.Brier([], [])));
        Assert.Equal(SampleFault.OutOfRange, CountTests.Fault(() => ProbabilityScore.Brier([1.2], [true])));
        Assert.Equal(SampleFault.NotFinite, CountTests.Fault(() => ProbabilityScore.Brier([double.NaN], [true])));
        Assert.Equal(SampleFault.LengthMismatch, CountTests.Fault(() => ProbabilityScore.Brier([0.2], [true, false])));
        Assert.Equal(SampleFault.OutOfRange, CountTests.Fault(() => ProbabilityScore.Brier([0.2], [true], [0.5, 1])));
        Assert.Equal(
            SampleFault.OutOfRange,
            CountTests.Fault(() => DistributionScore.RankedProbability([0.2, 0.2], 0))
        );
        Assert.Equal(SampleFault.Empty, CountTests.Fault(() => DistributionScore.CrpsEnsemble([], 1)));
        Assert.Equal(SampleFault.OutOfRange, CountTests.Fault(() => DistributionScore.Pinball(1, 1, 1)));
        Assert.Equal(SampleFault.Negative, CountTests.Fault(() => McNemar.Test(-1, 2)));
        Assert.Equal(SampleFault.LengthMismatch, CountTests.Fault(() => PairedBootstrap.Compare([1], [1, 2], 1)));
        Assert.Equal(SampleFault.OutOfRange, CountTests.Fault(() => PairedBootstrap.CompareInBlocks([1], [1], 2, 1)));
        Assert.Equal(SampleFault.OutOfRange, CountTests.Fault(() => Calibration.Fit([0.3, 0.3], [true, false])));
    }
}
