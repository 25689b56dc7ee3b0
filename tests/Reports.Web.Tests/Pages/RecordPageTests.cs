using System.Globalization;
using System.Net;
using System.Text.Json.Nodes;
using Microsoft.Extensions.Time.Testing;
using Reports.Web.Jobs;
using Reports.Web.Pages.Shared.Charts;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Pages;

/// <summary>The record from reports to page: what the job keeps, what is answered, what is drawn.</summary>
public sealed class RecordPageTests(PostgresServer postgres)
{
    private static CancellationToken Ct => TestContext.Current.CancellationToken;

    public static TheoryData<DatabaseKind> Both => Databases.Both;

    [Theory]
    [MemberData(nameof(Both))]
    public async Task WeeksAreScoredByWhatWasKnownThenAndShownAsTheyWere(DatabaseKind database)
    {
        await using var app = await ReportsApp.StartAsync(
            database,
            postgres,
            time: new FakeTimeProvider(ReportsApp.Frozen.AddDays(-35))
        );
        var fleet = await Fleet.SetUpCoastAsync(app);
        using var http = app.CreateClient();

        // Nothing yet: a page that says so, and an answer without figures.
        var empty = await http.PageAsync("/record?species=SBF");
        Assert.Contains("No week can be told yet", empty.Words("p.lead"), StringComparison.Ordinal);
        Assert.Empty((await ReadAsync(fleet))["weeks"]!.AsArray());

        // Today is Monday, 23 November. A month is filed day by day, each report on the evening of its day.
        for (var day = 34; day >= 1; day--)
        {
            app.Time.SetUtcNow(ReportsApp.Frozen.AddDays(-day).AddHours(9));
            foreach (var boat in Fleet.QuayBoats)
            {
                var kept = (day * 7 + boat.Length) % 13;
                var body = ReportBody.Short(boat, Fleet.Today.AddDays(-day), kept: kept);
                body["catch"]![0]!["anglersWithFish"] = Math.Min(kept, 6);
                await fleet.SubmitReportAsync(body);
            }
        }

        app.Time.SetUtcNow(ReportsApp.Frozen);
        await RunAsync(app);

        // The Mondays 26 October to 9 November have a whole week behind them; that of the 20th is before the first report.
        var record = await ReadAsync(fleet);
        Assert.Equal(
            ["2026-11-10", "2026-11-03", "2026-10-27"],
            record["weeks"]!.AsArray().Select(w => w!["from"]!.GetValue<string>())
        );
        Assert.All(record["weeks"]!.AsArray(), w => Assert.Equal(21, w!["reports"]!.GetValue<int>()));
        Assert.Equal(0, await DueAsync(app));

        // A report that comes late does not change what was said, only what came.
        var late = ReportBody.Short(Fleet.Petrel, Fleet.Today.AddDays(-12), kept: 90, sailing: 2);
        late["catch"]![0]!["anglersWithFish"] = 20;
        await fleet.SubmitReportAsync(late);
        Assert.Equal(record.ToJsonString(), (await ReadAsync(fleet)).ToJsonString());
        app.Time.SetUtcNow(ReportsApp.Frozen.AddDays(1));
        Assert.True(await DueAsync(app) > 0);
        await RunAsync(app);
        var after = await ReadAsync(fleet);
        Assert.Equal(4, after["weeks"]!.AsArray().Count);
        Assert.Equal(22, Week(after, "2026-11-10")["reports"]!.GetValue<int>());
        Assert.Equal(Of(record, "2026-11-10", "saidOdds"), Of(after, "2026-11-10", "saidOdds"), 2);
        Assert.True(Of(after, "2026-11-10", "cameOdds") > Of(record, "2026-11-10", "cameOdds"));
        Assert.Equal(Week(record, "2026-10-27").ToJsonString(), Week(after, "2026-10-27").ToJsonString());
        Assert.Equal(0, await DueAsync(app));

        // The page says the same numbers, in words, table, plot and file.
        var page = await http.PageAsync("/record?species=SBF");
        var odds = after["odds"]!;
        Assert.Contains(
            $"gave an angler {Tenths(odds["said"]!)} chances in 10",
            page.Words("p.lead"),
            StringComparison.Ordinal
        );
        Assert.Contains($"{Tenths(odds["came"]!)} in 10 had one", page.Words("p.lead"), StringComparison.Ordinal);
        var rows = page.QuerySelectorAll("#weeks ~ .scroll tbody tr");
        Assert.Equal(4, rows.Length);
        Assert.Contains(Tenths(after["weeks"]![0]!["cameOdds"]!), rows[0].TextContent, StringComparison.Ordinal);
        var bins = odds["bins"]!.AsArray();
        var dots = page.QuerySelectorAll("figure svg circle.dot");
        var file = (await http.GetStringAsync("/record.csv?species=SBF", Ct)).Split("\r\n");
        Assert.NotEmpty(bins);
        Assert.Equal(bins.Count, dots.Length);
        var end = page.QuerySelectorAll("figure svg text")
            .Select(t => double.TryParse(t.TextContent, CultureInfo.InvariantCulture, out var tick) ? tick : 0)
            .Max();
        var ranges = page.QuerySelectorAll("figure svg line.range");
        for (var i = 0; i < bins.Count; i++)
        {
            var (said, came) = (bins[i]!["said"]!.GetValue<double>(), bins[i]!["came"]!["mean"]!.GetValue<double>());
            Assert.Equal(CalibrationChart.Across(end).Position(10 * said), Number(dots[i], "cx"), 0.5);
            Assert.Equal(CalibrationChart.Up(end).Position(10 * came), Number(dots[i], "cy"), 0.5);
            var (low, high) = (
                bins[i]!["came"]!["low"]!.GetValue<double>(),
                bins[i]!["came"]!["high"]!.GetValue<double>()
            );
            Assert.Equal(CalibrationChart.Up(end).Position(10 * low), Number(ranges[i], "y1"), 0.5);
            Assert.Equal(CalibrationChart.Up(end).Position(10 * high), Number(ranges[i], "y2"), 0.5);
            Assert.StartsWith(
                string.Create(CultureInfo.InvariantCulture, $"{said},{came},"),
                file[1 + i],
                StringComparison.Ordinal
            );
        }
    }

