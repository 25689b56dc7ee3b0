namespace Reports.Statistics;

/// <summary>
/// What is known beforehand of a spread (a standard deviation): half-normal with a scale, or a fixed value.
/// </summary>
public readonly record struct SpreadPrior
{
    private SpreadPrior(double value, bool isFixed) => (Value, IsFixed) = (value, isFixed);

    internal double Value { get; }
    internal bool IsFixed { get; }

    /// <summary>Density proportional to exp(-s²/(2 scale²)), s >= 0; scale > 0 in the unit of the spread.</summary>
    public static SpreadPrior HalfNormal(double scale) => new(scale, false);

    /// <summary>Held at this value; 0 leaves the spread out of the model.</summary>
    public static SpreadPrior Fixed(double value) => new(value, true);

    internal void Check(string parameter)
    {
        RateInput.NotNegative(Value, parameter);
        if (!IsFixed && Value <= 0)
        {
            throw new InvalidSampleException(SampleFault.OutOfRange, parameter, "the scale must be positive");
        }
    }
}

/// <summary>A slope of one stratum: posterior mean and standard deviation given the fitted values.</summary>
public readonly record struct StratumSlope(double Mean, double StandardDeviation);

/// <param name="Fixed">β, with covariance that carries the uncertainty of the spreads; the slope's entry is its centre s.</param>
/// <param name="SlopeSpread">τ, standard deviation of the strata's slopes about s.</param>
/// <param name="Overdispersion">ω = 1/√φ; 0: plain multinomial.</param>
/// <param name="Slopes">s_d of each stratum, in the order given.</param>
/// <param name="Summary">How the fit ended; its log-likelihood is the marginal one, without priors.</param>
/// <param name="LogPosterior">The value climbed: marginal log-likelihood plus log priors (Jacobians of ln τ and ln ω included).</param>
public sealed record RandomSlopeFit(
    CoefficientFit Fixed,
    double SlopeSpread,
    double Overdispersion,
    StratumSlope[] Slopes,
    FitSummary Summary,
    double LogPosterior
);

/// <summary>
/// Hook-ups of several rigs within boat-days, the effect of one feature differing from day to day.
/// <para>Model: in stratum d the counts y_dj of total n_d are multinomial with shares π_dj proportional to
/// exp(o_dj + β'z_dj + (s_d - s) x_dj), s_d ~ Normal(s, τ²), where x is one of the columns of z and s its coefficient; with
/// overdispersion, Dirichlet-multinomial: shares ~ Dirichlet(φ π_d), φ = 1/ω².</para>
/// <para>Parameters: β in log rate per unit of z, any real number; τ >= 0 in log rate per unit of x; ω >= 0 without unit
/// (a share π varies with variance π(1-π) ω²/(1+ω²)); o = ln rods or the like; weights as
/// repeats of a stratum. Priors: Gaussian on β; half-normal, or a fixed value, on τ and ω. What is the same for all
/// rigs of a stratum (boat, day, crew, school) cancels.</para>
/// <para>Method: one stage: posterior mode in (β, ln τ, ln ω) of the marginal likelihood, Newton ascent with analytic
/// derivatives from several starts; each stratum's integral over its slope by adaptive Gauss-Hermite quadrature (21
/// nodes centred on the mode, scaled by the curvature). Zero cells need nothing: a rig without a hook-up adds ln 1 to the
/// product. A spread that the data would set to 0 is held off 0 by the Jacobian of its logarithm, by about its prior's say.</para>
/// <para>Reference: McFadden &amp; Train 2000, J. Appl. Econometrics 15:447-470 (mixed logit); Guimarães &amp; Lindrooth 2007,
/// Econometrics J. 10:439-452 (Dirichlet-multinomial logit); Pinheiro &amp; Bates 1995, J. Comp. Graph. Stat. 4:12-35.</para>
/// <para>Accuracy: no published case is known. With τ = ω = 0 it equals <see cref="ConditionalLogit"/> to 1e-9; the marginal
/// likelihood equals a brute-force integral to 1e-8 for τ up to 2; its derivatives equal differences; simulated truth is recovered
/// (tests of this class).</para>
/// </summary>
public static class RandomSlopeChoice
{
    private const int NodeCount = 21;
    private static readonly GaussHermite Quadrature = new(NodeCount);

