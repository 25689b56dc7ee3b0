using Reports.Domain.Briefs;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using Reports.Domain.Tests.Briefs;
using Reports.Domain.TrackRecord;
using Record = Reports.Domain.TrackRecord.Record;

namespace Reports.Domain.Tests.TrackRecord;

/// <summary>The scores of small weeks, worked by hand.</summary>
public class RecordTests
{
    private static readonly DateOnly Monday = new(2026, 11, 2);
    private static readonly string[] Boats = ["grey-petrel", "ardent-tern", "little-auk"];

    [Fact]
    public void AWeekTellsWhatItsBriefsSaidAndWhatCame()
    {
        var week = RecordWeek.Of(
            "SBF",
            Monday,
            [Brief(0.4, 0.6)],
            [],
            [
                // Of the week: 20 anglers each with 10, 4 and 4 of them with a fish; 12, 6 and 6 fish.
                Trip(Boats[0], 1, 12, 10),
                Trip(Boats[1], 3, 6, 4),
                Trip(Boats[2], 7, 6, 4),
                // The day itself and the eighth day are other weeks'.
                Trip(Boats[0], 0, 99, 20),
                Trip(Boats[0], 8, 99, 20),
            ]
        );

        Assert.Equal(3, week.Reports);
        Assert.Equal(
            [(0.4, 20, 10), (0.4, 20, 4), (0.4, 20, 4)],
            week.Odds.Select(o => (o.Said, o.Anglers, o.WithFish))
        );
        var rate = Assert.Single(week.Rates);
        Assert.Equal((0.6, 60, 24), (rate.Said, rate.AnglerDays, rate.Fish));
        Assert.Equal(week.ToJson(), RecordWeek.FromJson(week.ToJson()).ToJson());
    }

    [Fact]
    public void BlankTripsCountAsThePartOfTheOthersThatWasCounted()
    {
        // Two of four trips that landed fish counted their anglers: the blank trip counts half.
        var week = RecordWeek.Of(
            "SBF",
            Monday,
            [Brief(0.4, 0.6)],
            [],
            [
                Trip(Boats[0], 1, 12, 10),
                Trip(Boats[1], 1, 6, 4),
                Trip(Boats[0], 2, 12, null),
                Trip(Boats[1], 2, 6, null),
                Trip(Boats[2], 2, 0, null),
            ]
        );

        Assert.Equal(
            [(10, 1), (4, 1), (0, 0.5)],
            week.Odds.Select(o => (o.WithFish, o.Weight)).OrderBy(o => -o.WithFish)
        );
        // 14 of 20 + 20 + 10 anglers.
        Assert.Equal(0.28, Record.Of("SBF", [week]).Weeks[0].CameOdds!.Value, 4);
        Assert.Equal(50, Record.Of("SBF", [week]).Odds!.Anglers);
    }

    [Fact]
    public void TheOddsAreScoredByHand()
    {
        var record = Record.Of(
            "SBF",
            [Week(0, [(0.4, 10), (0.4, 4), (0.4, 4)]), Week(1, [(0.2, 2), (0.2, 4), (0.2, 6)])]
        );

        // 18 of 60 at 0.4: (18 x 0.36 + 42 x 0.16) / 60 = 0.22; 12 of 60 at 0.2: (12 x 0.64 + 48 x 0.04) / 60 = 0.16. The mean is
        // 0.19. One number, 30 of 120 = 0.25: 0.25 x 0.75 = 0.1875. Skill 1 - 0.19 / 0.1875 = -0.0133. Said: 0.3.
        var odds = record.Odds!;
        Assert.Equal((120, 6), (odds.Anglers, odds.Trips));
        Assert.Equal(0.3, odds.Said, 4);
        Assert.Equal(0.25, odds.Came, 4);
        Assert.Equal(0.19, odds.Brier, 4);
        Assert.Equal(0.1875, odds.BrierOfSeason, 4);
        Assert.Equal(-0.0133, odds.Skill!.Value, 4);
        Assert.Equal([(0.2, 0.2, 60), (0.4, 0.3, 60)], odds.Bins.Select(b => (b.Said, b.Came.Mean, b.Anglers)));
        Assert.All(odds.Bins, b => Assert.True(b.Came.Low < b.Came.Mean && b.Came.Mean < b.Came.High));

        // Newest first, as many anglers said 0.2 as had one.
        Assert.Equal([(0.2, 0.2), (0.4, 0.3)], record.Weeks.Select(w => (w.SaidOdds!.Value, w.CameOdds!.Value)));
    }

