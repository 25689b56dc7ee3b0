using System.Net;
using System.Text.Json.Nodes;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Api;

/// <summary>The contract of a single report, on both databases.</summary>
public sealed class ReportContractTests(SharedApps apps) : IClassFixture<SharedApps>
{
    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task AReportIsStoredAndAnsweredAsStored(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        var body = ReportBody.Full(await fleet.NewBoatAsync());

        using var answer = await fleet.SubmitAsync(body);

        await answer.ShouldBeAsync(HttpStatusCode.Created);
        var stored = await answer.JsonAsync();
        Assert.Equal($"/api/v1/reports/{stored.Text("id")}", answer.Headers.Location?.OriginalString);
        Assert.Equal("\"1\"", answer.Headers.ETag?.Tag);
        Assert.Equal(1, stored.Number("version"));
        Assert.Equal("counted", stored.Text("state"));
        Assert.Empty(stored["flags"]!.AsArray());
        foreach (var (name, value) in body)
        {
            if (name != "rigs")
            {
                Assert.True(JsonNode.DeepEquals(value, stored[name]), $"{name}: {stored[name]?.ToJsonString()}");
            }
        }
    }
}
