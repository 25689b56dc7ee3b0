using Reports.Domain.Briefs;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using Reports.Statistics;

namespace Reports.Domain.Rigs;

/// <summary>Boat trips like one another: how many (in weight), hook-ups of a rod on a thirty, shares of the fish met by cell.</summary>
public sealed record Scenario(double Weight, double Rate, IReadOnlyList<double> Met);

/// <summary>
/// What the reports of a coast tell of how one species bites and holds, as of a day: the bite's slope in the line class from day to
/// day, the hook against the bait, the holding power of lines, the fish that boats met. Plain numbers, for the zones' briefs
/// of the day to lean on. Equations, priors and sources: docs/method/rigs.md.
/// </summary>
public sealed record CoastRigs
{
    private const int Rounds = 5;

    /// <summary>Gauss and Newton's steps a round: the bell of the hook is far from straight.</summary>
    private const int BiteSteps = 3;

    /// <summary>Three boats or more told what they fished with; else all below is custom (<see cref="RigPriors"/>).</summary>
    public required bool Speaks { get; init; }
    public required IReadOnlyList<double> Bite { get; init; }

    /// <summary>Row-major.</summary>
    public required IReadOnlyList<double> BiteCovariance { get; init; }
    public required IReadOnlyList<double> Holding { get; init; }

    /// <summary>Row-major.</summary>
    public required IReadOnlyList<double> HoldingCovariance { get; init; }
    public required double BiteCorrelation { get; init; }

    /// <summary>Share of the rods by rung of <see cref="LineClass.Ladder"/>.</summary>
    public required IReadOnlyList<double> Popular { get; init; }
    public required double PickySlope { get; init; }
    public required double SteadySlope { get; init; }
    public required double WideOpenSlope { get; init; }

    /// <summary>By age, the days ahead first.</summary>
    public required IReadOnlyList<CoastSlope> Slopes { get; init; }

    /// <summary>Shares of all fish landed by cell of the size grid.</summary>
    public required IReadOnlyList<double> Landed { get; init; }

    /// <summary>Hook-ups of a rod and day on a thirty with the right hook.</summary>
    public required double Rate { get; init; }

    /// <summary>
    /// By how much ln of the hook-ups rises where the slope is flatter by one: on many a coast a wide-open bite is more fish too, and
    /// then most fish are caught when they mind the line least.
    /// </summary>
    public required double RateBySlope { get; init; }

    /// <summary>Recent boat trips, weights as decayed trips; empty where no sizes were told.</summary>
    public required IReadOnlyList<Scenario> Scenarios { get; init; }
    public required double BaitMm { get; init; }
    public string? BaitSpecies { get; init; }

    /// <summary>By how much bait grows or shrinks within days: <see cref="BaitToCome.Drift"/>.</summary>
    public required double BaitDrift { get; init; }
    public required Technique Technique { get; init; }

    /// <summary>Styles of hook that may be advised: circle and J where three boats or more counted both on one trip, else the usual one.</summary>
    public required IReadOnlyList<HookStyle> Styles { get; init; }

    /// <summary>Hooks against custom's.</summary>
    public required HookHabit Habit { get; init; }

    /// <summary>Hook steps that three boats or more of the coast fished, ascending.</summary>
    public required IReadOnlyList<int> Steps { get; init; }

    internal Mechanics Mechanics =>
        new(
            [.. Bite],
            [.. Holding],
            BiteCorrelation,
            [.. Popular],
            Habit,
            Words(PickySlope, SteadySlope, WideOpenSlope)
        );

