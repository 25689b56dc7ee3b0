using System.Runtime.Intrinsics;
using Reports.Domain.Briefs;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using Reports.Domain.Trade;
using Reports.Statistics;

namespace Reports.Domain.Rigs;

/// <summary>
/// What the rigs that may be advised would do on the boat trips to come in a zone: trips like the recent ones, with the slope
/// foreseen and its doubts, and today's bait.
/// </summary>
internal sealed class Prospect
{
    private const int Rounds = 3;

    /// <summary>Hooks of a style tried for each bait.</summary>
    private const int HooksTried = 3;
    private const int BaitsTried = 5;

    /// <summary>Line from here on is for fish of 100 lb and more (the trade's table).</summary>
    private const int HeavyLineLb = 60;

    /// <summary>Times that the hooks of a set are gone through, each given the others.</summary>
    private const int TyingRounds = 2;

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

    /// <summary>
    /// What may be brought: a line with hooks of the style that lands most on it, of which the angler ties on what lands most with the bait at
    /// the dock.
    /// </summary>
    /// <param name="Usual">The candidate whose hook lands most over all baits to come.</param>
    /// <param name="ByBait">The candidate by bait.</param>
    private readonly record struct Line(int Usual, int[] ByBait);

    private readonly TripsToCome trips;
    private readonly BaitToCome? bait;
    private readonly Holding holding;
    private readonly List<Line> lines;
    private readonly Dictionary<int, List<(int[] Set, double Found)>> ranked = [];

    /// <summary>By line and state: fish landed against a thirty's hook-ups, and fish landed by weight.</summary>
    private readonly double[][] landed;
    private readonly double[][] worth;

    /// <summary>Fish landed by weight of the candidates that a hook was chosen from, as <see cref="worth"/>.</summary>
    private readonly Dictionary<int, double[]> worthTied = [];

    /// <summary>The states that the follower is tried on, and by line and such state how a spell of his may end.</summary>
    private readonly int[] followed;
    private readonly Spell[][] spells;

    /// <summary>Mean fish landed of each line, by draw.</summary>
    private readonly double[][] means;

    private Prospect(TripsToCome trips, Holding holding, BaitToCome? bait)
    {
        (this.trips, this.holding, this.bait) = (trips, holding, bait);
        lines =
        [
            .. Enumerable
                .Range(0, trips.Candidates.Count)
                .GroupBy(c => trips.Candidates[c].RungLb)
                .Select(rigs =>
                    rigs.GroupBy(c => trips.Candidates[c].Style)
                        .Select(hooks => Hooked(hooks.ToDictionary(c => c, trips.LandedByBait)))
                        .MaxBy(hooked => hooked.Landed)
                        .Line
                ),
        ];
        double[][] ByLine() => [.. lines.Select(_ => new double[trips.Count])];
        (landed, worth) = (ByLine(), ByLine());
        means = [.. Enumerable.Range(0, TripsToCome.DrawCount).Select(_ => new double[lines.Count])];
        followed =
        [
            .. Enumerable
                .Range(0, trips.Count)
                .Where(state => trips.Draw(state) % (TripsToCome.DrawCount / FollowerDraws) == 0),
        ];
        spells = [.. lines.Select(_ => new Spell[followed.Length])];
        for (var l = 0; l < lines.Count; l++)
        {
            var next = 0;
            for (var state = 0; state < trips.Count; state++)
            {
                var candidate = lines[l].ByBait[trips.Bait[state]];
                var bite = trips.BiteOf(candidate, state);
                landed[l][state] = bite * trips.Held(candidate, state);
                worth[l][state] = trips.Weight[state] * trips.Rate[state] * landed[l][state];
                means[trips.Draw(state)][l] += worth[l][state];
                if (next < followed.Length && followed[next] == state)
                {
                    spells[l][next++] = SpellOf(trips.Rate[state], bite, landed[l][state]);
                }
            }
        }
    }

    /// <summary>A line with hooks of one style, and fish landed with them by who goes by the bait.</summary>
    /// <param name="landedByBait">Of each such hook, by bait.</param>
    private (Line Line, double Landed) Hooked(Dictionary<int, double[]> landedByBait)
    {
        int Most(Func<double[], double> landed) => landedByBait.MaxBy(hook => Math.Round(landed(hook.Value), 9)).Key;
        var line = new Line(
            Most(landed => landed.Zip(trips.BaitShares, (fish, share) => fish * share).Sum()),
            [.. Enumerable.Range(0, trips.BaitShares.Length).Select(b => Most(landed => landed[b]))]
        );
        return (line, Math.Round(line.ByBait.Select((c, b) => landedByBait[c][b] * trips.BaitShares[b]).Sum(), 9));
    }

    private static Spell SpellOf(double rate, double bite, double landed)
    {
        var (hooked, caught) = (rate * bite / Spells, rate * landed / Spells);
        var noBite = Math.Exp(-hooked);
        return new(caught, noBite, Math.Exp(-caught) - noBite, 1 - Math.Exp(-Neighbours * hooked));
    }

