using MathNet.Numerics.LinearAlgebra;

namespace Reports.Statistics;

/// <summary>The weighted log-likelihood of all boats over (ln mean, ln between-day shape, ln within-boat k), and its peaks.</summary>
internal sealed class BoatSurface(IReadOnlyList<BoatSummary> boats, CatchRatePrior prior)
{
    /// <summary>A shape or k above e^10 = 22,000 is less spread than any report could show.</summary>
    private const double LogBoundary = 10;

    /// <summary>An interior answer must gain this much log-likelihood over the boundary.</summary>
    private const double LeastGain = 1e-6;

    /// <summary>The part of a boat's likelihood that depends on k alone, kept for the last few values of k.</summary>
    private readonly Dictionary<double, BoatLikelihood[]> byK = [];

    private readonly double start = Math.Log(
        Math.Max(boats.Sum(b => b.Weight * b.Total), 0.5) / boats.Sum(b => b.Weight * b.Anglers * b.Effort)
    );

    /// <summary>Positive total weight and possible summaries, or a refusal; returns the weighted number of fish.</summary>
    internal static double CheckAll(IReadOnlyList<BoatSummary> boats)
    {
        Refuse.Empty(boats.Count, nameof(boats));
        double weight = 0;
        double fish = 0;
        foreach (var boat in boats)
        {
            boat.Check();
            if (!new BoatLikelihood(boat, 1).Possible)
            {
                throw new InvalidSampleException(
                    SampleFault.OutOfRange,
                    nameof(boats),
                    $"no catch of {boat.Anglers} anglers gives total {boat.Total}, blanks {boat.Blanks}, top {boat.Top}"
                );
            }

            weight += boat.Weight;
            fish += boat.Weight * boat.Total;
        }

        return weight > 0
            ? fish
            : throw new InvalidSampleException(SampleFault.NoWeight, nameof(boats), "all weights are zero");
    }

    /// <summary>(sum w)^2 / sum w^2: how many equally weighted boat-days the weights are worth (Kish 1965, from memory).</summary>
    internal static double EffectiveBoats(IReadOnlyList<BoatSummary> boats)
    {
        var total = boats.Sum(b => b.Weight);
        return total * total / boats.Sum(b => b.Weight * b.Weight);
    }

    /// <summary>The highest point of the model with or without each of the two spreads.</summary>
    internal Peak Climb(bool between, bool within)
    {
        double Value(double[] p)
        {
            var (logMean, shape, k) = Unpack(p, between, within);
            return LogLikelihood(Math.Exp(logMean), shape, k) + prior.LogDensity(logMean, shape, k);
        }

        // The grid finds the basin; the best two starts are climbed, for the surface can have two peaks in k.
        var starts =
            from logShape in between ? [-1.0, 1, 3] : (double[])[0]
            from logK in within ? [-4.5, -3, -1.5, 0, 1.5, 3, 5, 7] : (double[])[0]
            let point = (double[])[start, .. between ? [logShape] : (double[])[], .. within ? [logK] : (double[])[]]
            select (Point: point, Value: Value(point));
        var highest = starts
            .OrderByDescending(s => s.Value)
            .Take(2)
            .Select(s => NumericMaximum.Find(Value, s.Point, -20, LogBoundary + 1))
            .MaxBy(m => m.Value)!;
        var (logMean, shape, k) = Unpack(highest.At, between, within);
        var logLikelihood = LogLikelihood(Math.Exp(logMean), shape, k);
        return new Peak(between, within, Math.Exp(logMean), shape, k, highest, logLikelihood);
    }

    /// <summary>The best of several peaks, simplest first: a further spread must earn its place and be finite.</summary>
    internal Peak Best(params ReadOnlySpan<Peak> simplestFirst)
    {
        var best = simplestFirst[0];
        foreach (var peak in simplestFirst[1..])
        {
            if (
                Forbidden(best)
                || (peak.Maximum.Value > best.Maximum.Value + LeastGain && !peak.Beyond(Math.Exp(LogBoundary)))
            )
            {
                best = peak;
            }
        }

        return best;
    }

    /// <summary>A prior on a spread says that there is one.</summary>
    private bool Forbidden(Peak peak) =>
        (!peak.Between && double.IsFinite(prior.LogBetweenShapeSpread))
        || (!peak.Within && double.IsFinite(prior.LogWithinKSpread));

    private double LogLikelihood(double mean, double shape, double k)
    {
        if (!byK.TryGetValue(k, out var likelihoods))
        {
            if (byK.Count > 16)
            {
                byK.Clear();
            }

            byK[k] = likelihoods = [.. boats.Select(b => new BoatLikelihood(b, k))];
        }

        var sum = new CompensatedSum();
        foreach (var one in likelihoods)
        {
            if (one.Boat.Weight > 0)
            {
                sum.Add(one.Boat.Weight * CatchRate.LogMarginal(one, mean, shape));
            }
        }

        return sum.Value;
    }

    private static (double LogMean, double Shape, double K) Unpack(double[] p, bool between, bool within) =>
        (p[0], between ? Math.Exp(p[1]) : double.PositiveInfinity, within ? Math.Exp(p[^1]) : double.PositiveInfinity);

    internal sealed record Peak(
        bool Between,
        bool Within,
        double Mean,
        double Shape,
        double K,
        NumericMaximum Maximum,
        double LogLikelihood
    )
    {
        private readonly Matrix<double> information = -Maximum.Hessian;

        internal bool Beyond(double limit) => (Within && K > limit) || (Between && Shape > limit);

        /// <summary>Null where the surface is flat in some direction.</summary>
        internal double[][]? Covariance => Flat ? null : information.Inverse().ToRowArrays();

        internal FitSummary Summary =>
            new(
                !Maximum.Converged ? StopReason.IterationLimit
                    : Flat ? StopReason.Separated
                    : !Between || !Within ? StopReason.Boundary
                    : StopReason.Converged,
                Maximum.Iterations,
                LogLikelihood
            );

        private bool Flat =>
            !information.Enumerate().All(double.IsFinite)
            || information.Evd(Symmetricity.Symmetric).EigenValues.Real().Minimum() < 1e-7;
    }
}
