namespace Reports.Statistics;

/// <summary>Settings of a mixture fit. The same sample and settings give the same fit, whatever the sample's order.</summary>
/// <param name="SpreadFloor">
/// Smallest s_k, above 0 (default 0.03: a size group spreads over at least +-3 %). Without it the likelihood has no
/// maximum: a group on one exact value is worth ever more the narrower it is.
/// </param>
/// <param name="Starts">Random starts beside the built-in ones, 0 or more.</param>
/// <param name="Seed">Seed of the random starts.</param>
public sealed record MixtureOptions(double SpreadFloor = 0.03, int Starts = 10, int Seed = 1)
{
    internal static MixtureOptions Checked(MixtureOptions? options, int components)
    {
        options ??= new();
        if (!(options.SpreadFloor > 0 && options.SpreadFloor < 1) || options.Starts < 0)
        {
            throw new InvalidSampleException(SampleFault.OutOfRange, nameof(options), options.ToString());
        }

        if (components < 1)
        {
            throw new InvalidSampleException(SampleFault.OutOfRange, nameof(components), "at least one component");
        }

        return options;
    }
}

/// <summary>A fitted mixture of size groups.</summary>
/// <param name="Mixture">The groups and their mean shares.</param>
/// <param name="Concentration">
/// phi: how alike the lines' shares are. Infinity: every line draws from the same mix (pooled); near 0: every line is of
/// one group.
/// </param>
/// <param name="Summary">How the fit ended, with the weighted log-likelihood.</param>
/// <param name="PooledLogLikelihood">
/// The maximum with phi = Infinity, for the ratio test; equal to the other for a pooled fit.
/// </param>
/// <param name="SampleSize">Sum of the weights: effective lines, when the weights were rescaled to their Kish size.</param>
/// <param name="SpreadAtFloor">Some s_k sits on the floor: a group without width, to be distrusted.</param>
public sealed record SizeFit(
    LognormalMixture Mixture,
    double Concentration,
    FitSummary Summary,
    double PooledLogLikelihood,
    double SampleSize,
    bool SpreadAtFloor
)
{
    /// <summary>3K - 1, and one more where phi was fitted.</summary>
    public int Parameters => 3 * Mixture.Components - 1 + (double.IsInfinity(Concentration) ? 0 : 1);

    /// <summary>-2 ln L + parameters ln(sample size); smaller is better.</summary>
    public double Bic => -2 * Summary.LogLikelihood + Parameters * Math.Log(SampleSize);

    /// <summary>The lines show no sign that shares differ between them: phi can't be told from Infinity.</summary>
    public bool PooledBoundary => Summary.LogLikelihood - PooledLogLikelihood < 0.02;
}

/// <summary>Fits with different numbers of groups, and the one of smallest BIC.</summary>
public sealed record SizeChoice(IReadOnlyList<SizeFit> Fits, SizeFit Best)
{
    internal static SizeChoice Of(IReadOnlyList<SizeFit> fits) => new(fits, fits.MinBy(f => f.Bic)!);
}
