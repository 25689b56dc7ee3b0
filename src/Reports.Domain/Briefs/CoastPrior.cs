using Reports.Domain.Rigs;

namespace Reports.Domain.Briefs;

/// <summary>
/// What the whole coast tells of a species, for every zone's brief of the day to lean on: computed once for all of them.
/// </summary>
public sealed record CoastPrior(CoastRates Rates, CoastRigs Rigs)
{
    /// <param name="evidence">Of any zone: its reports are the coast's.</param>
    public static CoastPrior Of(Evidence evidence) => Of(Sample.Of(evidence), evidence);

    internal static CoastPrior Of(Sample sample, Evidence evidence) =>
        new(CoastRates.Of(sample.Coast, evidence.Species, evidence.AsOf), CoastRigs.Of(sample.Coast, evidence.Species));
}
