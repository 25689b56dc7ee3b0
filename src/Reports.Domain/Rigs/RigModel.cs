using Reports.Domain.Briefs;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using Reports.Domain.Trade;
using Reports.Statistics;

namespace Reports.Domain.Rigs;

/// <summary>
/// How fish bite and hold, learnt from all reports of a coast: the bite's slope in the line class, drifting from day to day, zone
/// by zone; the hook against the bait; the holding power of lines. One for all zones of a species and day.
/// <para>Rigs are compared within a boat trip only. Equations, priors and sources: docs/method/rigs.md.</para>
/// </summary>
internal sealed class RigModel
{
    private const int Rounds = 4;
    private const double UsualBaitMm = 150;

    private readonly IReadOnlyList<RigTrip> trips;
    private readonly List<string> zones;
    private readonly double[] sizes;
    private readonly Dictionary<int, double[]> popular = [];
    private readonly List<(int Age, int RungLb, double Rods)> uses;
    private double[] biteAt = Bite.Prior.Mean;
    private double biteCorrelation = RigPriors.BiteCorrelation;
    private readonly Dictionary<Reporting.Bite, double> words = new()
    {
        [Reporting.Bite.Picky] = RigPriors.PickySlope,
        [Reporting.Bite.Steady] = RigPriors.SteadySlope,
        [Reporting.Bite.WideOpen] = RigPriors.WideOpenSlope,
    };

    private RigModel(Sample sample, string species)
    {
        zones = [.. sample.Coast.Select(s => s.Zone).Distinct(StringComparer.Ordinal).Order(StringComparer.Ordinal)];
        var lines = sample.Coast.Select(s => (Sighting: s, Lines: s.Report.Rigs.Where(r => r.Species == species).ToList()));
        // The rule of three: rigs that fewer boats told of stay theirs.
        Speaks = Sample.Boats(lines.Where(l => l.Lines.Count > 0).Select(l => l.Sighting)) >= Confidentiality.FewestBoats;
        var bait = new BaitOfDays(sample.Coast);
        trips =
        [
            .. lines.Select(l => new RigTrip(
                l.Sighting,
                zones.IndexOf(l.Sighting.Zone),
                bait.Of(l.Sighting),
                Speaks ? l.Lines : []
            )),
        ];
        uses =
        [
            .. trips.SelectMany(t =>
                t.Lines.Select((l, i) => (t.Sighting.AgeDays, l.RungLb, t.Rods[i])).Where(u => u.Item3 > 0)
            ),
        ];
        sizes = SizesMet.Landed(trips);
    }

    /// <summary>Three boats or more told what they fished with.</summary>
    public bool Speaks { get; }
    public IReadOnlyList<RigTrip> Trips => trips;
    public double BiteCorrelation => biteCorrelation;
    public CoefficientFit BiteFit { get; private set; } = null!;
    public Bite Bite { get; private set; } = new(Bite.Prior.Mean);
    public CoefficientFit HoldingFit { get; private set; } = null!;
    public Holding Holding { get; private set; } = Holding.Prior;
    public DriftingLevel Slopes { get; private set; } = new(RigPriors.Slope, []);

    /// <summary>Shares of all the coast's fish landed by cell of the size grid.</summary>
    public IReadOnlyList<double> Sizes => sizes;

    public static RigModel Fit(Sample sample, string species)
    {
        var model = new RigModel(sample, species);
        for (var round = 0; round < Rounds; round++)
        {
            model.MeetSizes();
            if (round is 0 or Rounds - 1)
            {
                model.FitHolding();
            }

            model.FitBite();
            model.FitSlopes();
        }

        model.MeetSizes();
        model.FitRates();
        return model;
    }

    /// <summary>Mean and variance of a zone's slope on a day to come; a zone without trips is one more of the coast.</summary>
    public (double Mean, double Variance) SlopeAhead(string zone) =>
        Slopes.At(zones.IndexOf(zone), RigPriors.DaysAhead);

    private void MeetSizes()
    {
        foreach (var trip in trips.Where(t => t.Landed is not null))
        {
            trip.Met = SizesMet.Met(trip.Landed!, HeldOnBoard(trip));
        }
    }

