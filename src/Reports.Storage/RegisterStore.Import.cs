using Microsoft.EntityFrameworkCore;
using Reports.Domain.Coast;

namespace Reports.Storage;

public sealed partial class RegisterStore
{
    /// <summary>What stands of each of these keys; keys of which nothing stands are absent.</summary>
    public async Task<IReadOnlyDictionary<DepartureKey, Departure>> DeparturesAsync(
        IReadOnlyCollection<DepartureKey> keys,
        CancellationToken ct
    )
    {
        // Each column is narrowed, and the rest is sorted out here: no database compares lists of three alike.
        var asked = keys.ToHashSet();
        var boats = keys.Select(k => k.Boat).Distinct().ToList();
        var days = keys.Select(k => k.Date).Distinct().ToList();
        var found = await db
            .Departures.AsNoTracking()
            .Where(d => boats.Contains(d.Boat) && days.Contains(d.Date))
            .ToListAsync(ct);
        return found.Select(r => r.ToDeparture()).Where(d => asked.Contains(d.Key)).ToDictionary(d => d.Key);
    }

    /// <summary>Stores departures in sets, as one transaction: all of them or none. It touches what a PUT of each would.</summary>
    /// <param name="sets">Draws the sets, each departure with what stands of its key, inside the transaction.</param>
    public Task<Imported> ImportAsync(
        Func<IAsyncEnumerable<IReadOnlyList<(Departure Departure, Departure? Standing)>>> sets,
        CancellationToken ct
    ) =>
        db.AllOrNoneAsync(
            async () =>
            {
                var zones = new HashSet<string?>();
                var (stored, earliest) = (0, (DateOnly?)null);
                await foreach (var set in sets().WithCancellation(ct))
                {
                    foreach (var (departure, standing) in set)
                    {
                        var row = DepartureRow.Of(departure);
                        if (standing is null)
                        {
                            db.Departures.Add(row);
                        }
                        else
                        {
                            // Every column, so that a departure is never half one door's and half another's.
                            db.Departures.Update(row);
                            zones.Add(SailedTo(standing));
                        }

                        zones.Add(SailedTo(departure));
                        earliest = earliest is { } day && day < departure.Date ? day : departure.Date;
                    }

                    await db.SaveChangesAsync(ct);
                    db.ChangeTracker.Clear();
                    stored += set.Count;
                }

                var species = TouchZones(zones);
                await db.SaveChangesAsync(ct);
                return new Imported(stored, earliest, species);
            },
            ct
        );
}
