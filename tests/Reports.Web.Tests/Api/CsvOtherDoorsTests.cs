using System.Net;
using System.Text;
using System.Text.Json.Nodes;
using Microsoft.EntityFrameworkCore;
using Reports.Storage;
using Reports.Web.Tests.Support;
using static Reports.Web.Tests.Support.CsvFiles;

namespace Reports.Web.Tests.Api;

/// <summary>Departures and the landings' bait of the day, in and out as CSV, on both databases.</summary>
public sealed class CsvOtherDoorsTests(PostgresServer postgres, SharedApps apps) : IClassFixture<SharedApps>
{
    private const string Departures = "/api/v1/departures";
    private const string Bait = "/api/v1/bait";

    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task Every_damage_of_a_file_of_departures_is_named_and_nothing_is_stored(DatabaseKind database)
    {
        var (app, fleet) = await apps.OfAsync(database);
        var boat = await fleet.NewBoatAsync();
        (string Column, string Cell, string Code)[] damage =
        [
            ("boat", boat[..^2], "unknown-boat"),
            ("boat", "", "required"),
            ("date", "20/12/2026", "not-a-date"),
            ("date", "2026-11-31", "not-a-date"),
            ("date", "46346", "not-a-date"),
            ("sailing", "10", "out-of-range"),
            ("sailing", "first", "not-a-number"),
            ("tripDays", "0.3", "out-of-range"),
            ("tripDays", "\"1,5\"", "not-a-number"),
            ("kind", "weekend", "unknown-word"),
            ("anglers", "-1", "negative-count"),
            ("anglers", "31", "anglers-over-capacity"),
            ("anglers", "#REF!", "spreadsheet-error"),
            ("capacity", "29.5", "not-whole"),
            ("capacity", "301", "out-of-range"),
            ("zone", "canery-bnk", "unknown-zone"),
            ("status", "perhaps", "unknown-word"),
        ];
        var rows = Enumerable.Range(0, damage.Length).Select(i => Departure(boat, i)).ToList();
        var damaged = rows.Select((row, i) => With(row, damage[i].Column, damage[i].Cell));
        var csv = Csv(damaged.Append(With(rows[^1], "sailing", "9")).Append(With(rows[^1], "sailing", "9")));

        using var refused = await SendAsync(
            fleet,
            Departures + "/import",
            [.. csv, .. Encoding.UTF8.GetBytes("a,b\r\n")]
        );
        var problem = await refused.ProblemAsync(HttpStatusCode.BadRequest);
        var ragged = damage.Length + 4;
        Assert.Equal(
            damage
                .Select((d, i) => $"{i + 2} {d.Column} {d.Code}")
                .Append($"{ragged - 1} - duplicate-row")
                .Append($"{ragged} - ragged-row"),
            Errors(problem)
        );
        Assert.Equal((0, 0, damage.Length + 2), Counts(problem));
        Assert.Equal(0, await CountAsync());

        Assert.Equal(
            (rows.Count, 0, 0),
            Counts(await ImportAsync(fleet, Departures + "/import", Csv(rows), "?dryRun=true"))
        );
        Assert.Equal(0, await CountAsync());
        Assert.Equal((rows.Count, 0, 0), Counts(await ImportAsync(fleet, Departures + "/import", Csv(rows))));
        Assert.Equal(rows.Count, await CountAsync());
        Assert.Equal((0, rows.Count, 0), Counts(await ImportAsync(fleet, Departures + "/import", Csv(rows))));

        Task<int> CountAsync() => app.AskAsync(db => db.Departures.CountAsync(d => d.Boat == boat));
    }

    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task Every_damage_of_a_file_of_bait_is_named_and_nothing_is_stored(DatabaseKind database)
    {
        var (app, fleet) = await apps.OfAsync(database);
        var landing = await NewLandingAsync(fleet);
        (string Column, string Cell, string Code)[] damage =
        [
            ("landing", landing[..^2], "unknown-landing"),
            ("landing", "", "required"),
            ("date", "20/12/2026", "not-a-date"),
            ("date", "2026-11-31", "not-a-date"),
            ("lengthUnit", "foot", "unknown-word"),
            ("species", "SBF", "unknown-bait"),
            ("species", "", "required"),
            ("shortest", "0", "out-of-range"),
            ("shortest", "6", "range-reversed"),
            ("longest", "five", "not-a-number"),
            ("longest", "31", "out-of-range"),
            ("condition", "sleepy", "unknown-word"),
            ("supply", "some", "unknown-word"),
        ];
        var rows = Enumerable.Range(0, damage.Length).Select(i => DayBait(landing, i)).ToList();
        var damaged = rows.Select((row, i) => With(row, damage[i].Column, damage[i].Cell)).ToList();

        // Two kinds of one day: the same kind twice, another unit on the second row; and a day whose rows lie apart.
        damaged.AddRange([DayBait(landing, 20), With(DayBait(landing, 20), "lengthUnit", "cm")]);
        damaged.AddRange([DayBait(landing, 21), DayBait(landing, 22), DayBait(landing, 21)]);
        var line = damage.Length + 2;

        using var refused = await SendAsync(fleet, Bait + "/import", Csv(damaged));
        var problem = await refused.ProblemAsync(HttpStatusCode.BadRequest);
        Assert.Equal(
            damage
                .Select((d, i) => $"{i + 2} {d.Column} {d.Code}")
                // A row without its day may be one of the next day's.
                .Select(e => e.StartsWith("6 ", StringComparison.Ordinal) ? "6 - unsure-rows\n" + e : e)
                .SelectMany(e => e.Split('\n'))
                .Append($"{line + 1} lengthUnit contradicts")
                .Append($"{line + 1} species duplicate-species")
                .Append($"{line + 4} - rows-apart"),
            Errors(problem)
        );
        Assert.Equal(0, await CountAsync());

        Assert.Equal((rows.Count, 0, 0), Counts(await ImportAsync(fleet, Bait + "/import", Csv(rows), "?dryRun=true")));
        Assert.Equal(0, await CountAsync());
        Assert.Equal((rows.Count, 0, 0), Counts(await ImportAsync(fleet, Bait + "/import", Csv(rows))));
        Assert.Equal(rows.Count, await CountAsync());
        Assert.Equal((0, rows.Count, 0), Counts(await ImportAsync(fleet, Bait + "/import", Csv(rows))));

        Task<int> CountAsync() => app.AskAsync(db => db.LandingBait.CountAsync(b => b.Landing == landing));
    }