    /// <param name="coast">Everything of the species within <see cref="Windows.Mechanics"/>, in one order.</param>
    internal static CoastRigs Of(IReadOnlyList<Sighting> coast, string species)
    {
        // The rule of three: rigs that fewer boats told of stay theirs.
        var told = coast.Where(s => s.Report.Rigs.Any(r => r.Species == species)).ToList();
        var speaks = Sample.Boats(told) >= Confidentiality.FewestBoats;
        var (baitMm, baitSpecies) = UsualBait(coast);
        var bait = new BaitOfDays(coast, baitMm, baitSpecies);
        var trips = Thinned(coast)
            .Select(s => new RigTrip(s, bait.Of(s), speaks ? s.Report.Rigs.Where(r => r.Species == species) : []))
            .ToList();
        var habit = HookHabit.Of(trips);
        trips.ForEach(t => t.Doubt(habit));
        var landed = SizesMet.Landed(trips);
        var fit = new Fitting(trips, habit, speaks);
        for (var round = 0; round < Rounds; round++)
        {
            fit.Round(withHolding: round is 0 or Rounds - 1);
        }

        var mechanics = fit.Mechanics;
        trips.ForEach(mechanics.MeetSizes);
        var rate = FitRates(trips, mechanics, landed, null);
        return new CoastRigs
        {
            Speaks = speaks,
            Bite = fit.BiteFit.Coefficients,
            BiteCovariance = fit.BiteFit.Covariance,
            Holding = fit.HoldingFit.Coefficients,
            HoldingCovariance = fit.HoldingFit.Covariance,
            BiteCorrelation = mechanics.BiteCorrelation,
            Popular = mechanics.Popular,
            PickySlope = mechanics.Words[Reporting.Bite.Picky],
            SteadySlope = mechanics.Words[Reporting.Bite.Steady],
            WideOpenSlope = mechanics.Words[Reporting.Bite.WideOpen],
            Slopes = fit.Coast,
            Landed = landed,
            Rate = rate,
            RateBySlope = RateBy(trips),
            Scenarios = Group(trips),
            BaitMm = baitMm,
            BaitSpecies = baitSpecies,
            BaitDrift = BaitToCome.Drift(coast),
            Technique = Usual(
                told,
                species,
                r => Rigs.Bite.IsBait(r.Technique) ? r.Technique : null,
                Technique.FlyLine
            ),
            Habit = habit,
            Styles = Compared(trips)
                ? [HookStyle.Circle, HookStyle.J]
                :
                [
                    Usual(
                        told,
                        species,
                        r => r.HookStyle is HookStyle.Circle or HookStyle.J ? r.HookStyle : null,
                        HookStyle.Circle
                    ),
                ],
            Steps = Fished(told, species, r => r.HookStep),
        };
    }

    /// <summary>
    /// Have three boats or more counted what circles and J hooks hooked on one trip? From winners nobody learns which of the two does better, and
    /// a list of the rigs in use often has the rare one only because it won: which was commoner is all that they tell.
    /// </summary>
    private static bool Compared(List<RigTrip> trips) =>
        Sample.Boats(
            trips
                .Where(t =>
                    t.Tallied
                    && t.Lines.Index()
                        .Where(l => t.Hooked[l.Index] is not null)
                        .Select(l => l.Item.HookStyle)
                        .Intersect([HookStyle.Circle, HookStyle.J])
                        .Count() == 2
                )
                .Select(t => t.Sighting)
        ) >= Confidentiality.FewestBoats;

    /// <summary>What the rigs of three boats or more had, ascending.</summary>
    private static List<T> Fished<T>(List<Sighting> told, string species, Func<RigMeasure, T?> of)
        where T : struct =>
        [
            .. told.SelectMany(s => s.Report.Rigs.Where(r => r.Species == species), (s, r) => (Sighting: s, Is: of(r)))
                .Where(x => x.Is is not null)
                .GroupBy(x => x.Is!.Value)
                .Where(g => Sample.Boats(g.Select(x => x.Sighting)) >= Confidentiality.FewestBoats)
                .Select(g => g.Key)
                .Order(),
        ];

    /// <summary>
    /// Hook-ups of a rod per trip, drawn a little to the coast's, for a boat trip is one draw; returns the coast's.
    /// </summary>
    internal static double FitRates(
        IReadOnlyList<RigTrip> trips,
        Mechanics mechanics,
        IReadOnlyList<double> landed,
        double? coastRate
    )
    {
        double[] sizes = [.. landed];
        var told = trips.Select(t => (Trip: t, Told: mechanics.Hookups(t, sizes))).ToList();
        var mean =
            coastRate
            ?? (told.Sum(t => t.Told.Met) + RigPriors.HookupsPerRod * RigPriors.RateWorth)
                / (told.Sum(t => t.Told.Rods) + RigPriors.RateWorth);
        foreach (var (trip, (met, rods)) in told)
        {
            trip.Rate = (met + mean * RigPriors.TripRateWorth) / (rods + RigPriors.TripRateWorth);
        }

        return mean;
    }

    /// <summary>
    /// Least squares of ln rate on the slopes' posterior means, on the prior's say; 0 where no slope was measured.
    /// </summary>
    private static double RateBy(List<RigTrip> trips)
    {
        var followed = trips.Where(t => t.Sighting.AgeDays < RigPriors.SlopeDays).ToList();
        if (followed.Count == 0)
        {
            return 0;
        }

        var (slope, rate) = (followed.Average(t => t.Slope), followed.Average(t => Math.Log(t.Rate)));
        var shared = followed.Sum(t => (t.Slope - slope) * (Math.Log(t.Rate) - rate));
        var spread = followed.Sum(t => (t.Slope - slope) * (t.Slope - slope));
        var doubt =
            RigPriors.TripRateSpread * RigPriors.TripRateSpread / (RigPriors.RateBySlope * RigPriors.RateBySlope);
        return Math.Max(0, shared / (spread + doubt));
    }