    [Fact]
    public void SkillIsTakenWithTheLuckOfItsWeeks()
    {
        // Said 0.2 and 0.4 in turn, and so it came, 12 and 24 of 60: every week the forecast is right, the season's 0.3 is off.
        var weeks = Enumerable
            .Range(0, 4)
            .Select(i => i % 2 == 0 ? Week(i, [(0.2, 4), (0.2, 4), (0.2, 4)]) : Week(i, [(0.4, 8), (0.4, 8), (0.4, 8)]))
            .ToList();
        var odds = Record.Of("SBF", weeks).Odds!;

        // (0.16 + 0.24) / 2 = 0.2 against 0.3 x 0.7 = 0.21. Of each week's 60 anglers the season loses 0.01 more: whichever weeks are
        // drawn, the gain is 60 x 0.01 of 60 x 0.21.
        Assert.Equal(0.0476, odds.Skill!.Value, 4);
        Assert.Equal((0.0476, 0.0476, 0.0476), (odds.SkillLikely!.Mean, odds.SkillLikely.Low, odds.SkillLikely.High));
        Assert.Null(Record.Of("SBF", [.. weeks.Take(2)]).Odds!.SkillLikely);

        // One week the other way round, 24 where 0.2 was said: (0.16 + 0.24 + 0.28 + 0.24) / 4 = 0.23 against 0.35 x 0.65 = 0.2275.
        weeks[2] = Week(2, [(0.2, 8), (0.2, 8), (0.2, 8)]);
        var mixed = Record.Of("SBF", weeks).Odds!;
        Assert.Equal(-0.011, mixed.SkillLikely!.Mean, 4);
        Assert.InRange(mixed.SkillLikely.Low, -0.2, -0.011);
        Assert.InRange(mixed.SkillLikely.High, 0, 0.2);
    }

    [Fact]
    public void CatchesAreForeseenOverLanded()
    {
        var record = Record.Of(
            "SBF",
            [
                Week(0, [(0.4, 10), (0.4, 4), (0.4, 4)], said: 0.6, fish: 24),
                Week(1, [(0.4, 1), (0.4, 1), (0.4, 1)], said: 0.6, fish: 48),
            ]
        );

        // 0.6 x 60 twice is 72 foreseen of 72 landed; 24/60 = 0.4 lies in 0.3 to 0.7, 48/60 = 0.8 does not.
        Assert.Equal(new RateScore(1, 1, 2), record.Rates);
    }

    [Fact]
    public void SizesAreSharesOfTheWeeksFishUpToTheQuantilesSaid()
    {
        // Fish of 10, 20, 30 lb thrice, one boat each, each quoted at both ends: a third weigh 10, a third 20, a third 30.
        var brief = Brief(0.4, 0.6) with
        {
            Size = Sizes(9, 10, 20, 29, 30),
        };
        ReportMeasures Two(string boat, int day, int small, int large) =>
            new Fleet().Trip(boat, 0, 2, 0, small, large).Reports[0] with
            {
                FishedOn = Monday.AddDays(day),
            };
        var week = RecordWeek.Of(
            "SBF",
            Monday,
            [brief],
            [],
            [Two(Boats[0], 1, 10, 20), Two(Boats[1], 2, 20, 30), Two(Boats[2], 3, 10, 30)]
        );

        var sizes = Record.Of("SBF", [week]).Sizes!;
        Assert.Equal(6, sizes.Fish);
        Assert.Equal([0, 0.3333, 0.6667, 0.6667, 1], sizes.UpTo);
    }

    [Theory]
    [InlineData(125, -1)]
    [InlineData(130, -1)]
    [InlineData(131, 3)]
    [InlineData(null, 7)]
    public void ARodIsOnTheBriefsRigWithTheHookForItsBait(int? baitMm, int hook)
    {
        var brief = Brief(0.4, 0.6) with
        {
            OutfitSets =
            [
                [Outfit(30, 7) with { HooksByBait = [new(130, -1), new(null, 3)] }],
            ],
        };
        var advised = Assert.Single(RigChoice.OfBrief(brief, baitMm));
        Assert.Equal(
            [hook - 1, hook, hook + 1],
            Enumerable.Range(-4, 14).Where(step => advised.Covers(Fleet.Rig(30, step: step)))
        );
    }

