using System.Security.Claims;
using System.Text.Json;
using System.Text.Json.Nodes;
using Microsoft.AspNetCore.Http.HttpResults;
using Microsoft.EntityFrameworkCore;
using Reports.Domain.Coast;
using Reports.Domain.Reporting;
using Reports.Storage;

namespace Reports.Web.Api.V1;

/// <summary>
/// Reference data: landings, zones, boats, species, departures and the landing's bait of the day. An administrator puts; everybody
/// reads all but departures, whose bookings are nobody else's business.
/// </summary>
public static class RegisterEndpoints
{
    private const int MostAreaBytes = 1024 * 1024;

    public static void MapRegister(this RouteGroupBuilder api)
    {
        api.MapGet(
            "/landings",
            async (RegisterCache registers, CancellationToken ct) =>
                Items((await registers.GetAsync(ct)).Landings, Json)
        );
        api.MapGet(
            "/boats",
            async (RegisterCache registers, CancellationToken ct) => Items((await registers.GetAsync(ct)).Boats, Json)
        );
        api.MapGet(
            "/zones",
            async (RegisterCache registers, CancellationToken ct) => Items((await registers.GetAsync(ct)).Zones, Json)
        );
        api.MapGet(
            "/species",
            async (RegisterCache registers, CancellationToken ct) => Items((await registers.GetAsync(ct)).Species, Json)
        );
        api.MapGet(
            "/landings/{code}",
            (string code, RegisterCache registers, CancellationToken ct) =>
                OneAsync(r => r.Landings, code, Json, "landing", registers, ct)
        );
        api.MapGet(
            "/boats/{code}",
            (string code, RegisterCache registers, CancellationToken ct) =>
                OneAsync(r => r.Boats, code, Json, "boat", registers, ct)
        );
        api.MapGet(
            "/zones/{code}",
            (string code, RegisterCache registers, CancellationToken ct) =>
                OneAsync(r => r.Zones, code, Json, "zone", registers, ct)
        );
        api.MapGet(
            "/species/{code}",
            (string code, RegisterCache registers, CancellationToken ct) =>
                OneAsync(r => r.Species, code, Json, "species", registers, ct)
        );

        var admin = api.MapGroup("").RequireAuthorization(ApiKeyHandler.AdminPolicy);
        admin.MapPut(
            "/landings/{code}",
            (string code, HttpRequest request, RegisterPutter putter, CancellationToken ct) =>
                putter.PutAsync(
                    request,
                    $"/api/v1/landings/{code}",
                    (json, _) => RegisterReader.Landing(code, json),
                    (store, landing) => store.PutAsync(landing, ct),
                    Json,
                    ct
                )
        );
        admin.MapPut(
            "/boats/{code}",
            (string code, HttpRequest request, RegisterPutter putter, CancellationToken ct) =>
                putter.PutAsync(
                    request,
                    $"/api/v1/boats/{code}",
                    (json, register) => RegisterReader.Boat(code, json, register),
                    (store, boat) => store.PutAsync(boat, ct),
                    Json,
                    ct
                )
        );
        admin.MapPut(
            "/zones/{code}",
            (string code, HttpRequest request, RegisterPutter putter, CancellationToken ct) =>
                putter.PutAsync(
                    request,
                    $"/api/v1/zones/{code}",
                    (json, register) => RegisterReader.Zone(code, json, register),
                    (store, zone) => store.PutAsync(zone, ct),
                    Json,
                    ct,
                    MostAreaBytes
                )
        );
        admin.MapPut(
            "/species/{code}",
            (string code, HttpRequest request, RegisterPutter putter, CancellationToken ct) =>
                putter.PutAsync(
                    request,
                    $"/api/v1/species/{code}",
                    (json, _) => RegisterReader.Species(code, json),
                    (store, species) => store.PutAsync(species, ct),
                    Json,
                    ct
                )
        );
        admin.MapPut("/departures/{boat}/{date}/{sailing}", PutDepartureAsync);

        var reporter = api.MapGroup("").RequireAuthorization(ApiKeyHandler.ReporterPolicy);
        reporter.MapGet("/departures/{boat}/{date}/{sailing}", ReadDepartureAsync);
        reporter.MapPut("/landings/{code}/bait/{date}", PutBaitAsync);
        reporter.MapGet("/landings/{code}/bait/{date}", ReadBaitAsync);
    }

