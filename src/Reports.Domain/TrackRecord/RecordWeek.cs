using System.Text.Json;
using Reports.Domain.Briefs;
using Reports.Domain.Chances;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;

namespace Reports.Domain.TrackRecord;

/// <summary>
/// What the briefs of one day said of the week that followed, beside what boats then reported. Kept as it is: the record adds
/// weeks up and withholds what would give a boat away.
/// </summary>
public sealed record RecordWeek
{
    public const int Days = 7;

    public required string Species { get; init; }

    /// <summary>The briefs are of this day, made from what had arrived by its end.</summary>
    public required DateOnly Origin { get; init; }

    /// <summary>Counted reports of the seven days after it, in zones of which a brief spoke.</summary>
    public required int Reports { get; init; }
    public required IReadOnlyList<string> Boats { get; init; }

    /// <summary>One for each boat trip of one day that counted its anglers with a fish.</summary>
    public required IReadOnlyList<OddsTold> Odds { get; init; }

    /// <summary>One for each zone.</summary>
    public required IReadOnlyList<RateTold> Rates { get; init; }

    /// <summary>One for each zone whose boats told sizes.</summary>
    public required IReadOnlyList<SizesTold> Sizes { get; init; }

    /// <summary>One for each boat trip that counted rods and fish of its rigs.</summary>
    public required IReadOnlyList<RodsTold> Rods { get; init; }

    public string ToJson() => JsonSerializer.Serialize(this, Brief.Json);

    public static RecordWeek FromJson(string json) => JsonSerializer.Deserialize<RecordWeek>(json, Brief.Json)!;

    /// <param name="briefs">Of the day, one for each zone.</param>
    /// <param name="past">The coast's reports of the species up to the day, as they were known then, oldest first.</param>
    /// <param name="week">The coast's counted reports of the seven days after it.</param>
    public static RecordWeek Of(
        string species,
        DateOnly origin,
        IReadOnlyList<Brief> briefs,
        IReadOnlyList<ReportMeasures> past,
        IReadOnlyList<ReportMeasures> week
    )
    {
        var spoke = briefs
            .Where(b => b is { ClosedNotice: null, CatchRate: not null })
            .ToDictionary(b => b.Zone, StringComparer.Ordinal);
        var trips = week.Where(r =>
                r.FishedOn > origin && r.FishedOn <= origin.AddDays(Days) && spoke.ContainsKey(r.Zone)
            )
            .Select(r => (Report: r, Line: r.Catch.FirstOrDefault(c => c.Species == species)!))
            .Where(t => t.Line is not null)
            .OrderBy(t => t.Report.FishedOn)
            .ThenBy(t => t.Report.Zone, StringComparer.Ordinal)
            .ThenBy(t => t.Report.Boat, StringComparer.Ordinal)
            .ThenBy(t => t.Report.Sailing)
            .ToList();
        var zones = trips
            .GroupBy(t => t.Report.Zone, StringComparer.Ordinal)
            .OrderBy(z => z.Key, StringComparer.Ordinal);
        return new RecordWeek
        {
            Species = species,
            Origin = origin,
            Reports = trips.Count,
            Boats = BoatsOf(trips.Select(t => t.Report)),
            Odds = OddsOf(trips, spoke),
            Rates =
            [
                .. zones.Select(z =>
                {
                    var said = spoke[z.Key].CatchRate!.PerAngler;
                    return new RateTold(
                        said.Mean,
                        said.Low,
                        said.High,
                        z.Sum(t => t.Report.Anglers * t.Report.DaysFished),
                        z.Sum(t => t.Line.Fish),
                        BoatsOf(z.Select(t => t.Report))
                    );
                }),
            ],
            Sizes = [.. zones.Select(z => SizesOf(spoke[z.Key], [.. z])).OfType<SizesTold>()],
            Rods = [.. trips.Select(t => RodsOf(t.Report, species, spoke[t.Report.Zone], past)).OfType<RodsTold>()],
        };
    }

