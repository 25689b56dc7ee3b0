using NegativeBinomialDistribution = MathNet.Numerics.Distributions.NegativeBinomial;

namespace Reports.Statistics.Tests;

/// <summary>Expected numbers: mpmath, 60 digits, from the log-gamma form.</summary>
public sealed class SaddlepointTests
{
    [Theory]
    [InlineData(24, 24, 1e10, -2.5114374709616243171)]
    [InlineData(3, 1.7, 0.9, -2.419989708233592475)]
    [InlineData(0, 1.7, 1e12, -1.699999999998555)]
    [InlineData(1000000, 1000000, 0.5, -15.234449341168926013)]
    [InlineData(999000, 1000000, 1000000, -8.4226422878052965095)]
    [InlineData(50, 0.001, 0.001, -45.473352066215798664)]
    [InlineData(5, 5, 1e6, -1.7403046806057108067)]
    [InlineData(120, 40, 300000, -55.13638915086251633)]
    public void Negative_binomial(int x, double mean, double k, double expected) =>
        Assert.Equal(expected, new CountDistribution(mean, k).LogProbability(x), 2e-14 * Math.Max(1, -expected));

    [Theory]
    [InlineData(0, 0.3, -0.3)]
    [InlineData(1000000, 1000300, -7.8716848975446572486)]
    [InlineData(7, 2.5, -4.6111262379463288439)]
    [InlineData(300, 20, -536.18616787887069052)]
    public void Poisson_probability(int x, double mean, double expected) =>
        Assert.Equal(expected, CountDistribution.Poisson(mean).LogProbability(x), 2e-14 * Math.Max(1, -expected));

    [Fact]
    public void The_log_gamma_form_loses_digits_where_k_is_large()
    {
        // Why MathNet's own negative binomial is not used: at k 1e10 its log-gammas are near 2e11.
        const double exact = -2.5114374709616243171;
        var theirs = new NegativeBinomialDistribution(1e10, 1e10 / (1e10 + 24)).ProbabilityLn(24);
        Assert.True(Math.Abs(theirs - exact) > 1e-8, $"MathNet is off by {theirs - exact:E2} only");
    }
}
