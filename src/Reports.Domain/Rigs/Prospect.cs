using Reports.Domain.Briefs;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using Reports.Domain.Trade;
using Reports.Statistics;

namespace Reports.Domain.Rigs;

/// <summary>A rig that may be advised.</summary>
internal readonly record struct Candidate(Technique Technique, int RungLb, HookStyle Style, int Step);

/// <summary>
/// What the rigs that may be advised would do on the boat trips to come in a zone: trips like the recent ones, with the slope
/// foreseen and its doubts, and today's bait.
/// </summary>
internal sealed class Prospect
{
    /// <summary>Draws of what is not known for sure, and the first of them that the costlier angler is tried on.</summary>
    private const int DrawCount = 24;
    private const int FollowerDraws = 6;
    private const int Spells = 4;

    /// <summary>A change of a tenth is worth a word when it is this likely.</summary>
    private const double RankRatio = 1.1;
    private const double RankCertainty = 0.9;

    /// <summary>Bait of the coming days against today's, in ln.</summary>
    private const double BaitSpread = 0.06;

    /// <summary>Trips are grouped by ln weight of their fish.</summary>
    private const double SizeClass = 0.15;

    // Gauss-Hermite, three nodes.
    private static readonly (double Node, double Weight)[] SlopeNodes =
    [
        (-1.7320508075688772, 1 / 6.0),
        (0, 2 / 3.0),
        (1.7320508075688772, 1 / 6.0),
    ];

    private readonly List<Scenario> scenarios;

    /// <summary>By draw, scenario and slope node: weight in trips.</summary>
    private readonly double[][] weight;

    /// <summary>By draw, scenario and slope node, candidate: bite against a thirty, and fish landed against a thirty's hook-ups.</summary>
    private readonly double[][][] bite;
    private readonly double[][][] landed;

    /// <summary>Mean fish landed of each candidate, by draw.</summary>
    private readonly double[][] means;

    private sealed record Scenario(double Weight, double Rate, double[] Met, double Trips);

    private Prospect(List<Scenario> scenarios, IReadOnlyList<Candidate> candidates, RigModel model, (double Mean, double Variance) slope, BaitAsk? bait)
    {
        (this.scenarios, Candidates) = (scenarios, candidates);
        var columns = 1 + Bite.Columns + RigPriors.Holding.Mean.Length + 1;
        var draws = Draws.Normal(DrawCount, columns + scenarios.Count);
        var biteFactor = SymmetricSolver.Factor(model.BiteFit.Covariance, Bite.Columns);
        var holdFactor = SymmetricSolver.Factor(model.HoldingFit.Covariance, RigPriors.Holding.Mean.Length);
        (weight, bite, landed, means) = (
            new double[DrawCount][],
            new double[DrawCount][][],
            new double[DrawCount][][],
            new double[DrawCount][]
        );
        for (var p = 0; p < DrawCount; p++)
        {
            var z = draws[p];
            var biteModel = new Bite(Moved(model.BiteFit.Coefficients, biteFactor, z, 1));
            var holding = new Holding(Moved(model.HoldingFit.Coefficients, holdFactor, z, 1 + Bite.Columns));
            var longer = BaitSpread * z[columns - 1];
            var features = candidates
                .Select(c =>
                    RigFeatures.Of(
                        c.RungLb,
                        c.Technique,
                        bait is null ? null : c.Style,
                        c.Step,
                        bait is { } ask ? Longer(ask, longer) : default
                    )
                )
                .ToList();
            var level = slope.Mean - RigPriors.Unlucky + z[0] * Math.Sqrt(slope.Variance);
            var rest = features.Select(biteModel.Rest).ToArray();
            Fill(p, holding, level, rest, z.AsSpan(columns));
        }
    }

    public IReadOnlyList<Candidate> Candidates { get; }

    private void Fill(int p, Holding holding, double level, double[] rest, ReadOnlySpan<double> z)
    {
        var nodes = SlopeNodes.Length;
        (weight[p], bite[p], landed[p], means[p]) = (
            new double[scenarios.Count * nodes],
            new double[scenarios.Count * nodes][],
            new double[scenarios.Count * nodes][],
            new double[Candidates.Count]
        );
        for (var s = 0; s < scenarios.Count; s++)
        {
            var scenario = scenarios[s];
            // How many trips will be like these is not known either: as a gamma of their number would have it.
            var doubt = Math.Log(1 + 1 / (scenario.Trips + 0.5));
            var share = scenario.Weight * Math.Exp(Math.Sqrt(doubt) * z[s] - doubt / 2);
            var held = Candidates.Select(c => holding.Mean(c.RungLb, c.Step, scenario.Met)).ToArray();
            for (var n = 0; n < nodes; n++)
            {
                var (at, slope) = (s * nodes + n, level + RigPriors.TripSlopeSpread * SlopeNodes[n].Node);
                slope = Math.Min(slope, -0.05);
                weight[p][at] = share * SlopeNodes[n].Weight;
                var (b, l) = (new double[rest.Length], new double[rest.Length]);
                for (var c = 0; c < rest.Length; c++)
                {
                    b[c] = Math.Exp(slope * Bite.Lean(Candidates[c].RungLb) + rest[c]);
                    l[c] = b[c] * held[c];
                    means[p][c] += weight[p][at] * scenario.Rate * l[c];
                }

                (bite[p][at], landed[p][at]) = (b, l);
            }
        }
    }

