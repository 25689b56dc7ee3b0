namespace Reports.Domain.Briefs;

/// <summary>
/// Days after which a report counts half. Stated here only. Common practice, no source: what bit last weekend is half forgotten
/// by the next one.
/// </summary>
public static class HalfLives
{
    /// <summary>Catch rates: schools move on within days.</summary>
    public const double RateDays = 5;

    /// <summary>Sizes: a school of one grade stays a few days.</summary>
    public const double SizeDays = 5;

    /// <summary>Bait length and kind, and signs: a receiver of bait is used up in days.</summary>
    public const double BaitDays = 5;

    /// <summary>How rigs do: the mechanics of line and hook change slowly, the mood of the fish faster; a fortnight between.</summary>
    public const double RigDays = 14;
}

/// <summary>
/// How strong evidence is. Both numbers must reach the threshold: many old reports are stale, and few fresh ones are chance
/// (thresholds are common practice, no source).
/// </summary>
public static class StrengthRule
{
    public const double GoodEffective = 12;
    public const double GoodDecayed = 6;
    public const double FairEffective = 6;
    public const double FairDecayed = 3;

    /// <param name="pooled">The whole coast's reports say little of one zone: never more than thin.</param>
    public static Strength Of(double effectiveReports, double decayedReports, bool pooled) =>
        effectiveReports <= 0 ? Strength.None
        : pooled ? Strength.Thin
        : effectiveReports >= GoodEffective && decayedReports >= GoodDecayed ? Strength.Good
        : effectiveReports >= FairEffective && decayedReports >= FairDecayed ? Strength.Fair
        : Strength.Thin;
}
