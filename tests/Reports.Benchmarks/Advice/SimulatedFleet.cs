using MathNet.Numerics.Distributions;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using Reports.Domain.Trade;

namespace Reports.Benchmarks.Advice;

/// <summary>One boat's day in a zone: what the sea was like for it, before anybody fished.</summary>
/// <param name="Rate">Hook-ups per rod and hour on a thirty with the right hook.</param>
/// <param name="Sinker">Bite on a sinker against a fly-line.</param>
internal sealed record BoatDay(
    int Day,
    int Boat,
    int Zone,
    int Anglers,
    double Hours,
    double Rate,
    double Mood,
    School School,
    double BaitMm,
    double Sinker
);

/// <summary>What a rig did on a boat-day. Rods may be parts of one: anglers change rigs.</summary>
internal sealed class Tally
{
    public double Rods { get; set; }
    public int Hooked { get; set; }
    public int Landed { get; set; }
    public int BrokenOff { get; set; }
}

/// <summary>How a boat-day went.</summary>
internal sealed record Outcome(
    BoatDay Day,
    int[] PerAngler,
    List<double> WeightsLb,
    Dictionary<Rig, Tally> Rigs,
    bool StoppedAtLimit,
    int LostHeavy
)
{
    public int Fish => PerAngler.Sum();

    /// <summary>The rig that landed most, which is often merely the one that most rods fished.</summary>
    public Rig? Winner { get; } =
        Rigs.Values.All(t => t.Landed == 0)
            ? null
            : Rigs.OrderByDescending(r => r.Value.Landed)
                .ThenByDescending(r => r.Value.Rods)
                .ThenBy(r => r.Key.RungLb)
                .ThenBy(r => r.Key.Step)
                .ThenBy(r => r.Key.Style)
                .ThenBy(r => r.Key.Technique)
                .First()
                .Key;
}

/// <summary>What a zone gives under the state of some days, by brute force.</summary>
internal sealed record ZoneTruth(double PerAngler, double AtLeastOne, double Over100, IReadOnlyList<double> SortedLb)
{
    public double QuantileLb(double q) => SortedLb[Math.Min(SortedLb.Count - 1, (int)(q * SortedLb.Count))];
}

/// <summary>
/// A coast of drifting schools and moods with a fleet of unequal anglers on it. Seeded: a seed is one sea, whatever the number
/// of boats. Anglers start with what is popular and go lighter after a blank spell, so rods on light line are the unlucky ones.
/// </summary>
internal sealed class SimulatedFleet
{
    public const int Zones = 4;
    public const int Landings = 2;
    public const int Days = 98;
    private const int Spells = 4;
    private const int LimitPerAngler = 4;

    /// <summary>The heaviest grade, and its hook-ups against the others'.</summary>
    private const int Heavy = 2;
    private const double HeavyRate = 0.4;

    /// <summary>Of boat-days about their zone's day.</summary>
    private const double BoatMoodSpread = 0.22;

    /// <summary>Popular zones and lonely ones.</summary>
    private static readonly double[] ZoneShare = [0.42, 0.3, 0.2, 0.08];

    private static readonly int[] HabitRungs = [15, 20, 25, 30, 40, 50, 60, 80];
    private static readonly double[] HabitShare = [0.02, 0.1, 0.17, 0.38, 0.18, 0.08, 0.04, 0.03];

    private readonly int seed;
    private readonly Contest? contest;
    private readonly Dictionary<(int Day, int Zone), double> contestMoods = [];
    private readonly double[] coastMood;
    private readonly double[][] zoneMood;
    private readonly double[][] zoneRate;
    private readonly double[][] bait;
    private readonly double[][] gradeMedian;
    private readonly double[][][] gradeWeight;
    private readonly double[] boatSkill;
    private readonly Rig?[,] lastWinner = new Rig?[Days + 1, Zones];
    private readonly Dictionary<(int Day, int Days, int Zone), ZoneTruth> truths = [];

