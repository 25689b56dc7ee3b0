using System.Runtime.Intrinsics;
using Reports.Domain.Briefs;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using Reports.Domain.Trade;
using Reports.Statistics;

namespace Reports.Domain.Rigs;

/// <summary>A rig that may be advised.</summary>
internal readonly record struct Candidate(Technique Technique, int RungLb, HookStyle Style, int Step)
{
    public RigFeatures Features(BaitAsk? bait) =>
        bait is { } ask
            ? RigFeatures.Of(RungLb, Technique, Style, Step, ask)
            : RigFeatures.Of(RungLb, Technique, null, null, default);
}

/// <summary>
/// What the rigs that may be advised would do on the boat trips to come in a zone: trips like the recent ones, with the slope
/// foreseen and its doubts, and today's bait.
/// </summary>
internal sealed class Prospect
{
    /// <summary>Draws of what is not known for sure, and the first of them that the costlier angler is tried on.</summary>
    private const int DrawCount = 24;
    private const int Rounds = 3;

    /// <summary>Hooks of a style tried for each bait.</summary>
    private const int HooksTried = 3;
    private const int BaitsTried = 5;

    /// <summary>Line from here on is for fish of 100 lb and more (the trade's table).</summary>
    private const int HeavyLineLb = 60;

    /// <summary>Sets to this size are all tried; larger ones grow from the best of the size below.</summary>
    private const int TriedWhole = 3;
    private const int GrownFrom = 12;

    /// <summary>
    /// Sets that the rule is followed through, and how much more its angler counts than the one who finds out: he is the commoner, and
    /// a set that serves him is not chosen for what the model makes of the last draw (judgement; on simulated fleets both land more with 3 than with 1).
    /// </summary>
    private const int Followed = 30;
    private const double FollowerWorth = 3;

    private const int FollowerDraws = 6;
    private const int Spells = 4;

    /// <summary>Rods beside the angler's by which he sees that others are bit.</summary>
    private const double Neighbours = 10;

    /// <summary>
    /// Normal quantile of the 0.8 that a difference worth telling must be likely by. The doubts of a forecast (moods and trips to
    /// come, <see cref="RigPriors.Misfit"/>) are wider than its errors: equal outfits are ranked in 1 pair of 100, where 0.9
    /// left a third of the twofold differences unsaid (measured: docs/method/rigs.md).
    /// </summary>
    private const double RankQuantile = 0.8416212335729143;

    /// <summary>A quarter of a day with an outfit: fish landed, chances of no bite, of losing all that bit, that others are bit.</summary>
    private readonly record struct Spell(double Caught, double NoBite, double AllLost, double OthersBit);

    private readonly IReadOnlyList<Candidate> candidates;
    private readonly BaitToCome? bait;
    private readonly Dictionary<int, List<(int[] Set, double Found)>> ranked = [];

    /// <summary>By state (draw, scenario, slope node): weight in trips, hook-ups of a rod on a thirty, and which of the baits to come it is.</summary>
    private readonly double[] weight;
    private readonly double[] rate;
    private readonly int[] baitAt;

    /// <summary>By line and state: bite against a thirty, fish landed against a thirty's hook-ups, and fish landed by weight.</summary>
    private readonly double[][] bite;
    private readonly double[][] landed;
    private readonly double[][] worth;

    /// <summary>The states that the follower is tried on, and by line and such state how a spell of his may end.</summary>
    private readonly int[] followed;
    private readonly Spell[][] spells;

    /// <summary>Mean fish landed of each line, by draw.</summary>
    private readonly double[][] means;