    /// <summary>
    /// A blank trip tells that nobody had a fish, counted or not; of the others only some counted. So that the blanks do not weigh
    /// too much among them, each counts as the part of the others that were counted.
    /// </summary>
    private static List<OddsTold> OddsOf(
        IReadOnlyList<(ReportMeasures Report, CatchMeasure Line)> trips,
        Dictionary<string, Brief> spoke
    )
    {
        var oneDay = trips
            .Where(t => t.Report.DaysCovered == 1)
            .Select(t => (t.Report, t.Line, Said: SaidOf(t.Report)))
            .Where(t => t.Said is not null)
            .ToList();
        var landed = oneDay.Where(t => t.Line.Fish > 0).ToList();
        var counted = landed.Where(t => t.Line.AnglersWithFish is not null).ToList();
        if (counted.Count == 0)
        {
            return [];
        }

        var part = Math.Round((double)counted.Count / landed.Count, 4);
        return
        [
            .. oneDay
                .Where(t => t.Line.Fish == 0 || t.Line.AnglersWithFish is not null)
                .Select(t => new OddsTold(
                    t.Said!.Value,
                    t.Report.Anglers,
                    t.Line.Fish == 0 ? 0 : Math.Min(t.Line.AnglersWithFish!.Value, t.Report.Anglers),
                    t.Line.Fish == 0 ? part : 1,
                    t.Report.FishedOn,
                    t.Report.Boat
                )),
        ];

        // A brief's odds are those of a day: of a shorter trip it said less.
        double? SaidOf(ReportMeasures report) =>
            TripChances.Of(spoke[report.Zone].CatchRate!, report.DaysFished, 1).AtLeastOne?.Mean;
    }

    private static List<string> BoatsOf(IEnumerable<ReportMeasures> reports) =>
        [.. reports.Select(r => r.Boat).Distinct(StringComparer.Ordinal).Order(StringComparer.Ordinal)];

    /// <summary>
    /// The week's fish by their non-parametric estimate (the quoted ends are fish, the others lie between), and what part of them
    /// weighed no more than each quantile of the brief.
    /// </summary>
    private static SizesTold? SizesOf(Brief brief, IReadOnlyList<(ReportMeasures Report, CatchMeasure Line)> trips)
    {
        var told = trips.Where(t => SizeReport.Told(t.Line)).ToList();
        if (brief.Size is not { Quantiles: var said } || told.Count == 0)
        {
            return null;
        }

        // Every report of the week counts alike.
        var lines = told.ConvertAll(t => SizeReport.Of(new Sighting(t.Report, t.Line, 0), HalfLives.SizeDays));
        var fish = ReportedSizes.Fit(lines);
        double UpTo(int grams) => Math.Round(fish.Share(0, grams + 1), 6);
        return new SizesTold(
            [UpTo(said.P05), UpTo(said.P25), UpTo(said.P50), UpTo(said.P75), UpTo(said.P95)],
            lines.Sum(l => l.Fish),
            BoatsOf(told.Select(t => t.Report))
        );
    }

    private static RodsTold? RodsOf(
        ReportMeasures report,
        string species,
        Brief brief,
        IReadOnlyList<ReportMeasures> past
    )
    {
        var lines = report.Rigs.Where(r => r.Species == species && r is { Rods: > 0, Landed: not null }).ToList();
        if (lines.Count == 0)
        {
            return null;
        }

        var before = past.Where(r => r.Zone == report.Zone && r.FishedOn <= brief.AsOf).ToList();
        RodCount Count(IReadOnlyList<RigChoice> advised)
        {
            var fished = lines.Where(l => advised.Any(a => a.Covers(l))).ToList();
            return new(fished.Sum(l => l.Rods!.Value * report.DaysCovered), fished.Sum(l => l.Landed!.Value));
        }

        return new RodsTold(
            report.FishedOn,
            report.Boat,
            Count(RigChoice.OfBrief(brief, report.Bait.Average(b => b.MiddleMm()))),
            Count(RigChoice.LastWinner(before, species)),
            Count(RigChoice.MostWins(before, species, brief.AsOf)),
            Count(RigChoice.Fixed)
        );
    }
}

