namespace Reports.Statistics.Tests;

/// <summary>Cases of methods a1_npmle and a3_shares (sources beside each case in the reference files).</summary>
public static class NpmleReferenceTests
{
    [ReferenceMethod("a1_npmle")]
    private static void Npmle(ReferenceCase c)
    {
        var observations = SizeReferences.Observations(c);
        var fit = IntervalNpmle.Fit(observations);
        var required = c.ToleranceNumber("kkt_gap_required");
        if (!(fit.Gap <= required) || !(GapByDefinition(observations, fit) <= required))
        {
            c.Fail($"KKT gap {fit.Gap:E2}, by its definition {GapByDefinition(observations, fit):E2}");
        }

        c.Expected["max_kkt_gap"].NotCompared("the size of the reference's own gap; ours is held to kkt_gap_required");
        c.Expected["loglik"].Check(fit.Summary.LogLikelihood, "loglik");
        var fitted = c.Expected["fitted_probability_of_each_observation"];
        for (var i = 0; i < observations.Count; i++)
        {
            fitted.Items[i].Check(fit.FittedProbabilities[i], "fitted_probability_of_each_observation");
        }

        // Masses on a line are unique (see IntervalNpmle); a case may still say that its source could not tell.
        var unique = c.Expected["mass_unique"].Bool();
        if (!unique)
        {
            c.Expected["support"].NotCompared("the reference README: compare support only when mass_unique");
            return;
        }

        var rest = fit.Support.ToList();
        foreach (var s in c.Expected["support"].Items)
        {
            var (lo, hi) = (s["lo"].Number(), s["hi"].Number());
            var mine = rest.Find(x =>
                Math.Abs(x.Lower - lo) <= 1e-9 && (x.Upper.Equals(hi) || Math.Abs(x.Upper - hi) <= 1e-9)
            );
            s["p"].Check(mine?.Mass ?? 0, "p");
            if (mine is not null)
            {
                rest.Remove(mine);
            }
        }

        c.Check("mass outside the listed support", 0, rest.Sum(x => x.Mass), "p");
    }

    /// <summary>The gap written out from its definition over all maximal intersections, by brute force.</summary>
    private static double GapByDefinition(List<IntervalObservation> observations, IntervalNpmle fit)
    {
        // d is constant between ends, so its maximum is found at the ends and between neighbours.
        var places = observations.SelectMany(o => new[] { o.Lower, o.Upper }).Distinct().Order().ToArray();
        var between = places.Zip(places.Skip(1), (a, b) => double.IsInfinity(b) ? a + 1 : a + (b - a) / 2);
        var W = observations.Sum(o => o.Weight);
        return places
                .Concat(between)
                .Max(x =>
                    observations
                        .Select((o, i) => (o, i))
                        .Where(t =>
                            (t.o.LowerOpen ? t.o.Lower < x : t.o.Lower <= x)
                            && (t.o.UpperOpen ? x < t.o.Upper : x <= t.o.Upper)
                        )
                        .Sum(t => t.o.Weight / fit.FittedProbabilities[t.i])
                ) / W
            - 1;
    }

    [ReferenceMethod("a3_shares")]
    private static void Shares(ReferenceCase c)
    {
        var lines = SizeReferences.Lines(c);
        SizeReferences.CheckIntervalType(c);
        var observations = SizeLine.Expand(lines, SizeReferences.Treatment(c));
        var fit = IntervalNpmle.Fit(observations);
        c.Expected["loglik"].Check(fit.Summary.LogLikelihood, "loglik");
        c.Expected["weight_total"].Check(fit.TotalWeight, "kish");
        c.Expected["kish_effective_lines"].Check(Evidence.KishSize([.. lines.Select(l => l.Weight)]), "kish");
        c.Expected["kish_effective_fish"]
            .Check(Evidence.KishSize([.. lines.Select(l => l.Weight)], [.. lines.Select(l => (double)l.Fish)]), "kish");
        var grades = c.Input["grades"].Items;
        for (var g = 0; g < grades.Count; g++)
        {
            var (lo, hi) = (grades[g]["lo"].Number(), grades[g]["hi"].Number());
            var expected = c.Expected["grade_shares"].Items[g];
            expected["lo"].Check(lo, "quantile");
            expected["hi"].Check(hi, "quantile");
            var (low, high) = fit.Share(lo, hi);
            expected["share_low"].Check(low, "share");
            expected["share_high"].Check(high, "share");
        }

        var probabilities = c.Input["probabilities"].Items;
        for (var k = 0; k < probabilities.Count; k++)
        {
            var q = probabilities[k].Number();
            var expected = c.Expected["quantiles"].Items[k];
            expected["q"].Check(q, "quantile");
            var (low, high) = fit.Quantile(q);
            expected["lower"].Check(low, "quantile");
            expected["upper"].Check(high, "quantile");
        }

        if (
            !c.Expected.Has("lr_interval_95")
            || c.Expected["lr_interval_95"].Kind != System.Text.Json.JsonValueKind.Array
        )
        {
            return;
        }

        foreach (var expected in c.Expected["lr_interval_95"].Items)
        {
            var (lo, hi) = (expected["lo"].Number(), expected["hi"].Number());
            // The reference takes the weights as counts here: no rescaling.
            var (low, high) = fit.ShareInterval(lo, hi, 0.95);
            expected["share"].Check(fit.Share(lo, hi).Low, "share");
            expected["ci_lo"].Check(low, "ci");
            expected["ci_hi"].Check(high, "ci");
        }
    }
}