    /// <summary>With a mark, semicolons, commas for points, days first, names for codes, and blanks.</summary>
    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task A_spreadsheet_in_a_land_of_decimal_commas_is_taken(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        var (boat, landing) = (await fleet.NewBoatAsync(), await NewLandingAsync(fleet));
        var departures = Spreadsheet(
            $"Boat;Date;Trip Days;Anglers;Capacity;Zone\r\n{boat.ToUpperInvariant()};28/11/2026;1,5;18; 30 ;{Fleet.Bank}\r\n;;;;;\r\n"
        );
        var bait = Spreadsheet(
            $"Landing;Date;Length unit;Species;Shortest;Longest\r\n{landing};28.11.2026;cm;sardine;11,5;14\r\n{landing};28.11.2026;;ANE;7;\r\n"
        );

        using var undeclared = await SendAsync(fleet, Departures + "/import", departures);
        Assert.Equal(["2 date not-a-date"], Errors(await undeclared.ProblemAsync(HttpStatusCode.BadRequest)));
        Assert.Equal((1, 0, 0), Counts(await ImportAsync(fleet, Departures + "/import", departures, "?dayFirst=true")));
        Assert.Equal((1, 0, 0), Counts(await ImportAsync(fleet, Bait + "/import", bait, "?dayFirst=true")));

        Assert.Equal(
            $$"""{"boat":"{{boat}}","date":"2026-11-28","sailing":1,"tripDays":1.5,"anglers":18,"capacity":30,"zone":"{{Fleet.Bank}}","status":"planned"}""",
            await ReadAsync(fleet, $"{Departures}/{boat}/2026-11-28/1")
        );
        Assert.Equal(
            """{"units":{"length":"cm"},"bait":[{"species":"PIL","shortest":11.5,"longest":14},{"species":"ANE","shortest":7}]}""",
            await ReadAsync(fleet, $"/api/v1/landings/{landing}/bait/2026-11-28")
        );

        static byte[] Spreadsheet(string text) => [.. Encoding.UTF8.Preamble, .. Encoding.UTF8.GetBytes(text)];
    }