    private static async Task<IResult> PutDepartureAsync(
        string boat,
        string date,
        string sailing,
        HttpRequest request,
        RegisterPutter putter,
        RegisterCache registers,
        CancellationToken ct
    )
    {
        if (DepartureKey(date, sailing, out var day, out var number) is { } problem)
        {
            return problem;
        }

        var register = await registers.GetAsync(ct);
        if (!register.Boats.ContainsKey(boat))
        {
            registers.Drop();
            register = await registers.GetAsync(ct);
        }

        return register.Boats.ContainsKey(boat)
            ? await putter.PutAsync(
                request,
                $"/api/v1/departures/{boat}/{date}/{number}",
                (json, r) => RegisterReader.Departure(new(boat, day, number), json, r),
                (store, departure) => store.PutAsync(departure, ct),
                Json,
                ct
            )
            : Problems.NotFound("boat");
    }

    private static async Task<IResult> ReadDepartureAsync(
        string boat,
        string date,
        string sailing,
        ClaimsPrincipal user,
        ReportsDbContext db,
        RegisterCache registers,
        CancellationToken ct
    )
    {
        if (DepartureKey(date, sailing, out var day, out var number) is { } problem)
        {
            return problem;
        }

        var row = await db
            .Departures.AsNoTracking()
            .FirstOrDefaultAsync(d => d.Boat == boat && d.Date == day && d.Sailing == number, ct);
        return row is not null && Credential.Of(user).ActsFor(await registers.BoatAsync(boat, ct))
            ? JsonResult(Json(row.ToDeparture()))
            : Problems.NotFound("departure");
    }

    private static async Task<IResult> PutBaitAsync(
        string code,
        string date,
        HttpRequest request,
        ClaimsPrincipal user,
        RegisterCache registers,
        LandingBaitStore store,
        Published published,
        CancellationToken ct
    )
    {
        if (!Dates.TryParse(date, out var day))
        {
            return BadDate();
        }

        if (!(await registers.GetAsync(ct)).Landings.ContainsKey(code) || !Credential.Of(user).ActsForLanding(code))
        {
            return Problems.NotFound("landing");
        }

        var (json, problem) = await JsonBody.ReadAsync(request, ct);
        if (problem is not null)
        {
            return problem;
        }

        var (_, reading) = await registers.ReadAsync(r => BaitReader.ReadDay(json, r), ct);
        if (reading.Value is not { } bait)
        {
            return Problems.Invalid(reading.Errors);
        }

        published.Changed(await store.PutAsync(new(new(code, day), bait), ct));
        return TypedResults.Content(bait.ToJson(), "application/json");
    }

    private static async Task<IResult> ReadBaitAsync(
        string code,
        string date,
        ClaimsPrincipal user,
        LandingBaitStore store,
        CancellationToken ct
    ) =>
        !Dates.TryParse(date, out var day) ? BadDate()
        : Credential.Of(user).ActsForLanding(code) && await store.FindAsync(code, day, ct) is { } row
            ? TypedResults.Content(row.Body, "application/json")
        : Problems.NotFound("bait of that landing and day");

    private static ProblemHttpResult? DepartureKey(string date, string sailing, out DateOnly day, out int number)
    {
        number = 0;
        return !Dates.TryParse(date, out day) ? BadDate()
            : !int.TryParse(sailing, out number) || number is < 1 or > ReportReader.MostSailings
                ? Problems.BadParameter(
                    "sailing",
                    "out-of-range",
                    $"The sailing in the address must be 1 to {ReportReader.MostSailings}."
                )
            : null;
    }

