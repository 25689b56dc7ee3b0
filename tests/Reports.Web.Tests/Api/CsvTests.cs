using System.Globalization;
using System.Net;
using System.Text;
using Microsoft.EntityFrameworkCore;
using Reports.Domain.Reporting;
using Reports.Storage;
using Reports.Web.Demo;
using Reports.Web.Tests.Support;
using static Reports.Web.Tests.Support.CsvFiles;

namespace Reports.Web.Tests.Api;

/// <summary>Reports in and out as CSV, on both databases.</summary>
public sealed class CsvTests(PostgresServer postgres, SharedApps apps) : IClassFixture<SharedApps>
{
    private const string Import = "/api/v1/reports/import";
    private const string Export = "/api/v1/reports.csv";

    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task Twenty_kinds_of_damage_are_named_by_line_and_column_and_nothing_is_stored(DatabaseKind database)
    {
        var (app, fleet) = await apps.OfAsync(database);
        var boat = await fleet.NewBoatAsync();
        (string Column, string Cell, string Code)[] damage =
        [
            ("kept", "-3", "negative-count"),
            ("kept", "lots", "not-a-number"),
            ("kept", "2.5", "not-whole"),
            ("kept", "", "required"),
            ("kept", "#REF!", "spreadsheet-error"),
            ("anglers", "999", "out-of-range"),
            ("fishedOn", "20/11/2026", "not-a-date"),
            ("fishedOn", "2026-11-31", "not-a-date"),
            ("fishedOn", "2031-01-01", "in-the-future"),
            ("boat", boat[..^2], "unknown-boat"),
            ("zone", "canery-bnk", "unknown-zone"),
            ("species", "SBX", "unknown-species"),
            ("smallest", "50", "range-reversed"),
            ("topRod", "99", "top-rod-over-catch"),
            ("anglersWithFish", "25", "anglers-with-fish-over-anglers"),
            ("bite", "frantic", "unknown-word"),
            ("weighed", "perhaps", "not-a-flag"),
            ("hookSize", "Feb-00", "mangled-hook-size"),
            ("hookSize", "2/O", "unknown-hook-size"),
            ("landed", "20", "landed-and-lost-over-hooked"),
            ("baitSpecies", "SBF", "unknown-bait"),
            ("lengthUnit", "cm", "mixed-units"),
            ("hours", "\"6,5\"", "not-a-number"),
        ];
        var rows = Enumerable.Range(0, damage.Length).Select(i => Row(boat, i)).ToList();
        var damaged = rows.Select(
            (row, i) => new Dictionary<string, string>(row) { [damage[i].Column] = damage[i].Cell }
        );

        using var refused = await SendAsync(fleet, Import, Csv(damaged));
        var problem = await refused.ProblemAsync(HttpStatusCode.BadRequest);
        Assert.Equal(damage.Select((d, i) => $"{i + 2} {d.Column} {d.Code}"), Errors(problem));
        Assert.Equal((0, 0, damage.Length), Counts(problem));
        Assert.Equal(0, await app.AskAsync(db => db.Reports.CountAsync(r => r.Boat == boat)));

        var dry = await ImportAsync(fleet, Import, Csv(rows), "?dryRun=true");
        Assert.Equal((rows.Count, 0, 0), Counts(dry));
        Assert.Equal(0, await app.AskAsync(db => db.Reports.CountAsync(r => r.Boat == boat)));

        Assert.Equal((rows.Count, 0, 0), Counts(await ImportAsync(fleet, Import, Csv(rows))));
        Assert.Equal(rows.Count, await app.AskAsync(db => db.Reports.CountAsync(r => r.Boat == boat)));
        Assert.Equal((0, rows.Count, 0), Counts(await ImportAsync(fleet, Import, Csv(rows))));
        Assert.Equal(rows.Count, await app.AskAsync(db => db.ReportVersions.CountAsync(v => v.Boat == boat)));
    }

    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task A_changed_row_is_an_error_that_names_the_report_unless_it_may_replace(DatabaseKind database)
    {
        var (app, fleet) = await apps.OfAsync(database);
        var boat = await fleet.NewBoatAsync();
        var rows = Enumerable.Range(0, 3).Select(i => Row(boat, i)).ToList();
        rows[2]["status"] = "so-far";
        await ImportAsync(fleet, Import, Csv(rows));
        rows[1]["kept"] = "32";
        rows[2]["status"] = "final";

        using var refused = await SendAsync(fleet, Import, Csv(rows));
        var problem = await refused.ProblemAsync(HttpStatusCode.BadRequest);
        Assert.Equal(["3 - report-stands"], Errors(problem));
        var id = await app.AskAsync(db =>
            db.Reports.Where(r => r.Boat == boat && r.Sailing == 2).Select(r => r.Id).SingleAsync()
        );
        Assert.Contains(id, problem["errors"]![0]!["detail"]!.GetValue<string>(), StringComparison.Ordinal);

        // The final count needs no permission to replace the one so far.
        Assert.Equal((1, 1, 1), Counts(await ImportAsync(fleet, Import, Csv(rows), "?goodRows=true")));
        Assert.Equal((1, 2, 0), Counts(await ImportAsync(fleet, Import, Csv(rows), "?replace=true")));
        Assert.Equal((0, 3, 0), Counts(await ImportAsync(fleet, Import, Csv(rows), "?replace=true")));
        Assert.Equal(
            [1, 2, 2],
            await app.AskAsync(db =>
                db.Reports.Where(r => r.Boat == boat).OrderBy(r => r.Sailing).Select(r => r.Version).ToListAsync()
            )
        );
    }

    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task Good_reports_are_stored_whole_and_bad_ones_not_at_all(DatabaseKind database)
    {
        var (app, fleet) = await apps.OfAsync(database);
        var boat = await fleet.NewBoatAsync();
        var rows = Enumerable.Range(0, 3).Select(i => Row(boat, i)).ToList();
        rows.Insert(
            2,
            new(rows[1])
            {
                ["species"] = "YTC",
                ["kept"] = "-1",
                ["baitSpecies"] = "",
                ["baitShortest"] = "",
                ["baitLongest"] = "",
            }
        );

        Assert.Equal((2, 0, 1), Counts(await ImportAsync(fleet, Import, Csv(rows), "?goodRows=true")));
        Assert.Equal(
            [1, 3],
            await app.AskAsync(db =>
                db.Reports.Where(r => r.Boat == boat).OrderBy(r => r.Sailing).Select(r => r.Sailing).ToListAsync()
            )
        );
    }

    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task The_same_file_sent_four_times_at_once_is_stored_once(DatabaseKind database)
    {
        var (app, fleet) = await apps.OfAsync(database);
        var boat = await fleet.NewBoatAsync();
        var csv = Csv(Enumerable.Range(0, 600).Select(i => Row(boat, i)));

        var answers = await Task.WhenAll(Enumerable.Range(0, 4).Select(_ => ImportAsync(fleet, Import, csv)));

        Assert.Equal(600, answers.Sum(a => a.Number("stored")));
        Assert.Equal(1800, answers.Sum(a => a.Number("unchanged")));
        Assert.Equal(600, await app.AskAsync(db => db.ReportVersions.CountAsync(v => v.Boat == boat)));
    }

    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task A_key_imports_and_exports_its_own_boats_only(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        var own = await fleet.NewBoatAsync();
        var foreign = await fleet.NewBoatAsync(Fleet.Dock);
        var csv = Csv([Row(own, 0), Row(foreign, 0)]);

        using var refused = await SendAsync(fleet, Import, csv, fleet.QuayKey);
        Assert.Equal(["3 boat not-your-boat"], Errors(await refused.ProblemAsync(HttpStatusCode.BadRequest)));
        Assert.Equal((1, 0, 1), Counts(await ImportAsync(fleet, Import, csv, "?goodRows=true", fleet.QuayKey)));
        await ImportAsync(fleet, Import, Csv([Row(foreign, 0)]), "", fleet.DockKey);

        using var export = await fleet.GetAsync($"{Export}?zone={Fleet.Bank}", fleet.QuayKey);
        Assert.Equal("text/csv", export.Content.Headers.ContentType?.MediaType);
        var text = await export.Content.ReadAsStringAsync(TestContext.Current.CancellationToken);
        Assert.Contains(own, text, StringComparison.Ordinal);
        Assert.DoesNotContain(foreign, text, StringComparison.Ordinal);

        using var shop = await SendAsync(fleet, Import, csv, fleet.ShopKey);
        await shop.ProblemAsync(HttpStatusCode.Forbidden);
        using var nobody = await fleet.GetAsync(Export);
        await nobody.ProblemAsync(HttpStatusCode.Unauthorized);
    }

    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task An_imported_report_raises_the_doubts_of_any_other_and_touches_its_briefs(DatabaseKind database)
    {
        await using var app = await ReportsApp.StartAsync(database, postgres);
        var fleet = await Fleet.SetUpCoastAsync(app);
        var (heavy, yesterday, again) = (Row(Fleet.Petrel, 0), Row(Fleet.Tern, 9), Row(Fleet.Tern, 0));
        heavy["largest"] = "900";
        yesterday["species"] = again["species"] = "ALB";
        await app.WithAsync((ReportsDbContext db) => db.Touched.ExecuteDeleteAsync());

        await ImportAsync(fleet, Import, Csv([heavy, yesterday, again]));

        using var list = await fleet.GetAsync("/api/v1/reports", fleet.Admin);
        var items = (await list.JsonAsync())["items"]!.AsArray();
        (string State, string[] Flags) Of(string boat, string day)
        {
            var report = items.Single(i => i!["boat"]!.ToString() == boat && i["fishedOn"]!.ToString() == day)!;
            return (
                report["state"]!.ToString(),
                [.. report["flags"]!.AsArray().Select(f => f!["code"]!.GetValue<string>())]
            );
        }

        Assert.Equal("held", Of(Fleet.Petrel, "2026-11-20").State);
        Assert.Contains("over-record", Of(Fleet.Petrel, "2026-11-20").Flags);
        Assert.DoesNotContain("same-as-before", Of(Fleet.Tern, "2026-11-19").Flags);
        Assert.Contains("same-as-before", Of(Fleet.Tern, "2026-11-20").Flags);
        Assert.Equal("counted", Of(Fleet.Tern, "2026-11-20").State);

        // A held report is in no brief.
        Assert.Equal(
            [$"{Fleet.Bank} ALB"],
            await app.AskAsync(db => db.Touched.Select(t => t.Zone + " " + t.Species).Distinct().ToListAsync())
        );
    }

    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task A_season_of_the_demo_coast_survives_export_and_import(DatabaseKind database)
    {
        await using var app = await ReportsApp.StartAsync(database, postgres);
        var fleet = new Fleet(app.CreateClient());
        await app.WithAsync((DemoLoader demo) => demo.RenewAsync(Fleet.Today, CancellationToken.None));
        var count = await app.AskAsync(db => db.Reports.CountAsync());
        Assert.InRange(count, 2300, 2700);

        var season = await (await fleet.GetAsync(Export, fleet.Admin)).Content.ReadAsByteArrayAsync(
            TestContext.Current.CancellationToken
        );
        Assert.Equal((0, count, 0), Counts(await ImportAsync(fleet, Import, season)));
        Assert.Equal(count, await app.AskAsync(db => db.ReportVersions.CountAsync()));

        // Into an empty coast, and out again: the same file but for the order within a day, which is that of coming in.
        await app.WithAsync((ReportsDbContext db) => db.ReportVersions.ExecuteDeleteAsync());
        await app.WithAsync((ReportsDbContext db) => db.Reports.ExecuteDeleteAsync());
        Assert.Equal((count, 0, 0), Counts(await ImportAsync(fleet, Import, season)));
        var again = await (await fleet.GetAsync(Export, fleet.Admin)).Content.ReadAsByteArrayAsync(
            TestContext.Current.CancellationToken
        );
        Assert.Equal(Lines(season), Lines(again));

        static IEnumerable<string> Lines(byte[] csv) =>
            Encoding.UTF8.GetString(csv).Split("\r\n").Order(StringComparer.Ordinal);
    }

    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task The_example_of_the_docs_is_imported_as_it_stands(DatabaseKind database)
    {
        await using var app = await ReportsApp.StartAsync(database, postgres);
        var fleet = await Fleet.SetUpCoastAsync(app);
        var example = await File.ReadAllBytesAsync(
            Path.Combine(Repository.Root, "docs", "example.csv"),
            TestContext.Current.CancellationToken
        );

        Assert.Equal((3, 0, 0), Counts(await ImportAsync(fleet, Import, example)));
        Assert.Equal((0, 3, 0), Counts(await ImportAsync(fleet, Import, example)));
    }