    /// <summary>Recent trips that told of sizes, grouped by what they met and by how many.</summary>
    internal static IReadOnlyList<Scenario> Group(IReadOnlyList<RigTrip> trips)
    {
        var told = trips.Where(t => t.Met is not null && t.Sighting.AgeDays < Windows.Display).ToList();
        if (told.Count == 0)
        {
            return [];
        }

        var median = told.Select(t => t.Rate).Order().ElementAt(told.Count / 2);
        return
        [
            .. told.GroupBy(t => (SizeGrid.Class(t.Met!), t.Rate > median))
                .OrderBy(g => g.Key)
                .Select(g =>
                {
                    var (weight, met, rate) = (0.0, new double[SizeGrid.Count], 0.0);
                    foreach (var trip in g)
                    {
                        var w = trip.Sighting.Weight(RigPriors.ScenarioHalfLife);
                        (weight, rate) = (weight + w, rate + w * trip.Rate);
                        for (var j = 0; j < met.Length; j++)
                        {
                            met[j] += w * trip.Rate * trip.Met![j];
                        }
                    }

                    return new Scenario(weight, rate / weight, [.. met.Select(m => m / rate)]);
                }),
        ];
    }

    internal static Dictionary<Reporting.Bite, double> Words(double picky, double steady, double wideOpen) =>
        new()
        {
            [Reporting.Bite.Picky] = picky,
            [Reporting.Bite.Steady] = steady,
            [Reporting.Bite.WideOpen] = wideOpen,
        };

    /// <summary>Every so-manyth of the reports, so that each day keeps its share.</summary>
    private static IEnumerable<Sighting> Thinned(IReadOnlyList<Sighting> coast) =>
        coast.Count <= RigPriors.MostTrips
            ? coast
            : Enumerable
                .Range(0, RigPriors.MostTrips)
                .Select(i => coast[(int)((long)i * coast.Count / RigPriors.MostTrips)]);

    private static (double Mm, string? Species) UsualBait(IReadOnlyList<Sighting> coast)
    {
        var told = coast
            .SelectMany(s => BaitOfDays.Lengths(s), (s, b) => (b.Mm, b.Species, Weight: s.Weight(HalfLives.BaitDays)))
            .ToList();
        return told.Count == 0
            ? (RigPriors.UsualBaitMm, null)
            : (
                told.Sum(t => t.Weight * t.Mm) / told.Sum(t => t.Weight),
                told.GroupBy(t => t.Species, StringComparer.Ordinal)
                    .OrderByDescending(g => g.Sum(t => t.Weight))
                    .ThenBy(g => g.Key, StringComparer.Ordinal)
                    .First()
                    .Key
            );
    }

    /// <summary>What most rigs of the coast are, among those of three boats; the other is advised by the skipper, not by us.</summary>
    private static T Usual<T>(List<Sighting> told, string species, Func<RigMeasure, T?> of, T otherwise)
        where T : struct, Enum =>
        told.SelectMany(s => s.Report.Rigs.Where(r => r.Species == species), (s, r) => (Sighting: s, Is: of(r)))
            .Where(x => x.Is is not null)
            .GroupBy(x => x.Is!.Value)
            .Where(g => Sample.Boats(g.Select(x => x.Sighting)) >= Confidentiality.FewestBoats)
            .OrderByDescending(g => g.Count())
            .ThenBy(g => g.Key)
            .Select(g => (T?)g.Key)
            .FirstOrDefault()
        ?? otherwise;

    /// <summary>The rounds of the fit: holding, bite and slopes, each given the others.</summary>
    private sealed class Fitting
    {
        private readonly List<RigTrip> trips;
        private readonly List<List<RigTrip>> zones;
        private readonly bool speaks;

        public Fitting(List<RigTrip> trips, HookHabit habit, bool speaks)
        {
            (this.trips, this.speaks) = (trips, speaks);
            zones =
            [
                .. trips
                    .GroupBy(t => t.Sighting.Zone, StringComparer.Ordinal)
                    .OrderBy(g => g.Key, StringComparer.Ordinal)
                    .Select(g => g.ToList()),
            ];
            Mechanics = new(
                Rigs.Bite.Prior.Mean,
                RigPriors.Holding.Mean,
                RigPriors.BiteCorrelation,
                PopularOf(trips),
                habit,
                Words(RigPriors.PickySlope, RigPriors.SteadySlope, RigPriors.WideOpenSlope)
            );
        }