    /// <param name="own">The zone's sightings in one order; none where the coast speaks for it.</param>
    /// <param name="rungs">Lines that may be advised, in lb, ascending; as many at least as the largest set has.</param>
    public static Prospect Of(
        CoastRigs coast,
        IReadOnlyList<Sighting> own,
        string species,
        BaitPicture? bait,
        IReadOnlyList<int> rungs
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
        var kind = bait?.Kinds is [var most, ..] ? most.Species : null;
        BaitAsk? ask = bait is null ? null : BaitAsk.Of(kind, bait.P50Mm);
        var toCome = bait is null ? null : new BaitToCome(own, kind, bait.P50Mm, coast.BaitDrift);
        var hooks = coast.Styles.ToDictionary(s => s, s => toCome is null ? [] : Steps(coast, mechanics, toCome, s));
        var candidates =
            from rung in rungs
            from style in coast.Styles
            from step in ask is { } usual
                ? hooks[style].Select(s => Math.Max(s, LeastStep(rung, usual))).Distinct()
                : [BaitTable.HookStepForLine(rung)]
            select new Candidate(coast.Technique, rung, style, step);
        return new Prospect(
            new TripsToCome(coast, Scenarios(coast, trips), [.. candidates], slope, toCome),
            new Holding([.. coast.Holding]),
            toCome
        );
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
                ? Subsets(lines.Count, k)
                : Ranked(k - 1)
                    .Take(GrownFrom)
                    .SelectMany(
                        s => Enumerable.Range(0, lines.Count).Except(s.Set),
                        (s, l) => s.Set.Append(l).Order().ToArray()
                    )
                    .DistinctBy(set => string.Join(' ', set));
        return ranked[k] = [
            .. sets.Select(set => (Set: set, Found: Math.Round(Finder([.. set.Select(l => worth[l])]), 9)))
                .OrderByDescending(s => s.Found),
        ];
    }

    /// <summary>
    /// The hooks to print for a set in the order to try it. The first has the one that lands most over all baits; each other has that of its hooks
    /// which, kept on whatever the bait, adds most to the rest: for who ties his rods before he sees the bait.
    /// </summary>
    public List<Candidate> Tied(IReadOnlyList<int> order)
    {
        int[] tied = [.. order.Select(l => lines[l].Usual)];
        for (var round = 0; round < TyingRounds; round++)
        {
            for (var i = 1; i < tied.Length; i++)
            {
                int[] others = [.. tied.Where((_, at) => at != i)];
                tied[i] = lines[order[i]]
                    .ByBait[trips.UsualBaits]
                    .Prepend(tied[i])
                    .Distinct()
                    .MaxBy(c => Math.Round(Kept([.. others, c]), 9));
            }
        }

        return [.. tied.Select(c => trips.Candidates[c])];

        double Kept(int[] candidates) => Finder([.. candidates.Select(WorthTied)]);
    }

    private double[] WorthTied(int candidate) =>
        worthTied.TryGetValue(candidate, out var known)
            ? known
            : worthTied[candidate] = [
                .. Enumerable
                    .Range(0, trips.Count)
                    .Select(state =>
                        trips.Weight[state]
                        * trips.Rate[state]
                        * trips.BiteOf(candidate, state)
                        * trips.Held(candidate, state)
                    ),
            ];

    /// <summary>Mean fish landed by who always finds the best of a set: four states at a time, the same four on every processor.</summary>
    /// <param name="worth">Of each of the set, by state.</param>
    private double Finder(params ReadOnlySpan<double[]> worth)
    {
        var sum = Vector256<double>.Zero;
        for (var state = 0; state < trips.Count; state += Vector256<double>.Count)
        {
            var most = Vector256.Create(worth[0], state);
            for (var i = 1; i < worth.Length; i++)
            {
                most = Vector256.Max(most, Vector256.Create(worth[i], state));
            }

            sum += most;
        }

        return (sum[0] + sum[1] + sum[2] + sum[3]) / TripsToCome.DrawCount;
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
        var lightest = Rig(set[0]);
        var leader =
            LineClass.Below(lightest.RungLb) is { } below && below >= floorLb
                ? lines.FindIndex(l => trips.Candidates[l.Usual].RungLb == below)
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

            sum += trips.Weight[followed[f]] * got;
        }

        return sum / FollowerDraws;
    }

    /// <summary>Share of the trips on which each of a set is its best.</summary>
    public double[] BestOn(IReadOnlyList<int> set)
    {
        var shares = new double[set.Count];
        for (var state = 0; state < trips.Count; state++)
        {
            var best = 0;
            for (var i = 1; i < set.Count; i++)
            {
                best = landed[set[i]][state] > landed[set[best]][state] ? i : best;
            }

            shares[best] += trips.Weight[state];
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
    public Candidate Rig(int line) => trips.Candidates[lines[line].Usual];

    /// <summary>
    /// Of a line the hook that lands most with each bait that may come, neighbouring baits of one hook together.
    /// </summary>
    public IReadOnlyList<HookOfBait> HooksByBait(int line)
    {
        var rows = new List<HookOfBait>();
        foreach (var (length, hook) in (bait?.Lengths ?? []).Zip(lines[line].ByBait))
        {
            var step = trips.Candidates[hook].Step;
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
        holding.Chances(Rig(line).RungLb, Rig(line).Step, Rig(line).Style is HookStyle.J)[SizeGrid.Cell(grams)];

    private double[] MeanLanded() => [.. Enumerable.Range(0, lines.Count).Select(l => means.Sum(m => m[l]))];

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

    private static double Square(double x) => x * x;
}