    private Prospect(
        CoastRigs coast,
        IReadOnlyList<Scenario> scenarios,
        IReadOnlyList<Candidate> candidates,
        (double Mean, double Variance) slope,
        BaitToCome? bait
    )
    {
        (this.candidates, this.bait, Holding) = (candidates, bait, new Holding([.. coast.Holding]));
        var nodes = Draws.Nodes.Count;
        var states = DrawCount * scenarios.Count * nodes;
        (weight, rate, baitAt) = (new double[states], new double[states], new int[states]);
        var (slopeAt, laws) = (new double[states], new Bite[DrawCount]);
        var held = new double[DrawCount * scenarios.Count][];
        var draws = Draws.Normal(DrawCount, 1 + Bite.Columns + RigPriors.Holding.Mean.Length + scenarios.Count);
        var biteFactor = SymmetricSolver.Factor([.. coast.BiteCovariance], Bite.Columns);
        var holdFactor = SymmetricSolver.Factor([.. coast.HoldingCovariance], RigPriors.Holding.Mean.Length);
        for (var p = 0; p < DrawCount; p++)
        {
            var z = draws[p];
            laws[p] = new Bite(Moved(coast.Bite, biteFactor, z, 1));
            var holding = new Holding(Moved(coast.Holding, holdFactor, z, 1 + Bite.Columns));
            var level = slope.Mean - RigPriors.UnluckySlope + z[0] * Math.Sqrt(slope.Variance);
            for (var s = 0; s < scenarios.Count; s++)
            {
                var scenario = scenarios[s];
                // How many trips will be like these is not known either: as a gamma of their number would have it.
                var doubt = Math.Log(1 + 1 / (scenario.Weight + 0.5));
                var unsure = z[1 + Bite.Columns + RigPriors.Holding.Mean.Length + s];
                var share = scenario.Weight * Math.Exp(Math.Sqrt(doubt) * unsure - doubt / 2);
                double[] met = [.. scenario.Met];
                held[p * scenarios.Count + s] =
                [
                    .. candidates.Select(c => holding.Mean(c.RungLb, c.Step, c.Style is HookStyle.J, met)),
                ];
                for (var n = 0; n < nodes; n++)
                {
                    var state = (p * scenarios.Count + s) * nodes + n;
                    var at = Math.Min(level + RigPriors.TripSlopeSpread * Draws.Nodes[n].Node, RigPriors.FlattestSlope);
                    (slopeAt[state], baitAt[state], weight[state], rate[state]) = (
                        at,
                        bait?.Of(state) ?? 0,
                        share * Draws.Nodes[n].Weight,
                        scenario.Rate * Math.Exp(coast.RateBySlope * (at - slope.Mean + RigPriors.UnluckySlope))
                    );
                }
            }
        }

        IReadOnlyList<BaitAsk?> baits = bait is null ? [null] : [.. bait.Lengths.Select(b => (BaitAsk?)b.Ask)];
        double[] leans = [.. candidates.Select(c => Bite.Lean(c.RungLb))];
        // By draw, bait and candidate.
        double[][][] rest =
        [
            .. laws.Select(law =>
                baits.Select(b => candidates.Select(c => law.Rest(c.Features(b))).ToArray()).ToArray()
            ),
        ];
        Lines = Hooked(candidates, baits.Count, Landed());
        double[][] ByLine() => [.. Lines.Select(_ => new double[states])];
        (bite, landed, worth) = (ByLine(), ByLine(), ByLine());
        means = [.. laws.Select(_ => new double[Lines.Count])];
        for (var state = 0; state < states; state++)
        {
            var (p, b) = (state / (states / DrawCount), baitAt[state]);
            for (var l = 0; l < Lines.Count; l++)
            {
                var c = Lines[l].ByBait[b];
                bite[l][state] = Math.Exp(slopeAt[state] * leans[c] + rest[p][b][c]);
                landed[l][state] = bite[l][state] * held[state / nodes][c];
                worth[l][state] = weight[state] * rate[state] * landed[l][state];
                means[p][l] += worth[l][state];
            }
        }

        followed =
        [
            .. Enumerable
                .Range(0, states)
                .Where(state => state / (states / DrawCount) % (DrawCount / FollowerDraws) == 0),
        ];
        spells =
        [
            .. Lines.Select(
                (_, l) => Array.ConvertAll(followed, state => SpellOf(rate[state], bite[l][state], landed[l][state]))
            ),
        ];

        worthOf = c =>
        {
            if (fixedWorth.TryGetValue(c, out var known))
            {
                return known;
            }
            var w = new double[states];
            for (var state = 0; state < states; state++)
            {
                w[state] =
                    weight[state]
                    * rate[state]
                    * Math.Exp(slopeAt[state] * leans[c] + rest[state / (states / DrawCount)][baitAt[state]][c])
                    * held[state / nodes][c];
            }
            return fixedWorth[c] = w;
        };

        // Fish landed by candidate and bait, were every trip to have that bait.
        double[][] Landed()
        {
            double[][] sums = [.. candidates.Select(_ => new double[baits.Count])];
            for (var p = 0; p < DrawCount; p++)
            {
                for (var c = 0; c < candidates.Count; c++)
                {
                    var rightHooked = 0.0;
                    for (var state = p * (states / DrawCount); state < (p + 1) * (states / DrawCount); state++)
                    {
                        rightHooked +=
                            weight[state] * rate[state] * Math.Exp(slopeAt[state] * leans[c]) * held[state / nodes][c];
                    }

                    for (var b = 0; b < baits.Count; b++)
                    {
                        sums[c][b] += rightHooked * Math.Exp(rest[p][b][c]);
                    }
                }
            }

            return sums;
        }
    }

