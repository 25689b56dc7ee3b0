using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using Reports.Statistics;

namespace Reports.Domain.Rigs;

/// <summary>A trip's choice of rigs as a stratum: what a slope acts on, what else the bite sees, offsets, counts.</summary>
/// <param name="Scale">Of the utilities: 1 for counted fish; more for a winner, who is the largest of many.</param>
internal sealed record Choice(
    double[] Lean,
    IReadOnlyList<RigFeatures> Features,
    double[] Offset,
    double[] Counts,
    double Weight,
    double Scale,
    bool Tallied
);

/// <summary>
/// How fish bite and hold on a coast, as far as is known: what turns one boat trip's report into a measure of its bite's slope, of
/// the fish it met and of how many there were. Rigs are compared within a boat trip only.
/// </summary>
internal sealed class Mechanics
{
    private readonly double[] biteAt;

    public Mechanics(
        double[] bite,
        double[] holding,
        double biteCorrelation,
        double[] popular,
        HookHabit habit,
        IReadOnlyDictionary<Reporting.Bite, double> words
    )
    {
        (biteAt, BiteCorrelation, Popular, Habit, Words) = (bite, biteCorrelation, popular, habit, words);
        (Bite, Holding) = (new Bite(bite), new Holding(holding));
    }

    public Bite Bite { get; }
    public Holding Holding { get; }

    /// <summary>Correlation of the hook-ups of one rig on one trip.</summary>
    public double BiteCorrelation { get; }

    /// <summary>Share of the rods by rung of the ladder, where a report does not tell.</summary>
    public double[] Popular { get; }

    /// <summary>Hooks in use, where a report does not tell.</summary>
    public HookHabit Habit { get; }

    /// <summary>The slope that each of the crew's words stands for.</summary>
    public IReadOnlyDictionary<Reporting.Bite, double> Words { get; }

    public IEnumerable<Choice> Choices(RigTrip trip) =>
        trip.Tallied ? [Tallies(trip)]
        : trip.Sighting.Fish > 0 ? Wins(trip)
        : [];

    private Choice Tallies(RigTrip trip)
    {
        var at = Enumerable.Range(0, trip.Lines.Count).Where(i => trip.Hooked[i] is not null).ToList();
        var total = at.Sum(i => trip.Hooked[i]!.Value);
        return new(
            [.. at.Select(i => Rigs.Bite.Lean(trip.Features[i].X))],
            [.. at.Select(i => trip.Features[i])],
            [.. at.Select(i => Math.Log(trip.Rods[i]))],
            [.. at.Select(i => trip.Hooked[i]!.Value)],
            1 / (1 + (total - 1) * BiteCorrelation),
            1,
            true
        );
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
        var worth = fish / (1 + (fish - 1) * BiteCorrelation);
        var scale = Math.Sqrt(1 + 0.64 * (worth - 1));
        double Held(int rung, int? step, bool j) =>
            trip.Met is null ? 0 : Math.Log(Holding.Mean(rung, step, j, trip.Met) + 0.02);
        // Counted rods are all rods. Words are not: who says what was in use adds a rare rig because it won, and leaves out those that did not.
        var known = Enumerable.Range(0, trip.Lines.Count).Where(i => trip.Lines[i].Rods > 0).ToList();
        if (known.Count >= 2 && winners.All(known.Contains))
        {
            yield return new(
                [.. known.Select(i => scale * Rigs.Bite.Lean(trip.Features[i].X))],
                [.. known.Select(i => trip.Features[i])],
                [
                    .. known.Select(i =>
                        scale
                        * (
                            Math.Log(trip.Rods[i])
                            + Held(trip.Lines[i].RungLb, trip.Lines[i].HookStep, trip.Features[i].J)
                        )
                    ),
                ],
                [.. known.Select(i => trip.Lines[i].Winning ? 1.0 / winners.Count : 0)],
                1,
                scale,
                false
            );
            yield break;
        }

        // Only the winner was told: it won among what is usual on the coast, lines and hooks apart. Boats differ in what they have on board, so
        // what is usual says how likely a rig was there to win, and is not scaled.
        var rungs = LineClass.Ladder;
        yield return new(
            [.. rungs.Select(r => scale * Rigs.Bite.Lean(r))],
            [.. rungs.Select(r => RigFeatures.Of(r, Technique.FlyLine, null, null, trip.Bait))],
            [.. rungs.Select((r, i) => Math.Log(Popular[i] + 1e-3) + scale * Held(r, null, false))],
            [.. rungs.Select(r => winners.Count(i => trip.Lines[i].RungLb == r) / (double)winners.Count)],
            RigPriors.WinnerWorth,
            scale,
            false
        );
        foreach (var i in winners)
        {
            if (trip.Features[i] is not { Off: { } won } features)
            {
                continue;
            }

            var steps = Enumerable.Range(-4, 9).Select(s => features with { Off = won + s }).ToList();
            yield return new(
                [.. steps.Select(_ => 0.0)],
                steps,
                [.. steps.Select(s => -Habit.Rarity(s.Off!.Value, RigPriors.BoatsHabit))],
                [.. steps.Select(s => s.Off == won ? 1.0 : 0)],
                RigPriors.WinnerWorth / winners.Count,
                RigPriors.HookWinScale,
                false
            );
        }
    }

