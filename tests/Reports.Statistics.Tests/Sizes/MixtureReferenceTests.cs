using System.Text.Json;

namespace Reports.Statistics.Tests;

/// <summary>Cases of methods a2_mixture, a2_minmax and a2_hier (sources beside each case in the reference files).</summary>
public static class MixtureReferenceTests
{
    // More starts than a page needs: an unseen case may have many local maxima.
    private const int Starts = 80;

    [ReferenceMethod("a2_mixture")]
    private static void Mixture(ReferenceCase c)
    {
        var observations = SizeReferences.Observations(c);
        var options = new MixtureOptions(c.Input["sigma_floor"].Number(), Starts);
        var counts = c.Input["component_counts"].Items.Select(k => k.Whole()).ToArray();
        var fits = MixtureFit.Choose(observations, counts.Max(), options).Fits;
        Compare(c, [.. counts.Select(k => fits[k - 1])]);
    }

    [ReferenceMethod("a2_minmax")]
    private static void MinMax(ReferenceCase c)
    {
        var lines = SizeReferences.Lines(c);
        var options = new MixtureOptions(c.Input["sigma_floor"].Number(), Starts);
        var counts = c.Input["component_counts"].Items.Select(k => k.Whole()).ToArray();
        Compare(c, [.. counts.Select(k => RangeFit.FitPooled(lines, k, options))]);
    }

    private static void Compare(ReferenceCase c, SizeFit[] fits)
    {
        var listed = c.Expected["by_components"].Items;
        Assert.Equal(fits.Length, listed.Count);
        var agree = new bool[fits.Length];
        for (var i = 0; i < fits.Length; i++)
        {
            c.Check("K", listed[i]["K"].Number(), fits[i].Mixture.Components, "bic");
            agree[i] = CheckLogLikelihood(c, listed[i]["loglik"], fits[i].Summary.LogLikelihood);
            if (agree[i])
            {
                listed[i]["bic"].Check(fits[i].Bic, "bic");
                if (listed[i]["sigma_at_floor"].Bool() != fits[i].SpreadAtFloor)
                {
                    c.Fail($"K = {fits[i].Mixture.Components}: sigma_at_floor is {fits[i].SpreadAtFloor}");
                }
            }
            else
            {
                const string Better = "our log-likelihood is higher: another maximum";
                listed[i]["bic"].NotCompared(Better);
                listed[i]["sigma_at_floor"].NotCompared(Better);
            }
        }

        var best = fits.MinBy(f => f.Bic)!;
        var chosen = c.Expected["chosen_K"].Whole();
        var at = Array.FindIndex(fits, f => f.Mixture.Components == chosen);
        if (agree.All(a => a))
        {
            c.Check("chosen_K", chosen, best.Mixture.Components, "bic");
        }

        if (c.Expected.Has("bic_margin_to_next"))
        {
            var margin = c.Expected["bic_margin_to_next"];
            if (margin.Kind == JsonValueKind.Number && agree.All(a => a))
            {
                // The margin is a difference of two numbers that each have the tolerance of bic.
                var got = fits.Select(f => f.Bic).Order().Skip(1).First() - best.Bic;
                var (absolute, relative) = c.Tolerance("bic");
                if (Math.Abs(margin.Number() - got) > 2 * (absolute + relative * Math.Abs(best.Bic)))
                {
                    c.Fail($"bic_margin_to_next: expected {margin.Number()}, got {got}");
                }
            }
            else
            {
                margin.NotCompared("one model only, or another maximum than the reference's");
            }
        }

        var unique = !c.Expected.Has("compare_parameters") || c.Expected["compare_parameters"].Bool();
        // Cases without the flag still have no parameters to compare where a spread sits on the floor.
        unique &= c.Expected.Has("compare_parameters") || !fits[at].SpreadAtFloor;
        if (!agree[at] || !unique)
        {
            var why = "the reference README: parameters only when the logliks agree and compare_parameters is true";
            foreach (var name in new[] { "chosen", "median", "quantiles", "grade_shares" })
            {
                if (c.Expected.Has(name))
                {
                    c.Expected[name].NotCompared(why);
                }
            }

            c.Input["grades"].NotCompared(why);
            return;
        }

        var mixture = fits[at].Mixture;
        var expected = c.Expected["chosen"];
        for (var k = 0; k < chosen; k++)
        {
            expected["weight"].Items[k].Check(mixture.Weights[k], "weight");
            expected["meanlog"].Items[k].Check(mixture.MeanLog[k], "meanlog");
            expected["sdlog"].Items[k].Check(mixture.SdLog[k], "sdlog");
        }

        if (c.Expected.Has("median"))
        {
            c.Expected["median"].Check(mixture.Median, "median");
        }

        if (c.Expected.Has("quantiles"))
        {
            foreach (var q in c.Expected["quantiles"].Items)
            {
                q["value"].Check(mixture.Quantile(q["q"].Number()), "median");
            }
        }

        CheckGradeShares(c, mixture);
    }