    /// <summary>
    /// What may be brought: a line with hooks of one style, of which the angler ties on what lands most with the bait at the dock.
    /// </summary>
    /// <param name="Rig">With the hook that lands most over all baits to come.</param>
    /// <param name="ByBait">The candidate by bait.</param>
    private readonly record struct Line(Candidate Rig, int Usual, int[] ByBait);

    private List<Line> Hooked(IReadOnlyList<Candidate> candidates, int baits, double[][] landed)
    {
        double[] often = [.. Enumerable.Range(0, baits).Select(b => baitAt.Zip(weight, (at, w) => at == b ? w : 0).Sum())];
        int MostOf(IEnumerable<int> hooks, Func<int, double> landed) => hooks.MaxBy(c => Math.Round(landed(c), 9));
        return
        [
            .. Enumerable
                .Range(0, candidates.Count)
                .GroupBy(c => candidates[c] with { Step = 0 })
                .Select(hooks => (Hooks: hooks, Usual: MostOf(hooks, c => landed[c].Zip(often, (x, w) => x * w).Sum())))
                .Select(h => new Line(
                    candidates[h.Usual], h.Usual,
                    [.. Enumerable.Range(0, baits).Select(b => MostOf(h.Hooks, c => landed[c][b]))]
                )),
        ];
    }

    private List<Line> Lines { get; }
    private readonly Func<int, double[]> worthOf;
    private readonly Dictionary<int, double[]> fixedWorth = [];
    private readonly double lambda = double.Parse(Environment.GetEnvironmentVariable("LAMBDA") ?? "1", System.Globalization.CultureInfo.InvariantCulture);

    private (int[] Hooks, double Found) Tied(int[] set)
    {
        int[] hooks = [.. set.Select(l => Lines[l].Usual)];
        var found = FinderOf(hooks);
        for (var round = 0; round < 2; round++)
        {
            for (var i = 1; i < set.Length; i++)
            {
                foreach (var c in Lines[set[i]].ByBait.Distinct())
                {
                    int[] other = [.. hooks];
                    other[i] = c;
                    var f = FinderOf(other);
                    if (f > found + 1e-9)
                    {
                        (hooks, found) = (other, f);
                    }
                }
            }
        }

        return (hooks, found);
    }

    private double FinderOf(int[] hooks)
    {
        var all = hooks.Select(worthOf).ToArray();
        var sum = Vector256<double>.Zero;
        for (var state = 0; state < weight.Length; state += Vector256<double>.Count)
        {
            var most = Vector256.Create(all[0], state);
            for (var i = 1; i < all.Length; i++)
            {
                most = Vector256.Max(most, Vector256.Create(all[i], state));
            }

            sum += most;
        }

        return (sum[0] + sum[1] + sum[2] + sum[3]) / DrawCount;
    }