    /// <summary>One candidate for each line from the floor up: with the hook that lands most.</summary>
    public static Prospect Of(RigModel model, Sample sample, BaitPicture? bait, int floorLb, string zone)
    {
        var scenarios = Scenarios(model, sample);
        var slope = model.SlopeAhead(sample.Pooled ? "" : zone);
        BaitAsk? ask = bait is null
            ? null
            : BaitAsk.Of(bait.Kinds.Count > 0 ? bait.Kinds[0].Species : null, bait.P50Mm);
        var met = new double[SizeGrid.Count];
        foreach (var scenario in scenarios)
        {
            for (var j = 0; j < met.Length; j++)
            {
                met[j] += scenario.Weight * scenario.Met[j];
            }
        }

        var styles = Styles(sample);
        var all = LineClass
            .Ladder.Where(r => r >= floorLb)
            .SelectMany(rung =>
                (
                    from technique in Techniques(model).Take(1)
                    from style in styles.Take(1)
                    from step in Steps(sample, ask, rung)
                    select new Candidate(technique, rung, style, step)
                )
                    .OrderByDescending(c => Worth(model, c, ask, met)).Take((int)RigPriors.E("HOOKS", 2))
            )
            .OrderByDescending(c => Worth(model, c, ask, met) + slope.Mean * Bite.Lean(c.RungLb)).Take(14)
            .OrderBy(c => c.RungLb).ThenBy(c => c.Step)
            .ToList();
        return new Prospect(scenarios, all, model, slope, ask);
    }

    private static double Worth(RigModel model, Candidate c, BaitAsk? ask, double[] met)
    {
        var rest = ask is { } bait
            ? model.Bite.Rest(RigFeatures.Of(c.RungLb, c.Technique, c.Style, c.Step, bait))
            : model.Bite.Rest(RigFeatures.Of(c.RungLb, c.Technique, null, null, default));
        return Math.Round(rest + Math.Log(model.Holding.Mean(c.RungLb, c.Step, met)), 9);
    }

    private static IEnumerable<Technique> Techniques(RigModel model) =>
        model.Trips.SelectMany(t => t.Lines.Select(l => (t.Sighting, l.Technique)))
            .GroupBy(x => x.Technique)
            .Where(g => Sample.Boats(g.Select(x => x.Sighting)) >= Confidentiality.FewestBoats)
            .Select(g => g.Key)
            .Append(Technique.FlyLine)
            .Distinct()
            .Order();

    private static List<HookStyle> Styles(Sample sample)
    {
        var styles = sample
            .Coast.SelectMany(s => s.Report.Rigs, (s, r) => (Sighting: s, r.HookStyle))
            .Where(x => x.HookStyle is HookStyle.Circle or HookStyle.J)
            .GroupBy(x => x.HookStyle!.Value)
            .Where(g => Sample.Boats(g.Select(x => x.Sighting)) >= Confidentiality.FewestBoats)
            .OrderByDescending(g => g.Count())
            .ThenBy(g => g.Key)
            .Select(g => g.Key)
            .ToList();
        return styles.Count > 0 ? styles : [HookStyle.Circle];
    }

    /// <summary>Hooks about the table's; of plain sizes what shops stock (4, 2, 1), and what is in use here.</summary>
    private static IEnumerable<int> Steps(Sample sample, BaitAsk? ask, int rungLb)
    {
        if (ask is not { } bait)
        {
            return [BaitTable.HookStepForLine(rungLb)];
        }

        var used = sample.Coast.SelectMany(s => s.Report.Rigs).Select(r => r.HookStep).ToHashSet();
        var centre = (int)Math.Round(bait.CentreStep);
        return Enumerable.Range(centre - 3, 7).Where(s => s >= -1 || s % 2 != 0 || used.Contains(s));
    }

