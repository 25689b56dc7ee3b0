namespace Reports.Statistics;

/// <summary>
/// Rows of a logistic regression, checked once. An intercept is put first.
/// </summary>
public sealed class BinomialRows
{
    /// <param name="covariates">One row of p numbers per observation (p may be 0).</param>
    /// <param name="successes">0 &lt;= y &lt;= n.</param>
    /// <param name="trials">n >= 0; rows without trials say nothing.</param>
    /// <param name="weights">w >= 0, as repeats; ones when not given.</param>
    /// <param name="offset">Added to the linear predictor; zeros when not given.</param>
    /// <exception cref="InvalidSampleException">Empty, ragged, not finite, negative, no trials or weight at all.</exception>
    public BinomialRows(
        IReadOnlyList<double[]> covariates,
        ReadOnlySpan<double> successes,
        ReadOnlySpan<double> trials,
        ReadOnlySpan<double> weights = default,
        ReadOnlySpan<double> offset = default
    )
    {
        var rows = covariates.Count;
        RateInput.NotEmpty(rows, nameof(covariates));
        RateInput.SameLength(rows, successes.Length, nameof(successes));
        RateInput.SameLength(rows, trials.Length, nameof(trials));
        var w = RateInput.Weights(weights, rows);
        Columns = covariates[0].Length + 1;
        Design = new double[rows * Columns];
        Successes = new double[rows];
        Trials = new double[rows];
        Offset = new double[rows];
        if (!offset.IsEmpty)
        {
            RateInput.SameLength(rows, offset.Length, nameof(offset));
            RateInput.Finite(offset, nameof(offset));
            offset.CopyTo(Offset);
        }

        for (var i = 0; i < rows; i++)
        {
            RateInput.SameLength(Columns - 1, covariates[i].Length, nameof(covariates));
            RateInput.Finite(covariates[i], nameof(covariates));
            Design[i * Columns] = 1;
            covariates[i].CopyTo(Design, i * Columns + 1);
            Successes[i] = w[i] * RateInput.Successes(successes[i], trials[i]);
            Trials[i] = w[i] * trials[i];
            Successes[i] = Math.Min(Successes[i], Trials[i]);
        }

        RateInput.HasWeight(Trials, nameof(trials));
    }

    /// <summary>Coefficients, the intercept included.</summary>
    public int Columns { get; }

    public int Count => Successes.Length;

    internal double[] Design { get; }

    /// <summary>Times the weight: the likelihood is linear in the weighted counts.</summary>
    internal double[] Successes { get; }

    internal double[] Trials { get; }
    internal double[] Offset { get; }

    internal ReadOnlySpan<double> Row(int i) => Design.AsSpan(i * Columns, Columns);

    internal double Predictor(int i, ReadOnlySpan<double> coefficients)
    {
        var row = Row(i);
        var sum = Offset[i];
        for (var j = 0; j < row.Length; j++)
        {
            sum += row[j] * coefficients[j];
        }

        return sum;
    }
}

/// <summary>
/// Logistic regression, plain and penalised.
/// <para>Model: y_i ~ Binomial(n_i, p_i), ln(p_i / (1 - p_i)) = o_i + b_0 + Σ_j b_j x_ij.</para>
/// <para>Parameters: b in log odds per unit of x, any real number; o offset in log odds; Gaussian prior with mean and
/// precision per coefficient; log-likelihoods without binomial coefficients.</para>
/// <para>Method: Newton ascent with the exact information. Firth: maximises the log-likelihood + 1/2 ln det X'WX, which
/// is finite for any data; its Hessian by differences of the exact score. Separation: when the plain likelihood climbs to infinity, the
/// direction of its last step is checked as a certificate (it raises or leaves every row, and only along coefficients
/// without prior); then <see cref="StopReason.Separated"/> and the Firth answer are returned.</para>
/// <para>Reference: Firth 1993, Biometrika 80:27-38; Heinze &amp; Schemper 2002, Stat. Med. 21:2409-2419; Albert &amp;
/// Anderson 1984, Biometrika 71:1-10 (separation).</para>
/// <para>Accuracy: coefficients 6e-11 (prior, own R) and 8e-11 (Firth, brglm2), standard errors 3e-11 on the reference cases.</para>
/// </summary>
public static class Logistic
{
    /// <summary>Maximum likelihood; the Firth answer with <see cref="StopReason.Separated"/> where there is no maximum.</summary>
    /// <exception cref="InvalidSampleException">The columns are linearly dependent.</exception>
    public static CoefficientFit MaximumLikelihood(BinomialRows rows) =>
        WithPrior(rows, GaussianPrior.None(rows.Columns));