    public Candidate[] TiedHooks(IReadOnlyList<int> order)
    {
        var (hooks, _) = Tied([.. order]);
        return [.. hooks.Select(c => candidates[c])];
    }

    private Holding Holding { get; }

    private static Spell SpellOf(double rate, double bite, double landed)
    {
        var (hooked, caught) = (rate * bite / Spells, rate * landed / Spells);
        var noBite = Math.Exp(-hooked);
        return new(caught, noBite, Math.Exp(-caught) - noBite, 1 - Math.Exp(-Neighbours * hooked));
    }

    /// <param name="own">The zone's sightings in one order; none where the coast speaks for it.</param>
    public static Prospect Of(
        CoastRigs coast,
        IReadOnlyList<Sighting> own,
        string species,
        BaitPicture? bait,
        int floorLb
    )
    {
        var mechanics = coast.Mechanics;
        var baits = new BaitOfDays(own, coast.BaitMm, coast.BaitSpecies);
        double[] sizes = [.. coast.Landed];
        var trips = own.Where(s => s.AgeDays < RigPriors.SlopeDays)
            .Select(s => new RigTrip(
                s,
                baits.Of(s),
                coast.Speaks ? s.Report.Rigs.Where(r => r.Species == species) : []
            ))
            .ToList();
        foreach (var trip in trips)
        {
            trip.Doubt(coast.Habit);
            trip.Landed = SizesMet.Landed(trip.Sighting, sizes);
        }

        var slope = (Mean: 0.0, Variance: 0.0);
        for (var round = 0; round < Rounds; round++)
        {
            trips.ForEach(mechanics.MeetSizes);
            slope = Slopes.Settle(trips.ConvertAll(t => (t, coast.Speaks ? mechanics.Measure(t) : null)), coast.Slopes);
        }

        CoastRigs.FitRates(trips, mechanics, coast.Landed, coast.Rate);
        BaitAsk? ask = bait is null
            ? null
            : BaitAsk.Of(bait.Kinds.Count > 0 ? bait.Kinds[0].Species : null, bait.P50Mm);
        var toCome = ask is null ? null : new BaitToCome(own, ask.Value, coast.BaitDrift);
        var hooks = coast.Styles.ToDictionary(s => s, s => toCome is null ? [] : Steps(coast, mechanics, toCome, s));
        var candidates =
            from rung in LineClass.Ladder.Where(r => r >= floorLb)
            from style in coast.Styles
            from step in ask is { } usual
                ? hooks[style].Select(s => Math.Max(s, LeastStep(rung, usual))).Distinct()
                : [BaitTable.HookStepForLine(rung)]
            select new Candidate(coast.Technique, rung, style, step);
        return new Prospect(coast, Scenarios(coast, trips), [.. candidates], slope, toCome);
    }

    /// <summary>
    /// Bait decides the hook, but nobody ties heavy line to a small one, whatever the bite says: it is a step at most below what custom has for the
    /// line and the bait (common practice, no source). No such bound on lighter line.
    /// </summary>
    private static int LeastStep(int rungLb, BaitAsk bait) =>
        rungLb < HeavyLineLb
            ? int.MinValue
            : Math.Min(BaitTable.HookStepForLine(rungLb), (int)Math.Round(bait.CentreStep) + BaitTable.Spread) - 1;

