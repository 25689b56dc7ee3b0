namespace Reports.Statistics;

/// <summary>Why an iterative fit ended. Every fit says so; none ends silently.</summary>
public enum StopReason
{
    /// <summary>The stated stopping rule was met.</summary>
    Converged,

    /// <summary>The optimum lies on the edge of the parameter space (no overdispersion, a share of zero).</summary>
    Boundary,

    /// <summary>The likelihood has no finite maximum in some direction; the penalised or limiting answer is returned.</summary>
    Separated,

    /// <summary>The iteration limit was reached first: the answer is the best seen, not a proved optimum.</summary>
    IterationLimit,
}

/// <summary>How a fit ended: reason, iterations used, log-likelihood at the answer (natural log).</summary>
public sealed record FitSummary(StopReason Stopped, int Iterations, double LogLikelihood);

/// <summary>What is wrong with a sample handed to an estimator.</summary>
public enum SampleFault
{
    Empty,
    NoWeight,
    Negative,
    ReversedInterval,
    NotFinite,
    LengthMismatch,
    OutOfRange,
}

/// <summary>
/// Input that no estimator can answer: empty, all weight zero, negative counts, reversed intervals. Thrown instead of
/// returning NaN; <see cref="Fault"/> tells callers which.
/// </summary>
public sealed class InvalidSampleException(SampleFault fault, string parameter, string detail)
    : ArgumentException($"{parameter}: {detail}", parameter)
{
    public SampleFault Fault { get; } = fault;
}
