using System.Net;
using System.Text.Json.Nodes;
using Reports.Storage;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Api;

/// <summary>Keys over the API: made, used, listed, revoked.</summary>
[Collection(OnSharedApps.Name)]
public sealed class KeyTests(SharedApps apps)
{
    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task A_key_works_from_its_making_to_its_revocation_and_its_secret_is_shown_once(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        var made = await MakeAsync(
            fleet,
            new
            {
                name = "the counter",
                scope = "landing",
                owner = Fleet.Quay,
            }
        );
        var (id, secret) = (made.Text("id"), made.Text("secret"));
        Assert.Null((await FindAsync(fleet, id))["lastUsedAt"]);

        using var allowed = await fleet.SubmitAsync(ReportBody.Short(await fleet.NewBoatAsync()), secret);
        await allowed.ShouldBeAsync(HttpStatusCode.Created);
        using var foreign = await fleet.SubmitAsync(ReportBody.Short(await fleet.NewBoatAsync(Fleet.Dock)), secret);
        await foreign.ShouldBeAsync(HttpStatusCode.Forbidden);

        using var list = await fleet.GetAsync("/api/v1/keys", fleet.Admin);
        var text = await list.Content.ReadAsStringAsync(TestContext.Current.CancellationToken);
        Assert.DoesNotContain(secret, text, StringComparison.Ordinal);
        Assert.DoesNotContain("secret", text, StringComparison.Ordinal);
        var used = (await FindAsync(fleet, id))["lastUsedAt"]!.GetValue<DateTime>();
        Assert.Equal(ReportsApp.Frozen.UtcDateTime, used.ToUniversalTime());

        using var revoked = await fleet.SendAsync(HttpMethod.Delete, $"/api/v1/keys/{id}", fleet.Admin);
        await revoked.ShouldBeAsync(HttpStatusCode.NoContent);
        using var refused = await fleet.SubmitAsync(ReportBody.Short(await fleet.NewBoatAsync()), secret);
        await refused.ProblemAsync(HttpStatusCode.Unauthorized);
        Assert.NotNull((await FindAsync(fleet, id))["revokedAt"]);
        using var again = await fleet.SendAsync(HttpMethod.Delete, $"/api/v1/keys/{id}", fleet.Admin);
        await again.ProblemAsync(HttpStatusCode.NotFound);
    }

    [Fact]
    public async Task The_key_of_the_settings_is_not_revoked_here()
    {
        var (_, fleet) = await apps.OfAsync(DatabaseKind.Sqlite);
        using var answer = await fleet.SendAsync(
            HttpMethod.Delete,
            $"/api/v1/keys/{KeyStore.BootstrapId}",
            fleet.Admin
        );
        await answer.ProblemAsync(HttpStatusCode.Conflict);
        using var still = await fleet.GetAsync("/api/v1/keys", fleet.Admin);
        await still.ShouldBeAsync(HttpStatusCode.OK);
    }

    [Theory]
    [InlineData("""{"scope": "shop"}""", "/name")]
    [InlineData("""{"name": "a", "scope": "captain"}""", "/scope")]
    [InlineData("""{"name": "a"}""", "/scope")]
    [InlineData("""{"name": "a", "scope": "boat"}""", "/owner")]
    [InlineData("""{"name": "a", "scope": "boat", "owner": "corran-quay"}""", "/owner")]
    [InlineData("""{"name": "a", "scope": "landing", "owner": "grey-petrel"}""", "/owner")]
    [InlineData("""{"name": "a", "scope": "admin", "owner": "corran-quay"}""", "/owner")]
    [InlineData("""{"name": "a", "scope": "shop", "secret": "mine"}""", "/secret")]
    public async Task A_key_that_makes_no_sense_is_refused_by_its_field(string body, string pointer)
    {
        var (_, fleet) = await apps.OfAsync(DatabaseKind.Sqlite);
        using var answer = await fleet.SendAsync(HttpMethod.Post, "/api/v1/keys", fleet.Admin, body);
        Assert.Equal([pointer], (await answer.ProblemAsync(HttpStatusCode.BadRequest)).Pointers());
    }

    private static async Task<JsonObject> MakeAsync(Fleet fleet, object body)
    {
        using var answer = await fleet.SendAsync(HttpMethod.Post, "/api/v1/keys", fleet.Admin, body);
        await answer.ShouldBeAsync(HttpStatusCode.Created);
        Assert.True(answer.Headers.CacheControl?.NoStore);
        return await answer.JsonAsync();
    }

    private static async Task<JsonObject> FindAsync(Fleet fleet, string id)
    {
        using var answer = await fleet.GetAsync("/api/v1/keys", fleet.Admin);
        await answer.ShouldBeAsync(HttpStatusCode.OK);
        return (await answer.JsonAsync())["items"]!
            .AsArray()
            .Select(k => k!.AsObject())
            .Single(k => k.Text("id") == id);
    }
}