    /// <summary>Gaussian prior of mean 0 and precision <paramref name="lambda"/> on every slope, none on the intercept.</summary>
    /// <exception cref="InvalidSampleException">The columns are linearly dependent and λ is 0.</exception>
    public static CoefficientFit Ridge(BinomialRows rows, double lambda)
    {
        RateInput.NotNegative(lambda, nameof(lambda));
        return WithPrior(rows, GaussianPrior.Ridge(rows.Columns, lambda, free: 1));
    }

    /// <summary>Posterior mode under a Gaussian prior.</summary>
    /// <exception cref="InvalidSampleException">The columns without prior are linearly dependent.</exception>
    public static CoefficientFit WithPrior(BinomialRows rows, GaussianPrior prior)
    {
        var p = rows.Columns;
        prior.Check(p);
        CheckRank(rows, prior);
        if (Separation(rows, prior))
        {
            return Firth(rows, prior, StopReason.Separated);
        }

        var best = NewtonAscent.Climb(Value, new double[p]);
        return Conclude(rows, best, NewtonAscent.Covariance(best.Hessian, p)!, null);

        double Value(ReadOnlySpan<double> at, Span<double> gradient, Span<double> hessian) =>
            LogLikelihood(rows, at, gradient, hessian) + prior.Add(at, gradient, hessian, p);
    }

    /// <summary>Firth's penalised likelihood: finite for any data.</summary>
    /// <exception cref="InvalidSampleException">The columns are linearly dependent.</exception>
    public static CoefficientFit Firth(BinomialRows rows)
    {
        var none = GaussianPrior.None(rows.Columns);
        CheckRank(rows, none);
        return Firth(rows, none, null);
    }

    private static CoefficientFit Firth(BinomialRows rows, GaussianPrior prior, StopReason? reason)
    {
        var p = rows.Columns;
        var (information, inverse) = (new double[p * p], new double[p * p]);
        var (ahead, behind, point) = (new double[p], new double[p], new double[p]);
        var best = NewtonAscent.Climb(Value, new double[p]);
        Score(best.Point, point);
        return Conclude(rows, best, inverse, reason);

        double Value(ReadOnlySpan<double> at, Span<double> gradient, Span<double> hessian)
        {
            if (gradient.IsEmpty)
            {
                return Score(at, ahead);
            }

            // Differences of the exact score: the closed form costs the square of the rows.
            for (var j = 0; j < p; j++)
            {
                var step = 1e-5 * (1 + Math.Abs(at[j]));
                at.CopyTo(point);
                point[j] = at[j] + step;
                Score(point, ahead);
                point[j] = at[j] - step;
                Score(point, behind);
                for (var k = 0; k < p; k++)
                {
                    hessian[j * p + k] = (ahead[k] - behind[k]) / (2 * step);
                }
            }

            for (var j = 0; j < p; j++)
            {
                for (var k = 0; k < j; k++)
                {
                    var mean = 0.5 * (hessian[j * p + k] + hessian[k * p + j]);
                    (hessian[j * p + k], hessian[k * p + j]) = (mean, mean);
                }
            }

            var value = Score(at, ahead);
            ahead.CopyTo(gradient);
            return value;
        }

        // The penalised value; leaves the score in `score` and the inverse information in `inverse`.
        double Score(ReadOnlySpan<double> at, double[] score)
        {
            var value = LogLikelihood(rows, at, score, information) + prior.Add(at, score, information, p);
            if (NewtonAscent.LogDeterminant(information, p) is not { } logDeterminant)
            {
                return double.NegativeInfinity;
            }

            inverse = NewtonAscent.Covariance(information, p)!;
            for (var i = 0; i < rows.Count; i++)
            {
                var row = rows.Row(i);
                var eta = rows.Predictor(i, at);
                var (rate, rest) = (BetaTails.Logistic(eta), BetaTails.Logistic(-eta));
                var leverage = 0.0;
                for (var j = 0; j < p; j++)
                {
                    for (var k = 0; k < p; k++)
                    {
                        leverage += row[j] * row[k] * inverse[j * p + k];
                    }
                }

                // The leverage h of a row moves its score by h (1/2 - p).
                leverage *= rows.Trials[i] * rate * rest;
                for (var j = 0; j < p; j++)
                {
                    score[j] += leverage * 0.5 * (rest - rate) * row[j];
                }
            }

            return value + 0.5 * logDeterminant;
        }
    }

    private static CoefficientFit Conclude(BinomialRows rows, Ascent best, double[] covariance, StopReason? reason) =>
        new(
            best.Point,
            covariance,
            new FitSummary(
                reason ?? (best.Converged ? StopReason.Converged : StopReason.IterationLimit),
                best.Iterations,
                LogLikelihood(rows, best.Point, default, default)
            ),
            best.Value
        );

