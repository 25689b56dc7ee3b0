namespace Reports.Statistics;

/// <summary>Independent Gaussian priors: mean and precision (1/variance, >= 0; 0 = no prior) per coefficient.</summary>
public sealed record GaussianPrior(double[] Mean, double[] Precision)
{
    /// <summary>The same precision for every coefficient but the first <paramref name="free"/>, mean 0.</summary>
    public static GaussianPrior Ridge(int coefficients, double precision, int free = 0) =>
        new(new double[coefficients], [.. Enumerable.Range(0, coefficients).Select(j => j < free ? 0 : precision)]);

    public static GaussianPrior None(int coefficients) => Ridge(coefficients, 0);

    internal void Check(int coefficients)
    {
        RateInput.SameLength(coefficients, Mean.Length, nameof(Mean));
        RateInput.SameLength(coefficients, Precision.Length, nameof(Precision));
        RateInput.Finite(Mean, nameof(Mean));
        RateInput.NotNegative(Precision, nameof(Precision));
    }

    /// <summary>-1/2 Σ precision (b - mean)², added with its derivatives.</summary>
    internal double Add(ReadOnlySpan<double> at, Span<double> gradient, Span<double> hessian, int stride)
    {
        var log = 0.0;
        for (var j = 0; j < Mean.Length; j++)
        {
            var off = at[j] - Mean[j];
            log -= 0.5 * Precision[j] * off * off;
            if (!gradient.IsEmpty)
            {
                gradient[j] -= Precision[j] * off;
                hessian[j * stride + j] -= Precision[j];
            }
        }

        return log;
    }
}

/// <summary>Fitted coefficients with their covariance (inverse information at the answer, priors included).</summary>
/// <param name="Covariance">Row-major, coefficients by coefficients.</param>
/// <param name="Summary">How the fit ended; its log-likelihood holds neither prior nor penalty.</param>
/// <param name="PenalisedLogLikelihood">The value climbed: log-likelihood plus log prior (without its constant) or penalty.</param>
public sealed record CoefficientFit(
    double[] Coefficients,
    double[] Covariance,
    FitSummary Summary,
    double PenalisedLogLikelihood
)
{
    public double[] StandardErrors =>
        [.. Coefficients.Select((_, j) => Math.Sqrt(Covariance[j * Coefficients.Length + j]))];

    /// <summary>Value and standard error of a combination Σ c_j b_j, for instance of the difference of two rigs.</summary>
    public (double Value, double StandardError) Combination(ReadOnlySpan<double> c)
    {
        var p = Coefficients.Length;
        RateInput.SameLength(p, c.Length, nameof(c));
        double value = 0,
            variance = 0;
        for (var i = 0; i < p; i++)
        {
            value += c[i] * Coefficients[i];
            for (var j = 0; j < p; j++)
            {
                variance += c[i] * c[j] * Covariance[i * p + j];
            }
        }

        return (value, Math.Sqrt(Math.Max(0, variance)));
    }
}
