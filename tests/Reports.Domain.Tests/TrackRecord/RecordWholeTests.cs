using Reports.Domain.TrackRecord;
using Reports.Statistics;
using Record = Reports.Domain.TrackRecord.Record;

namespace Reports.Domain.Tests.TrackRecord;

/// <summary>The weeks and their sum: what one must not give away of the other, what may be compared. Worked out by hand.</summary>
public sealed class RecordWholeTests
{
    private static readonly DateOnly Monday = new(2026, 11, 9);

    [Fact]
    public void OddsAreScoredByWhatAnglersThenHad()
    {
        // Said 3 in 10: 12 of 40 had one. Said 6 in 10: 18 of 40.
        var told = Odds(0.3, (20, 8), (10, 2), (10, 2)).Concat(Odds(0.6, (10, 6), (10, 5), (20, 7))).ToList();
        var score = Record.Of("SBF", [Week(Monday) with { Odds = told }]).Odds!;

        Assert.Equal((80, 6), (score.Anglers, score.Trips));
        // (12 x .49 + 28 x .09 + 18 x .16 + 22 x .36) / 80; the season's 30 of 80: .375 x .625; said (.3 + .6) / 2.
        Assert.Equal(0.24, score.Brier, 1e-9);
        Assert.Equal(0.2344, score.BrierOfSeason, 1e-9);
        Assert.Equal((0.45, 0.375), (score.Said, score.Came));
        Assert.Equal(-0.024, score.Skill!.Value, 2e-4);
        Assert.Equal(
            [(0.3, 0.3, 40, 3), (0.6, 0.45, 40, 3)],
            score.Bins.Select(b => (b.Said, b.Came.Mean, b.Anglers, b.Trips))
        );
        Assert.All(score.Bins, b => Assert.True(b.Came.Low < b.Came.Mean && b.Came.Mean < b.Came.High));

        // One angler after another, by the score that is checked against R: reliability .01125, resolution .005625.
        var anglers = told.SelectMany(t => Enumerable.Range(0, t.Anglers), (t, i) => (t.Said, Had: i < t.WithFish))
            .ToList();
        var parts = ProbabilityScore.Brier([.. anglers.Select(a => a.Said)], [.. anglers.Select(a => a.Had)]);
        Assert.Equal(parts.Brier, score.Brier, 1e-9);
        Assert.Equal(0.01125, parts.Reliability, 1e-12);
        Assert.Equal(0.005625, parts.Resolution, 1e-12);
        Assert.Equal(parts.Reliability, score.Reliability, 1e-4);
        Assert.Equal(parts.Resolution, score.Resolution, 1e-4);
        // (logit .45 - logit .3) / (logit .6 - logit .3) = .6466 / 1.2528.
        Assert.Equal(0.5161, score.Slope!.Value, 1e-4);
        var slope = Calibration.Fit([.. anglers.Select(a => a.Said)], [.. anglers.Select(a => a.Had)]).Slope;
        Assert.Equal(slope, score.Slope.Value, 1e-4);
    }

    [Fact]
    public void RigsAreComparedOnTheSameBoatTrips()
    {
        // Every week a hot trip with the brief's rigs alone, and a slow one where both landed a fish on ten rods.
        var none = new RodCount(0, 0);
        var slow = new RodCount(10, 1);
        var weeks = Enumerable
            .Range(0, 4)
            .Select(i => Monday.AddDays(7 * i))
            .Select(origin =>
                Rods(origin, slow, slow) with
                {
                    Rods =
                    [
                        .. Boats.Select(b => new RodsTold(origin.AddDays(1), b, slow, slow, slow, slow)),
                        new RodsTold(origin.AddDays(2), Boats[0], new(10, 30), none, none, none),
                    ],
                }
            )
            .ToList();
        var rods = Record.Of("SBF", weeks).Rods!;

        // 33 fish on 40 rods; on the three trips that had both, 0.1 a rod against 0.1.
        Assert.Equal(0.825, rods.Brief.LandedPerRod, 1e-9);
        Assert.True(rods.Fixed.BriefAhead is null or { Mean: 0 });
    }