    internal static double LogLikelihood(
        BinomialRows rows,
        ReadOnlySpan<double> at,
        Span<double> gradient,
        Span<double> hessian
    )
    {
        gradient.Clear();
        hessian.Clear();
        var p = rows.Columns;
        var log = 0.0;
        for (var i = 0; i < rows.Count; i++)
        {
            var (y, n) = (rows.Successes[i], rows.Trials[i]);
            if (n <= 0)
            {
                continue;
            }

            var eta = rows.Predictor(i, at);
            var (rate, rest, logRate, logRest) = BetaTails.Odds(eta);
            log += y * logRate + (n - y) * logRest;
            if (gradient.IsEmpty)
            {
                continue;
            }

            var row = rows.Row(i);
            var residual = y * rest - (n - y) * rate;
            var curvature = n * rate * rest;
            for (var j = 0; j < p; j++)
            {
                gradient[j] += residual * row[j];
                for (var k = 0; k <= j; k++)
                {
                    var add = curvature * row[j] * row[k];
                    hessian[j * p + k] -= add;
                    if (k < j)
                    {
                        hessian[k * p + j] -= add;
                    }
                }
            }
        }

        return log;
    }

    /// <summary>Is the information at b = 0, priors included, of full rank? It is there or nowhere.</summary>
    internal static void CheckRank(BinomialRows rows, GaussianPrior prior)
    {
        var p = rows.Columns;
        var (gradient, hessian) = (new double[p], new double[p * p]);
        var origin = new double[p];
        LogLikelihood(rows, origin, gradient, hessian);
        prior.Add(origin, gradient, hessian, p);
        // Scaled to a unit diagonal, so that the test does not depend on the units of the columns.
        var scaled = new double[p * p];
        for (var j = 0; j < p; j++)
        {
            for (var k = 0; k < p; k++)
            {
                scaled[j * p + k] = hessian[j * p + k] / Math.Sqrt(hessian[j * p + j] * hessian[k * p + k]);
            }
        }

        if (scaled.Any(double.IsNaN) || NewtonAscent.LogDeterminant(scaled, p) is not > -30.0 * 2)
        {
            throw new InvalidSampleException(SampleFault.OutOfRange, "covariates", "are linearly dependent");
        }
    }

    /// <summary>
    /// Does the likelihood rise for ever along coefficients without prior? The climb is run until it either settles or
    /// its step is a certificate.
    /// </summary>
    internal static bool Separation(BinomialRows rows, GaussianPrior prior)
    {
        // Without a row that is all or nothing no direction can raise the likelihood for ever.
        if (!Enumerable.Range(0, rows.Count).Any(i => rows.Trials[i] > 0 && (Nothing(i) || All(i))))
        {
            return false;
        }

        var p = rows.Columns;
        var at = new double[p];
        for (var iteration = 0; iteration < 60; iteration++)
        {
            var next = NewtonAscent.Climb(Value, at, tolerance: 1e-14, limit: 1);
            var step = new double[p];
            var length = 0.0;
            for (var j = 0; j < p; j++)
            {
                step[j] = next.Point[j] - at[j];
                length = Math.Max(length, Math.Abs(step[j]));
            }

            if (length < 1e-7)
            {
                return false;
            }

            if (Certificate(step))
            {
                return true;
            }

            at = next.Point;
        }

        return false;

        bool Nothing(int i) => rows.Successes[i] <= 0;
        bool All(int i) => rows.Successes[i] >= rows.Trials[i];

        double Value(ReadOnlySpan<double> x, Span<double> g, Span<double> h) =>
            LogLikelihood(rows, x, g, h) + prior.Add(x, g, h, p);

        bool Certificate(double[] direction)
        {
            var largest = 0.0;
            var moves = new double[rows.Count];
            for (var i = 0; i < moves.Length; i++)
            {
                if (rows.Trials[i] > 0)
                {
                    var row = rows.Row(i);
                    for (var j = 0; j < p; j++)
                    {
                        moves[i] += row[j] * direction[j];
                    }

                    largest = Math.Max(largest, Math.Abs(moves[i]));
                }
            }

            var slack = 1e-6 * largest;
            for (var j = 0; j < p; j++)
            {
                if (prior.Precision[j] > 0 && Math.Abs(direction[j]) > slack)
                {
                    return false;
                }
            }

            for (var i = 0; i < moves.Length; i++)
            {
                var move = Nothing(i) ? -moves[i] : moves[i];
                var allowed = Nothing(i) || All(i) ? move >= -slack : Math.Abs(move) <= slack;
                if (rows.Trials[i] > 0 && !allowed)
                {
                    return false;
                }
            }

            return largest > 0;
        }
    }
}
