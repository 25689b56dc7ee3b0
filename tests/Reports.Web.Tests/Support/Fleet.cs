using System.Net;
using System.Net.Http.Headers;
using System.Net.Http.Json;
using System.Text;
using System.Text.Json.Nodes;
using Reports.Storage;

namespace Reports.Web.Tests.Support;

/// <summary>
/// A small fleet on the Skerrow Coast and its keys, speaking to the service as its clients do. Two landings, three zones side by
/// side (each half a degree wide), six boats, four species to catch and two of bait.
/// </summary>
public sealed class Fleet(HttpClient http)
{
    public const string Quay = "corran-quay";
    public const string Dock = "old-cannery-dock";
    public const string Shelf = "inner-shelf";
    public const string Bank = "cannery-bank";
    public const string Edge = "forty-fathom-edge";
    public const string Petrel = "grey-petrel";
    public const string Tern = "ardent-tern";

    /// <summary>Boats of the quay, then boats of the dock.</summary>
    public static readonly IReadOnlyList<string> QuayBoats = [Petrel, "little-auk", "brown-skua"];
    public static readonly IReadOnlyList<string> DockBoats = [Tern, "pied-shag", "white-gannet"];

    /// <summary>The day on which the still clock of a test stands.</summary>
    public static readonly DateOnly Today = DateOnly.FromDateTime(ReportsApp.Frozen.UtcDateTime);

    private int boats;

    public HttpClient Http { get; } = http;

    /// <summary>
    /// Every answer must be one that the API's document declares; a test that breaks the service on purpose says otherwise.
    /// </summary>
    public bool OnlyDeclared { get; set; } = true;

    public string Admin { get; init; } = ReportsApp.AdminKey;

    /// <summary>Keys of the landing Corran Quay, of the landing Old Cannery Dock, of the boat Grey Petrel and of a shop.</summary>
    public string QuayKey { get; private set; } = "";
    public string DockKey { get; private set; } = "";
    public string PetrelKey { get; private set; } = "";
    public string ShopKey { get; private set; } = "";

    /// <summary>Puts the coast through the API, with the administrator's key, and makes the other keys.</summary>
    public static async Task<Fleet> SetUpCoastAsync(ReportsApp app)
    {
        var fleet = new Fleet(app.CreateClient());
        await fleet.PutCoastAsync();
        async Task<string> KeyAsync(KeyScope scope, string? owner) =>
            await app.WithAsync(
                async (KeyStore keys) =>
                    (await keys.CreateAsync($"{scope} of the tests", scope, owner, CancellationToken.None)).Secret
            );
        fleet.QuayKey = await KeyAsync(KeyScope.Landing, Quay);
        fleet.DockKey = await KeyAsync(KeyScope.Landing, Dock);
        fleet.PetrelKey = await KeyAsync(KeyScope.Boat, Petrel);
        fleet.ShopKey = await KeyAsync(KeyScope.Shop, null);
        return fleet;
    }

    /// <summary>The same coast for a service that runs elsewhere: all that the administrator's key can do.</summary>
    public async Task PutCoastAsync()
    {
        await PutAsync($"landings/{Quay}", new { name = "Corran Quay", timeZone = "UTC" });
        await PutAsync($"landings/{Dock}", new { name = "Old Cannery Dock", timeZone = "UTC" });
        await PutAsync($"zones/{Shelf}", Zone("Inner Shelf", 170.0m));
        await PutAsync($"zones/{Bank}", Zone("Cannery Bank", 170.5m));
        await PutAsync($"zones/{Edge}", Zone("Forty Fathom Edge", 171.0m));
        foreach (var (boats, landing) in new[] { (QuayBoats, Quay), (DockBoats, Dock) })
        {
            foreach (var boat in boats)
            {
                await PutAsync($"boats/{boat}", new { name = boat.Replace('-', ' '), landing });
            }
        }

        await PutSpeciesAsync("SBF", "southern bluefin", "Thunnus maccoyii", "catch");
        await PutSpeciesAsync("ALB", "albacore", "Thunnus alalunga", "catch");
        await PutSpeciesAsync("YTC", "yellowtail kingfish", "Seriola lalandi", "catch");
        await PutSpeciesAsync("DOL", "dolphinfish", "Coryphaena hippurus", "catch");
        await PutSpeciesAsync("PIL", "sardine", "Sardina pilchardus", "bait");
        await PutSpeciesAsync("ANE", "anchovy", "Engraulis encrasicolus", "bait");
    }