    /// <summary>Chance to land by cell, averaged over what was in the water, by its bites.</summary>
    private double[] HeldOnBoard(RigTrip trip)
    {
        var mean = new double[SizeGrid.Count];
        var total = 0.0;
        foreach (var (rung, step, worth) in OnBoard(trip))
        {
            var chances = Holding.Chances(rung, step);
            total += worth;
            for (var j = 0; j < mean.Length; j++)
            {
                mean[j] += worth * chances[j];
            }
        }

        for (var j = 0; j < mean.Length; j++)
        {
            mean[j] /= total;
        }

        return mean;
    }

    private IEnumerable<(int RungLb, int? Step, double Worth)> OnBoard(RigTrip trip)
    {
        if (trip.Rods.Sum() > 0)
        {
            for (var i = 0; i < trip.Lines.Count; i++)
            {
                var line = trip.Lines[i];
                yield return (
                    line.RungLb,
                    line.HookStep,
                    (trip.Hooked[i] ?? 0)
                        + 0.5 * trip.Rods[i] * Math.Exp(Bite.Log(trip.Slope, trip.Features[i]))
                );
            }

            yield break;
        }

        var popularity = Popular(trip.Sighting.AgeDays);
        for (var r = 0; r < popularity.Length; r++)
        {
            var rung = LineClass.Ladder[r];
            yield return (rung, null, popularity[r] * Math.Exp(trip.Slope * Bite.Lean(rung)));
        }
    }