    [Fact]
    public async Task A_file_in_another_encoding_or_of_another_kind_is_refused()
    {
        var (_, fleet) = await apps.OfAsync(DatabaseKind.Sqlite);
        using var old = await SendAsync(
            fleet,
            Import,
            Encoding.Latin1.GetBytes(Encoding.UTF8.GetString(Csv([Row("é", 0)])))
        );
        Assert.Equal(["2 - not-utf8"], Errors(await old.ProblemAsync(HttpStatusCode.BadRequest)));

        using var json = await fleet.SendAsync(HttpMethod.Post, Import, fleet.Admin, "{}");
        await json.ProblemAsync(HttpStatusCode.UnsupportedMediaType);
        using var flag = await SendAsync(fleet, Import + "?dryRun=perhaps", []);
        await flag.ProblemAsync(HttpStatusCode.BadRequest);
    }

    [Fact]
    public async Task Of_very_many_errors_the_first_are_told_and_all_are_counted()
    {
        var (_, fleet) = await apps.OfAsync(DatabaseKind.Sqlite);
        var rows = Enumerable
            .Range(0, 1500)
            .Select(i => new Dictionary<string, string>(Row("nobody", 0)) { ["sailing"] = $"{i}" });
        var result = await ImportAsync(fleet, Import, Csv(rows), "?dryRun=true");
        Assert.Equal(1000, result["errors"]!.AsArray().Count);
        Assert.True(result.Number("errorCount") > 1500);
    }