    /// <summary>Good rows are stored beside bad ones; a changed row takes the place of what stands, as a PUT does.</summary>
    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task A_row_does_what_a_put_does(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        var (boat, landing) = (await fleet.NewBoatAsync(), await NewLandingAsync(fleet));
        var put = new
        {
            tripDays = 1.50m,
            kind = "overnight",
            anglers = 20,
            capacity = 30,
            zone = Fleet.Bank,
        };
        var first = Departure(boat, 0);
        await fleet.PutAsync($"departures/{boat}/{first["date"]}/1", put);
        await fleet.PutAsync(
            $"landings/{landing}/bait/{first["date"]}",
            JsonNode.Parse("""{"bait":[{"species":"PIL","shortest":4.0}]}""")!
        );

        // What the PUTs left, written anew, changes nothing; what is left empty is empty afterwards.
        var same = Csv([
            Row(
                ("boat", boat),
                ("date", first["date"]),
                ("tripDays", "1.5"),
                ("kind", "overnight"),
                ("anglers", "20"),
                ("capacity", "30"),
                ("zone", Fleet.Bank)
            ),
        ]);
        Assert.Equal((0, 1, 0), Counts(await ImportAsync(fleet, Departures + "/import", same)));
        var sameBait = Csv([Row(("landing", landing), ("date", first["date"]), ("species", "PIL"), ("shortest", "4"))]);
        Assert.Equal((0, 1, 0), Counts(await ImportAsync(fleet, Bait + "/import", sameBait)));

        var rows = Csv([
            Row(("boat", boat), ("date", first["date"]), ("capacity", "25")),
            Row(("boat", boat), ("date", "2026-12-24"), ("capacity", "-1")),
        ]);
        using var refused = await SendAsync(fleet, Departures + "/import", rows);
        await refused.ProblemAsync(HttpStatusCode.BadRequest);
        Assert.Equal((1, 0, 1), Counts(await ImportAsync(fleet, Departures + "/import", rows, "?goodRows=true")));
        Assert.Equal(
            $$"""{"boat":"{{boat}}","date":"{{first["date"]}}","sailing":1,"capacity":25,"status":"planned"}""",
            await ReadAsync(fleet, $"{Departures}/{boat}/{first["date"]}/1")
        );
        using var none = await fleet.GetAsync($"{Departures}/{boat}/2026-12-24/1", fleet.Admin);
        await none.ProblemAsync(HttpStatusCode.NotFound);

        var noBait = Csv([
            Row(("landing", landing), ("date", first["date"]), ("species", "")),
            Row(("landing", landing), ("date", "2026-12-24"), ("species", "SBF")),
        ]);
        Assert.Equal((1, 0, 1), Counts(await ImportAsync(fleet, Bait + "/import", noBait, "?goodRows=true")));
        Assert.Equal(
            """{"units":{"length":"in"},"bait":[]}""",
            await ReadAsync(fleet, $"/api/v1/landings/{landing}/bait/{first["date"]}")
        );
    }

    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task What_is_exported_comes_in_again_as_it_was(DatabaseKind database)
    {
        await using var app = await ReportsApp.StartAsync(database, postgres);
        var fleet = await Fleet.SetUpCoastAsync(app);
        foreach (var (kind, name) in new[] { (Departures, "example-departures.csv"), (Bait, "example-bait.csv") })
        {
            // The example of the docs, as it stands, first.
            var example = await File.ReadAllBytesAsync(
                Path.Combine(Repository.Root, "docs", name),
                TestContext.Current.CancellationToken
            );
            var stored = Counts(await ImportAsync(fleet, kind + "/import", example)).Stored;
            Assert.True(stored >= 2);
            Assert.Equal((0, stored, 0), Counts(await ImportAsync(fleet, kind + "/import", example)));
        }

        await fleet.PutAsync($"landings/{Fleet.Dock}/bait/2026-11-21", JsonNode.Parse("""{"bait":[]}""")!);
        await fleet.PutAsync($"departures/{Fleet.Tern}/2026-12-01/9", new { });
        var (departures, bait) = (await ExportAsync(Departures), await ExportAsync(Bait));
        Assert.Equal((0, 5, 0), Counts(await ImportAsync(fleet, Departures + "/import", departures)));
        Assert.Equal((0, 3, 0), Counts(await ImportAsync(fleet, Bait + "/import", bait)));
        var read = await ReadAsync(fleet, $"/api/v1/landings/{Fleet.Quay}/bait/2026-11-20");

        await app.WithAsync((ReportsDbContext db) => db.Departures.ExecuteDeleteAsync());
        await app.WithAsync((ReportsDbContext db) => db.LandingBait.ExecuteDeleteAsync());
        Assert.Equal((5, 0, 0), Counts(await ImportAsync(fleet, Departures + "/import", departures)));
        Assert.Equal((3, 0, 0), Counts(await ImportAsync(fleet, Bait + "/import", bait)));
        Assert.Equal(departures, await ExportAsync(Departures));
        Assert.Equal(bait, await ExportAsync(Bait));
        Assert.Equal(read, await ReadAsync(fleet, $"/api/v1/landings/{Fleet.Quay}/bait/2026-11-20"));

        var text = Encoding.UTF8.GetString(departures);
        Assert.StartsWith("\uFEFFboat,date,sailing,", text, StringComparison.Ordinal);
        Assert.All(
            text.Split("\r\n").SelectMany(l => l.Split(',')),
            cell => Assert.DoesNotMatch("^\\s*[=+\\-@\t]", cell)
        );
        Assert.Equal(
            ["boat", Fleet.Tern, Fleet.Tern],
            (await FilteredAsync($"?boat={Fleet.Tern}&from=2026-11-28&to=2026-12-01"))
        );
        using var wrong = await fleet.GetAsync(Departures + ".csv?from=yesterday", fleet.Admin);
        await wrong.ProblemAsync(HttpStatusCode.BadRequest);

        async Task<byte[]> ExportAsync(string kind)
        {
            using var answer = await fleet.GetAsync(kind + ".csv", fleet.Admin);
            await answer.ShouldBeAsync(HttpStatusCode.OK);
            return await answer.BytesAsync();
        }

        async Task<IEnumerable<string>> FilteredAsync(string query)
        {
            using var answer = await fleet.GetAsync(Departures + ".csv" + query, fleet.Admin);
            return (await answer.TextAsync())
                .Trim('\uFEFF')
                .Split("\r\n", StringSplitOptions.RemoveEmptyEntries)
                .Select(l => l.Split(',')[0]);
        }
    }

    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task A_key_imports_and_exports_what_it_may_put_and_read_one_by_one(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        var foreign = await fleet.NewBoatAsync(Fleet.Dock);
        await ImportAsync(fleet, Departures + "/import", Csv([Departure(Fleet.Petrel, 0), Departure(foreign, 0)]));

        Assert.Equal([Fleet.Petrel], await BoatsAsync(fleet.PetrelKey));
        Assert.DoesNotContain(foreign, await BoatsAsync(fleet.QuayKey));
        Assert.Contains(Fleet.Petrel, await BoatsAsync(fleet.QuayKey));
        Assert.Contains(foreign, await BoatsAsync(fleet.DockKey));

        var bait = Csv([DayBait(Fleet.Quay, 0), DayBait(Fleet.Dock, 0)]);
        using var refused = await SendAsync(fleet, Bait + "/import", bait, fleet.QuayKey);
        Assert.Equal(["3 landing not-your-landing"], Errors(await refused.ProblemAsync(HttpStatusCode.BadRequest)));
        Assert.Equal(
            (1, 0, 1),
            Counts(await ImportAsync(fleet, Bait + "/import", bait, "?goodRows=true", fleet.QuayKey))
        );
        Assert.Equal([Fleet.Quay], await FirstCellsAsync(Bait, fleet.QuayKey));
        Assert.Empty(await FirstCellsAsync(Bait, fleet.DockKey));
        Assert.Empty(await FirstCellsAsync(Bait, fleet.PetrelKey));

        Task<IReadOnlyList<string>> BoatsAsync(string key) => FirstCellsAsync(Departures, key);

        async Task<IReadOnlyList<string>> FirstCellsAsync(string kind, string key)
        {
            using var answer = await fleet.GetAsync(kind + ".csv", key);
            await answer.ShouldBeAsync(HttpStatusCode.OK);
            var lines = (await answer.TextAsync()).Split("\r\n", StringSplitOptions.RemoveEmptyEntries);
            return [.. lines.Skip(1).Select(l => l.Split(',')[0]).Distinct()];
        }
    }

    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task The_same_file_sent_four_times_at_once_is_stored_once(DatabaseKind database)
    {
        var (app, fleet) = await apps.OfAsync(database);
        var (boat, landing) = (await fleet.NewBoatAsync(), await NewLandingAsync(fleet));
        var departures = Csv(Enumerable.Range(0, 1200).Select(i => Departure(boat, i)));
        var bait = Csv(Enumerable.Range(0, 600).Select(i => DayBait(landing, i)));

        var answers = await Task.WhenAll(
            Enumerable.Range(0, 4).Select(_ => ImportAsync(fleet, Departures + "/import", departures))
        );
        var days = await Task.WhenAll(Enumerable.Range(0, 4).Select(_ => ImportAsync(fleet, Bait + "/import", bait)));

        Assert.Equal((1200, 3600), (answers.Sum(a => a.Number("stored")), answers.Sum(a => a.Number("unchanged"))));
        Assert.Equal(1200, await app.AskAsync(db => db.Departures.CountAsync(d => d.Boat == boat)));
        Assert.Equal(2400, days.Sum(a => a.Number("stored") + a.Number("unchanged")));
        Assert.Equal(600, await app.AskAsync(db => db.LandingBait.CountAsync(b => b.Landing == landing)));
    }

