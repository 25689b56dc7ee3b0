using System.Text.Json;
using Microsoft.EntityFrameworkCore;
using Reports.Domain.Coast;

namespace Reports.Storage;

/// <summary>Reads and writes the coast's reference data.</summary>
public sealed partial class RegisterStore(ReportsDbContext db, TimeProvider time)
{
    private static readonly JsonSerializerOptions Json = new(JsonSerializerDefaults.Web);

    public async Task<Register> LoadAsync(CancellationToken ct)
    {
        var landings = await db.Landings.AsNoTracking().ToListAsync(ct);
        var boats = await db.Boats.AsNoTracking().ToListAsync(ct);
        var zones = await db.Zones.AsNoTracking().ToListAsync(ct);
        var species = await db.Species.AsNoTracking().ToListAsync(ct);
        return new Register(
            landings.Select(l => new Landing(l.Code, l.Name, l.TimeZone)),
            boats.Select(b => new Boat(b.Code, b.Name, b.Landing)),
            zones.Select(z => new Zone(
                z.Code,
                z.Name,
                z.Area,
                RegisterReader.ParseArea(z.Area),
                JsonSerializer.Deserialize<List<Reach>>(z.Reach, Json)!
            )),
            species.Select(s => new Species(s.Code, s.Name, s.ScientificName, s.Kind) { ClosedNotice = s.ClosedNotice })
        );
    }

    /// <summary>Adds or changes a landing; true when it is new.</summary>
    public Task<bool> PutAsync(Landing landing, CancellationToken ct) =>
        PutAsync(
            db.Landings,
            [landing.Code],
            () =>
                new LandingRow
                {
                    Code = landing.Code,
                    Name = landing.Name,
                    TimeZone = landing.TimeZone,
                },
            row =>
            {
                row.Name = landing.Name;
                row.TimeZone = landing.TimeZone;
            },
            ct
        );

    public Task<bool> PutAsync(Boat boat, CancellationToken ct) =>
        PutAsync(
            db.Boats,
            [boat.Code],
            () =>
                new BoatRow
                {
                    Code = boat.Code,
                    Name = boat.Name,
                    Landing = boat.Landing,
                },
            row =>
            {
                row.Name = boat.Name;
                row.Landing = boat.Landing;
            },
            ct
        );

    public Task<bool> PutAsync(Zone zone, CancellationToken ct)
    {
        var reach = JsonSerializer.Serialize(zone.Reach, Json);
        return PutAsync(
            db.Zones,
            [zone.Code],
            () =>
                new ZoneRow
                {
                    Code = zone.Code,
                    Name = zone.Name,
                    Area = zone.AreaGeoJson,
                    Reach = reach,
                },
            row =>
            {
                row.Name = zone.Name;
                row.Area = zone.AreaGeoJson;
                row.Reach = reach;
            },
            ct
        );
    }

    /// <summary>
    /// Adds or changes a species. Closing or opening one changes its advice, so every brief of it is touched.
    /// </summary>
    public Task<bool> PutAsync(Species species, CancellationToken ct) =>
        PutAsync(
            db.Species,
            [species.Code],
            () =>
                new SpeciesRow
                {
                    Code = species.Code,
                    Name = species.Name,
                    ScientificName = species.ScientificName,
                    Kind = species.Kind,
                    ClosedNotice = species.ClosedNotice,
                },
            row =>
            {
                if (row.ClosedNotice != species.ClosedNotice)
                {
                    db.Touched.AddRange(
                        db.Zones.Select(z => z.Code)
                            .AsEnumerable()
                            .Select(z => new TouchedRow { Zone = z, Species = species.Code })
                    );
                }

                row.Name = species.Name;
                row.ScientificName = species.ScientificName;
                row.Kind = species.Kind;
                row.ClosedNotice = species.ClosedNotice;
            },
            ct
        );

    /// <summary>
    /// Adds or changes a departure. The briefs of its zone count the boat trips that are known, so one that has sailed touches them;
    /// a coming one is counted when its day's epoch opens.
    /// </summary>
    public Task<bool> PutAsync(Departure departure, CancellationToken ct) =>
        PutAsync(
            db.Departures,
            [departure.Boat, departure.Date, departure.Sailing],
            () =>
            {
                TouchZones([SailedTo(departure)]);
                return DepartureRow.Of(departure);
            },
            row =>
            {
                TouchZones([SailedTo(row.ToDeparture()), SailedTo(departure)]);
                row.Take(departure);
            },
            ct
        );

    /// <summary>The zone of a departure that has sailed, a day early by UTC: somewhere on the coast it may be that day already.</summary>
    private string? SailedTo(Departure departure) =>
        departure.Date <= DateOnly.FromDateTime(time.GetUtcNow().UtcDateTime).AddDays(1) ? departure.Zone : null;

    /// <summary>Marks the briefs of these zones, to be stored with what changes them; the species that have any.</summary>
    private List<string> TouchZones(IEnumerable<string?> zones)
    {
        var touched = zones.OfType<string>().Distinct().ToList();
        if (touched.Count == 0)
        {
            return [];
        }

        var species = db.Species.Where(s => s.Kind == SpeciesKind.Catch).Select(s => s.Code).ToList();
        db.Touched.AddRange(touched.SelectMany(_ => species, (z, s) => new TouchedRow { Zone = z, Species = s }));
        return species;
    }

    private async Task<bool> PutAsync<T>(
        DbSet<T> set,
        object[] key,
        Func<T> create,
        Action<T> change,
        CancellationToken ct
    )
        where T : class
    {
        for (var attempt = 1; ; attempt++)
        {
            var row = await set.FindAsync(key, ct);
            if (row is not null)
            {
                change(row);
                await db.SaveChangesAsync(ct);
                return false;
            }

            set.Add(create());
            try
            {
                await db.SaveChangesAsync(ct);
                return true;
            }
            catch (DbUpdateException e) when (attempt < 3 && db.IsDuplicate(e))
            {
                // Somebody put the same code at the same moment; change theirs.
                db.ChangeTracker.Clear();
            }
        }
    }
}
