using Reports.Statistics;

namespace Reports.Domain.Rigs;

/// <summary>
/// Everything that the rig model believes before a report is read, each with its spread and its reason. Common practice and
/// judgement, no source, unless said; the first season's reports outweigh all of it but the shapes.
/// </summary>
internal static class RigPriors
{
    /// <summary>The line that ln(line class / 30 lb) is counted from.</summary>
    public const double ReferenceLb = 30;

    /// <summary>
    /// Slope of ln bite in ln line. -0.7: halving the line gives three bites for two, between a wide-open day (0) and a picky one (-1.4 and
    /// less). Moods change within days (half-lives of 2 to 7 days), mostly together along a coast. With <see cref="Holding"/> the line that
    /// lands most on an ordinary day is then near the one that custom means for the fish, a rung or two lighter; where nobody counts, that is all that decides.
    /// </summary>
    public static readonly LevelPrior CoastSlope = new(
        Mean: -0.7,
        MeanSpread: 0.6,
        CommonSpread: 0.4,
        CommonHalfLife: 6,
        GroupSpread: 0,
        OwnSpread: 0,
        OwnHalfLife: 1
    );

    /// <summary>What a zone differs by from its coast: lastingly, and for some days.</summary>
    public const double GroupSlopeSpread = 0.25;
    public const double OwnSlopeSpread = 0.3;

    public static readonly LevelPrior ZoneSlope = new(
        Mean: 0,
        MeanSpread: 0,
        CommonSpread: 0,
        CommonHalfLife: 1,
        GroupSpread: GroupSlopeSpread,
        OwnSpread: OwnSlopeSpread,
        OwnHalfLife: 4
    );

    /// <summary>Boat trips of one zone and day about the zone's slope: each stops on schools of its own.</summary>
    public const double TripSlopeSpread = 0.45;

    /// <summary>Days over which slopes are followed; older ones are forgotten many half-lives over.</summary>
    public const int SlopeDays = 35;

    /// <summary>
    /// Anglers go light after a blank spell, so the rods on light line are the unlucky ones, and light line looks worse in tallies than it is: the
    /// fish's slope is steeper than the tallies' by this factor (judgement; on simulated fleets of such anglers 1.1 to 1.3).
    /// </summary>
    public const double UnluckySlope = 1.2;

    /// <summary>Where rigs are compared without a slope, a rod on light line counts for (line / 30 lb) to this power (judgement).</summary>
    public const double UnluckyRods = 0.2;

    /// <summary>No fish takes better for heavier line: a slope foreseen is not above this.</summary>
    public const double FlattestSlope = -0.05;

    /// <summary>
    /// How ln bite bends: with x = ln(line / 30 lb) the slope acts on x + Bend x². Lighter line gains less and less (a fish bites
    /// once), heavier line loses more and more, and when the fish don't mind there is nothing to bend.
    /// </summary>
    public const double Bend = 0.5;

    /// <summary>
    /// A bend beside that one, mean 0: strong, because rods on light line are the unlucky ones (anglers go light after a
    /// blank spell), which bends the curve of the tallies without bending that of the fish.
    /// </summary>
    public const double CurvatureSpread = 0.1;

    /// <summary>A bait's right hook is within about this many steps of the table's.</summary>
    public const double HookCentreSpread = 1;

    /// <summary>
    /// Standard deviation in steps of the bell of bites about the right hook, how well it is known (in ln precision), and what any
    /// hook gets.
    /// </summary>
    public const double HookBellSteps = 1.8;
    public const double HookBellSpread = 0.6;
    public const double AnyHook = 0.2;

    /// <summary>J hooks against circles, each at its best; sinker against fly-line: ln bite.</summary>
    public const double StyleSpread = 0.15;
    public const double SinkerMean = -0.15;
    public const double SinkerSpread = 0.3;

    /// <summary>How the right hook moves with ln(bait length) beyond the table, in steps.</summary>
    public const double HookMoveSpread = 1.5;