    /// <param name="contest">Two rigs that all rods fish with; null: anglers choose as they do.</param>
    public SimulatedFleet(int seed, int boats, Contest? contest = null)
    {
        (this.seed, this.contest) = (seed, contest);
        Boats = boats;
        var sea = Stream(1);
        Nature = new Nature(seed, sea);
        coastMood = Raised(sea.Drift(Days, 0.5, 12), sea.Noise(0.3) - 1.15);
        zoneMood =
        [
            .. Enumerable
                .Range(0, Zones)
                .Select(_ => sea.Noise(0.3))
                .Select(level => Raised(sea.Drift(Days, 0.25, 8), level)),
        ];
        zoneRate =
        [
            .. Enumerable
                .Range(0, Zones)
                .Select(_ => sea.Noise(0.35))
                .Select(level => Raised(sea.Drift(Days, 0.5, 14), level - 0.8)),
        ];
        bait = [.. Enumerable.Range(0, Landings).Select(_ => Raised(sea.Drift(Days, 22, 15), 150))];
        double[] medians = [22, 35, 110];
        gradeMedian = [.. medians.Select(m => sea.Drift(Days, 0.12, 20).Select(x => m * Math.Exp(x)).ToArray())];
        gradeWeight =
        [
            .. Enumerable
                .Range(0, Zones)
                .Select(zone =>
                {
                    // The middle grade everywhere; light or heavy fish missing here and there.
                    double[] level = [sea.Noise(0.7) - 0.6, 0.8, zone == 0 ? -9 : sea.Noise(0.6) - 1.7];
                    var drift = level.Select(l => Raised(sea.Drift(Days, 0.6, 12), l)).ToArray();
                    return Enumerable
                        .Range(0, Days)
                        .Select(day => drift.Select(d => Math.Exp(d[day])).ToArray())
                        .ToArray();
                }),
        ];
        var fleet = Stream(2);
        boatSkill = [.. Enumerable.Range(0, boats).Select(_ => Math.Exp(fleet.Noise(0.15)))];
        var fishing = Stream(3);
        for (var day = 0; day < Days; day++)
        {
            var today = new List<Outcome>();
            for (var boat = 0; boat < boats; boat++)
            {
                if (fishing.Happens(0.75))
                {
                    today.Add(Fish(Draw(day, fishing.Pick(ZoneShare), boat, fishing), fishing));
                }
            }

            for (var zone = 0; zone < Zones; zone++)
            {
                lastWinner[day + 1, zone] =
                    today.LastOrDefault(o => o.Day.Zone == zone && o.Winner is not null)?.Winner
                    ?? lastWinner[day, zone];
            }

            Outcomes.AddRange(today);
        }
    }

    public int Boats { get; }
    public Nature Nature { get; }

    /// <summary>Every boat-day of the season, by day and boat.</summary>
    public List<Outcome> Outcomes { get; } = [];

    /// <summary>
    /// Draws for one purpose. Seed and purpose are mixed well (SplitMix64's finalizer, Steele, Lea and Flood 2014): the first draws of
    /// generators whose seeds stand in a row are themselves in a row.
    /// </summary>
    public Random Stream(int purpose)
    {
        var z = unchecked(((ulong)(uint)seed << 32 | (uint)purpose) + 0x9E3779B97F4A7C15);
        z = unchecked((z ^ (z >> 30)) * 0xBF58476D1CE4E5B9);
        z = unchecked((z ^ (z >> 27)) * 0x94D049BB133111EB);
        return new Random((int)(z ^ (z >> 31)) & int.MaxValue);
    }

    /// <summary>Hook-ups that one average rod can expect of a rig on a boat-day, and the share of them that it lands.</summary>
    public (double Hooked, double Held) Expect(Rig rig, BoatDay day) =>
        (day.Hours * day.Rate * Nature.Bite(rig, day.Mood, day.BaitMm, day.Sinker), Nature.Held(rig, day.School));

    /// <summary>What a large fleet with the boats' habits would have had in a zone on the days from one on.</summary>
    public ZoneTruth Truth(int firstDay, int days, int zone)
    {
        if (truths.TryGetValue((firstDay, days, zone), out var known))
        {
            return known;
        }

        var random = Stream(1000 + (firstDay * 10 + days) * Zones + zone);
        var (anglers, blank, fish) = (0, 0, 0);
        var weights = new List<double>();
        const int sample = 280;
        for (var i = 0; i < sample; i++)
        {
            var outcome = Fish(Draw(firstDay + i % days, zone, random.Next(Boats), random), random);
            anglers += outcome.PerAngler.Length;
            blank += outcome.PerAngler.Count(n => n == 0);
            fish += outcome.Fish;
            weights.AddRange(outcome.WeightsLb);
        }

        weights.Sort();
        var truth = new ZoneTruth(
            (double)fish / anglers,
            1 - (double)blank / anglers,
            weights.Count(w => w >= 100) / (double)Math.Max(1, weights.Count),
            weights
        );
        return truths[(firstDay, days, zone)] = truth;
    }

    /// <summary>Boat-days as a large fleet would have had them in a zone on one day.</summary>
    public List<BoatDay> Sample(int day, int zone, int count)
    {
        var random = Stream(900_000 + day * Zones + zone);
        return [.. Enumerable.Range(0, count).Select(_ => Draw(day, zone, random.Next(Boats), random))];
    }

    private BoatDay Draw(int day, int zone, int boat, Random random)
    {
        var grade = random.Pick(gradeWeight[zone][day]);
        var rate = Math.Exp(zoneRate[zone][day]) * boatSkill[boat] * random.Luck(2.2);
        // One boat in ten never finds the fish; heavy fish come fewer to the boat.
        rate *= (random.Happens(0.1) ? 0.03 : 1) * (grade == Heavy ? HeavyRate : 1);
        return new BoatDay(
            day,
            boat,
            zone,
            random.Next(8, 29),
            0.5 * random.Next(9, 16),
            rate,
            MoodOf(day, zone) + random.Noise(BoatMoodSpread),
            SchoolOf(day, grade) * Math.Exp(random.Noise(0.06)),
            bait[boat % Landings][day],
            0.8 * Math.Exp(random.Noise(0.1))
        );
    }

