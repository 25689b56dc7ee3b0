using System.Text.Json;

namespace Reports.Statistics.Tests;

/// <summary>Runners of the reference cases of group b: rates and choices.</summary>
public static class RatesReference
{
    [ReferenceMethod("b_wilson")]
    internal static void Wilson(ReferenceCase c)
    {
        var got = Proportion.Wilson(
            c.Input["successes"].Number(),
            c.Input["trials"].Number(),
            c.Input["level"].Number()
        );
        c.Expected["estimate"].Check(got.Estimate, "estimate");
        c.Expected["lo"].Check(got.Low, "lo");
        c.Expected["hi"].Check(got.High, "hi");
    }

    [ReferenceMethod("b_betabinomial")]
    internal static void BetaBinomialRates(ReferenceCase c)
    {
        var y = Numbers(c.Input["successes"]);
        var n = Numbers(c.Input["trials"]);
        if (c.Input.Has("prior"))
        {
            Assert.Contains("1/(eta(1-eta)) * 1/(1+K)^2", c.Input["prior"].Text(), StringComparison.Ordinal);
            var mode = BetaBinomial.FitWithPrior(y, n);
            c.Expected["logit_eta"].Check(Math.Log(mode.Mean / (1 - mode.Mean)), "logit_eta");
            c.Expected["log_K"].Check(Math.Log(mode.Concentration), "log_K");
            c.Expected["eta"].Check(mode.Mean, "eta", "posterior");
            c.Expected["K"].Check(mode.Concentration, "K", "posterior");
            CheckEach(
                c.Expected["posterior_mean_plugin"],
                y.Zip(n, (a, b) => mode.Posterior(a, b).Estimate),
                "posterior"
            );
            return;
        }

        var fit = BetaBinomial.Fit(y, n);
        Assert.Equal(c.Expected["boundary_no_overdispersion"].Bool(), fit.NoOverdispersion);
        c.Expected["mean"].Check(fit.Mean, "mean");
        c.Expected["rho"].Check(fit.Rho, "rho");
        c.Expected["alpha"].Check(fit.Alpha, "alpha");
        c.Expected["beta"].Check(fit.Beta, "beta");
        c.Expected["loglik"].Check(fit.Summary.LogLikelihood, "loglik");
        c.Expected["loglik_binomial"].Check(fit.LogLikelihoodBinomial, "loglik");
        // Equal groups have equal answers: 6115 families of 12 children hold 13.
        var known = new Dictionary<(double, double), RateInterval>();
        var each = y.Zip(n, (a, b) => known.TryGetValue((a, b), out var k) ? k : known[(a, b)] = fit.Posterior(a, b))
            .ToArray();
        CheckEach(c.Expected["posterior_mean"], each.Select(p => p.Estimate), "posterior");
        CheckEach(c.Expected["posterior_lo95"], each.Select(p => p.Low), "posterior");
        CheckEach(c.Expected["posterior_hi95"], each.Select(p => p.High), "posterior");
    }

    [ReferenceMethod("b_dirichlet")]
    internal static void Dirichlet(ReferenceCase c)
    {
        if (c.Input.Has("alpha"))
        {
            var fixedAlpha = DirichletMultinomial.Posterior(Numbers(c.Input["counts"]), Numbers(c.Input["alpha"]));
            CheckEach(c.Expected["posterior_mean"], fixedAlpha.Shares.Select(s => s.Estimate), "posterior_mean");
            CheckEach(c.Expected["lo95"], fixedAlpha.Shares.Select(s => s.Low), "lo95");
            CheckEach(c.Expected["hi95"], fixedAlpha.Shares.Select(s => s.High), "hi95");
            c.Expected["log_marginal"].Check(fixedAlpha.LogMarginal, "log_marginal");
            return;
        }

        var counts = c.Input["counts"].Matrix();
        var fit = DirichletMultinomial.Fit(counts);
        Assert.Equal(c.Expected["boundary_no_overdispersion"].Bool(), fit.NoOverdispersion);
        CheckEach(c.Expected["alpha"], fit.Alpha, "alpha");
        c.Expected["alpha_total"].Check(fit.Total, "alpha_total", "alpha");
        c.Expected["loglik"].Check(fit.Summary.LogLikelihood, "loglik");
        c.Expected["loglik_multinomial"].Check(fit.LogLikelihoodMultinomial, "loglik");
        foreach (var (row, i) in c.Expected["posterior_mean_rows"].Items.Select((row, i) => (row, i)))
        {
            CheckEach(row, fit.Posterior(counts[i]).Shares.Select(s => s.Estimate), "posterior");
        }
    }