    private static void CheckGradeShares(ReferenceCase c, LognormalMixture mixture)
    {
        // a2_hier lists the shares of the generator's standard grades without repeating their edges.
        (double From, double To)[] grades = c.Input.Has("grades")
            ? [.. c.Input["grades"].Items.Select(g => (g["lo"].Number(), g["hi"].Number()))]
            : [(0, 50), (50, 100), (100, 180), (180, double.PositiveInfinity)];
        var shares = c.Expected["grade_shares"].Items;
        for (var g = 0; g < grades.Length; g++)
        {
            shares[g].Check(mixture.Share(grades[g].From, grades[g].To), "share");
        }
    }

    /// <summary>A lower log-likelihood fails, an equal one lets parameters be compared, a higher one passes.</summary>
    private static bool CheckLogLikelihood(ReferenceCase c, ReferenceCase.Node expected, double got)
    {
        var (absolute, relative) = c.Tolerance("loglik");
        if (got - expected.Number() > absolute + relative * Math.Abs(expected.Number()))
        {
            return false;
        }

        expected.Check(got, "loglik");
        return true;
    }

    [ReferenceMethod("a2_hier")]
    private static void Hierarchical(ReferenceCase c)
    {
        var lines = SizeReferences.Lines(c);
        if (c.Expected.Has("loglik_each"))
        {
            var m = c.Input["mean_share_of_second"].Number();
            var mixture = new LognormalMixture([1 - m, m], c.Input["meanlog"].Numbers(), c.Input["sdlog"].Numbers());
            var phi = c.Input["phi"].Number();
            var each = c.Expected["loglik_each"].Items;
            for (var i = 0; i < lines.Count; i++)
            {
                each[i].Check(lines[i].Weight * RangeFit.LogProbability(lines[i], mixture, phi), "loglik_each");
            }

            return;
        }

        var fit = RangeFit.Fit(lines, 2, new(c.Input["sigma_floor"].Number(), Starts));
        var agree = CheckLogLikelihood(c, c.Expected["loglik"], fit.Summary.LogLikelihood);
        var pooledAgree = CheckLogLikelihood(c, c.Expected["loglik_pooled"], fit.PooledLogLikelihood);
        const string Better = "our log-likelihood is higher: another maximum";
        var boundary = c.Expected["pooled_boundary"].Bool();
        if (agree && pooledAgree && boundary != fit.PooledBoundary)
        {
            c.Fail($"pooled_boundary: expected {boundary}, got {fit.PooledBoundary}");
        }

        if (!agree)
        {
            foreach (var name in new[] { "meanlog", "sdlog", "mean_share_of_second", "phi", "grade_shares" })
            {
                c.Expected[name].NotCompared(Better);
            }

            return;
        }

        // The reference numbers its groups by the start, ours by size.
        var mu = c.Expected["meanlog"].Items;
        var swapped = mu[0].Number() > mu[1].Number();
        for (var k = 0; k < 2; k++)
        {
            var mine = swapped ? 1 - k : k;
            mu[k].Check(fit.Mixture.MeanLog[mine], "meanlog");
            c.Expected["sdlog"].Items[k].Check(fit.Mixture.SdLog[mine], "sdlog");
        }

        c.Expected["mean_share_of_second"].Check(fit.Mixture.Weights[swapped ? 0 : 1], "mean_share_of_second");
        if (boundary)
        {
            c.Expected["phi"].NotCompared("the case's own note: phi is not compared at the pooled boundary");
        }
        else
        {
            c.Expected["phi"].Check(fit.Concentration, "phi");
        }

        CheckGradeShares(c, fit.Mixture);
    }
}