    private static List<Scenario> Scenarios(RigModel model, Sample sample)
    {
        var told = model.Trips.Where(t => t.Met is not null && t.Sighting.AgeDays < Windows.Display).ToList();
        if (told.Count == 0)
        {
            return [FromLines(model)];
        }

        double Fresh(RigTrip t) => t.Sighting.Weight(RigPriors.ScenarioHalfLife);
        var own = sample.Pooled ? [] : told.Where(t => t.Sighting.Zone == sample.Zone[0].Zone).ToHashSet();
        var whole = told.Sum(Fresh);
        var coast = sample.Pooled ? 1 : Math.Min(1, RigPriors.CoastTrips / whole);
        var median = told.Select(t => t.Rate).Order().ElementAt(told.Count / 2);
        var grouped = told.Select(t =>
                (Trip: t, Weight: Fresh(t) * coast + (own.Contains(t) ? Fresh(t) : 0), Log: MeanLog(t.Met!))
            )
            .GroupBy(t => ((int)Math.Floor(t.Log / SizeClass), t.Trip.Rate > median))
            .OrderBy(g => g.Key)
            .Select(g =>
            {
                var (weight, met, rate) = (g.Sum(t => t.Weight), new double[SizeGrid.Count], 0.0);
                foreach (var (trip, w, _) in g)
                {
                    rate += w * trip.Rate;
                    for (var j = 0; j < met.Length; j++)
                    {
                        met[j] += w * trip.Rate * trip.Met![j];
                    }
                }

                for (var j = 0; j < met.Length; j++)
                {
                    met[j] /= rate;
                }

                return new Scenario(weight, rate / weight, met, weight);
            })
            .ToList();
        var sum = grouped.Sum(s => s.Weight);
        return [.. grouped.Select(s => s with { Weight = s.Weight / sum })];
    }

    /// <summary>Nobody told a size: fish as custom has them for the lines in use.</summary>
    private static Scenario FromLines(RigModel model)
    {
        var met = new double[SizeGrid.Count];
        var lines = model.Trips.SelectMany(t => t.Lines).Select(l => l.RungLb).DefaultIfEmpty(30);
        foreach (var group in lines.GroupBy(r => r))
        {
            var (low, high) = TackleTable.FishGrams(group.Key);
            var middle = Math.Log(Weight.FromGrams(Math.Sqrt((double)low * high), WeightUnit.Lb));
            for (var j = 0; j < met.Length; j++)
            {
                met[j] += group.Count() * Math.Exp(-Square((SizeGrid.LogLb[j] - middle) / 0.3) / 2);
            }
        }

        var sum = met.Sum();
        return new Scenario(1, RigPriors.HookupsPerRod, [.. met.Select(m => m / sum)], 1);
    }

    private static double MeanLog(double[] met)
    {
        var mean = 0.0;
        for (var j = 0; j < met.Length; j++)
        {
            mean += met[j] * SizeGrid.LogLb[j];
        }

        return mean;
    }

    /// <summary>
    /// The best set of k by the mean of two anglers: one who always finds the best of the set, and one who starts with the first
    /// and changes by rule. In the order to try them.
    /// </summary>
    /// <param name="allowed">Which sets (indices of candidates, ascending) may be advised.</param>
    public IReadOnlyList<int> Best(int k, Func<int[], bool> allowed, int floorLb)
    {
        var sets = Subsets(Candidates.Count, k).Where(allowed).ToList();
        if (sets.Count == 0)
        {
            sets = [.. Subsets(Candidates.Count, k)];
        }

        var best = sets.Select(set => (Set: set, Found: Finder(set)))
            .OrderByDescending(s => s.Found)
            .Take(10)
            .SelectMany(s => s.Set.Select(first => (s.Set, First: first, s.Found, Followed: Follower(s.Set, first, floorLb))))
            .MaxBy(s => Math.Round(s.Found + s.Followed, 9));
        var mean = Enumerable.Range(0, Candidates.Count).Select(c => means.Sum(m => m[c])).ToArray();
        return [best.First, .. best.Set.Where(c => c != best.First).OrderByDescending(c => mean[c])];
    }

    /// <summary>Mean fish landed by who always finds the best of the set.</summary>
    public double Finder(IReadOnlyList<int> set)
    {
        var sum = 0.0;
        for (var p = 0; p < DrawCount; p++)
        {
            for (var s = 0; s < weight[p].Length; s++)
            {
                var most = 0.0;
                foreach (var c in set)
                {
                    most = Math.Max(most, landed[p][s][c]);
                }

                sum += weight[p][s] * scenarios[s / SlopeNodes.Length].Rate * most;
            }
        }

        return sum / DrawCount;
    }