    /// <exception cref="InvalidSampleException">As <see cref="ConditionalLogit.Fit"/>; slope column out of range; scales not positive.</exception>
    public static RandomSlopeFit Fit(
        IReadOnlyList<ChoiceStratum> strata,
        int slopeColumn,
        GaussianPrior prior,
        SpreadPrior slopeSpread,
        SpreadPrior overdispersion
    )
    {
        var model = new Model(new ChoiceTable(strata), slopeColumn, prior, slopeSpread, overdispersion);
        var p = model.Columns;
        var start = ConditionalLogit.Fit(strata, prior);
        var size = model.Size;
        var best = NewtonAscent.ClimbFrom(
            model.LogPosterior,
            model.SpreadStarts().Select(s => start.Coefficients.Concat(s).ToArray()),
            1e-9
        );
        var all =
            NewtonAscent.Covariance(best.Hessian, size)
            ?? throw new InvalidSampleException(
                SampleFault.OutOfRange,
                nameof(strata),
                "can't tell the coefficients apart: give a prior or drop a column"
            );
        var covariance = new double[p * p];
        for (var j = 0; j < p; j++)
        {
            all.AsSpan(j * size, p).CopyTo(covariance.AsSpan(j * p));
        }

        var (tau, omega) = model.Spreads(best.Point);
        var reason =
            start.Summary.Stopped == StopReason.Separated ? StopReason.Separated
            : best.Converged ? StopReason.Converged
            : StopReason.IterationLimit;
        var summary = new FitSummary(reason, best.Iterations, model.LogLikelihood(best.Point, default, default));
        return new RandomSlopeFit(
            new CoefficientFit(best.Point[..p], covariance, summary, best.Value),
            tau,
            omega,
            model.Slopes(best.Point),
            summary,
            best.Value
        );
    }

    /// <summary>Marginal log-likelihood at given values, with the counting coefficients of the (Dirichlet-)multinomial left out.</summary>
    public static double LogLikelihood(
        IReadOnlyList<ChoiceStratum> strata,
        int slopeColumn,
        double[] coefficients,
        double slopeSpread,
        double overdispersion
    )
    {
        var table = new ChoiceTable(strata);
        var model = new Model(
            table,
            slopeColumn,
            GaussianPrior.None(table.Columns),
            SpreadPrior.Fixed(slopeSpread),
            SpreadPrior.Fixed(overdispersion)
        );
        RateInput.SameLength(table.Columns, coefficients.Length, nameof(coefficients));
        return model.LogLikelihood(coefficients, default, default);
    }

    /// <summary>The model with its layout of parameters: β, then ln τ and ln ω as far as they are free.</summary>
    internal sealed class Model
    {
        private readonly ChoiceTable table;
        private readonly int slope;
        private readonly GaussianPrior prior;
        private readonly SpreadPrior tauPrior;
        private readonly SpreadPrior omegaPrior;
        private readonly int tauAt;
        private readonly int omegaAt;

        internal Model(ChoiceTable table, int slope, GaussianPrior prior, SpreadPrior tau, SpreadPrior omega)
        {
            prior.Check(table.Columns);
            tau.Check("slopeSpread");
            omega.Check("overdispersion");
            if (slope < 0 || slope >= table.Columns)
            {
                throw new InvalidSampleException(SampleFault.OutOfRange, "slopeColumn", "is not a column");
            }

            (this.table, this.slope, this.prior, tauPrior, omegaPrior) = (table, slope, prior, tau, omega);
            tauAt = tau.IsFixed ? -1 : Columns;
            omegaAt = omega.IsFixed ? -1 : Columns + (tau.IsFixed ? 0 : 1);
            Size = Columns + (tau.IsFixed ? 0 : 1) + (omega.IsFixed ? 0 : 1);
        }

        internal int Columns => table.Columns;
        internal int Size { get; }

        internal (double Tau, double Omega) Spreads(ReadOnlySpan<double> at) =>
            (tauAt < 0 ? tauPrior.Value : Math.Exp(at[tauAt]), omegaAt < 0 ? omegaPrior.Value : Math.Exp(at[omegaAt]));