    /// <summary>
    /// P(landed | hooked) = ceiling / (1 + exp(-h)), h = level - steepness r + bend max(0, r)² (bend not above 0), r = ln(weight/line),
    /// less so much for each step that the hook is small for the fish: steepness, level, bend, hook, logit of the ceiling, and what a J hook adds
    /// to that (circle hooks are thought to hold; how much is left to the tallies). Half are lost
    /// at twice the line: of the heaviest fish that the trade's table means a line for a thirty lands seven in ten (35 lb), an eighty half (150 lb).
    /// </summary>
    public static readonly GaussianPrior Holding = new(
        [2.2, 2.2 * 0.6931, -0.3, 0.07, 2.6, -0.2],
        [1 / (0.7 * 0.7), 1 / (0.8 * 0.8), 1 / (0.3 * 0.3), 1 / (0.05 * 0.05), 1 / (0.6 * 0.6), 1 / (0.4 * 0.4)]
    );

    /// <summary>Fish of one boat trip share the sea and the crew: correlation of their landing, and of their choice of a rig.</summary>
    public const double HoldingCorrelation = 0.05;
    public const double BiteCorrelation = 0.05;

    /// <summary>What the correlation's prior is worth, in degrees of freedom of tallies.</summary>
    public const double CorrelationWorth = 400;

    /// <summary>The crew's word as a measure of the slope, and how far off it is; worth this many boat trips against what tallies and winners say of it.</summary>
    public const double PickySlope = -1.4;
    public const double SteadySlope = -0.7;
    public const double WideOpenSlope = -0.2;
    public const double WordSpread = 0.7;
    public const double WordWorth = 6;

    /// <summary>
    /// How popular a line is before use was told: a bell about 30 lb, where most start, ln-wide this much, worth so many rods.
    /// </summary>
    public const double PopularSpread = 0.42;
    public const double PopularWorth = 6;

    /// <summary>Popularity of hooks about the table's step, in steps, before enough were told.</summary>
    public const double PopularHookSteps = 1.2;

    /// <summary>
    /// Where only winners were told: by how much what boats may have had on board is wider than the hooks that were told, for what wins lies
    /// closer together than what is fished (judgement).
    /// </summary>
    public const double BoatsHabit = 1.5;

    /// <summary>
    /// Hooks that are told with a lost or an added aught; reports of a hook before a coast's own habit is taken instead of custom's, and
    /// the least that hooks vary about it, in steps (judgement).
    /// </summary>
    public const double SlipShare = 0.02;
    public const int HabitWorth = 30;
    public const double LeastHabitSpread = 0.9;

    /// <summary>A report with a winner alone says what it says, but not which rigs were in the water: it counts so much.</summary>
    public const double WinnerWorth = 0.5;

    /// <summary>How much a hook's bite tells in who wins, against one fish (a catch is some fish).</summary>
    public const double HookWinScale = 1.5;

    /// <summary>Boat trips that the coast is learnt from at most: they are thinned evenly over the days.</summary>
    public const int MostTrips = 2500;

    /// <summary>Share of a boat's rods that the words most, some, few stand for.</summary>
    public const double MostRods = 0.55;
    public const double SomeRods = 0.25;
    public const double FewRods = 0.1;

    /// <summary>Half-life of the boat trips that tomorrow's fish are taken from, days; what the coast's are worth beside the zone's own.</summary>
    public const double ScenarioHalfLife = 5;
    public const double CoastTrips = 3;

    /// <summary>Days from the brief to the trip, in the middle.</summary>
    public const int DaysAhead = 3;

    /// <summary>What two rigs may differ by that no feature of the model carries, in ln.</summary>
    public const double Misfit = 0.08;

    /// <summary>Hook-ups of a rod and day on 30 lb before any report told (worth one boat trip).</summary>
    public const double HookupsPerRod = 1.2;

    /// <summary>Rods that the coast's rate before any report is worth, and the coast's to one trip's.</summary>
    public const double RateWorth = 10;
    public const double TripRateWorth = 3;

    /// <summary>
    /// Standard deviation of what a flatter slope does to ln of the hook-ups (none, as far as is known before reports; judgement), and of
    /// ln of one trip's hook-ups about that.
    /// </summary>
    public const double RateBySlope = 0.5;
    public const double TripRateSpread = 0.9;

    /// <summary>
    /// Standard deviation of ln of a day's bait length against that of the days some days before, and what that is worth in days (bait in
    /// the receivers is another within a week; judgement).
    /// </summary>
    public const double BaitDrift = 0.1;
    public const int BaitDriftWorth = 7;

    /// <summary>Bait of a coast that told none.</summary>
    public const double UsualBaitMm = 150;
}
