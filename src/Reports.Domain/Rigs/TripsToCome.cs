using Reports.Domain.Reporting;
using Reports.Statistics;

namespace Reports.Domain.Rigs;

/// <summary>
/// Boat trips to come in a zone, as states: each a draw of what is not known for sure, a trip like a recent one, a slope of that trip about the
/// foreseen one, and a bait. What a rod with a candidate would hook and land in each.
/// </summary>
internal sealed class TripsToCome
{
    /// <summary>Draws of what is not known for sure.</summary>
    public const int DrawCount = 24;

    private readonly double[] slope;
    private readonly double[] lean;

    /// <summary>By draw, bait and candidate: ln of bite without the slope. By draw and scenario together, and candidate: chance to land.</summary>
    private readonly double[][][] rest;
    private readonly double[][] held;

    /// <param name="slope">Foreseen for the zone.</param>
    /// <param name="bait">Null where none was told: then no hook bites better than another.</param>
    public TripsToCome(
        CoastRigs coast,
        IReadOnlyList<Scenario> scenarios,
        IReadOnlyList<Candidate> candidates,
        (double Mean, double Variance) slope,
        BaitToCome? bait
    )
    {
        Candidates = candidates;
        lean = [.. candidates.Select(c => Bite.Lean(c.RungLb))];
        Count = DrawCount * scenarios.Count * Draws.Nodes.Count;
        IReadOnlyList<BaitAsk?> baits = bait is null ? [null] : [.. bait.Lengths.Select(b => (BaitAsk?)b.Ask)];
        (Weight, Rate, Bait, BaitShares) = (
            new double[Count],
            new double[Count],
            new int[Count],
            new double[baits.Count]
        );
        (this.slope, rest, held) = (
            new double[Count],
            new double[DrawCount][][],
            new double[DrawCount * scenarios.Count][]
        );
        var draws = Draws.Normal(DrawCount, 1 + Bite.Columns + RigPriors.Holding.Mean.Length + scenarios.Count);
        var biteFactor = SymmetricSolver.Factor([.. coast.BiteCovariance], Bite.Columns);
        var holdFactor = SymmetricSolver.Factor([.. coast.HoldingCovariance], RigPriors.Holding.Mean.Length);
        var state = 0;
        for (var p = 0; p < DrawCount; p++)
        {
            var z = draws[p];
            var law = new Bite(Moved(coast.Bite, biteFactor, z, 1));
            var holding = new Holding(Moved(coast.Holding, holdFactor, z, 1 + Bite.Columns));
            var level = RigPriors.UnluckySlope * slope.Mean + z[0] * Math.Sqrt(slope.Variance);
            rest[p] = [.. baits.Select(b => candidates.Select(c => law.Rest(c.Features(b))).ToArray())];
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
                foreach (var (node, likely) in Draws.Nodes)
                {
                    var at = Math.Min(level + RigPriors.TripSlopeSpread * node, RigPriors.FlattestSlope);
                    this.slope[state] = at;
                    Weight[state] = share * likely;
                    Rate[state] =
                        scenario.Rate * Math.Exp(coast.RateBySlope * (at - RigPriors.UnluckySlope * slope.Mean));
                    Bait[state] = bait?.Of(state) ?? 0;
                    BaitShares[Bait[state]] += Weight[state];
                    state++;
                }
            }
        }
    }

    public IReadOnlyList<Candidate> Candidates { get; }

    /// <summary>States.</summary>
    public int Count { get; }

    /// <summary>By state: weight in trips, hook-ups of a rod on a thirty with the right hook, and which of the baits to come it is.</summary>
    public double[] Weight { get; }
    public double[] Rate { get; }
    public int[] Bait { get; }

    /// <summary>Weight in trips by bait.</summary>
    public double[] BaitShares { get; }

    /// <summary>Where among the baits the middle eight trips in ten lie.</summary>
    public Range UsualBaits
    {
        get
        {
            var whole = BaitShares.Sum();
            int At(double share)
            {
                var (at, sum) = (0, BaitShares[0]);
                while (sum < share * whole && at < BaitShares.Length - 1)
                {
                    sum += BaitShares[++at];
                }

                return at;
            }

            return At(0.1)..(At(0.9) + 1);
        }
    }

    public int Draw(int state) => state / (Count / DrawCount);

    /// <summary>Against a thirty with the right hook.</summary>
    public double BiteOf(int candidate, int state) =>
        Math.Exp(slope[state] * lean[candidate] + rest[Draw(state)][Bait[state]][candidate]);

    /// <summary>Chance to land a hooked fish.</summary>
    public double Held(int candidate, int state) => held[state / Draws.Nodes.Count][candidate];

    /// <summary>Fish landed with a candidate if all trips had a bait, by bait.</summary>
    public double[] LandedByBait(int candidate)
    {
        var landed = new double[BaitShares.Length];
        var ofDraw = Count / DrawCount;
        for (var p = 0; p < DrawCount; p++)
        {
            var rightHooked = 0.0;
            for (var state = p * ofDraw; state < (p + 1) * ofDraw; state++)
            {
                rightHooked +=
                    Weight[state] * Rate[state] * Math.Exp(slope[state] * lean[candidate]) * Held(candidate, state);
            }

            for (var b = 0; b < landed.Length; b++)
            {
                landed[b] += rightHooked * Math.Exp(rest[p][b][candidate]);
            }
        }

        return landed;
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
}