    /// <summary>
    /// Mean fish landed by who starts with the first and looks back after each quarter of the day: landed, stays; not bit though
    /// others are, goes lighter (to the next lighter outfit; without one, to a lighter leader); lost all that bit, goes
    /// heavier.
    /// </summary>
    private double Follower(int[] set, int first, int floorLb)
    {
        // States: the outfits, and the lightest one with a lighter leader.
        var size = set.Length;
        var start = Array.IndexOf(set, first);
        var leader = LineClass.Below(Candidates[set[0]].RungLb) is { } below && below >= floorLb ? set[0] - 1 : -1;
        Span<double> at = stackalloc double[size + 1];
        Span<double> next = stackalloc double[size + 1];
        var sum = 0.0;
        for (var p = 0; p < DrawCount; p += DrawCount / FollowerDraws)
        {
            for (var s = 0; s < weight[p].Length; s++)
            {
                var rate = scenarios[s / SlopeNodes.Length].Rate / Spells;
                var othersBit = 1 - Math.Exp(-10 * rate * bite[p][s][first]);
                at.Clear();
                at[start] = 1;
                var got = 0.0;
                for (var spell = 0; spell < Spells; spell++)
                {
                    next.Clear();
                    for (var i = 0; i <= size; i++)
                    {
                        if (at[i] <= 0)
                        {
                            continue;
                        }

                        var c = i < size ? set[i] : leader;
                        var (hooked, caught) = (rate * bite[p][s][c], rate * landed[p][s][c]);
                        got += at[i] * caught;
                        var noBite = Math.Exp(-hooked);
                        var allLost = Math.Exp(-caught) - noBite;
                        var lighter =
                            i == size ? Math.Min(1, size - 1)
                            : i > 0 ? i - 1
                            : leader >= 0 ? size
                            : Math.Min(1, size - 1);
                        var heavier = i == size ? 0 : Math.Min(i + 1, size - 1);
                        next[lighter] += at[i] * noBite * othersBit;
                        next[heavier] += at[i] * allLost;
                        next[i] += at[i] * (1 - allLost - noBite * othersBit);
                    }

                    next.CopyTo(at);
                }

                sum += weight[p][s] * got;
            }
        }

        return sum / FollowerDraws;
    }

    /// <summary>Share of the trips on which each of a set is its best.</summary>
    public double[] BestOn(IReadOnlyList<int> set)
    {
        var shares = new double[set.Count];
        for (var p = 0; p < DrawCount; p++)
        {
            for (var s = 0; s < weight[p].Length; s++)
            {
                var best = 0;
                for (var i = 1; i < set.Count; i++)
                {
                    best = landed[p][s][set[i]] > landed[p][s][set[best]] ? i : best;
                }

                shares[best] += weight[p][s];
            }
        }

        var sum = shares.Sum();
        return [.. shares.Select(s => s / sum)];
    }

    /// <summary>Is one of them better than the other by a tenth, nine times in ten?</summary>
    public bool Clear(int better, int worse)
    {
        var ratios = means.Select(m => Math.Log(m[better] / m[worse])).ToList();
        var mean = ratios.Average();
        var variance =
            ratios.Sum(r => Square(r - mean)) / (ratios.Count - 1) + 2 * Square(RigPriors.Misfit);
        return mean - Math.Log(RankRatio) >= RankQuantile * Math.Sqrt(variance);
    }

    /// <summary>Normal quantile of <see cref="RankCertainty"/>.</summary>
    private const double RankQuantile = 1.2815515655446004;

    /// <summary>Chance to land a fish of a weight with a candidate.</summary>
    public static double Holds(RigModel model, Candidate candidate, double grams) =>
        model.Holding.Chances(candidate.RungLb, candidate.Step)[SizeGrid.Cell(grams)];

    private static IEnumerable<int[]> Subsets(int n, int k)
    {
        if (k > n)
        {
            yield break;
        }

        var at = Enumerable.Range(0, k).ToArray();
        while (true)
        {
            yield return [.. at];
            var i = k - 1;
            while (i >= 0 && at[i] == n - k + i)
            {
                i--;
            }

            if (i < 0)
            {
                yield break;
            }

            at[i]++;
            for (var j = i + 1; j < k; j++)
            {
                at[j] = at[j - 1] + 1;
            }
        }
    }

    private static double[] Moved(double[] mean, double[] factor, double[] z, int from)
    {
        var n = mean.Length;
        var moved = mean.ToArray();
        for (var i = 0; i < n; i++)
        {
            for (var j = 0; j <= i; j++)
            {
                moved[i] += factor[i * n + j] * z[from + j];
            }
        }

        return moved;
    }

    /// <summary>About four steps of hook to a doubling of the bait (trade's table).</summary>
    private static BaitAsk Longer(BaitAsk ask, double log) => new(ask.CentreStep + 6 * log, ask.LogLength + log);

    private static double Square(double x) => x * x;
}
