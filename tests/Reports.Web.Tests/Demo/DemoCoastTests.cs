using System.Globalization;
using System.Text.Json;
using Reports.Domain.Coast;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using Reports.Web.Demo;

namespace Reports.Web.Tests.Demo;

/// <summary>The demo coast as reference data and as a stream of reports. The dates are arbitrary and fixed.</summary>
public sealed class DemoCoastTests
{
    private static readonly DateOnly Last = new(2026, 11, 24);
    private static readonly DateOnly First = Last.AddDays(1 - DemoCoast.HistoryDays);
    private static readonly Lazy<List<DemoDay>> Season = new(() => [.. DemoCoast.Days(First, Last)]);

    private static IEnumerable<DemoReport> Reports => Season.Value.SelectMany(d => d.Reports);

    [Fact]
    public void EveryReportIsAcceptedByTheReaderWhenItComesIn()
    {
        var register = DemoCoast.World().ToRegister();
        foreach (var report in Reports)
        {
            using var document = JsonDocument.Parse(report.Json);
            var reading = ReportReader.Read(document.RootElement, register, report.ReceivedAt);

            Assert.True(reading.IsGood, string.Join("; ", reading.Errors) + report.Json);
            Assert.Equal(new ReportKey(report.Boat, report.Zone, report.FishedOn, report.Sailing), reading.Value!.Key);
            Assert.Equal(report.SoFar, reading.Value.Status == ReportStatus.SoFar);
        }
    }

    [Fact]
    public void ASeasonHasAboutTwentyReportsADayAndDaysWithout()
    {
        Assert.Equal(DemoCoast.HistoryDays, Season.Value.Count);
        Assert.InRange(Reports.Count(), 2300, 2700);
        Assert.Contains(Season.Value, d => d.Reports.Count == 0);

        double Mean(Func<DemoDay, bool> days) => Season.Value.Where(days).Average(d => d.Reports.Count);
        Assert.True(
            Mean(d => d.Date.DayOfWeek is DayOfWeek.Saturday or DayOfWeek.Sunday)
                > Mean(d => d.Date.DayOfWeek is not (DayOfWeek.Saturday or DayOfWeek.Sunday))
        );
        Assert.All(
            DemoCoast.World().Zones,
            z => Assert.True(Reports.Where(r => r.Zone == z.Code).Select(r => r.Boat).Distinct().Count() >= 3)
        );
    }

    [Fact]
    public void NoTwoReportsShareAKey()
    {
        Assert.Equal(Reports.Count(), Reports.Select(r => (r.Boat, r.Zone, r.FishedOn, r.Sailing)).Distinct().Count());
        Assert.Equal(Reports.Count(), Reports.Select(r => r.IdempotencyKey).Distinct().Count());
    }

    [Fact]
    public void ReportsComeInOrderAndWithinTheLandingsDay()
    {
        var landing = DemoCoast.World().Landings[0];
        Assert.All(
            Season.Value,
            day =>
            {
                Assert.Equal(day.Reports.OrderBy(r => r.ReceivedAt), day.Reports);
                Assert.All(
                    day.Reports,
                    r =>
                    {
                        Assert.Equal(day.Date, r.FishedOn);
                        Assert.Equal(TimeSpan.Zero, r.ReceivedAt.Offset);
                        Assert.Equal(day.Date, landing.DayOf(r.ReceivedAt));
                    }
                );
            }
        );
    }

    [Fact]
    public void TheSameDaysAreByteForByteTheSameInAnyCulture()
    {
        var before = CultureInfo.CurrentCulture;
        try
        {
            CultureInfo.CurrentCulture = new CultureInfo("tr-TR");
            Assert.Equal(Reports.Take(600), DemoCoast.Days(First, Last).SelectMany(d => d.Reports).Take(600));
        }
        finally
        {
            CultureInfo.CurrentCulture = before;
        }
    }