    /// <summary>As a PUT of each would: the briefs that count a sailed trip, and those of reports that inherit the bait.</summary>
    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task An_import_touches_the_briefs_that_it_changes(DatabaseKind database)
    {
        await using var app = await ReportsApp.StartAsync(database, postgres);
        var fleet = await Fleet.SetUpCoastAsync(app);
        var bare = ReportBody.Short(Fleet.Petrel, new DateOnly(2026, 11, 20));
        bare.Remove("bait");
        await fleet.SubmitReportAsync(bare);

        var sailed = With(With(Departure(Fleet.Petrel, 0), "date", "2026-11-20"), "zone", Fleet.Edge);
        Assert.Equal(
            new[] { "ALB", "DOL", "SBF", "YTC" }.Select(s => $"{Fleet.Edge} {s}"),
            await TouchedByAsync(Departures, Csv([sailed, Departure(Fleet.Tern, 0)]))
        );
        Assert.Equal([], await TouchedByAsync(Departures, Csv([sailed])));

        var day = With(DayBait(Fleet.Quay, 0), "date", "2026-11-20");
        Assert.Equal(
            [$"{Fleet.Bank} SBF"],
            await TouchedByAsync(Bait, Csv([day, With(DayBait(Fleet.Dock, 0), "date", "2026-11-20")]))
        );

        async Task<IEnumerable<string>> TouchedByAsync(string kind, byte[] csv)
        {
            await app.WithAsync((ReportsDbContext db) => db.Touched.ExecuteDeleteAsync());
            await ImportAsync(fleet, kind + "/import", csv);
            var touched = await app.AskAsync(db => db.Touched.Select(t => t.Zone + " " + t.Species).ToListAsync());
            return touched.Order(StringComparer.Ordinal);
        }
    }