        public Mechanics Mechanics { get; private set; }
        public CoefficientFit BiteFit { get; private set; } = null!;
        public CoefficientFit HoldingFit { get; private set; } = null!;
        public IReadOnlyList<CoastSlope> Coast { get; private set; } = Rigs.Slopes.Coast([]);

        public void Round(bool withHolding)
        {
            trips.ForEach(Mechanics.MeetSizes);
            if (withHolding)
            {
                FitHolding();
            }

            for (var step = 0; step < BiteSteps; step++)
            {
                FitBite();
            }

            FitSpread();
            var measures = zones.ConvertAll(zone =>
                zone.ConvertAll(t => (Trip: t, Measure: speaks ? Mechanics.Measure(t) : null))
            );
            Coast = Rigs.Slopes.Coast(measures.SelectMany(Rigs.Slopes.Days));
            measures.ForEach(zone => Rigs.Slopes.Settle(zone, Coast));
        }

        private void FitHolding()
        {
            var tallies = new List<HoldingTally>();
            foreach (var trip in trips.Where(t => t.Met is not null))
            {
                for (var i = 0; i < trip.Lines.Count; i++)
                {
                    if (trip.Hooked[i] is > 0 and { } hooked && trip.Lines[i].Landed is { } landed && landed <= hooked)
                    {
                        tallies.Add(
                            new(
                                trip.Lines[i].RungLb,
                                trip.Lines[i].HookStep,
                                trip.Features[i].J,
                                trip.Met!,
                                landed,
                                hooked
                            )
                        );
                    }
                }
            }

            HoldingFit = Rigs.Holding.Fit(tallies);
            Mechanics = With(holding: HoldingFit.Coefficients);
        }

        private void FitBite()
        {
            var strata = trips.SelectMany(t => Mechanics.Choices(t), (t, c) => Mechanics.Linear(c, t.Slope)).ToList();
            BiteFit =
                strata.Count > 0
                    ? ConditionalLogit.Fit(strata, Rigs.Bite.Prior)
                    : new(
                        Rigs.Bite.Prior.Mean,
                        SymmetricSolver.Inverse(SymmetricSolver.Diagonal(Rigs.Bite.Prior.Precision), Rigs.Bite.Columns),
                        new FitSummary(StopReason.Converged, 0, 0),
                        0
                    );
            Mechanics = With(bite: BiteFit.Coefficients);
        }

        /// <summary>
        /// Pearson: a stratum of n has chi-square (K - 1)(1 + (n - 1) rho) on average. And what the crew's words mean here: the
        /// slopes of the trips that they were said of, as those trips' rigs tell them, on the prior's say.
        /// </summary>
        private void FitSpread()
        {
            var (chi, freedom, more) = (0.0, 0.0, 0.0);
            var words = Words(RigPriors.PickySlope, RigPriors.SteadySlope, RigPriors.WideOpenSlope)
                .ToDictionary(
                    w => w.Key,
                    w => (Sum: w.Value * RigPriors.WordWorth * Each, Precision: RigPriors.WordWorth * Each)
                );
            foreach (var trip in trips.Where(t => t.Tallied))
            {
                foreach (var choice in Mechanics.Choices(trip))
                {
                    var shares = Mechanics.Shares(choice, trip.Slope);
                    var total = choice.Counts.Sum();
                    for (var j = 0; j < shares.Length; j++)
                    {
                        chi += Square(choice.Counts[j] - total * shares[j]) / (total * shares[j]);
                    }

                    freedom += shares.Length - 1;
                    more += (shares.Length - 1) * (total - 1);
                }
            }

            foreach (var trip in trips)
            {
                if (trip.Sighting.Report.Bite is { } word && words.TryGetValue(word, out var so))
                {
                    var (gradient, information) = Mechanics.Score(trip);
                    if (information > 0.05)
                    {
                        var weight = 1 / (1 / information + 1 / Each);
                        words[word] = (so.Sum + weight * (trip.Slope + gradient / information), so.Precision + weight);
                    }
                }
            }

            var worth = RigPriors.CorrelationWorth;
            Mechanics = new(
                BiteFit.Coefficients,
                HoldingFit.Coefficients,
                Math.Clamp((chi - freedom + worth * RigPriors.BiteCorrelation) / (more + worth), 0, 0.5),
                Mechanics.Popular,
                Mechanics.Habit,
                words.ToDictionary(w => w.Key, w => w.Value.Sum / w.Value.Precision)
            );
        }

