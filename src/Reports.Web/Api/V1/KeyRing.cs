using System.Collections.Concurrent;
using System.Data.Common;
using Reports.Storage;

namespace Reports.Web.Api.V1;

/// <summary>
/// The keys in use, each kept for a moment so that a request costs no look-up: a key that another process revokes works here for
/// two seconds more at most, one that this process revokes not at all. Also notes when each was last used, to the minute, and
/// writes that down twice a minute: a request costs no write either.
/// </summary>
public sealed class KeyRing(IServiceScopeFactory scopes, KeyEpoch epoch, TimeProvider time, ILogger<KeyRing> log)
    : BackgroundService
{
    private const int MostKept = 10_000;
    private static readonly TimeSpan Kept = TimeSpan.FromSeconds(2);
    private static readonly TimeSpan WriteEvery = TimeSpan.FromSeconds(30);

    private readonly ConcurrentDictionary<string, Entry> known = [];
    private ConcurrentDictionary<string, DateTimeOffset> used = [];

    /// <summary>True for a secret that was in force when it was last looked up.</summary>
    public bool Knows(byte[] hash) => known.ContainsKey(Convert.ToHexString(hash));

    /// <summary>Whose key has this hash; null when none in force has.</summary>
    public async Task<Credential?> FindAsync(byte[] hash, CancellationToken ct)
    {
        var now = time.GetUtcNow();
        var current = epoch.Number;
        var name = Convert.ToHexString(hash);
        if (!known.TryGetValue(name, out var entry) || entry.Epoch != current || now - entry.LoadedAt >= Kept)
        {
            await using var scope = scopes.CreateAsyncScope();
            if (await scope.ServiceProvider.GetRequiredService<KeyStore>().FindAsync(hash, ct) is not { } key)
            {
                known.TryRemove(name, out _);
                return null;
            }

            if (known.Count >= MostKept)
            {
                known.Clear();
            }

            known[name] = entry = new Entry(new Credential(key.Id, key.Scope, key.Owner), now, current);
        }

        used[entry.Credential.Id] = now.AddTicks(-(now.Ticks % TimeSpan.TicksPerMinute));
        return entry.Credential;
    }

    /// <summary>Writes down when the keys were last used.</summary>
    public async Task WriteUsesAsync(CancellationToken ct)
    {
        var uses = Interlocked.Exchange(ref used, []);
        if (!uses.IsEmpty)
        {
            await using var scope = scopes.CreateAsyncScope();
            await scope.ServiceProvider.GetRequiredService<KeyStore>().UsedAsync(uses, ct);
        }
    }

    public override async Task StopAsync(CancellationToken cancellationToken)
    {
        await base.StopAsync(cancellationToken);
        await TryWriteUsesAsync(cancellationToken);
    }

    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        while (!stoppingToken.IsCancellationRequested)
        {
            await Task.Delay(WriteEvery, time, stoppingToken);
            await TryWriteUsesAsync(stoppingToken);
        }
    }

    private async Task TryWriteUsesAsync(CancellationToken ct)
    {
        try
        {
            await WriteUsesAsync(ct);
        }
        catch (DbException e)
        {
            // A convenience of the key list, not worth a stopped service; a key in use is noted again.
            log.LogWarning(e, "Could not write when keys were last used");
        }
    }

    private sealed record Entry(Credential Credential, DateTimeOffset LoadedAt, int Epoch);
}