    [Fact]
    public void RenewalByADayLeavesTheOtherDaysAsTheyWere()
    {
        var renewed = DemoCoast.Days(Last.AddDays(-9), Last.AddDays(1)).ToList();

        Assert.Equal(11, renewed.Count);
        foreach (var (old, day) in Season.Value.TakeLast(10).Zip(renewed))
        {
            Assert.Equal(old.Date, day.Date);
            Assert.Equal(old.Reports, day.Reports);
            Assert.Equal(old.Bait.SelectMany(b => b.Bait), day.Bait.SelectMany(b => b.Bait));
        }

        Assert.Equal(
            DemoCoast.Departures(Last.AddDays(-5), Last.AddDays(5)),
            DemoCoast
                .Departures(Last.AddDays(-20), Last.AddDays(9))
                .Where(d => d.Departure.Date >= Last.AddDays(-5) && d.Departure.Date <= Last.AddDays(5))
        );
    }

    [Fact]
    public void SlipsAreRareAndOfEveryKindAndSoAreCountsThatWereNeverFinished()
    {
        var reports = DemoCoast.Days(Last.AddDays(-729), Last).SelectMany(d => d.Reports).ToList();

        // Binomial: 1 in 100 less those that found nothing to spoil, n about 15,000, so five standard errors are 0.004.
        Assert.InRange(reports.Count(r => r.Slip is not null) / (double)reports.Count, 0.005, 0.014);
        Assert.Equal(Enum.GetValues<DemoSlip>(), reports.Select(r => r.Slip).OfType<DemoSlip>().Distinct().Order());
        Assert.Contains(Reports, r => r.Slip is not null);
        Assert.InRange(reports.Count(r => r.SoFar) / (double)reports.Count, 0.001, 0.005);
    }

    [Fact]
    public void CrewsTellUnequallyMuch()
    {
        var documents = Reports.Select(r => JsonDocument.Parse(r.Json).RootElement).ToList();
        double Share(Func<JsonElement, bool> told) => documents.Count(told) / (double)documents.Count;
        bool Rig(JsonElement d, string field) =>
            d.TryGetProperty("rigs", out var rigs) && rigs.EnumerateArray().Any(r => r.TryGetProperty(field, out _));
        bool Line(JsonElement d, string field) =>
            d.GetProperty("catch").EnumerateArray().Any(l => l.TryGetProperty(field, out _));

        Assert.InRange(Share(d => !d.TryGetProperty("rigs", out _)), 0.1, 0.6);
        Assert.InRange(Share(d => Rig(d, "hooked")), 0.1, 0.5);
        Assert.InRange(Share(d => Rig(d, "use")), 0.02, 0.3);
        Assert.InRange(
            Share(d => Rig(d, "winning") && d.GetProperty("rigs").GetArrayLength() == 1 && !Rig(d, "rods")),
            0.1,
            0.6
        );
        Assert.InRange(Share(d => d.GetProperty("catch").GetArrayLength() > 1), 0.2, 0.9);
        Assert.InRange(
            Share(d => d.GetProperty("catch").EnumerateArray().All(l => l.GetProperty("kept").GetInt32() == 0)),
            0.01,
            0.2
        );
        Assert.InRange(
            Share(d => d.TryGetProperty("units", out var u) && u.GetProperty("weight").GetString() == "kg"),
            0.05,
            0.3
        );
        Assert.InRange(Share(d => d.TryGetProperty("sailing", out var s) && s.GetInt32() == 2), 0.05, 0.4);
        foreach (var field in new[] { "daysCovered", "hours", "bite", "signs", "bait", "note" })
        {
            Assert.InRange(Share(d => d.TryGetProperty(field, out _)), 0.01, 0.9);
        }

        foreach (
            var field in new[] { "smallest", "mostFrom", "weighed", "topRod", "anglersWithFish", "lostHeavy", "limit" }
        )
        {
            Assert.InRange(Share(d => Line(d, field)), 0.002, 0.95);
        }
    }

    [Fact]
    public void EachTripThatSailedHasReportedUnlessItIsSilent()
    {
        var departures = DemoCoast.Departures(Last.AddDays(-60), Last).Where(d => d.FishedOn <= Last).ToList();
        var reported = Reports.Select(r => (r.Boat, r.FishedOn, r.Sailing)).ToHashSet();

        Assert.All(
            departures,
            d =>
                Assert.Equal(
                    d.Departure.Status == DepartureStatus.Planned && !d.Silent,
                    reported.Contains((d.Departure.Boat, d.FishedOn, d.Departure.Sailing))
                )
        );
        Assert.InRange(departures.Count(d => d.Silent) / (double)departures.Count, 0.03, 0.14);
        Assert.Contains(departures, d => d.Departure.Status == DepartureStatus.Cancelled);
        Assert.All(departures, d => Assert.InRange(d.Departure.Anglers!.Value, 4, d.Departure.Capacity!.Value));
        Assert.Equal(
            departures.Count,
            departures.Select(d => (d.Departure.Boat, d.Departure.Date, d.Departure.Sailing)).Distinct().Count()
        );
    }