    /// <summary>The verb, in this process: what it prints is for people, what it stores is asked of the database.</summary>
    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task The_verb_imports_them_too(DatabaseKind database)
    {
        var (app, fleet) = await apps.OfAsync(database);
        var (boat, landing) = (await fleet.NewBoatAsync(), await NewLandingAsync(fleet));
        Assert.Equal(Verbs.Good, await RunAsync("departures", Csv([Departure(boat, 0)]), "--dry-run"));
        Assert.Equal(0, await app.AskAsync(db => db.Departures.CountAsync(d => d.Boat == boat)));
        Assert.Equal(Verbs.Good, await RunAsync("departures", Csv([Departure(boat, 0)])));
        Assert.Equal(1, await app.AskAsync(db => db.Departures.CountAsync(d => d.Boat == boat)));
        Assert.Equal(Verbs.Failed, await RunAsync("bait", Csv([With(DayBait(landing, 0), "species", "SBF")])));
        Assert.Equal(Verbs.Good, await RunAsync("bait", Csv([DayBait(landing, 0)])));
        Assert.Equal(1, await app.AskAsync(db => db.LandingBait.CountAsync(b => b.Landing == landing)));

        async Task<int> RunAsync(string kind, byte[] csv, params string[] switches)
        {
            var file = Path.GetTempFileName();
            try
            {
                await File.WriteAllBytesAsync(file, csv, TestContext.Current.CancellationToken);
                return await Verbs.ImportAsync(app.Services, CommandLine.Parse(["import", kind, file, .. switches])!);
            }
            finally
            {
                File.Delete(file);
            }
        }
    }