    private static ProblemHttpResult BadDate() =>
        Problems.BadParameter("date", "not-a-date", "The date in the address must be ISO 8601, such as 2026-11-20.");

    private static async Task<IResult> OneAsync<T>(
        Func<Register, IReadOnlyDictionary<string, T>> items,
        string code,
        Func<T, JsonObject> json,
        string called,
        RegisterCache registers,
        CancellationToken ct
    ) =>
        items(await registers.GetAsync(ct)).TryGetValue(code, out var item)
            ? JsonResult(json(item))
            : Problems.NotFound(called);

    private static ContentHttpResult Items<T>(IReadOnlyDictionary<string, T> items, Func<T, JsonObject> json) =>
        JsonResult(
            new JsonObject
            {
                ["items"] = new JsonArray([
                    .. items.OrderBy(i => i.Key, StringComparer.Ordinal).Select(i => json(i.Value)),
                ]),
            }
        );

    private static ContentHttpResult JsonResult(JsonObject json) =>
        TypedResults.Content(json.ToJsonString(), "application/json");

    private static JsonObject Json(Landing landing) =>
        new()
        {
            ["code"] = landing.Code,
            ["name"] = landing.Name,
            ["timeZone"] = landing.TimeZone,
        };

    private static JsonObject Json(Boat boat) =>
        new()
        {
            ["code"] = boat.Code,
            ["name"] = boat.Name,
            ["landing"] = boat.Landing,
        };

    private static JsonObject Json(Zone zone) =>
        new()
        {
            ["code"] = zone.Code,
            ["name"] = zone.Name,
            ["area"] = JsonNode.Parse(zone.AreaGeoJson),
            ["reach"] = new JsonArray([
                .. zone.Reach.Select(r => new JsonObject { ["landing"] = r.Landing, ["hours"] = r.Hours }),
            ]),
        };

    private static JsonObject Json(Species species) =>
        Without(
            new()
            {
                ["code"] = species.Code,
                ["name"] = species.Name,
                ["scientificName"] = species.ScientificName,
                ["kind"] = species.Kind.Word(),
                ["closedNotice"] = species.ClosedNotice,
            }
        );

    internal static JsonObject Json(Departure departure) =>
        Without(
            new()
            {
                ["boat"] = departure.Boat,
                ["date"] = Dates.Text(departure.Date),
                ["sailing"] = departure.Sailing,
                ["tripDays"] = departure.TripDays,
                ["kind"] = departure.Kind?.Word(),
                ["anglers"] = departure.Anglers,
                ["capacity"] = departure.Capacity,
                ["zone"] = departure.Zone,
                ["status"] = departure.Status.Word(),
            }
        );

    private static JsonObject Without(JsonObject json)
    {
        foreach (var name in json.Where(p => p.Value is null).Select(p => p.Key).ToList())
        {
            json.Remove(name);
        }

        return json;
    }
}

/// <summary>The one way in which reference data is put: read with every fault named, stored, answered as it now stands.</summary>
public sealed class RegisterPutter(RegisterStore store, RegisterCache registers)
{
    public async Task<IResult> PutAsync<T>(
        HttpRequest request,
        string href,
        Func<JsonElement, Register, Reading<T>> read,
        Func<RegisterStore, T, Task<bool>> put,
        Func<T, JsonObject> json,
        CancellationToken ct,
        int mostBytes = JsonBody.MostBytes
    )
        where T : class
    {
        var (body, problem) = await JsonBody.ReadAsync(request, ct, mostBytes);
        if (problem is not null)
        {
            return problem;
        }

        var (_, reading) = await registers.ReadAsync(register => read(body, register), ct);
        if (reading.Value is not { } value)
        {
            return Problems.Invalid(reading.Errors);
        }

        var isNew = await put(store, value);
        registers.Drop();
        if (isNew)
        {
            request.HttpContext.Response.Headers.Location = href;
        }

        return TypedResults.Content(
            json(value).ToJsonString(),
            "application/json",
            null,
            isNew ? StatusCodes.Status201Created : StatusCodes.Status200OK
        );
    }
}