        /// <summary>Spreads to start from: small and large against their priors.</summary>
        internal IEnumerable<double[]> SpreadStarts()
        {
            foreach (var (tau, omega) in new[] { (0.15, 0.1), (0.7, 0.5) })
            {
                var start = new List<double>();
                if (tauAt >= 0)
                {
                    start.Add(Math.Log(tau * tauPrior.Value));
                }

                if (omegaAt >= 0)
                {
                    start.Add(Math.Log(omega * omegaPrior.Value));
                }

                yield return [.. start];
            }
        }

        internal double LogPosterior(ReadOnlySpan<double> at, Span<double> gradient, Span<double> hessian)
        {
            var (tau, omega) = Spreads(at);
            if (tau > 1e4 || omega > 1e4 || (tauAt >= 0 && tau < 1e-8) || (omegaAt >= 0 && omega < 1e-6))
            {
                return double.NegativeInfinity;
            }

            var log = LogLikelihood(at, gradient, hessian) + prior.Add(at, gradient, hessian, Size);
            log += Spread(tauAt, tau, tauPrior.Value, gradient, hessian);
            return log + Spread(omegaAt, omega, omegaPrior.Value, gradient, hessian);
        }

        /// <summary>ln s - s²/(2 scale²), the half-normal in the logarithm of the spread.</summary>
        private double Spread(int index, double s, double scale, Span<double> gradient, Span<double> hessian)
        {
            if (index < 0)
            {
                return 0;
            }

            var q = s * s / (scale * scale);
            if (!gradient.IsEmpty)
            {
                gradient[index] += 1 - q;
                hessian[index * Size + index] -= 2 * q;
            }

            return Math.Log(s) - q / 2;
        }

        internal double LogLikelihood(ReadOnlySpan<double> at, Span<double> gradient, Span<double> hessian)
        {
            gradient.Clear();
            hessian.Clear();
            var scratch = new Scratch(table.Longest, Size);
            var log = 0.0;
            for (var d = 0; d < table.Strata; d++)
            {
                if (table.Weights[d] > 0)
                {
                    log += table.Weights[d] * Stratum(d, at, scratch, gradient, hessian, out _);
                }
            }

            return log;
        }

        internal StratumSlope[] Slopes(ReadOnlySpan<double> at)
        {
            var slopes = new StratumSlope[table.Strata];
            var scratch = new Scratch(table.Longest, Size);
            for (var d = 0; d < slopes.Length; d++)
            {
                Stratum(d, at, scratch, default, default, out slopes[d]);
            }

            return slopes;
        }

        private sealed class Scratch(int alternatives, int size)
        {
            internal readonly double[] Base = new double[alternatives];
            internal readonly double[] LogShares = new double[alternatives];
            internal readonly double[] First = new double[alternatives];
            internal readonly double[] Second = new double[alternatives];
            internal readonly double[] Moves = new double[alternatives * size];
            internal readonly double[] Gradient = new double[size];
            internal readonly double[] Mean = new double[size];
            internal readonly double[] LogNodes = new double[NodeCount];
        }

        /// <summary>ln ∫ P(y_d | s + τu) φ(u) du, its derivatives times the weight, and the posterior of the slope.</summary>
        private double Stratum(
            int d,
            ReadOnlySpan<double> at,
            Scratch scratch,
            Span<double> gradient,
            Span<double> hessian,
            out StratumSlope slopeOfStratum
        )
        {
            var (tau, omega) = Spreads(at);
            var size = table.Starts[d + 1] - table.Starts[d];
            table.LogShares(d, at, scratch.Base.AsSpan(0, size));
            var wide = tau > 0;
            var (mode, curvature) = wide ? Mode(d, size, tau, omega, scratch) : (0.0, 1.0);
            var scale = 1 / Math.Sqrt(curvature);
            var nodes = wide ? NodeCount : 1;
            var logs = scratch.LogNodes;
            var peak = double.NegativeInfinity;
            for (var q = 0; q < nodes; q++)
            {
                var z = wide ? Quadrature.Nodes[q] : 0;
                var u = mode + scale * z;
                var log = Density(d, size, tau * u, omega, scratch, 0);
                logs[q] = wide ? log - 0.5 * u * u + 0.5 * z * z + Quadrature.LogWeights[q] : log;
                peak = Math.Max(peak, logs[q]);
            }

            double sum = 0,
                first = 0,
                second = 0;
            for (var q = 0; q < nodes; q++)
            {
                logs[q] = Math.Exp(logs[q] - peak);
                var u = wide ? mode + scale * Quadrature.Nodes[q] : 0;
                sum += logs[q];
                first += logs[q] * u;
                second += logs[q] * u * u;
            }

            first /= sum;
            slopeOfStratum = new StratumSlope(
                at[slope] + tau * first,
                tau * Math.Sqrt(Math.Max(0, second / sum - first * first))
            );
            var value = Math.Log(sum) + peak + Math.Log(scale);
            if (!gradient.IsEmpty)
            {
                Derivatives(d, size, at, (mode, scale, sum, nodes, wide), scratch, gradient, hessian);
            }

            return value;
        }

