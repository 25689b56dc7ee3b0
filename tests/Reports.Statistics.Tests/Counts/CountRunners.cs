using System.Text.Json;

namespace Reports.Statistics.Tests;

/// <summary>Checks the cases of catch counts against the answers of R that stand beside them.</summary>
public static class CountRunners
{
    [ReferenceMethod("c_negbin")]
    internal static void NegativeBinomialCase(ReferenceCase c)
    {
        var counts = c.Input["counts"].Wholes();
        var fit = NegativeBinomial.Fit(counts, c.Input["weights"].Numbers());
        c.Expected["mean"].Check(fit.Mean, "mean");
        // NaN in the file means unknown; the library says null.
        c.Expected["k"].Check(fit.K ?? double.NaN, "k");
        c.Expected["loglik"].Check(fit.Fit.LogLikelihood, "loglik");
        c.Expected["loglik_poisson"].Check(fit.PoissonLogLikelihood, "loglik");
        c.Expected["prob_none"].Check(fit.Distribution.ProbabilityOfNone, "prob");
        c.CheckTruth("boundary_poisson", fit.AtPoissonBoundary);
        if (c.Input.Has("bag_limit") && c.Input["bag_limit"].Kind == JsonValueKind.Number)
        {
            c.Expected["prob_bag_limit"].Check(fit.Distribution.AtLeast(c.Input["bag_limit"].Whole()), "prob");
        }

        if (c.Expected.Has("se_mean"))
        {
            c.Expected["se_mean"].Check(fit.StandardErrorOfMean, "se");
            c.Expected["se_k"].Check(fit.StandardErrorOfK ?? double.NaN, "se");
        }
    }

    [ReferenceMethod("c_glm")]
    internal static void RegressionCase(ReferenceCase c)
    {
        double[][] rows = c.Input["X"].Matrix();
        var counts = c.Input["counts"].Wholes();
        var exposure = c.Input["exposure"].Numbers();
        var poisson = CountRegression.FitPoisson(rows, counts, exposure);
        var expected = c.Expected["poisson"];
        CheckEach(expected["coefficients"], poisson.Coefficients, "coefficients");
        CheckEach(expected["standard_errors"], poisson.StandardErrors, "standard_errors");
        expected["loglik"].Check(poisson.Fit.LogLikelihood, "loglik");
        expected["deviance"].Check(poisson.Deviance, "deviance");
        // The file names no tolerance for Pearson's statistic; it is of the deviance's kind.
        expected["pearson_chisq"].Check(poisson.PearsonChiSquare, "pearson_chisq", "deviance");

        var fit = CountRegression.FitNegativeBinomial(rows, counts, exposure);
        expected = c.Expected["negative_binomial"];
        if (expected["boundary_poisson"].Bool() != fit.AtPoissonBoundary)
        {
            c.Fail($"boundary_poisson: got {fit.AtPoissonBoundary}");
        }

        if (!expected["boundary_poisson"].Bool())
        {
            CheckEach(expected["coefficients"], fit.Coefficients, "coefficients");
            CheckEach(expected["standard_errors"], fit.StandardErrors, "standard_errors");
            expected["theta"].Check(fit.Theta, "theta");
            expected["loglik"].Check(fit.Fit.LogLikelihood, "loglik");
        }
    }

    [ReferenceMethod("c_trip")]
    internal static void TripCase(ReferenceCase c)
    {
        BoatSummary[] boats =
        [
            .. c.Input["trips"]
                .Items.Select(t => new BoatSummary(
                    t["anglers"].Whole(),
                    t["total"].Whole(),
                    t["zeros"].WholeOrUnknown(),
                    t["top"].WholeOrUnknown(),
                    t["bag"].WholeOrUnknown()
                )),
        ];
        if (c.Expected.Has("loglik_each"))
        {
            var angler = new CountDistribution(c.Input["mean"].Number(), c.Input["k"].Number());
            var each = c.Expected["loglik_each"].Items;
            Assert.Equal(boats.Length, each.Count);
            for (var i = 0; i < boats.Length; i++)
            {
                var got = BoatCatch.LogProbability(boats[i], angler);
                if (each[i].Number() <= -1e6)
                {
                    // The file marks an impossible summary by -1e6 and asks for -infinity (note of the case).
                    Assert.Equal(double.NegativeInfinity, got);
                }
                else
                {
                    each[i].Check(got, "loglik_each");
                }
            }

            return;
        }

        var fit = BoatCatch.Fit(boats);
        c.CheckTruth("boundary_poisson", fit.AtPoissonBoundary);
        c.Expected["mean"].Check(fit.Mean, "mean");
        c.Expected["k"].Check(fit.K ?? double.NaN, "k");
        c.Expected["loglik"].Check(fit.Fit.LogLikelihood, "loglik");
        c.Expected["loglik_poisson"].Check(fit.PoissonLogLikelihood, "loglik");
        c.Expected["prob_none"].Check(fit.Distribution.ProbabilityOfNone, "prob");
    }

    internal static void CheckEach(ReferenceCase.Node expected, double[] got, params string[] toleranceNames)
    {
        Assert.Equal(expected.Items.Count, got.Length);
        for (var i = 0; i < got.Length; i++)
        {
            expected.Items[i].Check(got[i], toleranceNames);
        }
    }

    internal static int[] Wholes(this ReferenceCase.Node node) => [.. node.Items.Select(i => i.Whole())];

    internal static int? WholeOrUnknown(this ReferenceCase.Node node) =>
        node.Number() is var x && double.IsNaN(x) ? null : checked((int)x);

    internal static void CheckTruth(this ReferenceCase c, string field, bool got)
    {
        if (c.Expected[field].Bool() != got)
        {
            c.Fail($"{field}: expected {!got}, got {got}");
        }
    }
}
