namespace Reports.Statistics;

/// <summary>
/// One choice situation: alternatives of one boat-day with what was counted of each.
/// </summary>
/// <param name="Features">One row of p numbers per alternative.</param>
/// <param name="Counts">How often each alternative was taken (>= 0); a single choice is one 1 among zeros.</param>
/// <param name="Offset">Added to each alternative's utility (for instance ln rods); null for none.</param>
/// <param name="Weight">As repeats, >= 0.</param>
public sealed record ChoiceStratum(
    IReadOnlyList<double[]> Features,
    double[] Counts,
    double[]? Offset = null,
    double Weight = 1
);

/// <summary>Strata checked once and laid out flat.</summary>
internal sealed class ChoiceTable
{
    internal ChoiceTable(IReadOnlyList<ChoiceStratum> strata)
    {
        RateInput.NotEmpty(strata.Count, nameof(strata));
        RateInput.NotEmpty(strata[0].Features.Count, nameof(strata));
        Columns = strata[0].Features[0].Length;
        RateInput.NotEmpty(Columns, nameof(strata));
        RateInput.Weights([.. strata.Select(s => s.Weight)], strata.Count);
        Starts = new int[strata.Count + 1];
        var alternatives = strata.Sum(s => s.Features.Count);
        (Features, Counts, Offset) = (
            new double[alternatives * Columns],
            new double[alternatives],
            new double[alternatives]
        );
        Weights = new double[strata.Count];
        var at = 0;
        for (var d = 0; d < strata.Count; d++)
        {
            var (features, counts, offset, weight) = strata[d];
            RateInput.NotEmpty(features.Count, nameof(strata));
            RateInput.SameLength(features.Count, counts.Length, nameof(ChoiceStratum.Counts));
            RateInput.NotNegative(counts, nameof(ChoiceStratum.Counts));
            RateInput.SameLength(features.Count, offset?.Length ?? counts.Length, nameof(ChoiceStratum.Offset));
            RateInput.Finite(offset, nameof(ChoiceStratum.Offset));
            Starts[d] = at;
            Weights[d] = weight;
            for (var j = 0; j < counts.Length; j++, at++)
            {
                RateInput.SameLength(Columns, features[j].Length, nameof(ChoiceStratum.Features));
                RateInput.Finite(features[j], nameof(ChoiceStratum.Features));
                features[j].CopyTo(Features, at * Columns);
                Counts[at] = counts[j];
                Offset[at] = offset?[j] ?? 0;
            }
        }

        Starts[strata.Count] = at;
        Longest = strata.Max(s => s.Counts.Length);
        if (!Enumerable.Range(0, strata.Count).Any(d => Weights[d] > 0 && CountsOf(d).Any(c => c > 0)))
        {
            throw new InvalidSampleException(SampleFault.NoWeight, nameof(strata), "hold no counts");
        }
    }

    internal int Columns { get; }
    internal int Strata => Weights.Length;
    internal int Longest { get; }
    internal int[] Starts { get; }
    internal double[] Features { get; }
    internal double[] Counts { get; }
    internal double[] Offset { get; }
    internal double[] Weights { get; }

    internal double[] CountsOf(int stratum) => Counts[Starts[stratum]..Starts[stratum + 1]];

    internal ReadOnlySpan<double> Row(int alternative) => Features.AsSpan(alternative * Columns, Columns);

    /// <summary>ln shares of a stratum into <paramref name="logShares"/>, utilities from the first Columns of b.</summary>
    internal void LogShares(int stratum, ReadOnlySpan<double> b, Span<double> logShares)
    {
        var first = Starts[stratum];
        for (var j = 0; j < logShares.Length; j++)
        {
            var row = Row(first + j);
            var utility = Offset[first + j];
            for (var k = 0; k < row.Length; k++)
            {
                utility += row[k] * b[k];
            }

            logShares[j] = utility;
        }

        Normalise(logShares);
    }

    /// <summary>Subtracts ln Σ exp from utilities: they become log shares.</summary>
    internal static void Normalise(Span<double> utilities)
    {
        var peak = double.NegativeInfinity;
        foreach (var u in utilities)
        {
            peak = Math.Max(peak, u);
        }

        var sum = 0.0;
        foreach (var u in utilities)
        {
            sum += Math.Exp(u - peak);
        }

        var log = peak + Math.Log(sum);
        foreach (ref var u in utilities)
        {
            u -= log;
        }
    }

    /// <summary>Σ_d w_d Σ_j y_dj ln π_dj with derivatives; no multinomial coefficients.</summary>
    internal double LogLikelihood(ReadOnlySpan<double> b, Span<double> gradient, Span<double> hessian)
    {
        gradient.Clear();
        hessian.Clear();
        var p = Columns;
        Span<double> buffer = Longest <= 128 ? stackalloc double[Longest] : new double[Longest];
        Span<double> centre = p <= 128 ? stackalloc double[p] : new double[p];
        var log = 0.0;
        for (var d = 0; d < Strata; d++)
        {
            var (first, size) = (Starts[d], Starts[d + 1] - Starts[d]);
            var shares = buffer[..size];
            var total = 0.0;
            LogShares(d, b, shares);
            for (var j = 0; j < size; j++)
            {
                var y = Counts[first + j];
                total += y;
                log += y > 0 ? Weights[d] * y * shares[j] : 0;
                shares[j] = Math.Exp(shares[j]);
            }

            if (gradient.IsEmpty || total <= 0)
            {
                continue;
            }

            centre.Clear();
            for (var j = 0; j < size; j++)
            {
                var row = Row(first + j);
                for (var k = 0; k < p; k++)
                {
                    centre[k] += shares[j] * row[k];
                }
            }

            for (var j = 0; j < size; j++)
            {
                var row = Row(first + j);
                var residual = Weights[d] * (Counts[first + j] - total * shares[j]);
                var spread = Weights[d] * total * shares[j];
                for (var k = 0; k < p; k++)
                {
                    gradient[k] += residual * row[k];
                    for (var l = 0; l < p; l++)
                    {
                        hessian[k * p + l] -= spread * (row[k] - centre[k]) * (row[l] - centre[l]);
                    }
                }
            }
        }

        return log;
    }