        private void Derivatives(
            int d,
            int size,
            ReadOnlySpan<double> at,
            (double Mode, double Scale, double Sum, int Nodes, bool Wide) integral,
            Scratch scratch,
            Span<double> gradient,
            Span<double> hessian
        )
        {
            var (tau, omega) = Spreads(at);
            var (weight, start, mean, g, moves) = (
                table.Weights[d],
                table.Starts[d],
                scratch.Mean,
                scratch.Gradient,
                scratch.Moves
            );
            Array.Clear(mean);
            var total = 0.0;
            for (var j = 0; j < size; j++)
            {
                total += table.Counts[start + j];
            }

            for (var q = 0; q < integral.Nodes; q++)
            {
                var share = scratch.LogNodes[q] / integral.Sum;
                if (share < 1e-30)
                {
                    continue;
                }

                var slopeMove = integral.Wide ? tau * (integral.Mode + integral.Scale * Quadrature.Nodes[q]) : 0;
                Density(d, size, slopeMove, omega, scratch, 2);
                // D_jr: derivative of ln π_j in parameter r; ln ω moves no share, only φ.
                Array.Clear(g);
                for (var r = 0; r < Size; r++)
                {
                    if (r == omegaAt)
                    {
                        continue;
                    }

                    var centre = 0.0;
                    for (var j = 0; j < size; j++)
                    {
                        var row = table.Row(start + j);
                        var v = r == tauAt ? slopeMove * row[slope] : row[r];
                        moves[j * Size + r] = v;
                        centre += Math.Exp(scratch.LogShares[j]) * v;
                    }

                    for (var j = 0; j < size; j++)
                    {
                        moves[j * Size + r] -= centre;
                        g[r] += scratch.First[j] * moves[j * Size + r];
                    }
                }

                double c = 0,
                    secondSum = 0;
                for (var j = 0; j < size; j++)
                {
                    c += scratch.First[j];
                    secondSum += scratch.Second[j];
                }

                for (var r = 0; r < Size; r++)
                {
                    for (var s = 0; s <= r; s++)
                    {
                        if (r == omegaAt || s == omegaAt)
                        {
                            continue;
                        }

                        var h = 0.0;
                        for (var j = 0; j < size; j++)
                        {
                            h +=
                                (scratch.Second[j] - c * Math.Exp(scratch.LogShares[j]))
                                * moves[j * Size + r]
                                * moves[j * Size + s];
                        }

                        Add(hessian, r, s, share * h);
                    }
                }

                if (tauAt >= 0)
                {
                    // The utility is exponential in ln τ: its second derivative is its first.
                    Add(hessian, tauAt, tauAt, share * g[tauAt]);
                }

                if (omegaAt >= 0)
                {
                    var phi = 1 / (omega * omega);
                    var (t1, t2) = LogGamma.RiseSlopes(phi, total);
                    g[omegaAt] = -2 * (c - phi * t1);
                    Add(hessian, omegaAt, omegaAt, share * 4 * (secondSum - phi * t1 - phi * phi * t2));
                    for (var r = 0; r < omegaAt; r++)
                    {
                        var h = 0.0;
                        for (var j = 0; j < size; j++)
                        {
                            h += scratch.Second[j] * moves[j * Size + r];
                        }

                        Add(hessian, omegaAt, r, share * -2 * h);
                    }
                }

                for (var r = 0; r < Size; r++)
                {
                    mean[r] += share * g[r];
                    for (var s = 0; s <= r; s++)
                    {
                        Add(hessian, r, s, share * g[r] * g[s]);
                    }
                }
            }

            for (var r = 0; r < Size; r++)
            {
                gradient[r] += weight * mean[r];
                for (var s = 0; s <= r; s++)
                {
                    Add(hessian, r, s, -mean[r] * mean[s]);
                }
            }

            void Add(Span<double> target, int r, int s, double what)
            {
                target[r * Size + s] += weight * what;
                if (r != s)
                {
                    target[s * Size + r] += weight * what;
                }
            }
        }

