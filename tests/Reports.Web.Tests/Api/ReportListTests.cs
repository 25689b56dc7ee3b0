using System.Net;
using System.Text.Json.Nodes;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Api;

/// <summary>The list of reports: pages, filters, who sees what.</summary>
[Collection(OnSharedApps.Name)]
public sealed class ReportListTests(SharedApps apps)
{
    public static TheoryData<DatabaseKind> Both => Databases.Both;

    [Theory]
    [MemberData(nameof(Both))]
    public async Task WalkingThePagesMeetsEveryReportOnceWhateverComesInMeanwhile(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        var boat = await fleet.NewBoatAsync();
        var first = new List<string>();
        foreach (var day in Enumerable.Range(0, 9))
        {
            foreach (var sailing in new[] { 1, 2, 3 })
            {
                var report = ReportBody.Short(boat, new DateOnly(2026, 10, 1).AddDays(2 * day), sailing: sailing);
                first.Add((await fleet.SubmitReportAsync(report)).Text("id"));
            }
        }

        var met = new List<JsonObject>();
        string? next = $"/api/v1/reports?limit=4&boat={boat}";
        for (var page = 0; next is not null; page++)
        {
            using var answer = await fleet.GetAsync(next, fleet.QuayKey);
            await answer.ShouldBeAsync(HttpStatusCode.OK);
            var items = (await answer.JsonAsync())["items"]!.AsArray();
            Assert.InRange(items.Count, 1, 4);
            met.AddRange(items.Select(i => i!.AsObject()));
            next = Next(answer);
            if (page == 2)
            {
                // Before, at and behind the place that the reader has reached.
                foreach (var day in new[] { 1, 9, 11, 15, 23 })
                {
                    await fleet.SubmitReportAsync(
                        ReportBody.Short(boat, new DateOnly(2026, 10, 1).AddDays(day), sailing: 4)
                    );
                }
            }
        }

        var ids = met.Select(r => r.Text("id")).ToList();
        Assert.Equal(ids.Count, ids.Distinct().Count());
        Assert.Empty(first.Except(ids));
        var days = met.Select(r => r.Text("fishedOn")).ToList();
        Assert.Equal(days.OrderDescending(StringComparer.Ordinal), days);
        Assert.Contains(met, r => r.Number("sailing") == 4);
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task FiltersNarrowTheListAndAKeySeesItsOwnOnly(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        var ours = await fleet.NewBoatAsync();
        var theirs = await fleet.NewBoatAsync(Fleet.Dock);
        DateOnly Day(int day) => new(2025, 3, day);
        await fleet.SubmitReportAsync(ReportBody.Short(ours, Day(1)));
        await fleet.SubmitReportAsync(ReportBody.Short(ours, Day(2), Fleet.Edge));
        await fleet.SubmitReportAsync(ReportBody.Short(theirs, Day(2)));
        var gone = await fleet.SubmitReportAsync(ReportBody.Short(ours, Day(3)));
        using var retracted = await fleet.SendAsync(
            HttpMethod.Delete,
            $"/api/v1/reports/{gone.Text("id")}",
            fleet.Admin,
            null,
            ("If-Match", "*")
        );
        await retracted.ShouldBeAsync(HttpStatusCode.NoContent);

        async Task<string> ListAsync(string query, string? key = null)
        {
            using var answer = await fleet.GetAsync(
                "/api/v1/reports?from=2025-03-01&to=2025-03-31" + query,
                key ?? fleet.Admin
            );
            await answer.ShouldBeAsync(HttpStatusCode.OK);
            return string.Join(
                ' ',
                (await answer.JsonAsync())["items"]!
                    .AsArray()
                    .Select(i => i!.AsObject())
                    .Where(i => i.Text("boat") == ours || i.Text("boat") == theirs)
                    .Select(i =>
                        (i.Text("boat") == ours ? "ours" : "theirs") + i.Text("fishedOn")[^1] + i.Text("zone")[0]
                    )
                    .Order(StringComparer.Ordinal)
            );
        }

        Assert.Equal("ours1c ours2f theirs2c", await ListAsync(""));
        Assert.Equal("ours1c ours2f", await ListAsync($"&boat={ours}"));
        Assert.Equal("ours1c theirs2c", await ListAsync($"&zone={Fleet.Bank}"));
        Assert.Equal("theirs2c", await ListAsync($"&landing={Fleet.Dock}"));
        Assert.Equal("ours3c", await ListAsync("&state=retracted"));
        Assert.Equal("ours1c ours2f", await ListAsync("", fleet.QuayKey));
        Assert.Equal("theirs2c", await ListAsync("", fleet.DockKey));
        Assert.Equal("", await ListAsync($"&boat={theirs}", fleet.QuayKey));
        Assert.Equal("", await ListAsync("", fleet.PetrelKey));
        Assert.Equal("", await ListAsync("&zone=no-such-zone"));
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task AWrongParameterIsNamed(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        foreach (
            var (query, parameter) in new[]
            {
                ("from=yesterday", "from"),
                ("to=2026-13-01", "to"),
                ("limit=0", "limit"),
                ("limit=501", "limit"),
                ("limit=ten", "limit"),
                ("state=lost", "state"),
                ("cursor=x", "cursor"),
                ("cursor=2026-11-20.00000000000000000000000000000zzz", "cursor"),
            }
        )
        {
            using var answer = await fleet.GetAsync("/api/v1/reports?" + query, fleet.Admin);
            var problem = await answer.ProblemAsync(HttpStatusCode.BadRequest);
            Assert.Equal(parameter, problem["errors"]![0]!["parameter"]!.GetValue<string>());
        }
    }

    private static string? Next(HttpResponseMessage answer)
    {
        if (!answer.Headers.TryGetValues("Link", out var links))
        {
            return null;
        }

        var link = Assert.Single(links);
        Assert.EndsWith(">; rel=\"next\"", link, StringComparison.Ordinal);
        return link[1..link.IndexOf('>', StringComparison.Ordinal)];
    }
}
