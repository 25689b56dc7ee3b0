using System.Security.Cryptography;
using System.Text;
using Microsoft.EntityFrameworkCore;

namespace Reports.Storage;

/// <summary>
/// API keys: 256 random bits, shown once, kept as SHA-256 (a fast hash is enough for a secret that can't be guessed).
/// </summary>
public sealed class KeyStore(ReportsDbContext db, TimeProvider time, KeyEpoch epoch)
{
    /// <summary>The administrator's key from the settings has a row of its own under this id.</summary>
    public const string BootstrapId = "bootstrap";

    /// <summary>So that a key is recognised as one of this service when it turns up where it should not.</summary>
    public const string Prefix = "railside_";

    /// <summary>The key in force with this hash of its secret.</summary>
    public Task<ApiKeyRow?> FindAsync(byte[] hash, CancellationToken ct) =>
        db.ApiKeys.AsNoTracking().FirstOrDefaultAsync(k => k.Hash == hash && k.RevokedAt == null, ct);

    /// <summary>Makes a key; the secret is in the answer and nowhere else.</summary>
    public async Task<(ApiKeyRow Key, string Secret)> CreateAsync(
        string name,
        KeyScope scope,
        string? owner,
        CancellationToken ct
    )
    {
        var secret = NewSecret();
        var key = new ApiKeyRow
        {
            Id = Guid.CreateVersion7(time.GetUtcNow()).ToString("N"),
            Name = name,
            Hash = Hash(secret),
            Scope = scope,
            Owner = owner,
            CreatedAt = time.GetUtcNow(),
        };
        db.ApiKeys.Add(key);
        await db.SaveChangesAsync(ct);
        return (key, secret);
    }

    public Task<List<ApiKeyRow>> ListAsync(CancellationToken ct) =>
        db.ApiKeys.AsNoTracking().OrderBy(k => k.CreatedAt).ThenBy(k => k.Id).ToListAsync(ct);

    /// <summary>Notes in which minutes keys were last used; an earlier minute than the noted one changes nothing.</summary>
    public async Task UsedAsync(IReadOnlyDictionary<string, DateTimeOffset> minutes, CancellationToken ct)
    {
        // One statement per minute, not per key: keys that are used at all are mostly used in the same minutes.
        foreach (var minute in minutes.GroupBy(m => m.Value, m => m.Key))
        {
            var ids = minute.ToList();
            await db
                .ApiKeys.Where(k => ids.Contains(k.Id) && (k.LastUsedAt == null || k.LastUsedAt < minute.Key))
                .ExecuteUpdateAsync(set => set.SetProperty(k => k.LastUsedAt, minute.Key), ct);
        }
    }

    /// <summary>Revokes a key for good; false when there is no such key in force.</summary>
    public async Task<bool> RevokeAsync(string id, CancellationToken ct)
    {
        var now = time.GetUtcNow();
        var revoked = await db
            .ApiKeys.Where(k => k.Id == id && k.RevokedAt == null)
            .ExecuteUpdateAsync(set => set.SetProperty(k => k.RevokedAt, now), ct);
        epoch.Advance();
        return revoked > 0;
    }

    /// <summary>
    /// Makes a secret that is kept outside (in the settings, or the demo's file) the one in force under a fixed id, or revokes it
    /// when there is none.
    /// </summary>
    public async Task SetAsync(string id, string name, string? secret, CancellationToken ct)
    {
        var row = await db.ApiKeys.FindAsync([id], ct);
        if (secret is null)
        {
            if (row is { RevokedAt: null })
            {
                row.RevokedAt = time.GetUtcNow();
            }
        }
        else if (row is null)
        {
            db.ApiKeys.Add(
                new ApiKeyRow
                {
                    Id = id,
                    Name = name,
                    Hash = Hash(secret),
                    Scope = KeyScope.Admin,
                    CreatedAt = time.GetUtcNow(),
                }
            );
        }
        else
        {
            row.Hash = Hash(secret);
            row.RevokedAt = null;
        }

        try
        {
            await db.SaveChangesAsync(ct);
        }
        catch (DbUpdateException e) when (db.IsDuplicate(e))
        {
            // Another process starting at the same moment wrote the same row.
            db.ChangeTracker.Clear();
        }

        epoch.Advance();
    }

    public static string NewSecret() => Prefix + Convert.ToHexStringLower(RandomNumberGenerator.GetBytes(32));

    /// <summary>What is kept of a secret.</summary>
    public static byte[] Hash(string secret) => SHA256.HashData(Encoding.UTF8.GetBytes(secret));
}

/// <summary>Advances when this process takes a key out of force: what was looked up in an earlier epoch must be looked up again.</summary>
public sealed class KeyEpoch
{
    private int number;

    public int Number => Volatile.Read(ref number);

    internal void Advance() => Interlocked.Increment(ref number);
}
