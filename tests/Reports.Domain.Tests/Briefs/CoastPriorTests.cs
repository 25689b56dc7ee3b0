using Reports.Domain.Briefs;
using Reports.Domain.Reporting;

namespace Reports.Domain.Tests.Briefs;

/// <summary>What the coast lends to its zones: fixed for a day, and the same however it is come by.</summary>
public class CoastPriorTests
{
    private const string Bank = "cannery-bank";
    private const string Edge = "forty-fathom-edge";

    [Fact]
    public void KeptAndReadBackItGivesTheSameBriefs()
    {
        var evidence = Coast();
        var prior = CoastPrior.Of(evidence);
        Assert.False(prior.IsYoung);
        var kept = CoastPrior.FromJson(prior.ToJson());
        Assert.Equal(prior.ToJson(), kept.ToJson());
        foreach (var zone in new[] { Bank, Edge, "south-trench" })
        {
            var asked = evidence with { Zone = zone };
            var own = asked with { Reports = [.. evidence.Reports.Where(r => r.Zone == zone)] };
            var whole = BriefMaker.Make(asked).ToJson();
            Assert.Equal(whole, BriefMaker.Make(asked, kept).ToJson());
            Assert.Equal(whole, BriefMaker.Make(own, kept).ToJson());
        }
    }

    [Fact]
    public void AReportOfTheDayMovesItsOwnZonesBriefOnly()
    {
        var before = Coast();
        var after = before with { Reports = [.. before.Reports, Trip("little-auk", Edge, 0, 55)] };
        string Of(Evidence evidence, string zone) => BriefMaker.Make(evidence with { Zone = zone }).ToJson();
        Assert.NotEqual(Of(before, Edge), Of(after, Edge));
        Assert.Equal(Of(before, Bank), Of(after, Bank));
        Assert.Equal(Of(before, "south-trench"), Of(after, "south-trench"));
        Assert.Contains("\"pooled\":true", Of(after, "south-trench"), StringComparison.Ordinal);
    }

    [Fact]
    public void AReportOfADayBeforeIsPartOfWhatTheCoastRestsOn()
    {
        var prior = CoastPrior.Of(Coast());
        Assert.True(prior.RestsOn(Fleet.Today.AddDays(-1)));
        Assert.False(prior.RestsOn(Fleet.Today));
        var more = Coast();
        more = more with { Reports = [.. more.Reports, Trip("little-auk", Edge, 1, 55)] };
        Assert.Equal(prior.Reports + 1, CoastPrior.Of(more).Reports);
    }

    [Fact]
    public void AYoungCoastDoesNotWaitForTheMorning()
    {
        // The first day: three boats, each in a zone of its own.
        var evidence = new Fleet()
            .Reported(Trip("grey-petrel", Bank, 0, 12))
            .Reported(Trip("ardent-tern", Edge, 0, 9))
            .Reported(Trip("little-auk", "inner-shelf", 0, 0))
            .Evidence();
        var prior = CoastPrior.Of(evidence);
        Assert.True(prior.IsYoung);
        Assert.True(prior.RestsOn(Fleet.Today));
        Assert.Equal(3, prior.Reports);
        var brief = BriefMaker.Make(evidence, prior);
        Assert.True(brief.Evidence.Pooled);
        Assert.Equal(Strength.Thin, brief.Evidence.Strength);
        Assert.NotNull(brief.CatchRate);
    }

    [Fact]
    public void ClosingASpeciesNeedsNoNewCoast()
    {
        var evidence = Coast();
        var prior = CoastPrior.Of(evidence);
        foreach (var zone in new[] { Bank, "south-trench" })
        {
            var closed = BriefMaker.Make(
                evidence with
                {
                    Zone = zone,
                    ClosedNotice = "Closed until 1 December.",
                },
                prior
            );
            Assert.Empty(closed.OutfitSets);
            Assert.Equal("closed", Assert.Single(closed.Missing, m => m.Pointer == "/outfits").Code);
            Assert.NotNull(closed.CatchRate);
        }
    }

    /// <summary>Three weeks of four boats on the bank and three on the edge; two boats once in the trench.</summary>
    private static Evidence Coast()
    {
        var fleet = new Fleet();
        string[] bank = ["grey-petrel", "ardent-tern", "little-auk", "storm-shag"];
        for (var day = 0; day < 21; day++)
        {
            for (var boat = 0; boat < bank.Length; boat++)
            {
                fleet.Reported(Trip(bank[boat], Bank, day, 8 + (day * 7 + boat * 5) % 17));
                if (boat > 0)
                {
                    fleet.Reported(Trip(bank[boat], Edge, day, (day * 3 + boat * 11) % 13, sailing: 2));
                }
            }
        }

        fleet.Reported(Trip("grey-petrel", "south-trench", 3, 30, sailing: 2));
        return fleet.Evidence();
    }

    private static ReportMeasures Trip(string boat, string zone, int daysAgo, int kept, int sailing = 1) =>
        new Fleet(zone)
            .Trip(
                boat,
                daysAgo,
                kept,
                0,
                kept > 0 ? 18 : null,
                kept > 0 ? 18 + kept : null,
                sailing: sailing,
                rigs:
                [
                    Fleet.Rig(30, rods: 10, hooked: kept, landed: kept * 3 / 4, winning: true),
                    Fleet.Rig(50, rods: 8, hooked: kept / 2, landed: kept / 4),
                ]
            )
            .Reports[0];
}