    [Theory]
    [InlineData("import boats a.csv")]
    [InlineData("import departures a.csv b.csv")]
    [InlineData("import departures a.csv --replace")]
    public void A_mistyped_import_is_not_understood(string line) => Assert.Null(CommandLine.Parse(line.Split(' ')));

    /// <summary>A good departure; each number is another sailing or day.</summary>
    private static Dictionary<string, string> Departure(string boat, int number) =>
        Row(
            ("boat", boat),
            ("date", ReportBody.Day(new DateOnly(2026, 12, 20).AddDays(number / 9))),
            ("sailing", $"{(number % 9) + 1}"),
            ("tripDays", "1.5"),
            ("kind", "overnight"),
            ("anglers", "18"),
            ("capacity", "30"),
            ("zone", Fleet.Bank),
            ("status", "planned")
        );

    /// <summary>A good day's bait; each number is another day.</summary>
    private static Dictionary<string, string> DayBait(string landing, int number) =>
        Row(
            ("landing", landing),
            ("date", ReportBody.Day(new DateOnly(2026, 12, 20).AddDays(number))),
            ("lengthUnit", "in"),
            ("species", "PIL"),
            ("shortest", "4"),
            ("longest", "5.5"),
            ("condition", "lively"),
            ("supply", "plenty")
        );

    private static Dictionary<string, string> Row(params (string Column, string Cell)[] cells) =>
        cells.ToDictionary(c => c.Column, c => c.Cell);

    private static Dictionary<string, string> With(Dictionary<string, string> row, string column, string cell) =>
        new(row) { [column] = cell };

    private static async Task<string> NewLandingAsync(Fleet fleet)
    {
        var code = $"steps-{Guid.NewGuid():N}";
        await fleet.PutAsync($"landings/{code}", new { name = "some steps", timeZone = "UTC" });
        return code;
    }

    private static async Task<string> ReadAsync(Fleet fleet, string path)
    {
        using var answer = await fleet.GetAsync(path, fleet.Admin);
        await answer.ShouldBeAsync(HttpStatusCode.OK);
        return await answer.TextAsync();
    }
}