    /// <summary>The verb, in this process: what it prints is for people, what it stores is asked of the database.</summary>
    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task The_verb_imports_as_the_operator(DatabaseKind database)
    {
        var (app, fleet) = await apps.OfAsync(database);
        var boat = await fleet.NewBoatAsync();
        var file = Path.GetTempFileName();
        try
        {
            var row = Row(boat, 0);
            row["fishedOn"] = "20/11/2026";
            await File.WriteAllBytesAsync(file, Csv([row]), TestContext.Current.CancellationToken);
            Assert.Equal(Verbs.Failed, await Verbs.ImportAsync(app.Services, CommandLine.Parse(["import", file])!));
            Assert.Equal(
                Verbs.Good,
                await Verbs.ImportAsync(app.Services, CommandLine.Parse(["import", file, "--day-first", "--dry-run"])!)
            );
            Assert.Equal(0, await app.AskAsync(db => db.Reports.CountAsync(r => r.Boat == boat)));
            Assert.Equal(
                Verbs.Good,
                await Verbs.ImportAsync(app.Services, CommandLine.Parse(["import", file, "--day-first"])!)
            );
        }
        finally
        {
            File.Delete(file);
        }

        var id = await app.AskAsync(db => db.Reports.Where(r => r.Boat == boat).Select(r => r.Id).SingleAsync());
        using var history = await fleet.GetAsync($"/api/v1/reports/{id}/history", fleet.Admin);
        Assert.Equal("import on the server", (await history.JsonAsync())["items"]![0]!["by"]!.GetValue<string>());
    }

