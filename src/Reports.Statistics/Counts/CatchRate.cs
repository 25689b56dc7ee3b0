using MathNet.Numerics;
using MathNet.Numerics.Distributions;

namespace Reports.Statistics;

/// <summary>Weak knowledge of a zone's catch rates, usually the coast's fit: normal on the logarithms; an infinite spread says nothing.</summary>
/// <param name="LogMean">Centre of ln(fish per angler).</param>
/// <param name="LogMeanSpread">Its standard deviation, above 0.</param>
/// <param name="LogBetweenShape">Centre of ln(between-day shape).</param>
/// <param name="LogBetweenShapeSpread">Its standard deviation, above 0.</param>
/// <param name="LogWithinK">Centre of ln(within-boat k).</param>
/// <param name="LogWithinKSpread">Its standard deviation, above 0.</param>
public sealed record CatchRatePrior(
    double LogMean = 0,
    double LogMeanSpread = double.PositiveInfinity,
    double LogBetweenShape = 0,
    double LogBetweenShapeSpread = double.PositiveInfinity,
    double LogWithinK = 0,
    double LogWithinKSpread = double.PositiveInfinity
)
{
    /// <summary>Log density, up to a constant; a spread that the model leaves out (infinite) has no term.</summary>
    internal double LogDensity(double logMean, double shape, double k) =>
        Term(logMean, LogMean, LogMeanSpread)
        + (double.IsPositiveInfinity(shape) ? 0 : Term(Math.Log(shape), LogBetweenShape, LogBetweenShapeSpread))
        + (double.IsPositiveInfinity(k) ? 0 : Term(Math.Log(k), LogWithinK, LogWithinKSpread));

    private static double Term(double x, double centre, double spread) =>
        double.IsPositiveInfinity(spread) ? 0 : -0.5 * (x - centre) * (x - centre) / (spread * spread);
}

/// <summary>Fish per angler with its two spreads: between boat-days, and between the anglers of one boat.</summary>
/// <param name="Mean">Fish per angler of an average boat-day (unit effort).</param>
/// <param name="BetweenShape">Gamma shape of a boat-day's mean; infinite when boat-days differ by chance alone.</param>
/// <param name="WithinK">Negative binomial k between the anglers of a boat; infinite when they share evenly.</param>
/// <param name="AtBetweenBoundary">The reports show no spread between boat-days.</param>
/// <param name="AtWithinBoundary">The reports show no spread between anglers beyond chance.</param>
/// <param name="PooledLogLikelihood">Log-likelihood with one mean for every boat-day (shape infinite).</param>
/// <param name="Fit">How the fit ended; its log-likelihood leaves the prior out.</param>
/// <param name="Covariance">Of the logarithms of the parameters that are not at a boundary, in the order mean, shape, k; null
/// when the likelihood is flat in some direction, or a single boat-day tells all there is.</param>
/// <param name="DegreesOfFreedom">Effective boat-days less one, for the intervals; infinite with a prior on the between-day
/// spread.</param>
public sealed record CatchRateFit(
    double Mean,
    double BetweenShape,
    double WithinK,
    bool AtBetweenBoundary,
    bool AtWithinBoundary,
    double PooledLogLikelihood,
    FitSummary Fit,
    double[][]? Covariance,
    double DegreesOfFreedom
)
{
    /// <summary>Chance that an angler of a coming trip gets at least one fish, over both spreads.</summary>
    public double AtLeastOne(double effort = 1) => AtLeast(1, effort);

    /// <summary>Chance that an angler of a coming trip gets at least <paramref name="fish"/>.</summary>
    public double AtLeast(int fish, double effort = 1)
    {
        var below = 0.0;
        for (var x = 0; x < fish; x++)
        {
            below += Probability(x, effort);
        }

        return Math.Clamp(1 - below, 0, 1);
    }

    /// <summary>Chance that an angler of a coming trip gets exactly this many.</summary>
    public double Probability(int fish, double effort = 1) =>
        fish < 0
            ? 0
            : Math.Exp(CatchRate.LogMarginal(new BoatSummary(1, fish, Effort: effort), Mean, BetweenShape, WithinK));

    /// <summary>Chances of 0, 1, ..., most fish for an angler of a coming trip; what is left of 1 is "more".</summary>
    public double[] Predictive(int most, double effort = 1)
    {
        if (most < 0)
        {
            throw new InvalidSampleException(SampleFault.Negative, nameof(most), "must not be negative");
        }

        var result = new double[most + 1];
        for (var x = 0; x <= most; x++)
        {
            result[x] = Probability(x, effort);
        }

        return result;
    }

    /// <summary>Interval for the mean, from the curvature in its logarithm; null where the likelihood is flat.</summary>
    public (double Low, double High)? MeanInterval(double level = 0.8)
    {
        Refuse.NotOpenProbability(level, nameof(level));
        if (Covariance is null || Mean == 0)
        {
            return null;
        }

        var reach = Reach(level) * Math.Sqrt(Covariance[0][0]);
        return (Mean * Math.Exp(-reach), Mean * Math.Exp(reach));
    }

    /// <summary>Interval for the odds of at least one, by the delta rule on the logit; null where the likelihood is flat.</summary>
    public (double Low, double High)? AtLeastOneInterval(double level = 0.8, double effort = 1)
    {
        Refuse.NotOpenProbability(level, nameof(level));
        if (Covariance is null || Mean == 0)
        {
            return null;
        }

        double[] at =
        [
            Math.Log(Mean),
            .. AtBetweenBoundary ? [] : new[] { Math.Log(BetweenShape) },
            .. AtWithinBoundary ? [] : new[] { Math.Log(WithinK) },
        ];
        double Logit(double[] p)
        {
            var i = 1;
            var shape = AtBetweenBoundary ? double.PositiveInfinity : Math.Exp(p[i++]);
            var k = AtWithinBoundary ? double.PositiveInfinity : Math.Exp(p[i]);
            var none = CatchRate.LogMarginal(new BoatSummary(1, 0, Effort: effort), Math.Exp(p[0]), shape, k);
            return Math.Log(-SpecialFunctions.Expm1(none)) - none;
        }

        var here = Logit(at);
        var gradient = NumericMaximum.Derivatives(Logit, at, here).Gradient;
        var variance = 0.0;
        for (var i = 0; i < at.Length; i++)
        {
            for (var j = 0; j < at.Length; j++)
            {
                variance += gradient[i] * Covariance[i][j] * gradient[j];
            }
        }

        var reach = Reach(level) * Math.Sqrt(variance);
        return (SpecialFunctions.Logistic(here - reach), SpecialFunctions.Logistic(here + reach));
    }

    /// <summary>
    /// Half-width in standard errors. The spread between boat-days is itself an estimate from few days and too small on
    /// average: as for a mean, Student's t and n/(n - 1) make up for it (measured in CatchRateTests).
    /// </summary>
    private double Reach(double level) =>
        double.IsPositiveInfinity(DegreesOfFreedom)
            ? Normal.InvCDF(0, 1, 0.5 + level / 2)
            : StudentT.InvCDF(0, 1, DegreesOfFreedom, 0.5 + level / 2)
                * Math.Sqrt((DegreesOfFreedom + 1) / DegreesOfFreedom);
}