    /// <summary>A rectangle half a degree wide, from a western meridian on, 45.0 to 44.5 degrees south.</summary>
    public static JsonObject Zone(string name, decimal west)
    {
        JsonArray Corner(decimal longitude, decimal latitude) => [longitude, latitude];
        var east = west + 0.5m;
        return new()
        {
            ["name"] = name,
            ["area"] = new JsonObject
            {
                ["type"] = "Polygon",
                ["coordinates"] = new JsonArray(
                    new JsonArray(
                        Corner(west, -45),
                        Corner(east, -45),
                        Corner(east, -44.5m),
                        Corner(west, -44.5m),
                        Corner(west, -45)
                    )
                ),
            },
            ["reach"] = new JsonArray(
                new JsonObject { ["landing"] = Quay, ["hours"] = 2.5 },
                new JsonObject { ["landing"] = Dock, ["hours"] = 3 }
            ),
        };
    }

    /// <summary>A boat that no other test knows.</summary>
    public async Task<string> NewBoatAsync(string landing = Quay)
    {
        var code = $"auk-{Guid.NewGuid().ToString("N")[..8]}-{Interlocked.Increment(ref boats)}";
        await PutAsync($"boats/{code}", new { name = "an auk", landing });
        return code;
    }

    /// <summary>Puts reference data with the administrator's key; fails when it is refused.</summary>
    public async Task PutAsync(string path, object body)
    {
        using var answer = await SendAsync(HttpMethod.Put, "/api/v1/" + path, Admin, body);
        await answer.ShouldBeAsync(HttpStatusCode.Created, HttpStatusCode.OK);
    }

    /// <summary>Posts a report.</summary>
    /// <param name="key">The API key; null for the administrator's.</param>
    /// <param name="idempotencyKey">Null for a new one.</param>
    public Task<HttpResponseMessage> SubmitAsync(
        JsonObject report,
        string? key = null,
        Guid? idempotencyKey = null,
        bool replace = false
    ) =>
        SendAsync(
            HttpMethod.Post,
            "/api/v1/reports" + (replace ? "?replace=true" : ""),
            key ?? Admin,
            report,
            ("Idempotency-Key", (idempotencyKey ?? Guid.NewGuid()).ToString())
        );

    /// <summary>Posts a report that must be taken; as it was stored.</summary>
    public async Task<JsonObject> SubmitReportAsync(
        JsonObject report,
        string? key = null,
        Guid? idempotencyKey = null,
        bool replace = false
    )
    {
        using var answer = await SubmitAsync(report, key, idempotencyKey, replace);
        await answer.ShouldBeAsync(HttpStatusCode.Created);
        return await answer.JsonAsync();
    }

    public Task<HttpResponseMessage> GetAsync(string path, string? key = null) =>
        SendAsync(HttpMethod.Get, path, key, null);

    /// <summary>The brief as anybody reads it.</summary>
    public async Task<JsonObject> ReadBriefAsync(string zone, string species, string query = "")
    {
        using var answer = await GetAsync($"/api/v1/zones/{zone}/species/{species}/brief{query}");
        await answer.ShouldBeAsync(HttpStatusCode.OK);
        return await answer.JsonAsync();
    }

    /// <summary>Sends a request.</summary>
    /// <param name="key">API key; null for none.</param>
    /// <param name="body">JSON node, text (sent as it is, as JSON), content, or a value to write as JSON; null for none.</param>
    public async Task<HttpResponseMessage> SendAsync(
        HttpMethod method,
        string path,
        string? key = null,
        object? body = null,
        params (string Name, string Value)[] headers
    )
    {
        using var request = new HttpRequestMessage(method, path);
        if (key is not null)
        {
            request.Headers.Authorization = new AuthenticationHeaderValue("Bearer", key);
        }

        foreach (var (name, value) in headers)
        {
            request.Headers.TryAddWithoutValidation(name, value);
        }

        request.Content = body switch
        {
            null => null,
            HttpContent content => content,
            string text => new StringContent(text, Encoding.UTF8, "application/json"),
            _ => JsonContent.Create(body, body.GetType()),
        };
        var answer = await Http.SendAsync(request);
        if (OnlyDeclared)
        {
            await ApiDocument.Written.CheckAsync(answer);
        }

        return answer;
    }

    private Task PutSpeciesAsync(string code, string name, string scientificName, string kind) =>
        PutAsync(
            $"species/{code}",
            new
            {
                name,
                scientificName,
                kind,
            }
        );
}
