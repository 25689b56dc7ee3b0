namespace Reports.Statistics;

/// <summary>Fish per angler from boats' summaries, with the spread between boat-days and the spread between anglers kept apart.</summary>
/// <remarks>
/// <para>Model: a boat-day's mean mu ~ gamma(shape a, mean m); its anglers ~ negative binomial(mu e, k), e the effort;
/// likelihood of a boat = integral of P(T, Z, M | mu e, k) over the gamma (<see cref="BoatLikelihood"/> gives the inside).
/// Odds of at least one = 1 - integral of (1 + mu e/k)^-k: both spreads are integrated over, the mean is not plugged in.</para>
/// <para>Parameters: m fish per angler and unit of effort, m >= 0; a no unit, 0 &lt; a &lt;= infinity; k no unit,
/// 0 &lt; k &lt;= infinity; weights of reports >= 0.</para>
/// <para>Method: the integrand is log-concave in u = ln mu and analytic in a strip, so the trapezoid rule in u converges
/// geometrically (MathNet offers Gauss rules on a bounded interval only, which the small shapes defeat); the left tail is summed as the geometric series that it becomes. Maximum over (ln m, ln a, ln k) by Newton with
/// line search from the best of a grid; each boundary (a or k infinite) is fitted too and kept unless the interior gains more than
/// 1e-6, where the prior does not rule it out. With a prior the mode of likelihood times prior in the logarithms is returned.</para>
/// <para>Reference: gamma-mixed counts as Lawless 1987, Canadian J. Statistics 15:209-225; trapezoid rule, Trefethen and
/// Weideman 2014, SIAM Review 56:385-458, section 5 (both from memory). Small-sample behaviour is measured in
/// CatchRateTests, not quoted.</para>
/// <para>Accuracy: log marginal within 1e-11, relative, of the closed form (k infinite: negative binomial with mean N m, shape a)
/// and within 1e-10 of a fine grid elsewhere (CatchRateTests).</para>
/// </remarks>
public static class CatchRate
{
    /// <summary>Natural logarithm of a boat's likelihood, its weight left out.</summary>
    public static double LogMarginal(BoatSummary boat, double mean, double betweenShape, double withinK)
    {
        boat.Check();
        Refuse.NotPositive(betweenShape, nameof(betweenShape));
        Refuse.NotPositive(withinK, nameof(withinK));
        if (!(mean >= 0) || double.IsInfinity(mean))
        {
            throw new InvalidSampleException(SampleFault.OutOfRange, nameof(mean), "must be a number of at least zero");
        }

        return LogMarginal(new BoatLikelihood(boat, withinK), mean, betweenShape);
    }

    /// <summary>Fits mean, between-day shape and within-boat k.</summary>
    /// <exception cref="InvalidSampleException">No boats, all weight zero, a summary out of range, or impossible (top above total).</exception>
    public static CatchRateFit Fit(IReadOnlyList<BoatSummary> boats, CatchRatePrior? prior = null)
    {
        var fish = BoatSurface.CheckAll(boats);
        prior ??= new CatchRatePrior();
        if (fish == 0 && double.IsPositiveInfinity(prior.LogMeanSpread))
        {
            // Nobody caught anything: the likelihood is 1 at mean zero and tells of no spread.
            var zero = new FitSummary(StopReason.Boundary, 0, 0);
            return new CatchRateFit(0, double.PositiveInfinity, double.PositiveInfinity, true, true, 0, zero, null, 0);
        }

        var surface = new BoatSurface(boats, prior);
        var pooled = surface.Best(surface.Climb(between: false, within: false), surface.Climb(false, true));
        var best = surface.Best(pooled, surface.Climb(true, false), surface.Climb(true, true));
        var freedom = double.IsFinite(prior.LogBetweenShapeSpread)
            ? double.PositiveInfinity
            : Math.Max(0, BoatSurface.EffectiveBoats(boats) - 1);
        return new CatchRateFit(
            best.Mean,
            best.Shape,
            best.K,
            !best.Between,
            !best.Within,
            pooled.LogLikelihood,
            best.Summary,
            freedom > 1e-9 ? best.Covariance : null,
            freedom
        );
    }

    /// <summary>log of the integral of the boat's likelihood over the gamma of boat-day means.</summary>
    internal static double LogMarginal(BoatLikelihood boat, double mean, double shape)
    {
        if (mean == 0 || double.IsPositiveInfinity(shape))
        {
            return boat.LogLikelihood(mean);
        }

        if (!boat.Possible)
        {
            return double.NegativeInfinity;
        }

        // Density of u = ln(mu): sqrt(a / 2 pi) e^-stirling(a) exp(-a (mu/m - 1 - ln(mu/m))).
        var (total, anglers) = (boat.Boat.Total, boat.Boat.Anglers * boat.Boat.Effort);
        var constant = 0.5 * Math.Log(shape / (2 * Math.PI)) - Saddlepoint.StirlingError(shape);
        var logMean = Math.Log(mean);
        double LogIntegrand(double u)
        {
            var mu = Math.Exp(u);
            return boat.LogLikelihood(mu, u) + constant - shape * (mu / mean - 1 - (u - logMean));
        }

        // Start near the posterior mean. The step is a fraction of the posterior spread, and at most 0.2: the integrand is
        // analytic for imaginary parts up to pi/2, which leaves an error of e^(-pi^2/0.2).
        var centre = Math.Log((total + shape) / (anglers + shape / mean));
        var step = Math.Min(0.2, 0.6 / Math.Sqrt(boat.Curvature(Math.Exp(centre)) + shape * Math.Exp(centre) / mean));
        var highest = LogIntegrand(centre);
        var sum = 1.0; // relative to e^highest
        foreach (var direction in (ReadOnlySpan<int>)[1, -1])
        {
            for (var i = 1; i < 100_000; i++)
            {
                var u = centre + direction * i * step;
                var value = LogIntegrand(u);
                if (value > highest)
                {
                    sum = sum * Math.Exp(highest - value) + 1;
                    highest = value;
                    continue;
                }

                var term = Math.Exp(value - highest);
                sum += term;
                if (term < 1e-17)
                {
                    break;
                }

                if (direction < 0 && Math.Exp(u) * (anglers + shape / mean) < 1e-17)
                {
                    // Only e^((T + a) u) is left: the rest of the sum is a geometric series.
                    var fall = Math.Exp(-(total + shape) * step);
                    sum += term * fall / (1 - fall);
                    break;
                }
            }
        }

        return highest + Math.Log(sum * step);
    }
}
