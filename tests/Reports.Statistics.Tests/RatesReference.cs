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