    /// <summary>
    /// Does the likelihood rise for ever along coefficients without prior: in every stratum the alternatives taken gain
    /// as much as any other and, if several were taken, alike?
    /// </summary>
    internal bool IsCertificate(ReadOnlySpan<double> direction, GaussianPrior prior)
    {
        var moves = new double[Counts.Length];
        var largest = 0.0;
        for (var d = 0; d < Strata; d++)
        {
            if (Weights[d] <= 0 || CountsOf(d).Sum() <= 0)
            {
                continue;
            }

            var top = double.NegativeInfinity;
            for (var j = Starts[d]; j < Starts[d + 1]; j++)
            {
                var row = Row(j);
                for (var k = 0; k < Columns; k++)
                {
                    moves[j] += row[k] * direction[k];
                }

                top = Math.Max(top, moves[j]);
            }

            for (var j = Starts[d]; j < Starts[d + 1]; j++)
            {
                moves[j] -= top;
                largest = Math.Max(largest, -moves[j]);
            }
        }

        var slack = 1e-6 * largest;
        for (var k = 0; k < Columns; k++)
        {
            if (prior.Precision[k] > 0 && Math.Abs(direction[k]) > slack)
            {
                return false;
            }
        }

        for (var d = 0; d < Strata; d++)
        {
            for (var j = Starts[d]; j < Starts[d + 1]; j++)
            {
                if (Weights[d] > 0 && Counts[j] > 0 && moves[j] < -slack)
                {
                    return false;
                }
            }
        }

        return largest > 0;
    }
}

/// <summary>
/// Which alternative was taken, in the share that its utility claims.
/// <para>Model: P(j | stratum d) = exp(o_dj + b'x_dj) / Σ_k exp(o_dk + b'x_dk); several counts in a stratum are multinomial.</para>
/// <para>Parameters: b in log rate per unit of x, any real number; o offset in log rate; counts >= 0; weights >= 0 as
/// repeats; Gaussian prior. What is the same for all alternatives of a stratum cancels. Log-likelihoods have no
/// multinomial coefficients.</para>
/// <para>Method: Newton ascent (concave); separation as in <see cref="Logistic"/>: then a Normal(mean, 2²) prior is put
/// on the free coefficients and <see cref="StopReason.Separated"/> said.</para>
/// <para>Reference: McFadden 1974, in Zarembka (ed.), Frontiers in Econometrics, pp. 105-142; Breslow &amp; Day 1980,
/// section 7.2 (matched sets).</para>
/// <para>Accuracy: coefficients and standard errors 1e-9 against R 4.2.2 clogit on its infertility data.</para>
/// </summary>
public static class ConditionalLogit
{
    /// <summary>Precision of the prior put on coefficients that the data would send to infinity.</summary>
    internal const double SeparatedPrecision = 0.25;

    /// <exception cref="InvalidSampleException">Empty, ragged, negative counts, nothing counted, or coefficients without prior that the data can't tell apart.</exception>
    public static CoefficientFit Fit(IReadOnlyList<ChoiceStratum> strata, GaussianPrior? prior = null)
    {
        var table = new ChoiceTable(strata);
        var p = table.Columns;
        var used = prior ?? GaussianPrior.None(p);
        used.Check(p);
        StopReason? reason = null;
        if (Separation(table, used))
        {
            used = used with { Precision = [.. used.Precision.Select(k => k > 0 ? k : SeparatedPrecision)] };
            reason = StopReason.Separated;
        }

        return Climb(table, used, reason);
    }

    private static CoefficientFit Climb(ChoiceTable table, GaussianPrior prior, StopReason? reason)
    {
        var p = table.Columns;
        var best = NewtonAscent.Climb(Value, new double[p]);
        var covariance =
            NewtonAscent.Covariance(best.Hessian, p)
            ?? throw new InvalidSampleException(
                SampleFault.OutOfRange,
                "strata",
                "can't tell the coefficients apart: give a prior or drop a column"
            );
        return new CoefficientFit(
            best.Point,
            covariance,
            new FitSummary(
                reason ?? (best.Converged ? StopReason.Converged : StopReason.IterationLimit),
                best.Iterations,
                table.LogLikelihood(best.Point, default, default)
            ),
            best.Value
        );

        double Value(ReadOnlySpan<double> at, Span<double> gradient, Span<double> hessian) =>
            table.LogLikelihood(at, gradient, hessian) + prior.Add(at, gradient, hessian, p);
    }

    internal static bool Separation(ChoiceTable table, GaussianPrior prior)
    {
        var p = table.Columns;
        if (prior.Precision.All(k => k > 0))
        {
            return false;
        }

        var at = new double[p];
        for (var iteration = 0; iteration < 60; iteration++)
        {
            var next = NewtonAscent.Climb(Value, at, tolerance: 1e-14, limit: 1).Point;
            var step = next.Zip(at, (a, b) => a - b).ToArray();
            if (step.Max(Math.Abs) < 1e-7)
            {
                return false;
            }

            if (table.IsCertificate(step, prior))
            {
                return true;
            }

            at = next;
        }

        return false;

        double Value(ReadOnlySpan<double> x, Span<double> gradient, Span<double> hessian) =>
            table.LogLikelihood(x, gradient, hessian) + prior.Add(x, gradient, hessian, p);
    }
}