    /// <summary>
    /// The hooks that bite best for the baits to come: what shops stock (4, 2, 1 and the aughts), and what is in use here; none that is far
    /// both from custom and from what anybody fished.
    /// </summary>
    private static List<int> Steps(CoastRigs coast, Mechanics mechanics, BaitToCome baits, HookStyle style)
    {
        IEnumerable<int> For(BaitAsk bait)
        {
            var centre = (int)Math.Round(bait.CentreStep);
            return Enumerable
                .Range(centre - 4, 9)
                .Where(s => s >= -1 || s % 2 != 0 || coast.Steps.Contains(s))
                .Where(s =>
                    Math.Abs(s - centre) <= BaitTable.Spread || coast.Steps.Any(used => Math.Abs(used - s) <= 1)
                )
                .OrderByDescending(s =>
                    mechanics.Bite.Rest(RigFeatures.Of((int)RigPriors.ReferenceLb, coast.Technique, style, s, bait))
                )
                .Take(HooksTried);
        }

        return [.. baits.Spread(BaitsTried).SelectMany(For).Distinct().Order()];
    }

    /// <summary>The zone's recent trips and a few of the coast's; where nobody told a size, fish as custom has them.</summary>
    private static List<Scenario> Scenarios(CoastRigs coast, List<RigTrip> trips)
    {
        var whole = coast.Scenarios.Sum(s => s.Weight);
        var scenarios = coast
            .Scenarios.Select(s => s with { Weight = s.Weight * Math.Min(1, RigPriors.CoastTrips / whole) })
            .Concat(CoastRigs.Group(trips))
            .ToList();
        return scenarios.Count > 0 ? scenarios : [FromLines(coast)];
    }

    private static Scenario FromLines(CoastRigs coast)
    {
        var met = new double[SizeGrid.Count];
        for (var r = 0; r < coast.Popular.Count; r++)
        {
            var (low, high) = TackleTable.FishGrams(LineClass.Ladder[r]);
            var middle = Math.Log(Weight.FromGrams(Math.Sqrt((double)low * high), WeightUnit.Lb));
            for (var j = 0; j < met.Length; j++)
            {
                met[j] += coast.Popular[r] * Math.Exp(-Square((SizeGrid.LogLb[j] - middle) / 0.3) / 2);
            }
        }

        var sum = met.Sum();
        return new Scenario(1, coast.Rate, [.. met.Select(m => m / sum)]);
    }

    /// <summary>
    /// The best set of k by two anglers: one who always finds the best of the set, and one who starts with the first
    /// and changes by rule. In the order to try them.
    /// </summary>
    /// <param name="allowed">Which sets (indices of candidates, ascending) may be advised.</param>
    public IReadOnlyList<int> Best(int k, Func<int[], bool> allowed, int floorLb)
    {
        var all = Ranked(k);
        var sets = all.Where(s => allowed(s.Set)).ToList();
        var best = (sets.Count > 0 ? sets : all)
            .Take(Followed)
            .Select(s => (s.Set, Found: s.Found + (k > 1 ? lambda * Tied(s.Set).Found : 0)))
            .SelectMany(s =>
                s.Set.Select(first => (s.Set, First: first, s.Found, Followed: Follower(s.Set, first, floorLb)))
            )
            .MaxBy(s => Math.Round(s.Found + FollowerWorth * s.Followed, 9));
        var mean = MeanLanded();
        return [best.First, .. best.Set.Where(c => c != best.First).OrderByDescending(c => mean[c])];
    }

    /// <summary>Sets by what a finder lands; their lines in ascending order.</summary>
    private List<(int[] Set, double Found)> Ranked(int k)
    {
        if (ranked.TryGetValue(k, out var known))
        {
            return known;
        }

        var sets =
            k <= TriedWhole
                ? Subsets(Lines.Count, k)
                : Ranked(k - 1)
                    .Take(GrownFrom)
                    .SelectMany(s => Enumerable.Range(0, Lines.Count).Except(s.Set), (s, l) => s.Set.Append(l).Order().ToArray())
                    .DistinctBy(set => string.Join(' ', set));
        return ranked[k] = [
            .. sets.Select(set => (Set: set, Found: Math.Round(Finder(set), 9)))
                .OrderByDescending(s => s.Found),
        ];
    }