    private double MoodOf(int day, int zone) =>
        contest is null ? coastMood[day] + zoneMood[zone][day]
        : contestMoods.TryGetValue((day, zone), out var known) ? known
        : contestMoods[(day, zone)] = contest.Mood(
            Nature,
            [.. Schools(day, zone).Select((s, grade) => (s.Share * (grade == Heavy ? HeavyRate : 1), s.School))],
            BoatMoodSpread
        );

    /// <summary>Share of the boats that stop on a school of each grade, and the grade's school.</summary>
    public IEnumerable<(double Share, School School)> Schools(int day, int zone) =>
        gradeWeight[zone][day].Select((weight, grade) => (weight / gradeWeight[zone][day].Sum(), SchoolOf(day, grade)));

    private School SchoolOf(int day, int grade) => new(gradeMedian[grade][day], grade == Heavy ? 0.22 : 0.17);

    private Outcome Fish(BoatDay day, Random random)
    {
        var landed = new int[day.Anglers];
        var weights = new List<double>();
        var rigs = new Dictionary<Rig, Tally>();
        var bites = new Dictionary<Rig, double>();
        var lostHeavy = 0;
        // Hooks by custom for the bait, two sizes to a boat; on most some fish a J.
        var hook = (int)Math.Round(HookForBait.CentreStep(day.BaitMm) + random.Noise(0.8));
        var fishJ = random.Happens(0.4) ? 0 : random.Between(0.1, 0.5);
        int[] hooks = [hook, hook + (random.Happens(0.5) ? 1 : -1)];
        var lucky = landed.Select(_ => random.Luck(1.3)).ToArray();
        var rung = landed.Select(_ => FirstRung(day, random)).ToArray();
        var rest = landed
            .Select(_ =>
                (
                    Technique: random.Happens(0.1) ? Technique.Sinker : Technique.FlyLine,
                    Style: random.Happens(fishJ) ? HookStyle.J : HookStyle.Circle,
                    Step: hooks[random.Happens(0.65) ? 0 : 1]
                )
            )
            .ToArray();
        var share = contest is null ? 0 : random.Between(0.3, 0.7);
        var entered = contest is null ? [] : landed.Select(_ => contest.Rigs[random.Happens(share) ? 0 : 1]).ToArray();
        var limit = false;
        for (var spell = 0; spell < Spells && !limit; spell++)
        {
            for (var angler = 0; angler < day.Anglers; angler++)
            {
                var rig = contest is null
                    ? new Rig(rest[angler].Technique, rung[angler], rest[angler].Style, rest[angler].Step)
                    : entered[angler];
                if (!rigs.TryGetValue(rig, out var tally))
                {
                    tally = rigs[rig] = new Tally();
                    bites[rig] = Nature.Bite(rig, day.Mood, day.BaitMm, day.Sinker);
                }

                tally.Rods += 1.0 / Spells;
                var hooked = Poisson.Sample(random, 1e-9 + lucky[angler] * day.Hours / Spells * day.Rate * bites[rig]);
                var (got, broke) = (0, 0);
                for (var i = 0; i < hooked; i++)
                {
                    var weight = day.School.MedianLb * Math.Exp(random.Noise(day.School.LogSpread));
                    if (random.Happens(Nature.Held(rig, weight)))
                    {
                        got++;
                        weights.Add(weight);
                    }
                    else
                    {
                        broke += random.Happens(0.6) ? 1 : 0;
                        lostHeavy += weight > 2.5 * rig.RungLb ? 1 : 0;
                    }
                }

                landed[angler] += got;
                tally.Hooked += hooked;
                tally.Landed += got;
                tally.BrokenOff += broke;
                if (contest is not null)
                {
                    entered[angler] = contest.Next(rig, hooked, random);
                }
                else if (hooked == 0 && random.Happens(0.35))
                {
                    rung[angler] = Math.Max(15, LineClass.Below(rung[angler]) ?? 15);
                }
                else if (broke > 0 && got == 0 && random.Happens(0.4))
                {
                    rung[angler] = LineClass.Above(rung[angler]) ?? rung[angler];
                }
            }

            limit = landed.Sum() >= LimitPerAngler * day.Anglers;
        }

        return new Outcome(day, landed, weights, rigs, limit, lostHeavy);
    }

    private int FirstRung(BoatDay day, Random random) =>
        // Some copy what won last, some are told by the crew what swims under the boat, most do as always.
        random.NextDouble() switch
        {
            < 0.15 when lastWinner[day.Day, day.Zone] is { } winner => winner.RungLb,
            < 0.25 => LineClass.NearestRung(Math.Max(20, day.School.MedianLb * random.Between(0.6, 1.3))),
            _ => HabitRungs[random.Pick(HabitShare)],
        };

    private static double[] Raised(double[] drift, double level) => [.. drift.Select(x => x + level)];
}