    [ReferenceMethod("b_mantel_haenszel")]
    internal static void MantelHaenszelTables(ReferenceCase c)
    {
        var tables = c.Input["tables"]
            .Items.Select(t => new TwoByTwo(t["a"].Number(), t["b"].Number(), t["c"].Number(), t["d"].Number()))
            .ToArray();
        var got = MantelHaenszel.Compare(tables);
        // The cases write "undefined" as NaN, the library as null.
        c.Expected["or"].Check(got.OddsRatio ?? double.NaN, "or");
        c.Expected["se_log"].Check(got.StandardErrorOfLog ?? double.NaN, "se_log");
        c.Expected["lo"].Check(got.Low ?? double.NaN, "lo");
        c.Expected["hi"].Check(got.High ?? double.NaN, "hi");
        c.Expected["chisq"].Check(got.Test?.Statistic ?? double.NaN, "chisq");
        c.Expected["chisq_cc"].Check(got.TestCorrected?.Statistic ?? double.NaN, "chisq_cc");
        c.Expected["p"].Check(got.Test?.P ?? double.NaN, "p");
        c.Expected["p_cc"].Check(got.TestCorrected?.P ?? double.NaN, "p_cc");
        if (c.Expected.Has("homogeneity"))
        {
            var expected = c.Expected["homogeneity"];
            Assert.NotNull(got.Homogeneity);
            expected["bd"].Check(got.Homogeneity.BreslowDay, "bd");
            expected["bd_tarone"].Check(got.Homogeneity.Tarone, "bd_tarone");
            expected["df"].Check(got.Homogeneity.DegreesOfFreedom, "df");
            expected["p_tarone"].Check(got.Homogeneity.P, "p_tarone");
        }
    }

    [ReferenceMethod("b_logistic")]
    internal static void LogisticRegression(ReferenceCase c)
    {
        var x = c.Input["X"].Items.Select(Numbers).ToArray();
        var rows = new BinomialRows(x, Numbers(c.Input["successes"]), Numbers(c.Input["trials"]));
        switch (c.Variant)
        {
            case "ridge":
                var ridge = Logistic.Ridge(rows, c.Input["lambda"].Number());
                CheckEach(c.Expected["coefficients"], ridge.Coefficients, "coefficients");
                CheckEach(c.Expected["standard_errors"], ridge.StandardErrors, "standard_errors");
                c.Expected["loglik"].Check(ridge.Summary.LogLikelihood, "loglik");
                break;
            case "firth":
                c.Input["columns"].NotCompared("names of the columns, not a number");
                var firth = Logistic.Firth(rows);
                CheckEach(c.Expected["coefficients"], firth.Coefficients, "coefficients");
                CheckEach(c.Expected["standard_errors"], firth.StandardErrors, "standard_errors");
                c.Expected["penalised_loglik"].Check(firth.PenalisedLogLikelihood, "penalised_loglik");
                break;
            case "random_intercept":
                var mixed = RandomIntercept.Fit(rows, Texts(c.Input["group"]));
                Assert.Equal(c.Expected["sd_zero"].Bool(), mixed.Spread.Equals(0.0));
                CheckEach(c.Expected["coefficients"], mixed.Fixed.Coefficients, "coefficients");
                c.Expected["random_sd"].Check(mixed.Spread, "random_sd");
                c.Expected["loglik"].Check(mixed.Summary.LogLikelihood, "loglik");
                if (c.Expected["standard_errors"].Kind != JsonValueKind.Object)
                {
                    CheckEach(c.Expected["standard_errors"], mixed.Fixed.StandardErrors, "standard_errors");
                }

                var modes = mixed.Groups.Zip(mixed.Modes).ToDictionary(m => m.First, m => m.Second);
                CheckEach(
                    c.Expected["group_modes"],
                    Texts(c.Expected["group_names"]).Select(g => modes[g]),
                    "group_modes"
                );
                break;
            default:
                Assert.Fail($"{c}: no estimator for variant '{c.Variant}'");
                break;
        }
    }

    [ReferenceMethod("b_choice")]
    internal static void Choice(ReferenceCase c)
    {
        var items = Texts(c.Expected["items"]);
        var contests = c.Input["events"]
            .Items.Select(e => new Contest(
                [.. Texts(e["fished"]).Select(f => Array.IndexOf(items, f))],
                Array.IndexOf(items, e["winner"].Text()),
                e["weight"].Number()
            ))
            .ToArray();
        var fit = Worth.Luce(items.Length, contests, c.Input["lambda"].Number());
        CheckEach(c.Expected["log_worth"], fit.LogWorth, "log_worth");
        CheckEach(
            c.Expected["choice_probability_if_all_fished"],
            fit.ChoiceProbability,
            "choice_probability_if_all_fished"
        );
        c.Expected["penalised_loglik"].Check(fit.PenalisedLogLikelihood, "penalised_loglik");
        // The cases name no tolerance for the log-likelihood alone. It moves with the worths to first order (only the
        // penalised one is flat at the top), so it is as exact as they are: theirs.
        c.Expected["loglik"].Check(fit.Summary.LogLikelihood, "loglik", "log_worth");
    }

    private static string[] Texts(ReferenceCase.Node node) =>
        node.Kind == JsonValueKind.Array ? [.. node.Items.Select(i => i.Text())] : [node.Text()];

    /// <summary>The writer of the cases unwraps a list of one.</summary>
    private static double[] Numbers(ReferenceCase.Node node) =>
        node.Kind == JsonValueKind.Array ? node.Numbers() : [node.Number()];

    private static void CheckEach(ReferenceCase.Node expected, IEnumerable<double> got, params string[] tolerance)
    {
        var values = got.ToArray();
        IReadOnlyList<ReferenceCase.Node> items = expected.Kind == JsonValueKind.Array ? expected.Items : [expected];
        Assert.Equal(items.Count, values.Length);
        for (var i = 0; i < values.Length; i++)
        {
            items[i].Check(values[i], tolerance);
        }
    }
}