    /// <summary>Mean fish landed by who always finds the best of the set: four states at a time, the same four on every processor.</summary>
    private double Finder(params ReadOnlySpan<int> set)
    {
        var sum = Vector256<double>.Zero;
        for (var state = 0; state < weight.Length; state += Vector256<double>.Count)
        {
            var most = Vector256.Create(worth[set[0]], state);
            for (var i = 1; i < set.Length; i++)
            {
                most = Vector256.Max(most, Vector256.Create(worth[set[i]], state));
            }

            sum += most;
        }

        return (sum[0] + sum[1] + sum[2] + sum[3]) / DrawCount;
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
        var lightest = Lines[set[0]].Rig;
        var leader =
            LineClass.Below(lightest.RungLb) is { } below && below >= floorLb
                ? Lines.FindIndex(l => l.Rig.RungLb == below && l.Rig.Style == lightest.Style)
                : -1;
        Span<double> at = stackalloc double[size + 1];
        Span<double> next = stackalloc double[size + 1];
        var sum = 0.0;
        for (var f = 0; f < followed.Length; f++)
        {
            var othersBit = spells[first][f].OthersBit;
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

                    var (caught, noBite, allLost, _) = spells[i < size ? set[i] : leader][f];
                    got += at[i] * caught;
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

            sum += weight[followed[f]] * got;
        }

        return sum / FollowerDraws;
    }

    /// <summary>Share of the trips on which each of a set is its best.</summary>
    public double[] BestOn(IReadOnlyList<int> set)
    {
        var shares = new double[set.Count];
        for (var state = 0; state < weight.Length; state++)
        {
            var best = 0;
            for (var i = 1; i < set.Count; i++)
            {
                best = landed[set[i]][state] > landed[set[best]][state] ? i : best;
            }

            shares[best] += weight[state];
        }

        var sum = shares.Sum();
        return [.. shares.Select(s => s / sum)];
    }

    /// <summary>Is one of them better than the other by so much that it is worth telling, four times in five?</summary>
    public bool Clear(int better, int worse)
    {
        var ratios = means.Select(m => Math.Log(m[better] / m[worse])).ToList();
        var mean = ratios.Average();
        var variance = ratios.Sum(r => Square(r - mean)) / (ratios.Count - 1) + 2 * Square(RigPriors.Misfit);
        return mean - Math.Log(Ranks.WorthTelling) >= RankQuantile * Math.Sqrt(variance);
    }

    /// <summary>A line with the hook that lands most over all baits to come.</summary>
    public Candidate Rig(int line) => Lines[line].Rig;

    /// <summary>
    /// Of a line the hook that lands most with each bait that may come, neighbouring baits of one hook together.
    /// </summary>
    public IReadOnlyList<HookOfBait> HooksByBait(int line)
    {
        var rows = new List<HookOfBait>();
        foreach (var (length, hook) in (bait?.Lengths ?? []).Zip(Lines[line].ByBait))
        {
            var step = candidates[hook].Step;
            if (rows.Count > 0 && rows[^1].Step == step)
            {
                rows.RemoveAt(rows.Count - 1);
            }

            rows.Add(new(length.UpToMm, step));
        }

        return rows.Count == 0 ? rows : [.. rows[..^1], rows[^1] with { UpToMm = null }];
    }

    /// <summary>Chance to land a fish of a weight with a line.</summary>
    public double Holds(int line, double grams) =>
        Holding.Chances(Rig(line).RungLb, Rig(line).Step, Rig(line).Style is HookStyle.J)[SizeGrid.Cell(grams)];

    private double[] MeanLanded() => [.. Enumerable.Range(0, Lines.Count).Select(l => means.Sum(m => m[l]))];

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

    private static double[] Moved(IReadOnlyList<double> mean, double[] factor, double[] z, int from)
    {
        var n = mean.Count;
        double[] moved = [.. mean];
        for (var i = 0; i < n; i++)
        {
            for (var j = 0; j <= i; j++)
            {
                moved[i] += factor[i * n + j] * z[from + j];
            }
        }

        return moved;
    }

    private static double Square(double x) => x * x;
}
