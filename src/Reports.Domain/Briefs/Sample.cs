using Reports.Domain.Reporting;

namespace Reports.Domain.Briefs;

/// <summary>One report's row of the species, as old as it is on the day asked about.</summary>
internal sealed record Sighting(ReportMeasures Report, CatchMeasure Line, int AgeDays)
{
    public string Boat => Report.Boat;
    public string Zone => Report.Zone;

    /// <summary>The cluster of every interval: boats of one day fish one sea.</summary>
    public int Day => Report.FishedOn.DayNumber;
    public int Fish => Line.Fish;

    /// <summary>Anglers times days of fishing: what fish land in proportion to.</summary>
    public double Effort => Report.Anglers * Report.DaysFished;

    public double Weight(double halfLifeDays) => Statistics.Evidence.DecayWeight(AgeDays, halfLifeDays);

    /// <summary>
    /// The reports that list the species and lie within <see cref="Windows.Mechanics"/>, in one order, so that sums of doubles
    /// do not depend on how the reports came.
    /// </summary>
    public static IReadOnlyList<Sighting> Of(IReadOnlyList<ReportMeasures> reports, string species, DateOnly asOf) =>
        [
            .. reports
                .Select(r =>
                    (
                        Report: r,
                        Line: r.Catch.FirstOrDefault(c => c.Species == species),
                        Age: asOf.DayNumber - r.FishedOn.DayNumber
                    )
                )
                .Where(s => s.Line is not null && s.Age is >= 0 and < Windows.Mechanics)
                .OrderBy(s => s.Report.FishedOn)
                .ThenBy(s => s.Report.Zone, StringComparer.Ordinal)
                .ThenBy(s => s.Report.Boat, StringComparer.Ordinal)
                .ThenBy(s => s.Report.Sailing)
                .Select(s => new Sighting(s.Report, s.Line!, s.Age)),
        ];
}

/// <summary>The reports that a brief rests on: a zone's, or the whole coast's.</summary>
internal sealed class Sample
{
    private Sample(IReadOnlyList<Sighting> mechanics, FittedHalfLives halfLives, bool pooled)
    {
        (Mechanics, HalfLives, Pooled) = (mechanics, halfLives, pooled);
        Display = [.. mechanics.Where(s => s.AgeDays < Windows.Display)];
    }

    public FittedHalfLives HalfLives { get; }

    /// <summary>Of the whole coast, for the zones that too few boats fished.</summary>
    public bool Pooled { get; }

    /// <summary>What rigs are judged by.</summary>
    public IReadOnlyList<Sighting> Mechanics { get; }

    /// <summary>What the reader is shown.</summary>
    public IReadOnlyList<Sighting> Display { get; }

    /// <summary>Three boats or more: otherwise nothing may be said at all.</summary>
    public bool Speaks => Boats(Display) >= Confidentiality.FewestBoats;

    public static Sample OfZone(Evidence evidence, FittedHalfLives halfLives) =>
        new(
            [.. Sighting.Of(evidence.Reports, evidence.Species, evidence.AsOf).Where(s => s.Zone == evidence.Zone)],
            halfLives,
            false
        );

    public static Sample OfCoast(IReadOnlyList<Sighting> coast, FittedHalfLives halfLives) =>
        new(coast, halfLives, true);

    public static int Boats(IEnumerable<Sighting> sightings) =>
        sightings.Select(s => s.Boat).Distinct(StringComparer.Ordinal).Count();

    public static HashSet<string> BoatSet(IEnumerable<Sighting> sightings) =>
        sightings.Select(s => s.Boat).ToHashSet(StringComparer.Ordinal);
}
