using System.Net;
using Microsoft.Extensions.Time.Testing;
using Reports.Domain.Reporting;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Api;

/// <summary>A landing's day ends at 04:00 in its time zone, and a report can't be of tomorrow.</summary>
public sealed class FishingDayTests(PostgresServer postgres)
{
    public static TheoryData<DatabaseKind> Both => Databases.Both;

    [Theory]
    [MemberData(nameof(Both))]
    public async Task TheLandingsDayDecidesWhatIsTomorrow(DatabaseKind database)
    {
        // 04:00 of the 24th is 15:00 UTC of the 23rd in Auckland (UTC+13 in November, IANA tzdata) and 12:00 UTC of the 24th in
        // Los Angeles (UTC-8).
        var time = new FakeTimeProvider(new(2026, 11, 23, 14, 59, 59, TimeSpan.Zero));
        await using var app = await ReportsApp.StartAsync(database, postgres, time: time);
        var fleet = await Fleet.SetUpCoastAsync(app);
        await fleet.PutAsync("landings/east-steps", new { name = "East Steps", timeZone = "Pacific/Auckland" });
        await fleet.PutAsync("landings/west-steps", new { name = "West Steps", timeZone = "America/Los_Angeles" });
        var east = await fleet.NewBoatAsync("east-steps");
        var west = await fleet.NewBoatAsync("west-steps");
        var day = new DateOnly(2026, 11, 24);

        async Task RefusedAsync(string boat)
        {
            using var answer = await fleet.SubmitAsync(ReportBody.Short(boat, day));
            var problem = await answer.ProblemAsync(HttpStatusCode.BadRequest);
            Assert.Equal(["/fishedOn"], problem.Pointers());
            Assert.Equal(["in-the-future"], problem.Codes());
            Assert.Contains("2026-11-23", problem.ToJsonString(), StringComparison.Ordinal);
        }

        await RefusedAsync(east);
        await fleet.SubmitReportAsync(ReportBody.Short(east, day.AddDays(-1)));
        time.SetUtcNow(new(2026, 11, 23, 15, 0, 0, TimeSpan.Zero));
        await fleet.SubmitReportAsync(ReportBody.Short(east, day));

        await RefusedAsync(west);
        time.SetUtcNow(new(2026, 11, 24, 11, 59, 59, TimeSpan.Zero));
        await RefusedAsync(west);
        await fleet.SubmitReportAsync(ReportBody.Short(west, day.AddDays(-1)));
        time.SetUtcNow(new(2026, 11, 24, 12, 0, 0, TimeSpan.Zero));
        await fleet.SubmitReportAsync(ReportBody.Short(west, day));

        // Old days are taken, however late.
        await fleet.SubmitReportAsync(ReportBody.Short(west, ReportReader.Earliest));
        using var slip = await fleet.SubmitAsync(ReportBody.Short(west, ReportReader.Earliest.AddDays(-1)));
        Assert.Equal(["/fishedOn"], (await slip.ProblemAsync(HttpStatusCode.BadRequest)).Pointers());
    }
}