    /// <summary>Share of the rods by rung about a day: as told within a week or two, on the prior's bell.</summary>
    private double[] Popular(int ageDays)
    {
        if (popular.TryGetValue(ageDays, out var known))
        {
            return known;
        }

        var shares = LineClass
            .Ladder.Select(r => Math.Pow(Math.Log(r / RigPriors.ReferenceLb) / RigPriors.PopularSpread, 2))
            .Select(q => Math.Exp(-q / 2))
            .ToArray();
        var sum = shares.Sum();
        for (var r = 0; r < shares.Length; r++)
        {
            shares[r] *= RigPriors.PopularWorth / sum;
        }

        foreach (var (age, rung, rods) in uses)
        {
            var lag = Math.Abs(age - ageDays);
            if (lag <= 21)
            {
                shares[LineClass.Ladder.TakeWhile(r => r != rung).Count()] += rods * Math.Pow(2, -lag / 7.0);
            }
        }

        sum = shares.Sum();
        return popular[ageDays] = [.. shares.Select(s => s / sum)];
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
                    tallies.Add(new(trip.Lines[i].RungLb, trip.Lines[i].HookStep, trip.Met!, landed, hooked));
                }
            }
        }

        HoldingFit = Holding.Fit(tallies);
        Holding = new Holding(HoldingFit.Coefficients);
    }

    /// <summary>The choice that a trip shows: rigs, what a slope acts on, features, offsets, counts.</summary>
    private sealed record Choice(
        RigTrip Trip,
        double[] Lean,
        List<RigFeatures> Features,
        double[] Offset,
        double[] Counts,
        double Weight,
        double Scale = 1
    );

    private IEnumerable<Choice> Choices()
    {
        foreach (var trip in trips)
        {
            if (trip.Tallied)
            {
                var at = Enumerable.Range(0, trip.Lines.Count).Where(i => trip.Hooked[i] is not null).ToList();
                var total = at.Sum(i => trip.Hooked[i]!.Value);
                yield return new(
                    trip,
                    [.. at.Select(i => Bite.Lean(trip.Lines[i].RungLb))],
                    [.. at.Select(i => trip.Features[i])],
                    [.. at.Select(i => Math.Log(trip.Rods[i]))],
                    [.. at.Select(i => trip.Hooked[i]!.Value)],
                    1 / (1 + (total - 1) * biteCorrelation)
                );
            }
            else if (trip.Sighting.Fish > 0)
            {
                foreach (var choice in Wins(trip))
                {
                    yield return choice;
                }
            }
        }
    }

    /// <summary>
    /// The rig that worked best landed most: of counts that sum to T, the largest. Two Poisson counts of nearly equal mean part
    /// by 0.8 sqrt(T) times the difference of their logs, in log odds of who is ahead; one fish parts them by the difference
    /// itself. So the utilities are scaled by sqrt(1 + 0.64 (T - 1)), T what the catch is worth.
    /// </summary>
    private IEnumerable<Choice> Wins(RigTrip trip)
    {
        var winners = Enumerable.Range(0, trip.Lines.Count).Where(i => trip.Lines[i].Winning).ToList();
        if (winners.Count == 0)
        {
            yield break;
        }

        var fish = (double)trip.Sighting.Fish;
        var worth = fish / (1 + (fish - 1) * biteCorrelation);
        var scale = Math.Sqrt(1 + 0.64 * (worth - 1));
        double Held(int rung, int? step) => trip.Met is null ? 0 : Math.Log(Holding.Mean(rung, step, trip.Met) + 0.02);
        var known = Enumerable.Range(0, trip.Lines.Count).Where(i => trip.Rods[i] > 0).ToList();
        if (known.Count >= 2 && winners.All(known.Contains))
        {
            yield return new(
                trip,
                [.. known.Select(i => scale * Bite.Lean(trip.Lines[i].RungLb))],
                [.. known.Select(i => trip.Features[i])],
                [
                    .. known.Select(i =>
                        scale * (Math.Log(trip.Rods[i]) + Held(trip.Lines[i].RungLb, trip.Lines[i].HookStep))
                    ),
                ],
                [.. known.Select(i => trip.Lines[i].Winning ? 1.0 / winners.Count : 0)],
                1,
                scale
            );
            yield break;
        }

        // Only the winner was told: it won among what is usual on the coast, lines and hooks apart.
        var popularity = Popular(trip.Sighting.AgeDays);
        var rungs = LineClass.Ladder;
        yield return new(
            trip,
            [.. rungs.Select(r => scale * Bite.Lean(r))],
            [.. rungs.Select(r => RigFeatures.Of(r, Technique.FlyLine, null, null, trip.Bait))],
            [.. rungs.Select((r, i) => scale * (Math.Log(popularity[i] + 1e-3) + Held(r, null)))],
            [.. rungs.Select(r => winners.Count(i => trip.Lines[i].RungLb == r) / (double)winners.Count)],
            RigPriors.WinnerWorth,
            scale
        );
    }

    private void FitBite()
    {
        var choices = Choices().ToList();
        if (choices.Count == 0)
        {
            var prior = Bite.Prior;
            var covariance = new double[Bite.Columns * Bite.Columns];
            for (var k = 0; k < Bite.Columns; k++)
            {
                covariance[k * (Bite.Columns + 1)] = 1 / prior.Precision[k];
            }

            BiteFit = new(prior.Mean, covariance, new FitSummary(StopReason.Converged, 0, 0), 0);
            return;
        }

        BiteFit = ConditionalLogit.Fit(
            [
                .. choices.Select(c => Linear(c)),
            ],
            Bite.Prior
        );
        biteAt = BiteFit.Coefficients;
        Bite = new Bite(biteAt);
    }

    /// <summary>The choice with the bite's law made straight about the coefficients so far (Gauss and Newton's step).</summary>
    private ChoiceStratum Linear(Choice c)
    {
        var rows = c.Features.Select(f => Scaled(Bite.Gradient(f), c.Scale)).ToList();
        var offset = new double[rows.Count];
        for (var j = 0; j < offset.Length; j++)
        {
            offset[j] = c.Offset[j] + c.Trip.Slope * c.Lean[j] + c.Scale * Bite.Rest(c.Features[j]);
            for (var k = 0; k < Bite.Columns; k++)
            {
                offset[j] -= rows[j][k] * biteAt[k];
            }
        }

        return new ChoiceStratum(rows, c.Counts, offset, c.Weight);
    }

    /// <summary>
    /// Each trip's likelihood of its slope as a normal one (Laplace), the crew's word as one more measure of it; the trips of a
    /// zone and day together measure the zone's slope of the day.
    /// </summary>
    private void FitSlopes()
    {
        var noise = Square(RigPriors.TripSlopeSpread);
        var told = new Dictionary<RigTrip, (double Gradient, double Information)>();
        var (chi, freedom, more) = (0.0, 0.0, 0.0);
        foreach (var choice in Choices())
        {
            var shares = Shares(choice, choice.Trip.Slope);
            var (total, mean) = (choice.Counts.Sum(), 0.0);
            for (var j = 0; j < shares.Length; j++)
            {
                mean += shares[j] * choice.Lean[j];
            }

            double gradient = 0,
                information = 0;
            for (var j = 0; j < shares.Length; j++)
            {
                gradient += choice.Weight * (choice.Counts[j] - total * shares[j]) * choice.Lean[j];
                information += choice.Weight * total * shares[j] * Square(choice.Lean[j] - mean);
                if (choice.Trip.Tallied)
                {
                    chi += Square(choice.Counts[j] - total * shares[j]) / (total * shares[j]);
                }
            }

            if (choice.Trip.Tallied)
            {
                freedom += shares.Length - 1;
                more += (shares.Length - 1) * (total - 1);
            }

            var so = told.GetValueOrDefault(choice.Trip);
            told[choice.Trip] = (so.Gradient + gradient, so.Information + information);
        }

        // Pearson: a stratum of n has chi-square (K - 1)(1 + (n - 1) rho) on average.
        biteCorrelation = Math.Clamp(
            (chi - freedom + RigPriors.CorrelationWorth * RigPriors.BiteCorrelation * 10)
                / (more + RigPriors.CorrelationWorth * 10),
            0,
            0.5
        );
        Calibrate(told, noise);
        var measures = new Dictionary<RigTrip, (double Value, double Variance)>();
        foreach (var trip in trips)
        {
            var (gradient, information) = told.GetValueOrDefault(trip);
            // About the trip's slope: a step of Newton's method from it.
            var (sum, precision) = (information * trip.Slope + gradient, information);
            if (Speaks && trip.Sighting.Report.Bite is { } word && words.TryGetValue(word, out var meant))
            {
                sum += meant / Square(RigPriors.WordSpread);
                precision += 1 / Square(RigPriors.WordSpread);
            }

            if (precision > 1e-6)
            {
                measures[trip] = (sum / precision, 1 / precision);
            }
        }

        var days = measures
            .Where(m => m.Key.Sighting.AgeDays < RigPriors.SlopeDays)
            .GroupBy(m => (m.Key.Zone, m.Key.Sighting.AgeDays))
            .Select(g =>
            {
                var precision = g.Sum(m => 1 / (m.Value.Variance + noise));
                var value = g.Sum(m => m.Value.Value / (m.Value.Variance + noise)) / precision;
                return new LevelObservation(g.Key.Zone, -g.Key.AgeDays, value, 1 / precision);
            })
            .ToList();
        Slopes = new DriftingLevel(RigPriors.Slope, days);
        var levels = new Dictionary<(int, int), (double Mean, double Variance)>();
        if (days.Count > 0)
        {
            var at = Slopes.AtObservations();
            for (var i = 0; i < days.Count; i++)
            {
                levels[(days[i].Group, (int)-days[i].Day)] = (at[i], 0);
            }
        }

        // Before the days that are followed: anything that a coast may do about its mean.
        var (usual, _) = Slopes.At(-1, -RigPriors.SlopeDays);
        var prior = RigPriors.Slope;
        var wide = Square(prior.CommonSpread) + Square(prior.OwnSpread) + Square(prior.GroupSpread);
        foreach (var trip in trips)
        {
            var (level, spread) = levels.TryGetValue((trip.Zone, trip.Sighting.AgeDays), out var known)
                ? known
                : (usual, wide);
            var (sum, precision) = (level / (spread + noise), 1 / (spread + noise));
            if (measures.TryGetValue(trip, out var m))
            {
                (sum, precision) = (sum + m.Value / m.Variance, precision + 1 / m.Variance);
            }

            trip.Slope = sum / precision;
        }
    }

    /// <summary>What each word means here: the slopes of the tallied trips that it was said of, on the prior's say.</summary>
    private void Calibrate(Dictionary<RigTrip, (double Gradient, double Information)> told, double noise)
    {
        foreach (
            var (word, prior) in new[]
            {
                (Reporting.Bite.Picky, RigPriors.PickySlope),
                (Reporting.Bite.Steady, RigPriors.SteadySlope),
                (Reporting.Bite.WideOpen, RigPriors.WideOpenSlope),
            }
        )
        {
            var each = 1 / (noise + Square(RigPriors.WordSpread));
            var (sum, precision) = (prior * RigPriors.WordWorth * each, RigPriors.WordWorth * each);
            foreach (var trip in trips.Where(t => t.Tallied && t.Sighting.Report.Bite == word))
            {
                var (gradient, information) = told.GetValueOrDefault(trip);
                if (information > 0.05)
                {
                    var weight = 1 / (1 / information + noise + Square(RigPriors.WordSpread));
                    sum += weight * (trip.Slope + gradient / information);
                    precision += weight;
                }
            }

            words[word] = sum / precision;
        }
    }

    private double[] Shares(Choice choice, double slope)
    {
        var shares = new double[choice.Lean.Length];
        for (var j = 0; j < shares.Length; j++)
        {
            shares[j] = choice.Offset[j] + slope * choice.Lean[j] + choice.Scale * Bite.Rest(choice.Features[j]);
        }

        var peak = shares.Max();
        for (var j = 0; j < shares.Length; j++)
        {
            shares[j] = Math.Exp(shares[j] - peak);
        }

        var sum = shares.Sum();
        for (var j = 0; j < shares.Length; j++)
        {
            shares[j] /= sum;
        }

        return shares;
    }

    /// <summary>
    /// Hook-ups on a thirty per rod: fish met over what the rods in the water were worth, drawn a little to the coast's, for a
    /// boat trip is one draw.
    /// </summary>
    private void FitRates()
    {
        var told = trips
            .Select(t =>
            {
                var held = HeldOnBoard(t);
                var met =
                    t.Landed is { } landed ? landed.Select((n, j) => n / Math.Max(SizesMet.LeastHeld, held[j])).Sum()
                    : t.Sighting.Fish / Math.Max(SizesMet.LeastHeld, held.Select((h, j) => h * sizes[j]).Sum());
                var known = t.Rods.Sum();
                var bite = 0.0;
                if (known > 0)
                {
                    for (var i = 0; i < t.Lines.Count; i++)
                    {
                        bite +=
                            t.Rods[i] / known * Math.Exp(Bite.Log(t.Slope, t.Features[i]));
                    }
                }
                else
                {
                    var popularity = Popular(t.Sighting.AgeDays);
                    for (var r = 0; r < popularity.Length; r++)
                    {
                        bite += popularity[r] * Math.Exp(t.Slope * Bite.Lean(LineClass.Ladder[r]));
                    }
                }

                return (Trip: t, Met: met, Effort: t.Sighting.Effort * bite);
            })
            .ToList();
        var (trip, rods) = (RigPriors.HookupsPerRod * 10, 10.0);
        var mean = (told.Sum(t => t.Met) + trip) / (told.Sum(t => t.Effort) + rods);
        foreach (var (t, met, effort) in told)
        {
            t.Rate = (met + mean * 3) / (effort + 3);
        }
    }

    private static double[] Scaled(double[] features, double scale) => [.. features.Select(f => f * scale)];

    private static double Square(double x) => x * x;

    /// <summary>Bait of a trip: its own, else the coast's about that day, else the usual.</summary>
    private sealed class BaitOfDays
    {
        private readonly List<(int Age, double Mm, string Species)> told;

        public BaitOfDays(IReadOnlyList<Sighting> sightings) =>
            told =
            [
                .. sightings.SelectMany(s =>
                    Lengths(s).Select(b => (s.AgeDays, b.Mm, b.Species))
                ),
            ];

        public BaitAsk Of(Sighting sighting)
        {
            var own = Lengths(sighting).ToList();
            if (own.Count == 0)
            {
                own = [.. told.Where(t => Math.Abs(t.Age - sighting.AgeDays) <= 3).Select(t => (t.Mm, t.Species))];
            }

            return own.Count == 0
                ? BaitAsk.Of(null, UsualBaitMm)
                : BaitAsk.Of(
                    own.GroupBy(b => b.Species, StringComparer.Ordinal)
                        .OrderByDescending(g => g.Count())
                        .ThenBy(g => g.Key, StringComparer.Ordinal)
                        .First()
                        .Key,
                    own.Average(b => b.Mm)
                );
        }

        private static IEnumerable<(double Mm, string Species)> Lengths(Sighting sighting) =>
            sighting
                .Report.Bait.Where(b => (b.ShortestMm ?? b.LongestMm) is not null)
                .Select(b => (((b.ShortestMm ?? b.LongestMm)!.Value + (b.LongestMm ?? b.ShortestMm)!.Value) / 2.0, b.Species))
                .Where(b => b.Item1 > 10);
    }
}