    [Fact]
    public async Task AnUnknownFishIsRefused()
    {
        await using var app = await ReportsApp.StartAsync(DatabaseKind.Sqlite, postgres);
        var fleet = await Fleet.SetUpCoastAsync(app);
        using var http = app.CreateClient();
        await http.PageAsync("/record?species=XXX", HttpStatusCode.NotFound);
        foreach (var query in new[] { "?species=XXX", "?species=PIL" })
        {
            using var answer = await fleet.GetAsync("/api/v1/record" + query);
            await answer.ShouldBeAsync(HttpStatusCode.BadRequest);
        }
    }

    private static Task RunAsync(ReportsApp app) => app.WithAsync((RecordJob job) => job.ExecuteAsync(Ct));

    private static Task<int> DueAsync(ReportsApp app) =>
        app.WithAsync(async (RecordJob job) => (await job.DueAsync(Ct)).Count);

    private static async Task<JsonObject> ReadAsync(Fleet fleet)
    {
        using var answer = await fleet.GetAsync("/api/v1/record?species=SBF");
        answer.EnsureSuccessStatusCode();
        return JsonNode.Parse(await answer.Content.ReadAsStringAsync(Ct))!.AsObject();
    }

    private static JsonNode Week(JsonObject record, string from) =>
        record["weeks"]!.AsArray().Single(w => w!["from"]!.GetValue<string>() == from)!;

    private static double Of(JsonObject record, string from, string figure) =>
        Week(record, from)[figure]!.GetValue<double>();

    private static string Tenths(JsonNode share) => CalibrationChart.Tenths(share.GetValue<double>());

    private static double Number(AngleSharp.Dom.IElement element, string name) =>
        double.Parse(element.GetAttribute(name)!, CultureInfo.InvariantCulture);
}