        /// <summary>
        /// ln P(y | shares at this move of the slope). With order 1 or 2 also First = dl/d ln α_j and Second = its
        /// derivative (multinomial: y_j and 0).
        /// </summary>
        private double Density(int d, int size, double move, double omega, Scratch scratch, int order)
        {
            var start = table.Starts[d];
            var logShares = scratch.LogShares.AsSpan(0, size);
            for (var j = 0; j < size; j++)
            {
                logShares[j] = scratch.Base[j] + move * table.Row(start + j)[slope];
            }

            ChoiceTable.Normalise(logShares);
            var phi = 1 / (omega * omega);
            double log = 0,
                total = 0;
            for (var j = 0; j < size; j++)
            {
                var y = table.Counts[start + j];
                total += y;
                if (omega <= 0)
                {
                    log += y > 0 ? y * logShares[j] : 0;
                    (scratch.First[j], scratch.Second[j]) = (y, 0);
                    continue;
                }

                // A share that underflows must not make α zero where a count needs it.
                var alpha = Math.Max(phi * Math.Exp(logShares[j]), 1e-290);
                log += LogGamma.Rise(alpha, y);
                if (order > 0)
                {
                    var (a1, a2) = LogGamma.RiseSlopes(alpha, y);
                    scratch.First[j] = alpha * a1;
                    scratch.Second[j] = alpha * a1 + alpha * alpha * a2;
                }
            }

            return omega <= 0 ? log : log - LogGamma.Rise(phi, total);
        }

        /// <summary>Mode of u and the curvature of the log density there, by guarded Newton steps.</summary>
        private (double U, double Curvature) Mode(int d, int size, double tau, double omega, Scratch scratch)
        {
            var u = 0.0;
            var (value, first, second) = Profile(u);
            for (var iteration = 0; iteration < 100; iteration++)
            {
                // Away from the mode the Dirichlet form can curve upwards; the prior's 1 then sets the step.
                var step = first / Math.Max(second, 0.5);
                if (Math.Abs(step) <= 1e-10 * (1 + Math.Abs(u)))
                {
                    break;
                }

                var next = Profile(u + step);
                for (var halving = 0; next.Value < value - 1e-12 * (1 + Math.Abs(value)) && halving < 60; halving++)
                {
                    step /= 2;
                    next = Profile(u + step);
                }

                u += step;
                (value, first, second) = next;
            }

            return (u, Math.Max(second, 0.05));

            (double Value, double First, double Second) Profile(double x)
            {
                var log = Density(d, size, tau * x, omega, scratch, 2) - 0.5 * x * x;
                var start = table.Starts[d];
                var centre = 0.0;
                for (var j = 0; j < size; j++)
                {
                    centre += Math.Exp(scratch.LogShares[j]) * tau * table.Row(start + j)[slope];
                }

                double slopeSum = 0,
                    curve = 0,
                    c = 0,
                    spread = 0;
                for (var j = 0; j < size; j++)
                {
                    var off = tau * table.Row(start + j)[slope] - centre;
                    slopeSum += scratch.First[j] * off;
                    curve += scratch.Second[j] * off * off;
                    spread += Math.Exp(scratch.LogShares[j]) * off * off;
                    c += scratch.First[j];
                }

                return (log, slopeSum - x, 1 - curve + c * spread);
            }
        }
    }
}