    [Theory]
    [InlineData("import")]
    [InlineData("import a.csv b.csv")]
    [InlineData("import a.csv --dayfirst")]
    public void A_mistyped_import_is_not_understood(string line) => Assert.Null(CommandLine.Parse(line.Split(' ')));

    [Fact]
    public void Settings_and_switches_of_an_import_are_told_apart()
    {
        var command = CommandLine.Parse(["import", "a.csv", "--dry-run", "--Reports:DataPath=x"])!;
        Assert.Equal(["--dry-run"], command.Switches);
        Assert.Equal(["--Reports:DataPath=x"], command.Options);
    }

    /// <summary>A good report of one row; each number is another sailing or day.</summary>
    private static Dictionary<string, string> Row(string boat, int number) =>
        new()
        {
            ["boat"] = boat,
            ["zone"] = Fleet.Bank,
            ["fishedOn"] = ReportBody.Day(new DateOnly(2026, 11, 20).AddDays(-(number / 9))),
            ["sailing"] = ((number % 9) + 1).ToString(CultureInfo.InvariantCulture),
            ["status"] = "final",
            ["anglers"] = "24",
            ["hours"] = "6.5",
            ["bite"] = "picky",
            ["weightUnit"] = "lb",
            ["lengthUnit"] = "in",
            ["species"] = "SBF",
            ["kept"] = "31",
            ["released"] = "4",
            ["smallest"] = "18",
            ["largest"] = "42",
            ["weighed"] = "yes",
            ["anglersWithFish"] = "14",
            ["topRod"] = "4",
            ["baitSpecies"] = "PIL",
            ["baitShortest"] = "4",
            ["baitLongest"] = "5",
            ["lineClass"] = "30",
            ["hookStyle"] = "circle",
            ["hookSize"] = "#1/0",
            ["hooked"] = "14",
            ["landed"] = "12",
        };
}