/// <summary>The odds of a fish that were said, and what a boat trip told.</summary>
/// <param name="Weight">Below 1 for a blank trip, as only a part of the others were counted.</param>
public sealed record OddsTold(double Said, int Anglers, int WithFish, double Weight, DateOnly Day, string Boat)
{
    internal double Counted => Weight * Anglers;
    internal double Lucky => Weight * WithFish;
}

/// <summary>Fish per angler that were said of a zone with the 80 % interval, and the zone's fish and angler-days of the week.</summary>
public sealed record RateTold(
    double Said,
    double Low,
    double High,
    double AnglerDays,
    int Fish,
    IReadOnlyList<string> Boats
);

/// <summary>What part of a zone's fish weighed no more than the brief's 5, 25, 50, 75, 95 % quantiles.</summary>
public sealed record SizesTold(IReadOnlyList<double> UpTo, int Fish, IReadOnlyList<string> Boats);

/// <summary>Rods that fished an advised rig, and what they landed.</summary>
public sealed record RodCount(int Rods, int Landed);

/// <summary>The rods of a boat trip by who would have advised their rig.</summary>
public sealed record RodsTold(
    DateOnly Day,
    string Boat,
    RodCount Brief,
    RodCount LastWinner,
    RodCount MostWins,
    RodCount Fixed
);

/// <summary>A rig that somebody advised; null where the advice leaves it open.</summary>
public sealed record RigChoice(Technique Technique, int RungLb, HookStyle? HookStyle, int? HookStep)
{
    private const int Outfits = 3;

    /// <summary>A set of three that anybody might carry (common practice, no source).</summary>
    public static readonly IReadOnlyList<RigChoice> Fixed =
    [
        .. new[] { 25, 40, 80 }.Select(lb => new RigChoice(Technique.FlyLine, lb, null, null)),
    ];

    /// <param name="baitMm">The trip's bait, by which the brief has its hooks; null where it was not told.</param>
    public static IReadOnlyList<RigChoice> OfBrief(Brief brief, double? baitMm) =>
        brief.OutfitSets.Count == 0
            ? []
            :
            [
                .. brief
                    .OutfitSets[Math.Min(Outfits, brief.OutfitSets.Count) - 1]
                    .Select(o => new RigChoice(o.Technique, o.RungLb, o.HookStyle, o.HookFor(baitMm))),
            ];

    /// <summary>What the last boat trip of the zone that named a winner did best on.</summary>
    public static IReadOnlyList<RigChoice> LastWinner(IReadOnlyList<ReportMeasures> past, string species) =>
        [
            .. past.OrderBy(r => r.FishedOn)
                .ThenBy(r => r.Boat, StringComparer.Ordinal)
                .ThenBy(r => r.Sailing)
                .Select(r => Winners(r, species))
                .LastOrDefault(w => w.Count > 0, []),
        ];

    /// <summary>The three rigs that won most in the zone in seven days.</summary>
    public static IReadOnlyList<RigChoice> MostWins(IReadOnlyList<ReportMeasures> past, string species, DateOnly day) =>
        [
            .. past.Where(r => r.FishedOn > day.AddDays(-RecordWeek.Days))
                .SelectMany(r => Winners(r, species))
                .GroupBy(w => w)
                .OrderByDescending(g => g.Count())
                .ThenBy(g => g.Key.RungLb)
                .ThenBy(g => g.Key.HookStep)
                .Take(Outfits)
                .Select(g => g.Key),
        ];

    /// <summary>The same technique and line; of hooks the same style within one step, where both are told.</summary>
    public bool Covers(RigMeasure line) =>
        line.Technique == Technique
        && line.RungLb == RungLb
        && (HookStyle is null || line.HookStyle is null || line.HookStyle == HookStyle)
        && (HookStep is null || line.HookStep is null || Math.Abs(line.HookStep.Value - HookStep.Value) <= 1);

    private static List<RigChoice> Winners(ReportMeasures report, string species) =>
        [
            .. report
                .Rigs.Where(r => r.Winning && r.Species == species)
                .Select(r => new RigChoice(r.Technique, r.RungLb, r.HookStyle, r.HookStep))
                .Distinct(),
        ];
}