    [Fact]
    public void DeparturesAheadLeaveInTheDaysAskedFor()
    {
        var ahead = DemoCoast.Departures(Last.AddDays(1), Last.AddDays(DemoCoast.DeparturesAhead)).ToList();

        Assert.Equal(Last.AddDays(1), ahead[0].Departure.Date);
        Assert.Equal(Last.AddDays(DemoCoast.DeparturesAhead), ahead[^1].Departure.Date);
        Assert.Equal(Enum.GetValues<TripKind>(), ahead.Select(d => d.Departure.Kind!.Value).Distinct().Order());
        Assert.Contains(ahead, d => d.Departure.Status == DepartureStatus.Cancelled);
    }

    [Fact]
    public void TheCoastIsMadeOfZonesThatAdjoinAndDoNotOverlap()
    {
        var world = DemoCoast.World();
        var register = world.ToRegister();
        foreach (var zone in world.Zones)
        {
            Assert.True(zone.Area.IsValid);
            Assert.Equal(4326, zone.Area.SRID);
            Assert.Equal(world.Landings.Select(l => l.Code), zone.Reach.Select(r => r.Landing));
            var inside = zone.Area.InteriorPoint;
            Assert.Equal(zone.Code, register.ZoneAt((decimal)inside.Y, (decimal)inside.X)?.Code);
            Assert.All(
                world.Zones,
                other => Assert.True(other == zone || zone.Area.Intersection(other.Area).Area < 1e-12)
            );
            Assert.Contains(world.Zones, other => other != zone && zone.Area.Intersection(other.Area).Length > 0.2);

            var ring = JsonDocument.Parse(zone.AreaGeoJson).RootElement.GetProperty("coordinates")[0];
            Assert.Equal(
                zone.Area.Coordinates.Select(c => (c.X, c.Y)),
                ring.EnumerateArray().Select(c => (c[0].GetDouble(), c[1].GetDouble()))
            );
            Assert.True(NetTopologySuite.Algorithm.Orientation.IsCCW(zone.Area.Coordinates));
        }
    }

    [Fact]
    public void CodesAndNamesAreTheContracts()
    {
        var world = DemoCoast.World();

        Assert.Equal(["corran-quay", "old-cannery-dock"], world.Landings.Select(l => l.Code));
        Assert.Equal(20, world.Boats.Count);
        Assert.All(
            world.Boats.Select(b => b.Code).Concat(world.Zones.Select(z => z.Code)),
            c => Assert.True(Code.IsSlug(c))
        );
        Assert.All(world.Species, s => Assert.True(Code.IsSpecies(s.Code)));
        Assert.Equal(5, world.Species.Count(s => s.Kind == SpeciesKind.Catch));
        Assert.Equal(3, world.Species.Count(s => s.Kind == SpeciesKind.Bait));
        Assert.Equal("Grey Petrel", world.Boats.Single(b => b.Code == "grey-petrel").Name);
        Assert.NotNull(TimeZoneInfo.FindSystemTimeZoneById(DemoWorld.TimeZoneId));
    }

    [Fact]
    public void TheLandingsBaitIsABaitOfTheCoastWithItsRangeInOrder()
    {
        var baits = DemoCoast.World().Species.Where(s => s.Kind == SpeciesKind.Bait).Select(s => s.Code).ToList();
        foreach (var day in Season.Value)
        {
            Assert.Equal(DemoCoast.World().Landings.Select(l => l.Code), day.Bait.Select(b => b.Landing));
            Assert.All(
                day.Bait.SelectMany(b => b.Bait),
                b =>
                {
                    Assert.Contains(b.Species, baits);
                    Assert.InRange(b.Shortest!.Value.Given, 2, b.Longest!.Value.Given);
                    Assert.Equal(LengthUnit.In, b.Longest.Value.Unit);
                }
            );
        }
    }
}
