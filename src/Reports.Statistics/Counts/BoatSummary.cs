namespace Reports.Statistics;

/// <summary>What one boat's report tells of how its catch was spread over its anglers.</summary>
/// <param name="Anglers">Rods that fished, at least 1.</param>
/// <param name="Total">Fish of all anglers together (kept and released).</param>
/// <param name="Blanks">Anglers without a fish; null when not told.</param>
/// <param name="Top">Most fish of one angler; null when not told.</param>
/// <param name="BagLimit">Fish at which each angler stops, at least 1; null when there is none.</param>
/// <param name="Effort">An angler's effort relative to the trip that the mean refers to (hours, days), above 0.</param>
/// <param name="Weight">Weight of the report, at least 0.</param>
/// <param name="StoppedAtLimit">The boat stopped because it had its fish: the total is what it caught at least, and blanks and
/// top rod say nothing about an unlimited catch and are not used.</param>
public sealed record BoatSummary(
    int Anglers,
    int Total,
    int? Blanks = null,
    int? Top = null,
    int? BagLimit = null,
    double Effort = 1,
    double Weight = 1,
    bool StoppedAtLimit = false
)
{
    internal void Check()
    {
        if (Anglers < 1)
        {
            throw new InvalidSampleException(SampleFault.OutOfRange, nameof(Anglers), "at least one angler");
        }

        if (Total < 0 || Blanks < 0 || Top < 0)
        {
            throw new InvalidSampleException(SampleFault.Negative, nameof(BoatSummary), "a count is negative");
        }

        if (BagLimit < 1)
        {
            throw new InvalidSampleException(SampleFault.OutOfRange, nameof(BagLimit), "a limit is at least one fish");
        }

        if (!(Effort > 0) || double.IsInfinity(Effort))
        {
            throw new InvalidSampleException(SampleFault.OutOfRange, nameof(Effort), "must be greater than zero");
        }

        if (!(Weight >= 0) || double.IsInfinity(Weight))
        {
            throw new InvalidSampleException(
                SampleFault.OutOfRange,
                nameof(Weight),
                "must be a number of at least zero"
            );
        }
    }
}