    [Theory]
    [InlineData(2, false)]
    [InlineData(3, true)]
    public void HowFarTheBriefIsAheadRestsOnThreeBoatsThatFishedBoth(int both, bool shown)
    {
        // Every week three boats fish each kind of rig, so that either rate may be told; some of them fish both, 3 fish against 1.
        RodCount none = new(0, 0);
        RodCount three = new(10, 3);
        RodCount one = new(10, 1);
        var weeks = Enumerable
            .Range(0, 3)
            .Select(i => Monday.AddDays(7 * i))
            .Select(origin =>
                Week(origin) with
                {
                    Rods =
                    [
                        .. Boats.Take(both).Select(b => new RodsTold(origin.AddDays(1), b, three, one, one, one)),
                        .. Boats.Skip(both).Select(b => new RodsTold(origin.AddDays(1), b, three, none, none, none)),
                        .. Boats.Skip(both).Select(b => new RodsTold(origin.AddDays(2), b, none, one, one, one)),
                    ],
                }
            )
            .ToList();
        var rods = Record.Of("SBF", weeks).Rods!;

        Assert.Equal((0.3, 0.1), (rods.Brief.LandedPerRod, rods.Fixed.LandedPerRod));
        Assert.Equal(shown ? 0.2 : null, rods.Fixed.BriefAhead?.Mean);
    }

    [Fact]
    public void AWeekIsOfTheZonesThatThreeBoatsFished()
    {
        var week = Week(Monday) with
        {
            Rates = [new(1, 0.8, 1.2, 40, 44, Boats), new(2, 1.5, 2.5, 20, 60, [Boats[0]])],
        };
        var record = Record.Of("SBF", [week]);

        Assert.Equal((1, 1.1), (record.Weeks[0].SaidPerAngler, record.Weeks[0].CamePerAngler));
        Assert.Equal(new RateScore(0.9091, 1, 1), record.Rates);
    }

    [Fact]
    public void WeeksStandNewestFirstAndTheirOrderDoesNotMatter()
    {
        var weeks = Enumerable
            .Range(0, 4)
            .Select(i =>
                Rods(Monday.AddDays(7 * i), new(10, i + 2), new(10, 5)) with
                {
                    Odds = [.. Odds(0.1 * i, (10, i), (10, 1), (10, 2))],
                }
            )
            .ToList();
        var (one, other) = (Record.Of("SBF", weeks), Record.Of("SBF", [.. Enumerable.Reverse(weeks)]));

        Assert.Equal(one.Weeks, other.Weeks);
        Assert.Equal(one.Weeks.Select(w => w.From), one.Weeks.Select(w => w.From).OrderDescending());
        Assert.Equal(one.Odds!.Brier, other.Odds!.Brier);
        Assert.Equal(one.Odds.Bins, other.Odds.Bins);
        Assert.Equal(one.Rods, other.Rods);
        Assert.Empty(Record.Of("ALB", weeks).Weeks);
    }

    [Fact]
    public void ThatTheSeasonLessTheShownWeeksIsNotTheCountOfOneBoat()
    {
        var open = Week(Monday) with { Odds = [.. Odds(0.3, (20, 8), (10, 2), (10, 2))] };
        // Three boats reported, one of them counted its anglers with a fish.
        var thin = Week(Monday.AddDays(7)) with
        {
            Odds = [.. Odds(0.3, (17, 5))],
        };
        var record = Record.Of("SBF", [open, thin]);

        Assert.Null(record.Weeks[0].CameOdds);
        Assert.Equal(record.Weeks.Sum(w => w.Anglers ?? 0), record.Odds!.Anglers);
        Assert.Equal(40, record.Odds.Bins.Sum(b => b.Anglers));
    }

    private static readonly string[] Boats = ["ardent-tern", "grey-petrel", "little-auk"];

    private static RecordWeek Week(DateOnly origin) =>
        new()
        {
            Species = "SBF",
            Origin = origin,
            Reports = 3,
            Boats = Boats,
            Odds = [],
            Rates = [],
            Sizes = [],
            Rods = [],
        };

    /// <summary>One trip for each boat in turn, a day apart.</summary>
    private static IEnumerable<OddsTold> Odds(double said, params (int Anglers, int WithFish)[] trips) =>
        trips.Select((t, i) => new OddsTold(said, t.Anglers, t.WithFish, 1, Monday.AddDays(i + 1), Boats[i]));

    private static RecordWeek Rods(DateOnly origin, RodCount brief, RodCount other) =>
        Week(origin) with
        {
            Rods = [.. Boats.Select(b => new RodsTold(origin.AddDays(1), b, brief, other, other, other))],
        };
}
