using Reports.Domain.Rigs;
using Reports.Statistics;

namespace Reports.Domain.Briefs;

/// <summary>
/// Days after which a report counts half, by custom. Stated here only. Common practice, no source: what bit last weekend is half
/// forgotten by the next one. What a coast's own past says is <see cref="FittedHalfLives"/> (and, of rates, <see cref="CoastRates"/>).
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

/// <summary>Days after which a report counts half, by what foretold the coast's past season best.</summary>
public sealed record FittedHalfLives(double SizeDays, double RigDays)
{
    private const double LogSpread = 0.4;
    private static readonly double[] Choices = [2, 3, 4, 5, 7, 10, 14, 20];

    /// <param name="coast">The coast's reports in order.</param>
    /// <param name="landed">Shares of the fish landed by cell of the size grid.</param>
    internal static FittedHalfLives Of(
        IReadOnlyList<Sighting> coast,
        string species,
        IReadOnlyList<double> landed,
        DateOnly asOf
    )
    {
        double[] sizes = [.. landed];
        var rigs = coast
            .SelectMany(s => s.Report.Rigs.Where(r => r.Winning && r.Species == species).Select(RigKey.Of))
            .Distinct()
            .Select((key, i) => (key, i))
            .ToDictionary(x => x.key, x => x.i);
        return new(
            Choose(coast, asOf, HalfLives.SizeDays, s => SizesMet.Landed(s, sizes)),
            Choose(coast, asOf, HalfLives.RigDays, s => Wins(s, species, rigs))
        );
    }

    private static double Choose(
        IReadOnlyList<Sighting> coast,
        DateOnly asOf,
        double custom,
        Func<Sighting, double[]?> told
    ) =>
        FadingShares.HalfLife(
            [
                .. coast
                    .Select(s => (Sighting: s, Told: told(s)))
                    .Where(x => x.Told is not null)
                    .GroupBy(x => x.Sighting.Zone, StringComparer.Ordinal)
                    .OrderBy(zone => zone.Key, StringComparer.Ordinal)
                    .Select(zone =>
                        (IReadOnlyList<SharesOfDay>)
                            [
                                .. zone.GroupBy(x => x.Sighting.Day)
                                    .OrderBy(day => day.Key)
                                    .Select(day => new SharesOfDay(day.Key, Summed(day.Select(x => x.Told!)))),
                            ]
                    ),
            ],
            asOf.DayNumber,
            Choices,
            custom,
            LogSpread
        );

    /// <summary>One boat trip is one telling, however many fish it landed: they are of one school.</summary>
    private static double[] Summed(IEnumerable<double[]> tellings)
    {
        double[]? sum = null;
        foreach (var telling in tellings)
        {
            var whole = telling.Sum();
            sum ??= new double[telling.Length];
            for (var j = 0; j < sum.Length; j++)
            {
                sum[j] += telling[j] / whole;
            }
        }

        return sum!;
    }

    private static double[]? Wins(Sighting sighting, string species, Dictionary<RigKey, int> rigs)
    {
        var winners = sighting.Report.Rigs.Where(r => r.Winning && r.Species == species).Select(RigKey.Of).ToHashSet();
        if (winners.Count == 0)
        {
            return null;
        }

        var cells = new double[rigs.Count];
        foreach (var key in winners)
        {
            cells[rigs[key]]++;
        }

        return cells;
    }
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
