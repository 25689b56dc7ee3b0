using System.Net;
using System.Text.Json.Nodes;
using Reports.Storage;
using Reports.Web.Tests.Pages;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Api;

/// <summary>Chances of coming trips on the coast of <see cref="PageCoast"/>; today is 23 November 2026.</summary>
public sealed class ChancesTests(PostgresServer postgres)
{
    private const string Path = "/api/v1/chances?species=SBF";

    public static TheoryData<DatabaseKind> Both => Databases.Both;

    [Theory]
    [MemberData(nameof(Both))]
    public async Task ADayTripIsToldWhatTheBriefTells(DatabaseKind database)
    {
        await using var app = await StartAsync(database);
        var fleet = new Fleet(app.CreateClient());
        await fleet.PutAsync($"departures/{Fleet.Petrel}/2026-11-24/1", new { tripDays = 1.0, zone = Fleet.Bank });

        var chances = await ReadAsync(fleet, Path + "&limit=1");
        var brief = await ReadAsync(fleet, $"/api/v1/zones/{Fleet.Bank}/species/SBF/brief");

        var trip = Assert.Single(chances["departures"]!.AsArray())!;
        Assert.Equal(
            """{"boat":"grey-petrel","landing":"corran-quay","date":"2026-11-24","sailing":1,"tripDays":1,"tripDaysAssumed":false,"kind":null,"zones":["cannery-bank"],"zonePlanned":true}""",
            trip.ToJsonString()
        );
        var bank = Assert.Single(chances["chances"]!.AsArray())!;
        var rate = brief["catchRate"]!;
        foreach (
            var (there, here) in new[]
            {
                (brief["version"], bank["briefVersion"]),
                (brief["computedAt"], bank["computedAt"]),
                (brief["evidence"], bank["evidence"]),
                (rate["perAngler"], bank["perAngler"]),
                (rate["atLeastOne"], bank["atLeastOne"]),
                (rate["atLeastOne"], bank["atLeastLimit"]),
                (rate["trend"], bank["trend"]),
                (rate["perAnglerIfSilentBlank"], bank["perAnglerIfSilentBlank"]),
                (rate["perAnglerIfSilentAlike"], bank["perAnglerIfSilentAlike"]),
                (rate["stoppedAtLimit"], bank["stoppedAtLimit"]),
                (brief["size"]!["quantiles"], bank["size"]!["quantiles"]),
                (brief["size"]!["over"], bank["size"]!["over"]),
                (brief["outfits"]![0]!["hook"], bank["outfit"]!["hook"]),
            }
        )
        {
            Assert.True(JsonNode.DeepEquals(there, here), $"{there?.ToJsonString()} and {here?.ToJsonString()}");
        }

        Assert.Empty(bank["missing"]!.AsArray());
        Assert.Equal(1, bank["fish"]!.AsObject().Sum(f => f.Value!.GetValue<double>()), 3);
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task EachPlannedTripHasItsZoneOrThoseInReachAndNobodyReadsWhoHasBooked(DatabaseKind database)
    {
        await using var app = await StartAsync(database);
        var fleet = new Fleet(app.CreateClient());
        await PutAsync(
            fleet,
            Fleet.Petrel,
            24,
            1,
            new
            {
                kind = "overnight",
                anglers = 287,
                capacity = 288,
            }
        );
        await PutAsync(fleet, Fleet.Petrel, 24, 2, new { tripDays = 0.5, anglers = 287 });
        await PutAsync(fleet, Fleet.Tern, 23, 1, new { tripDays = 2.5, zone = Fleet.Edge });
        await PutAsync(fleet, Fleet.Tern, 25, 1, new { tripDays = 1, status = "cancelled" });
        await PutAsync(fleet, Fleet.Tern, 22, 1, new { tripDays = 1 });
        await PutAsync(fleet, Fleet.Tern, 30, 1, new { tripDays = 1 });

        var chances = await ReadAsync(fleet, Path);

        Assert.Equal(
            [
                "ardent-tern 2026-11-23 1: 2.5 forty-fathom-edge",
                "grey-petrel 2026-11-24 1: 1.5? cannery-bank forty-fathom-edge inner-shelf",
                "grey-petrel 2026-11-24 2: 0.5 ", // 2.5 hours' run are more than a third of 6
            ],
            Trips(chances)
        );
        Assert.Equal(
            ["cannery-bank 1.5", "forty-fathom-edge 1.5", "forty-fathom-edge 2.5", "inner-shelf 1.5"],
            chances["chances"]!.AsArray().Select(c => $"{c!["zone"]} {c["tripDays"]}")
        );
        Assert.DoesNotMatch("28[78]|\"anglers\"|capacity|book", chances.ToJsonString());

        // An overnight fishes one day, a trip of 2.5 days two: the thin brief says 0.3 fish, 0.1 to 0.8.
        Assert.Equal(1.4, chances["chances"]![0]!["perAngler"]!["mean"]!.GetValue<double>());
        Assert.Equal("""{"mean":0.6,"low":0.2,"high":1.6}""", chances["chances"]![2]!["perAngler"]!.ToJsonString());

        Assert.Equal(2, Trips(await ReadAsync(fleet, Path + "&landing=corran-quay")).Count);
        Assert.Equal(2, Trips(await ReadAsync(fleet, Path + $"&zone={Fleet.Edge}")).Count);
        Assert.Single(Trips(await ReadAsync(fleet, Path + "&tripDays=1.5")));
        Assert.Equal(
            ["ardent-tern 2026-11-30 1: 1 cannery-bank forty-fathom-edge inner-shelf"],
            Trips(await ReadAsync(fleet, Path + "&from=2026-11-30&days=1"))
        );
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task WithoutADepartureTheZonesAreToldForADay(DatabaseKind database)
    {
        await using var app = await StartAsync(database);
        var fleet = new Fleet(app.CreateClient());

        var chances = await ReadAsync(fleet, Path + "&weight=kg");

        Assert.Empty(chances["departures"]!.AsArray());
        Assert.Equal(
            ["cannery-bank 1", "forty-fathom-edge 1", "inner-shelf 1"],
            chances["chances"]!.AsArray().Select(c => $"{c!["zone"]} {c["tripDays"]}")
        );
        Assert.Equal("kg", chances["chances"]![0]!["size"]!["unit"]!.GetValue<string>());
        Assert.Equal(15, chances["chances"]![0]!["outfit"]!["lineClass"]!.GetValue<int>());
        Assert.Empty((await ReadAsync(fleet, Path + "&landing=corran-quay&tripDays=0.5"))["chances"]!.AsArray());
        Assert.Single((await ReadAsync(fleet, Path + "&zone=inner-shelf"))["chances"]!.AsArray());
    }

    [Fact]
    public async Task WhatCantBeToldIsNullWithItsReason()
    {
        await using var app = await StartAsync(DatabaseKind.Sqlite);
        var fleet = new Fleet(app.CreateClient());
        async Task<JsonNode> AtAsync(string species, string zone) =>
            (await ReadAsync(fleet, $"/api/v1/chances?species={species}&zone={zone}"))["chances"]![0]!;
        string Missing(JsonNode at) =>
            string.Join(", ", at["missing"]!.AsArray().Select(m => $"{m!["pointer"]} {m["code"]}"));

        var none = await AtAsync("DOL", Fleet.Bank);
        Assert.Equal(" no-brief", Missing(none));
        Assert.Null(none["evidence"]);

        var silent = await AtAsync("ALB", Fleet.Bank);
        Assert.Equal("/perAngler too-few-boats", Missing(silent));
        Assert.Equal("none", silent["evidence"]!["strength"]!.GetValue<string>());

        var thin = await AtAsync("SBF", Fleet.Edge);
        Assert.Equal("/atLeastLimit not-told, /size too-few-boats", Missing(thin));
        Assert.NotNull(thin["perAngler"]);
        Assert.Null(thin["atLeastOne"]);

        Assert.True((await AtAsync("SBF", Fleet.Shelf))["evidence"]!["pooled"]!.GetValue<bool>());

        var closed = await ReadAsync(fleet, $"/api/v1/chances?species=YTC&zone={Fleet.Bank}");
        Assert.Equal("Closed from 1 November by the invented authority of the coast.", closed.Text("closedNotice"));
        Assert.Equal(" closed", Missing(closed["chances"]![0]!));
        foreach (var advice in new[] { "perAngler", "atLeastOne", "size", "outfit", "trend" })
        {
            Assert.Null(closed["chances"]![0]![advice]);
        }
    }

    [Fact]
    public async Task ASpeciesClosedAMomentAgoIsClosedWhateverItsBriefsStillSay()
    {
        await using var app = await StartAsync(DatabaseKind.Sqlite);
        var fleet = new Fleet(app.CreateClient());
        await fleet.PutAsync(
            "species/SBF",
            new
            {
                name = "southern bluefin",
                scientificName = "Thunnus maccoyii",
                kind = "catch",
                closedNotice = "Closed today.",
            }
        );

        var chances = await ReadAsync(fleet, Path);

        Assert.Equal("Closed today.", chances.Text("closedNotice"));
        Assert.All(chances["chances"]!.AsArray(), c => Assert.Null(c!["outfit"]));
        Assert.All(chances["chances"]!.AsArray(), c => Assert.Null(c!["atLeastOne"]));
    }

    [Theory]
    [InlineData("", "species", "required", "one of ALB, DOL, SBF, YTC")]
    [InlineData("species=PIL", "species", "unknown-species", "one of ALB, DOL, SBF, YTC")]
    [InlineData("species=SBF&landing=x", "landing", "unknown-landing", "one of corran-quay, old-cannery-dock")]
    [InlineData("species=SBF&zone=x", "zone", "unknown-zone", "one of cannery-bank, ")]
    [InlineData("species=SBF&tripDays=0.3", "tripDays", "out-of-range", "quarter days")]
    [InlineData("species=SBF&tripDays=-1", "tripDays", "out-of-range", "quarter days")]
    [InlineData("species=SBF&from=tomorrow", "from", "not-a-date", "ISO 8601")]
    [InlineData("species=SBF&from=2026-11-22", "from", "out-of-range", "2026-11-23")]
    [InlineData("species=SBF&from=2027-11-22", "from", "out-of-range", "2027-01-22")]
    [InlineData("species=SBF&days=15", "days", "out-of-range", "1 to 14")]
    [InlineData("species=SBF&limit=0", "limit", "out-of-range", "1 to 50")]
    [InlineData("species=SBF&limit=2.5", "limit", "out-of-range", "1 to 50")]
    [InlineData("species=SBF&weight=stone", "weight", "unknown-word", "lb or kg")]
    public async Task AWrongParameterIsNamedWithWhatIsAccepted(string query, string name, string code, string accepted)
    {
        await using var app = await StartAsync(DatabaseKind.Sqlite);
        using var answer = await new Fleet(app.CreateClient()).GetAsync("/api/v1/chances?" + query);
        var error = Assert.Single((await answer.ProblemAsync(HttpStatusCode.BadRequest))["errors"]!.AsArray())!;

        Assert.Equal(name, error["parameter"]!.GetValue<string>());
        Assert.Equal(code, error["code"]!.GetValue<string>());
        Assert.Contains(accepted, error["detail"]!.GetValue<string>(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task WhoHasTheAnswerIsToldSoUntilATripOrABriefChanges()
    {
        await using var app = await StartAsync(DatabaseKind.Sqlite);
        var http = app.CreateClient();
        var fleet = new Fleet(http);
        var tags = new HashSet<string> { await TagAsync() };
        Assert.False(tags.Add(await TagAsync()));

        await PutAsync(fleet, Fleet.Petrel, 24, 1, new { tripDays = 1 });
        Assert.True(tags.Add(await TagAsync()));

        // How many have booked is not said, so it changes nothing.
        await PutAsync(fleet, Fleet.Petrel, 24, 1, new { tripDays = 1, anglers = 12 });
        Assert.False(tags.Add(await TagAsync()));

        var better = SampleBrief.Good(Fleet.Bank, "SBF");
        better = better with { CatchRate = better.CatchRate! with { PerAngler = new(1.5, 1.2, 1.9) } };
        await app.WithAsync((BriefStore briefs) => briefs.PublishAsync(better, [], CancellationToken.None));
        Assert.True(tags.Add(await TagAsync()));

        async Task<string> TagAsync()
        {
            using var first = await fleet.GetAsync(Path);
            var tag = first.Headers.ETag!;
            Assert.True(tag.IsWeak);
            using var request = new HttpRequestMessage(HttpMethod.Get, Path);
            request.Headers.IfNoneMatch.Add(tag);
            using var again = await http.SendAsync(request, TestContext.Current.CancellationToken);
            Assert.Equal(HttpStatusCode.NotModified, again.StatusCode);
            return tag.Tag;
        }
    }

    private async Task<ReportsApp> StartAsync(DatabaseKind database) =>
        (await PageCoast.StartAsync(database, postgres)).App;

    private static Task PutAsync(Fleet fleet, string boat, int day, int sailing, object departure) =>
        fleet.PutAsync($"departures/{boat}/2026-11-{day}/{sailing}", departure);

    private static async Task<JsonObject> ReadAsync(Fleet fleet, string path)
    {
        using var answer = await fleet.GetAsync(path);
        await answer.ShouldBeAsync(HttpStatusCode.OK);
        return await answer.JsonAsync();
    }

    private static List<string> Trips(JsonObject chances) =>
        [
            .. chances["departures"]!
                .AsArray()
                .Select(t =>
                    $"{t!["boat"]} {t["date"]} {t["sailing"]}: {t["tripDays"]}{(t["tripDaysAssumed"]!.GetValue<bool>() ? "?" : "")} {string.Join(' ', t["zones"]!.AsArray().Select(z => z!.GetValue<string>()))}"
                ),
        ];
}
