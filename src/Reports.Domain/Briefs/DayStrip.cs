namespace Reports.Domain.Briefs;

/// <summary>The days of the display window, each under the rule of three, and so that no hidden day can be worked out.</summary>
internal static class DayStrip
{
    public static IReadOnlyList<DayMark> Make(Sample sample, DateOnly asOf)
    {
        var days = Enumerable
            .Range(0, Windows.Display)
            .Select(i => asOf.AddDays(i + 1 - Windows.Display))
            .Select(date => (Date: date, Sightings: sample.Display.Where(s => s.Report.FishedOn == date).ToList()))
            .ToList();
        var shown = Confidentiality.Shown([.. days.Select(d => GivesAway(sample, d.Sightings))]);
        return
        [
            .. days.Select(
                (day, i) =>
                    !shown[i] ? new DayMark(day.Date, null, null)
                    : day.Sightings.Count == 0 ? new DayMark(day.Date, 0, null)
                    : new DayMark(
                        day.Date,
                        Sample.Boats(day.Sightings),
                        Figures.Round(day.Sightings.Sum(s => s.Fish) / day.Sightings.Sum(s => s.Effort))
                    )
            ),
        ];
    }

    /// <summary>
    /// The boats that a day's figure could give away: all of them, or on a pooled day those of the zones whose own strip hides
    /// the day, for the others' figures are known.
    /// </summary>
    private static HashSet<string> GivesAway(Sample sample, List<Sighting> day)
    {
        var hidden = sample.Pooled
            ? Sample.BoatSet(
                day.GroupBy(s => s.Zone, StringComparer.Ordinal)
                    .Where(z => Sample.Boats(z) < Confidentiality.FewestBoats)
                    .SelectMany(z => z)
            )
            : [];
        return hidden.Count > 0 ? hidden : Sample.BoatSet(day);
    }
}