        /// <summary>Precision of one trip's slope as a measure of what its word stands for.</summary>
        private const double Each =
            1 / (RigPriors.TripSlopeSpread * RigPriors.TripSlopeSpread + RigPriors.WordSpread * RigPriors.WordSpread);

        private Mechanics With(double[]? bite = null, double[]? holding = null) =>
            new(
                bite ?? BiteFit?.Coefficients ?? Rigs.Bite.Prior.Mean,
                holding ?? HoldingFit.Coefficients,
                Mechanics.BiteCorrelation,
                Mechanics.Popular,
                Mechanics.Habit,
                Mechanics.Words
            );

        /// <summary>Share of the rods by rung: as told, on the prior's bell.</summary>
        private static double[] PopularOf(List<RigTrip> trips)
        {
            var shares = LineClass
                .Ladder.Select(r =>
                    Math.Exp(-Square(Math.Log(r / RigPriors.ReferenceLb) / RigPriors.PopularSpread) / 2)
                )
                .ToArray();
            var sum = shares.Sum();
            for (var r = 0; r < shares.Length; r++)
            {
                shares[r] *= RigPriors.PopularWorth / sum;
            }

            // What wins is for the most part what is fished: where nobody told what else was, it counts as much as custom at most.
            var winners = trips
                .Where(t => t.Rods.Sum() <= 0)
                .SelectMany(
                    t => t.Lines.Where(l => l.Winning),
                    (t, l) => (l.RungLb, Weight: t.Sighting.Weight(HalfLives.RigDays))
                )
                .ToList();
            var each = 1 / Math.Max(1, winners.Sum(w => w.Weight) / RigPriors.PopularWorth);
            foreach (var (rungLb, weight) in winners)
            {
                shares[LineClass.Index(rungLb)] += each * weight;
            }

            foreach (var trip in trips)
            {
                for (var i = 0; i < trip.Lines.Count; i++)
                {
                    shares[LineClass.Index(trip.Lines[i].RungLb)] +=
                        trip.Rods[i] * trip.Sighting.Weight(HalfLives.RigDays);
                }
            }

            sum = shares.Sum();
            return [.. shares.Select(s => s / sum)];
        }

        private static double Square(double x) => x * x;
    }
}

/// <summary>Bait of a trip: its own, else what others told about that day, else the usual.</summary>
internal sealed class BaitOfDays(IReadOnlyList<Sighting> sightings, double usualMm, string? usualSpecies)
{
    /// <summary>Bait of so many days before and after is as good.</summary>
    private const int Near = 3;

    private readonly ILookup<int, (double Mm, string Species)> told = sightings
        .SelectMany(s => Lengths(s), (s, b) => (s.AgeDays, Bait: b))
        .ToLookup(t => t.AgeDays, t => t.Bait);
    private readonly Dictionary<int, BaitAsk> about = [];

    public BaitAsk Of(Sighting sighting)
    {
        if (Own(sighting) is { } own)
        {
            return own;
        }

        if (!about.TryGetValue(sighting.AgeDays, out var ask))
        {
            var near = Enumerable.Range(sighting.AgeDays - Near, 2 * Near + 1).SelectMany(age => told[age]).ToList();
            ask = about[sighting.AgeDays] = near.Count > 0 ? Ask(near) : BaitAsk.Of(usualSpecies, usualMm);
        }

        return ask;
    }

    /// <summary>As the trip itself told; null where it did not.</summary>
    public static BaitAsk? Own(Sighting sighting) => Lengths(sighting).ToList() is { Count: > 0 } own ? Ask(own) : null;

    private static BaitAsk Ask(List<(double Mm, string Species)> bait) =>
        BaitAsk.Of(
            bait.GroupBy(b => b.Species, StringComparer.Ordinal)
                .OrderByDescending(g => g.Count())
                .ThenBy(g => g.Key, StringComparer.Ordinal)
                .First()
                .Key,
            bait.Average(b => b.Mm)
        );

    public static IEnumerable<(double Mm, string Species)> Lengths(Sighting sighting) =>
        sighting
            .Report.Bait.Where(b => b.MiddleMm() is not null)
            .Select(b => (b.MiddleMm()!.Value, b.Species))
            .Where(b => b.Item1 > 10);
}
