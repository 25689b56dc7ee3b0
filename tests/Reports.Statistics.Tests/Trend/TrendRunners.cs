namespace Reports.Statistics.Tests;

public static class TrendRunners
{
    [ReferenceMethod("f_trend")]
    internal static void TrendCase(ReferenceCase c)
    {
        var got = MannKendall.Test(c.Input["time"].Numbers(), c.Input["value"].Numbers(), c.Input["level"].Number());
        c.Expected["S"].Check(got.S);
        c.Expected["var_S"].Check(got.VarianceOfS);
        c.Expected["Z"].Check(got.Z);
        c.Expected["p_two_sided"].Check(got.P);
        c.Expected["slope"].Check(got.Slope);
        c.Expected["slope_lo"].Check(got.SlopeLow);
        c.Expected["slope_hi"].Check(got.SlopeHigh);
        c.Expected["pairs"].Check(got.Pairs);
        if (c.Expected.Given("p_exact"))
        {
            c.Expected["p_exact"].Check(got.PExact ?? double.NaN);
        }
        else
        {
            Assert.Null(got.PExact);
        }
    }

    [ReferenceMethod("f_rate")]
    internal static void RateCase(ReferenceCase c)
    {
        var got = RateRatio.Test(
            c.Input["count_1"].Whole(),
            c.Input["exposure_1"].Number(),
            c.Input["count_2"].Whole(),
            c.Input["exposure_2"].Number(),
            c.Input["level"].Number()
        );
        c.Expected["ratio"].Check(got.Ratio ?? double.NaN);
        c.Expected["lo"].Check(got.Low);
        c.Expected["hi"].Check(got.High);
        c.Expected["p_minlike"].Check(got.PMinimumLikelihood);
        c.Expected["p_double_tail"].Check(got.PDoubledTail);
        c.Expected["p_mid"].Check(got.PMid);
    }
}
