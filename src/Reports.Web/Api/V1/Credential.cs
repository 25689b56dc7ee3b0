using System.Security.Claims;
using System.Text.Encodings.Web;
using Microsoft.AspNetCore.Authentication;
using Microsoft.Extensions.Options;
using Reports.Domain.Coast;
using Reports.Storage;

namespace Reports.Web.Api.V1;

/// <summary>Who sends a request: an API key in force, with its scope and what it acts for.</summary>
public sealed record Credential(string Id, KeyScope Scope, string? Owner)
{
    /// <summary>May store and correct reports of the boat, and read them raw.</summary>
    public bool ActsFor(Boat boat) =>
        Scope switch
        {
            KeyScope.Admin => true,
            KeyScope.Landing => boat.Landing == Owner,
            KeyScope.Boat => boat.Code == Owner,
            _ => false,
        };

    /// <summary>The boats that it <see cref="ActsFor"/>, as a question to the database.</summary>
    public IQueryable<BoatRow> BoatsOf(ReportsDbContext db) =>
        Scope switch
        {
            KeyScope.Admin => db.Boats,
            KeyScope.Landing => db.Boats.Where(b => b.Landing == Owner),
            KeyScope.Boat => db.Boats.Where(b => b.Code == Owner),
            _ => db.Boats.Where(_ => false),
        };

    /// <summary>May declare what holds for a whole landing.</summary>
    public bool ActsForLanding(string landing) =>
        Scope == KeyScope.Admin || (Scope == KeyScope.Landing && landing == Owner);

    /// <summary>The bait of landings that it <see cref="ActsForLanding"/>, as a question to the database.</summary>
    public IQueryable<LandingBaitRow> BaitOf(ReportsDbContext db) =>
        Scope switch
        {
            KeyScope.Admin => db.LandingBait,
            KeyScope.Landing => db.LandingBait.Where(b => b.Landing == Owner),
            _ => db.LandingBait.Where(_ => false),
        };

    /// <summary>The credential of an authorised request.</summary>
    public static Credential Of(ClaimsPrincipal user) =>
        new(
            user.FindFirstValue(ClaimTypes.NameIdentifier)!,
            Enum.Parse<KeyScope>(user.FindFirstValue(ClaimTypes.Role)!),
            user.FindFirstValue(ApiKeyHandler.OwnerClaim)
        );
}

/// <summary>Bearer authentication by API key (RFC 6750 header form); refusals are problem details.</summary>
public sealed class ApiKeyHandler(
    IOptionsMonitor<AuthenticationSchemeOptions> options,
    ILoggerFactory logger,
    UrlEncoder encoder,
    KeyRing keys,
    Limits limits
) : AuthenticationHandler<AuthenticationSchemeOptions>(options, logger, encoder)
{
    public new const string Scheme = "Bearer";
    public const string OwnerClaim = "owner";

    /// <summary>An administrator's key.</summary>
    public const string AdminPolicy = "admin";

    /// <summary>A key that may store reports of some boat.</summary>
    public const string ReporterPolicy = "reporter";

    protected override async Task<AuthenticateResult> HandleAuthenticateAsync()
    {
        var header = Request.Headers.Authorization.ToString();
        if (!header.StartsWith(Scheme + " ", StringComparison.OrdinalIgnoreCase))
        {
            return AuthenticateResult.NoResult();
        }

        var hash = KeyStore.Hash(header[(Scheme.Length + 1)..].Trim());
        if (!keys.Knows(hash) && !limits.MayTry(Context))
        {
            return AuthenticateResult.Fail("too many unknown keys from this address");
        }

        if (await keys.FindAsync(hash, Context.RequestAborted) is not { } key)
        {
            limits.Failed(Context);
            return AuthenticateResult.Fail("unknown or revoked key");
        }

        var identity = new ClaimsIdentity(
            [new(ClaimTypes.NameIdentifier, key.Id), new(ClaimTypes.Role, key.Scope.ToString())],
            Scheme
        );
        if (key.Owner is not null)
        {
            identity.AddClaim(new(OwnerClaim, key.Owner));
        }

        return AuthenticateResult.Success(new AuthenticationTicket(new ClaimsPrincipal(identity), Scheme));
    }

    protected override Task HandleChallengeAsync(AuthenticationProperties properties)
    {
        Response.Headers.WWWAuthenticate = Scheme;
        return Problems
            .Of(
                StatusCodes.Status401Unauthorized,
                "key-required",
                "An API key is required.",
                "Send Authorization: Bearer KEY with a key that is in force."
            )
            .ExecuteAsync(Context);
    }

    protected override Task HandleForbiddenAsync(AuthenticationProperties properties) =>
        Problems
            .Of(
                StatusCodes.Status403Forbidden,
                "scope-too-narrow",
                "This key may not do that.",
                "The operation needs a key of a wider scope; ask the fleet's administrator."
            )
            .ExecuteAsync(Context);
}