    [Fact]
    public void RodsOnTheBriefsRigsAreCountedBesidePlainRules()
    {
        RigMeasure Rig(int rung, int step, int rods, int landed, bool winning = false) =>
            Fleet.Rig(rung, step: step, winning: winning, rods: rods, hooked: landed, landed: landed);
        ReportMeasures Trip(string boat, int day, params RigMeasure[] rigs) =>
            new Fleet().Trip(boat, 0, 10, 0, rigs: rigs).Reports[0] with
            {
                FishedOn = Monday.AddDays(day),
            };
        var past = new[]
        {
            Trip(Boats[0], -5, Rig(40, 1, 5, 5, winning: true)),
            Trip(Boats[1], -4, Rig(40, 1, 5, 5, winning: true)),
            Trip(Boats[2], -1, Rig(50, 3, 5, 5, winning: true)),
            // Too long ago for most wins, and after the day: neither counts.
            Trip(Boats[2], -9, Rig(80, 3, 5, 5, winning: true)),
        };
        var brief = Brief(0.4, 0.6) with
        {
            OutfitSets =
            [
                [Outfit(30, 1)],
                [Outfit(30, 1), Outfit(25, 0)],
            ],
        };
        RecordWeek Of(int weeksOn, int landedOn30) =>
            RecordWeek.Of(
                "SBF",
                Monday,
                [brief],
                past,
                [
                    .. Boats.Select(b =>
                        Trip(
                            b,
                            1,
                            // Within a step of the brief's hook; two steps off; the last winner's; most wins'; fixed only.
                            Rig(30, 2, 10, landedOn30),
                            Rig(30, 3, 10, 90),
                            Rig(50, 3, 10, 20),
                            Rig(40, 1, 10, 10),
                            Rig(80, 5, 10, 0)
                        )
                    ),
                ]
            ) with
            {
                Origin = Monday.AddDays(7 * weeksOn),
            };

        var rods = Record.Of("SBF", [Of(0, 30), Of(1, 20), Of(2, 40)]).Rods!;

        // A week: 30 rods on the brief's with 90, 60, 120 fish; 30 rods with 60 on the last winner's 50; 60 rods with 90 on 40 and 50;
        // fixed: 30 rods on 40 with 30 and 30 on 80 with none.
        Assert.Equal((3, 90), (rods.Brief.LandedPerRod, rods.Brief.Rods));
        Assert.Null(rods.Brief.BriefAhead);
        Assert.Equal((2, 90), (rods.LastWinner.LandedPerRod, rods.LastWinner.Rods));
        Assert.Equal(1, rods.LastWinner.BriefAhead!.Mean, 4);
        Assert.Equal((1.5, 180), (rods.MostWins.LandedPerRod, rods.MostWins.Rods));
        Assert.Equal((0.5, 180), (rods.Fixed.LandedPerRod, rods.Fixed.Rods));
        Assert.Equal(2.5, rods.Fixed.BriefAhead!.Mean, 4);
        Assert.InRange(rods.Fixed.BriefAhead.Low, 1.5, 2.5);
        Assert.InRange(rods.Fixed.BriefAhead.High, 2.5, 3.5);
    }

    [Fact]
    public void FewerThanThreeBoatsAreNotShown()
    {
        var few = Week(0, [(0.4, 10), (0.4, 4)]);
        var record = Record.Of("SBF", [few]);
        Assert.Null(record.Odds);
        Assert.Null(record.Rates);
        var shown = Assert.Single(record.Weeks);
        Assert.Equal(
            (null, null, null, null),
            (shown.SaidOdds, shown.CameOdds, shown.SaidPerAngler, shown.CamePerAngler)
        );
        Assert.Equal(2, shown.Reports);

        // Two boats at 0.9 beside three at 0.4: either bin would give the two away, for the total is shown.
        var mixed = Week(0, [(0.4, 10), (0.4, 4), (0.4, 4), (0.9, 20), (0.9, 19)]);
        Assert.Equal(5, Record.Of("SBF", [mixed]).Odds!.Trips);
        Assert.Empty(Record.Of("SBF", [mixed]).Odds!.Bins);
        Assert.Empty(Record.Of("ALB", [mixed]).Weeks);
    }

    private static RecordWeek Week(int on, (double Said, int WithFish)[] trips, double said = 0.6, int fish = 24) =>
        new()
        {
            Species = "SBF",
            Origin = Monday.AddDays(7 * on),
            Reports = trips.Length,
            Boats = [.. Enumerable.Range(0, trips.Length).Select(Boat)],
            Odds =
            [
                .. trips.Select(
                    (t, i) => new OddsTold(t.Said, 20, t.WithFish, 1, Monday.AddDays(7 * on + 1 + i), Boat(i))
                ),
            ],
            Rates = [new RateTold(said, 0.3, 0.7, 60, fish, [.. Enumerable.Range(0, trips.Length).Select(Boat)])],
            Sizes = [],
            Rods = [],
        };

    private static string Boat(int i) => $"boat-{i}";

    private static ReportMeasures Trip(string boat, int day, int kept, int? withFish) =>
        new Fleet().Trip(boat, 0, kept, 0, anglers: 20, withFish: withFish).Reports[0] with
        {
            FishedOn = Monday.AddDays(day),
        };

    private static Brief Brief(double odds, double perAngler) =>
        new()
        {
            Zone = "cannery-bank",
            Species = "SBF",
            AsOf = Monday,
            Evidence = new(40, 5, 100, 20, 10, Monday, Strength.Good, false, null),
            CatchRate = new(
                new(perAngler, perAngler - 0.3, perAngler + 0.1),
                new(odds, odds - 0.1, odds + 0.1),
                null,
                null,
                null,
                0
            ),
        };

    private static SizePicture Sizes(params int[] lb) =>
        new(
            SizeOf.Landed,
            new(Fleet.Lb(lb[0]), Fleet.Lb(lb[1]), Fleet.Lb(lb[2]), Fleet.Lb(lb[3]), Fleet.Lb(lb[4])),
            [],
            new([], []),
            new([], [])
        );

    private static Outfit Outfit(int rung, int step) =>
        new()
        {
            Order = 1,
            Technique = Technique.FlyLine,
            RungLb = rung,
            Leader = LeaderMaterial.Fluorocarbon,
            LeaderTestLb = rung,
            DragLowGrams = 1,
            DragHighGrams = 2,
            HookStyle = HookStyle.Circle,
            HookStep = step,
            Wire = HookWire.Regular,
            FishLowGrams = 1,
            FishHighGrams = 2,
            Basis = OutfitBasis.Reports,
        };
}
