using System.Security.Cryptography;
using System.Text.Json;
using Reports.Domain.Coast;
using Reports.Domain.Reporting;
using Reports.Storage;

namespace Reports.Web.Api.V1;

/// <summary>
/// The coast's register, kept for a moment so that a report costs no look-up of boats, zones and species. A code that it does
/// not know is looked up afresh before it is refused, so a boat put a moment ago through another process is known here.
/// </summary>
public sealed class RegisterCache(IServiceScopeFactory scopes, TimeProvider time)
{
    private static readonly TimeSpan Kept = TimeSpan.FromSeconds(5);

    private volatile Entry? entry;

    public async Task<Register> GetAsync(CancellationToken ct) => (await EntryAsync(ct)).Register;

    /// <summary>The same text as long as the register that <see cref="GetAsync"/> gives says the same.</summary>
    public async Task<string> StampAsync(CancellationToken ct) => (await EntryAsync(ct)).Stamp;

    /// <summary>Reads with the register at hand, and once more with a fresh one when a code was unknown.</summary>
    public async Task<(Register Register, Reading<T> Reading)> ReadAsync<T>(
        Func<Register, Reading<T>> read,
        CancellationToken ct
    )
        where T : class
    {
        var (register, readings) = await ReadAllAsync([0], (_, r) => read(r), ct);
        return (register, readings[0]);
    }

    /// <summary>Reads many documents with one register: at most one fresh look-up for all of them.</summary>
    public async Task<(Register Register, IReadOnlyList<Reading<T>> Readings)> ReadAllAsync<TDocument, T>(
        IReadOnlyList<TDocument> documents,
        Func<TDocument, Register, Reading<T>> read,
        CancellationToken ct
    )
        where T : class
    {
        var held = await GetAsync(ct);
        var register = held;
        var readings = documents.SelectAbreast(d => read(d, held));
        if (readings.Any(NamesUnknown))
        {
            register = await FreshAsync(ct);
            for (var i = 0; i < readings.Length; i++)
            {
                readings[i] = NamesUnknown(readings[i]) ? read(documents[i], register) : readings[i];
            }
        }

        return (register, readings);
    }

    /// <summary>A boat that is known to be stored.</summary>
    public async Task<Boat> BoatAsync(string code, CancellationToken ct) =>
        (await GetAsync(ct)).Boats.TryGetValue(code, out var boat) ? boat : (await FreshAsync(ct)).Boats[code];

    public void Drop() => entry = null;

    public async Task<Register> FreshAsync(CancellationToken ct) => (await LoadAsync(ct)).Register;

    private async Task<Entry> EntryAsync(CancellationToken ct) =>
        entry is { } held && time.GetUtcNow() - held.LoadedAt < Kept ? held : await LoadAsync(ct);

    private async Task<Entry> LoadAsync(CancellationToken ct)
    {
        var now = time.GetUtcNow();
        await using var scope = scopes.CreateAsyncScope();
        var register = await scope.ServiceProvider.GetRequiredService<RegisterStore>().LoadAsync(ct);
        return entry = new Entry(register, now, Stamp(register));
    }

    /// <summary>A fingerprint of all that the register says, whatever order the database gave it in.</summary>
    private static string Stamp(Register register) =>
        Convert.ToHexStringLower(
            SHA256.HashData(
                JsonSerializer.SerializeToUtf8Bytes(
                    new
                    {
                        Landings = register.Landings.Values.OrderBy(l => l.Code, StringComparer.Ordinal),
                        Boats = register.Boats.Values.OrderBy(b => b.Code, StringComparer.Ordinal),
                        Zones = register
                            .Zones.Values.OrderBy(z => z.Code, StringComparer.Ordinal)
                            .Select(z => new
                            {
                                z.Code,
                                z.Name,
                                z.AreaGeoJson,
                                z.Reach,
                            }),
                        Species = register.Species.Values.OrderBy(s => s.Code, StringComparer.Ordinal),
                    }
                )
            ),
            0,
            8
        );

    private static bool NamesUnknown<T>(Reading<T> reading)
        where T : class =>
        reading.Errors.Any(e => e.Code.StartsWith("unknown-", StringComparison.Ordinal) || e.Code == "outside-zones");

    private sealed record Entry(Register Register, DateTimeOffset LoadedAt, string Stamp);
}