    /// <summary>The choice with the bite's law made straight about the coefficients (Gauss and Newton's step).</summary>
    public ChoiceStratum Linear(Choice choice, double slope)
    {
        var rows = new List<double[]>(choice.Features.Count);
        var offset = new double[choice.Features.Count];
        for (var j = 0; j < offset.Length; j++)
        {
            var row = Bite.Gradient(choice.Features[j]);
            offset[j] = choice.Offset[j] + slope * choice.Lean[j] + choice.Scale * Bite.Rest(choice.Features[j]);
            for (var k = 0; k < row.Length; k++)
            {
                row[k] *= choice.Scale;
                offset[j] -= row[k] * biteAt[k];
            }

            rows.Add(row);
        }

        return new ChoiceStratum(rows, choice.Counts, offset, choice.Weight);
    }

    /// <summary>Shares of the counts that each rig of a choice is expected to have.</summary>
    public double[] Shares(Choice choice, double slope)
    {
        var shares = new double[choice.Lean.Length];
        for (var j = 0; j < shares.Length; j++)
        {
            shares[j] = choice.Offset[j] + slope * choice.Lean[j] + choice.Scale * Bite.Rest(choice.Features[j]);
        }

        var peak = shares.Max();
        var sum = 0.0;
        for (var j = 0; j < shares.Length; j++)
        {
            sum += shares[j] = Math.Exp(shares[j] - peak);
        }

        for (var j = 0; j < shares.Length; j++)
        {
            shares[j] /= sum;
        }

        return shares;
    }

    /// <summary>Derivative and information of a trip's log likelihood in its slope, at the slope so far.</summary>
    public (double Gradient, double Information) Score(RigTrip trip)
    {
        double gradient = 0,
            information = 0;
        foreach (var choice in Choices(trip))
        {
            var shares = Shares(choice, trip.Slope);
            var (total, mean) = (choice.Counts.Sum(), 0.0);
            for (var j = 0; j < shares.Length; j++)
            {
                mean += shares[j] * choice.Lean[j];
            }

            for (var j = 0; j < shares.Length; j++)
            {
                gradient += choice.Weight * (choice.Counts[j] - total * shares[j]) * choice.Lean[j];
                information += choice.Weight * total * shares[j] * Square(choice.Lean[j] - mean);
            }
        }

        return (gradient, information);
    }

    /// <summary>
    /// The trip's slope as measured by its own report: its likelihood as a normal one about the slope so far (Laplace), the crew's
    /// word as one more measure. Null where it tells nothing.
    /// </summary>
    public (double Value, double Variance)? Measure(RigTrip trip)
    {
        var (gradient, information) = Score(trip);
        var (sum, precision) = (information * trip.Slope + gradient, information);
        if (trip.Sighting.Report.Bite is { } word && Words.TryGetValue(word, out var meant))
        {
            sum += meant / Square(RigPriors.WordSpread);
            precision += 1 / Square(RigPriors.WordSpread);
        }

        return precision > 1e-6 ? (sum / precision, 1 / precision) : null;
    }

    /// <summary>Fills in the shares of the fish met: landed over the chance to land them on what was in the water.</summary>
    public void MeetSizes(RigTrip trip)
    {
        if (trip.Landed is { } landed)
        {
            trip.Met = SizesMet.Met(landed, HeldOnBoard(trip));
        }
    }

    /// <summary>
    /// Fish met and what the rods in the water were worth, in rods with a thirty: together the trip's hook-ups of a rod.
    /// </summary>
    public (double Met, double Rods) Hookups(RigTrip trip, double[] coastSizes)
    {
        var held = HeldOnBoard(trip);
        var met = 0.0;
        if (trip.Landed is { } landed)
        {
            for (var j = 0; j < held.Length; j++)
            {
                met += landed[j] / Math.Max(SizesMet.LeastHeld, held[j]);
            }
        }
        else
        {
            var mean = 0.0;
            for (var j = 0; j < held.Length; j++)
            {
                mean += coastSizes[j] * held[j];
            }

            met = trip.Sighting.Fish / Math.Max(SizesMet.LeastHeld, mean);
        }

        var (bite, rods) = (0.0, trip.Rods.Sum());
        if (rods > 0)
        {
            for (var i = 0; i < trip.Lines.Count; i++)
            {
                bite += trip.Rods[i] / rods * Math.Exp(Bite.Log(trip.Slope, trip.Features[i]));
            }
        }
        else
        {
            for (var r = 0; r < Popular.Length; r++)
            {
                bite += Popular[r] * Math.Exp(trip.Slope * Rigs.Bite.Lean(LineClass.Ladder[r]));
            }
        }

        return (met, trip.Sighting.Effort * bite);
    }

    /// <summary>Chance to land by cell, averaged over what was in the water, by its bites.</summary>
    private double[] HeldOnBoard(RigTrip trip)
    {
        var mean = new double[SizeGrid.Count];
        var total = 0.0;
        foreach (var (rung, step, hookJ, worth) in OnBoard(trip))
        {
            var chances = Holding.Chances(rung, step, hookJ);
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

    private IEnumerable<(int RungLb, int? Step, bool J, double Worth)> OnBoard(RigTrip trip)
    {
        if (trip.Rods.Sum() > 0)
        {
            for (var i = 0; i < trip.Lines.Count; i++)
            {
                yield return (
                    trip.Lines[i].RungLb,
                    trip.Lines[i].HookStep,
                    trip.Features[i].J,
                    (trip.Hooked[i] ?? 0) + 0.5 * trip.Rods[i] * Math.Exp(Bite.Log(trip.Slope, trip.Features[i]))
                );
            }

            yield break;
        }

        for (var r = 0; r < Popular.Length; r++)
        {
            var rung = LineClass.Ladder[r];
            yield return (rung, null, false, Popular[r] * Math.Exp(trip.Slope * Rigs.Bite.Lean(rung)));
        }
    }

    private static double Square(double x) => x * x;
}
