using Reports.Domain.Reporting;
using Reports.Statistics;

namespace Reports.Domain.Briefs;

/// <summary>What one report tells of its fish: how many, the ends quoted, and the range of most of them. Grams.</summary>
internal sealed record SizeReport(
    Sighting Sighting,
    double Weight,
    int Fish,
    int? Smallest,
    int? Largest,
    int? MostFrom,
    int? MostTo
)
{
    /// <summary>"Most of them" is about nine in ten (common practice, no source).</summary>
    private const double Most = 0.9;

    public static bool Told(CatchMeasure line) =>
        (line.SmallestGrams ?? line.LargestGrams ?? line.MostFromGrams ?? line.MostToGrams) is not null;

    public static SizeReport Of(Sighting sighting, double halfLifeDays)
    {
        var line = sighting.Line;
        var (smallest, largest) = (line.SmallestGrams, line.LargestGrams);
        // Two different ends are two fish, whatever the count says (released is often left out of it).
        var least = smallest is not null && largest is not null && smallest != largest ? 2 : 1;
        return new(
            sighting,
            sighting.Weight(halfLifeDays),
            Math.Max(line.Fish, least),
            smallest,
            largest,
            line.MostFromGrams,
            line.MostToGrams
        );
    }

    /// <summary>Ends within [from, to).</summary>
    public bool Quoted(double from, double to) =>
        new[] { Smallest, Largest, MostFrom, MostTo }.Any(g => g >= from && g < to);

    /// <summary>Fish whose weight is quoted: the two ends, one where they are the same fish.</summary>
    public IReadOnlyList<int> Ends =>
        (Smallest, Largest, Fish) switch
        {
            ({ } a, _, 1) => [a],
            (_, { } b, 1) => [b],
            ({ } a, { } b, _) => [a, b],
            ({ } a, null, _) => [a],
            (null, { } b, _) => [b],
            _ => [],
        };

    /// <summary>The fish between the ends, in parts: nine in ten within the range of most, where one is told.</summary>
    public IReadOnlyList<(double Fish, double From, double To)> Between
    {
        get
        {
            var rest = Fish - Ends.Count;
            if (rest == 0)
            {
                return [];
            }

            double from = Smallest ?? 0;
            var to = Largest ?? double.PositiveInfinity;
            return MostFrom is null && MostTo is null
                ? [(rest, from, to)]
                :
                [
                    (Most * rest, Math.Max(from, MostFrom ?? from), Math.Min(to, MostTo ?? to)),
                    ((1 - Most) * rest, from, to),
                ];
        }
    }

    public IEnumerable<IntervalObservation> Observations()
    {
        foreach (var end in Ends)
        {
            yield return IntervalObservation.Exact(end, Weight);
        }

        foreach (var (fish, from, to) in Between)
        {
            yield return IntervalObservation.Closed(from, to, fish * Weight);
        }
    }
}
