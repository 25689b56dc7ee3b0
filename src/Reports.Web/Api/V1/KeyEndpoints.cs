using System.Text.Json;
using System.Text.Json.Nodes;
using Microsoft.AspNetCore.Http.HttpResults;
using Reports.Domain.Coast;
using Reports.Domain.Reporting;
using Reports.Storage;

namespace Reports.Web.Api.V1;

/// <summary>What an administrator asks for when making a key.</summary>
public sealed record KeyRequest(string Name, KeyScope Scope, string? Owner)
{
    private const int MostName = 100;

    /// <summary>A landing's or a boat's key names whom it acts for; the others act for nobody in particular.</summary>
    public static Reading<KeyRequest> Read(JsonElement document, Register register)
    {
        var errors = new List<FieldError>();
        if (FieldReader.Open(document, "", errors) is not { } root)
        {
            return new(null, errors);
        }

        var name = root.Text("name", MostName, required: true);
        KeyScope? scope = root.Word("scope", Words.Of<KeyScope>(), required: true);
        string? owner = null;
        switch (scope)
        {
            case KeyScope.Landing:
                owner = root.Code("owner", "landing", register.Landings.Keys, required: true);
                break;
            case KeyScope.Boat:
                owner = root.Code("owner", "boat", register.Boats.Keys, required: true);
                break;
            default:
                if (root.Text("owner", MostName) is not null && scope is { } wide)
                {
                    root.Refuse("owner", "not-applicable", $"a {wide.Word()} key acts for no single landing or boat.");
                }

                break;
        }

        root.RefuseUnknown();
        return errors.Count > 0 ? new(null, errors) : new(new KeyRequest(name!, scope!.Value, owner), errors);
    }
}

/// <summary>The keys, for an administrator: make one (its secret is shown this once), list them, revoke one.</summary>
public static class KeyEndpoints
{
    public static void MapKeys(this RouteGroupBuilder api)
    {
        var keys = api.MapGroup("/keys").RequireAuthorization(ApiKeyHandler.AdminPolicy);
        keys.MapPost("", CreateAsync);
        keys.MapGet("", ListAsync);
        keys.MapDelete("/{id}", RevokeAsync);
    }

    private static async Task<Results<ContentHttpResult, ProblemHttpResult>> CreateAsync(
        HttpRequest request,
        RegisterCache registers,
        KeyStore store,
        CancellationToken ct
    )
    {
        var (json, problem) = await JsonBody.ReadAsync(request, ct);
        if (problem is not null)
        {
            return problem;
        }

        var (_, reading) = await registers.ReadAsync(r => KeyRequest.Read(json, r), ct);
        if (reading.Value is not { } asked)
        {
            return Problems.Invalid(reading.Errors);
        }

        var (key, secret) = await store.CreateAsync(asked.Name, asked.Scope, asked.Owner, ct);
        var made = Json(key);
        made["secret"] = secret;
        request.HttpContext.Response.Headers.CacheControl = "no-store";
        return TypedResults.Content(made.ToJsonString(), "application/json", null, StatusCodes.Status201Created);
    }

    private static async Task<ContentHttpResult> ListAsync(KeyStore store, KeyRing ring, CancellationToken ct)
    {
        // What this process has not written yet is part of the answer.
        await ring.WriteUsesAsync(ct);
        var items = (await store.ListAsync(ct)).Select(Json);
        return TypedResults.Content(
            new JsonObject { ["items"] = new JsonArray([.. items]) }.ToJsonString(),
            "application/json"
        );
    }

    private static async Task<Results<NoContent, ProblemHttpResult>> RevokeAsync(
        string id,
        KeyStore store,
        CancellationToken ct
    )
    {
        if (id == KeyStore.BootstrapId)
        {
            return Problems.Of(
                StatusCodes.Status409Conflict,
                "key-of-the-settings",
                "The administrator's key from the settings can't be revoked here.",
                "It is what Reports__AdminKey says: change or remove that, and start again."
            );
        }

        return await store.RevokeAsync(id, ct) ? TypedResults.NoContent() : Problems.NotFound("key in force");
    }

    private static JsonObject Json(ApiKeyRow key)
    {
        var json = new JsonObject
        {
            ["id"] = key.Id,
            ["name"] = key.Name,
            ["scope"] = key.Scope.Word(),
        };
        if (key.Owner is not null)
        {
            json["owner"] = key.Owner;
        }

        json["createdAt"] = JsonSerializer.SerializeToNode(key.CreatedAt.UtcDateTime);
        json["lastUsedAt"] = JsonSerializer.SerializeToNode(key.LastUsedAt?.UtcDateTime);
        json["revokedAt"] = JsonSerializer.SerializeToNode(key.RevokedAt?.UtcDateTime);
        return json;
    }
}
