using CsCheck;

namespace Reports.Statistics.Tests;

public sealed class MantelHaenszelTests
{
    private static readonly Gen<TwoByTwo[]> Strata = Gen.Int[0, 15]
        .Array[4]
        .Select(c => new TwoByTwo(c[0], c[1], c[2], c[3]))
        .Array[1, 6]
        .Where(s => s.Sum(t => t.A + t.B + t.C + t.D) > 0);

    [Fact]
    public void Swapping_the_rigs_inverts_the_ratio() =>
        Draws.ForAll(
            Strata,
            200,
            strata =>
            {
                var got = MantelHaenszel.Compare(strata);
                var swapped = MantelHaenszel.Compare([
                    .. strata.Select(t => new TwoByTwo(t.C, t.D, t.A, t.B)).Reverse(),
                ]);
                Assert.Equal(got.OddsRatio is null, swapped.OddsRatio is null);
                if (got.Low is not { } low || got.OddsRatio is not { } ratio)
                {
                    Assert.Null(got.Homogeneity);
                    return;
                }

                Assert.Equal(1, ratio * swapped.OddsRatio!.Value, 1e-10);
                Assert.InRange(ratio, low, got.High!.Value);
                Assert.Equal(got.StandardErrorOfLog!.Value, swapped.StandardErrorOfLog!.Value, 1e-10);
                if (got.Test is { } test)
                {
                    Assert.Equal(test.Statistic, swapped.Test!.Value.Statistic, 1e-8);
                    Assert.InRange(test.P, 0, 1);
                    Assert.True(got.TestCorrected!.Value.P >= test.P);
                }

                if (got.Homogeneity is { } same)
                {
                    Assert.Equal(same.Tarone, swapped.Homogeneity!.Tarone, 1e-6 * (1 + same.Tarone));
                    Assert.True(same.Tarone <= same.BreslowDay + 1e-9 && same.P is >= 0 and <= 1);
                }
            }
        );

    [Fact]
    public void One_stratum_is_the_plain_odds_ratio()
    {
        // ad / bc and the variance 1/a + 1/b + 1/c + 1/d, to which Robins-Breslow-Greenland reduces.
        var got = MantelHaenszel.Compare([new(7, 3, 4, 8)]);
        Assert.Equal(56 / 12.0, got.OddsRatio!.Value, 1e-14);
        Assert.Equal(Math.Sqrt(1 / 7.0 + 1 / 3.0 + 1 / 4.0 + 1 / 8.0), got.StandardErrorOfLog!.Value, 1e-14);
    }

    [Fact]
    public void Strata_without_information_change_nothing()
    {
        TwoByTwo[] strata = [new(4, 2, 3, 5), new(9, 4, 3, 6)];
        var got = MantelHaenszel.Compare(strata);
        var more = MantelHaenszel.Compare([
            .. strata,
            new(0, 3, 0, 4),
            new(5, 0, 6, 0),
            new(0, 0, 2, 3),
            new(0, 0, 0, 0),
            new(1, 0, 0, 0),
        ]);
        Assert.Equal(got, more);
    }

    [Fact]
    public void The_same_odds_in_all_strata_are_homogeneous()
    {
        // Odds ratio 4 in both: (2/1)/(1/2) and (4/2)/(3/6).
        var got = MantelHaenszel.Compare([new(20, 10, 10, 20), new(40, 20, 30, 60)]);
        Assert.Equal(4, got.OddsRatio!.Value, 1e-12);
        Assert.Equal(0, got.Homogeneity!.BreslowDay, 1e-12);
        Assert.Equal(1, got.Homogeneity.P, 1e-6);
    }

    [Fact]
    public void What_is_no_table_is_refused()
    {
        Fault(SampleFault.Empty, []);
        Fault(SampleFault.NoWeight, [new(0, 0, 0, 0)]);
        Fault(SampleFault.Negative, [new(-1, 2, 3, 4)]);
        Fault(SampleFault.NotFinite, [new(1, double.NaN, 3, 4)]);

        static void Fault(SampleFault expected, TwoByTwo[] strata) =>
            Assert.Equal(expected, Assert.Throws<InvalidSampleException>(() => MantelHaenszel.Compare(strata)).Fault);
    }
}
