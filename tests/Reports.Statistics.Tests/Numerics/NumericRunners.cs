namespace Reports.Statistics.Tests;

public static class NumericRunners
{
    [ReferenceMethod("n_numeric")]
    internal static void MomentCase(ReferenceCase c)
    {
        double[] values;
        if (c.Input.Has("values"))
        {
            values = c.Input["values"].Numbers();
        }
        else
        {
            var pattern = c.Input["alternating"].Numbers();
            values =
            [
                c.Input["first"].Number(),
                .. Enumerable.Range(0, c.Input["repeats"].Whole()).SelectMany(_ => pattern),
            ];
        }

        var got = Moments.Of(values);
        c.Expected["mean"].Check(got.Mean, "mean");
        c.Expected["sd_n_minus_1"].Check(got.StandardDeviation ?? double.NaN, "sd_n_minus_1");
    }
}
