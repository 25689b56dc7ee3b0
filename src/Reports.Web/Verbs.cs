using System.Globalization;
using Microsoft.EntityFrameworkCore;
using Reports.Domain.Coast;
using Reports.Domain.Reporting;
using Reports.Storage;

namespace Reports.Web;

/// <summary>The verbs that do one thing and end. Each answers a process exit code.</summary>
public static class Verbs
{
    public const int Good = 0;
    public const int Failed = 1;
    public const int Misused = 2;

    public static async Task<int> MigrateAsync(IServiceProvider services)
    {
        await using var scope = services.CreateAsyncScope();
        Directory.CreateDirectory(scope.ServiceProvider.GetRequiredService<Settings>().DataPath);
        var db = scope.ServiceProvider.GetRequiredService<ReportsDbContext>();
        var pending = (await db.Database.GetPendingMigrationsAsync()).ToList();
        await db.Database.MigrateAsync();
        Console.WriteLine(
            pending.Count == 0 ? "The database is up to date." : $"Applied: {string.Join(", ", pending)}."
        );
        return Good;
    }

    public static async Task<int> KeyAsync(IServiceProvider services, string[] words)
    {
        await using var scope = services.CreateAsyncScope();
        Directory.CreateDirectory(scope.ServiceProvider.GetRequiredService<Settings>().DataPath);
        await scope.ServiceProvider.GetRequiredService<ReportsDbContext>().Database.MigrateAsync();
        var keys = scope.ServiceProvider.GetRequiredService<KeyStore>();
        switch (words)
        {
            case ["create", var name, var scopeWord, .. var owner]
                when Words.Of<KeyScope>().TryGetValue(scopeWord, out var keyScope):
                return await CreateAsync(scope.ServiceProvider, keys, name, keyScope, owner);
            case ["list"]:
                foreach (var key in await keys.ListAsync(CancellationToken.None))
                {
                    var state = key.RevokedAt is { } at ? "revoked " + At(at) : "in force";
                    var used = key.LastUsedAt is { } last ? "last used " + At(last) : "not used yet";
                    Console.WriteLine(
                        $"{key.Id}  {key.Scope.Word()}{(key.Owner is null ? "" : " " + key.Owner)}  \"{key.Name}\"  made {At(key.CreatedAt)}  {used}  {state}"
                    );
                }

                return Good;
            case ["revoke", var id]:
                if (await keys.RevokeAsync(id, CancellationToken.None))
                {
                    Console.WriteLine($"Revoked {id}.");
                    return Good;
                }

                await Console.Error.WriteLineAsync($"No key in force has the id \"{id}\".");
                return Failed;
            default:
                await Console.Error.WriteLineAsync(CommandLine.Usage);
                return Misused;
        }
    }

    private static async Task<int> CreateAsync(
        IServiceProvider services,
        KeyStore keys,
        string name,
        KeyScope scope,
        string[] owner
    )
    {
        var needsOwner = scope is KeyScope.Landing or KeyScope.Boat;
        if (owner.Length != (needsOwner ? 1 : 0))
        {
            await Console.Error.WriteLineAsync(
                needsOwner
                    ? $"A {scope.Word()} key needs the code of its {scope.Word()}."
                    : $"A {scope.Word()} key takes no code."
            );
            return Misused;
        }

        var register = await services.GetRequiredService<RegisterStore>().LoadAsync(CancellationToken.None);
        IEnumerable<string> known = scope == KeyScope.Landing ? register.Landings.Keys : register.Boats.Keys;
        if (needsOwner && !known.Contains(owner[0]))
        {
            var near = Code.Near(owner[0], known);
            await Console.Error.WriteLineAsync(
                $"No {scope.Word()} has the code \"{owner[0]}\".{(near.Count > 0 ? $" Did you mean {string.Join(" or ", near)}?" : "")}"
            );
            return Failed;
        }

        var (key, secret) = await keys.CreateAsync(name, scope, needsOwner ? owner[0] : null, CancellationToken.None);
        await Console.Error.WriteLineAsync($"Key {key.Id} made. It is shown this once:");
        Console.WriteLine(secret);
        return Good;
    }

    private static string At(DateTimeOffset instant) =>
        instant.ToString("yyyy-MM-dd HH:mm'Z'", CultureInfo.InvariantCulture);
}
