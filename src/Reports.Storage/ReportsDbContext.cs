using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Storage.ValueConversion;

namespace Reports.Storage;

/// <summary>
/// The database, modelled for the weaker of the two providers: dates, UTC instants, integers, text. One subclass per provider
/// only so that each has migrations of its own.
/// </summary>
public abstract class ReportsDbContext(DbContextOptions options) : DbContext(options)
{
    public DbSet<ReportRow> Reports => Set<ReportRow>();
    public DbSet<ReportVersionRow> ReportVersions => Set<ReportVersionRow>();
    public DbSet<TouchedRow> Touched => Set<TouchedRow>();
    public DbSet<BriefRow> Briefs => Set<BriefRow>();
    public DbSet<EpochRow> Epochs => Set<EpochRow>();
    public DbSet<LandingRow> Landings => Set<LandingRow>();
    public DbSet<BoatRow> Boats => Set<BoatRow>();
    public DbSet<ZoneRow> Zones => Set<ZoneRow>();
    public DbSet<SpeciesRow> Species => Set<SpeciesRow>();
    public DbSet<DepartureRow> Departures => Set<DepartureRow>();
    public DbSet<LandingBaitRow> LandingBait => Set<LandingBaitRow>();
    public DbSet<ApiKeyRow> ApiKeys => Set<ApiKeyRow>();

    /// <summary>True when an exception says that a unique index or primary key already holds the row.</summary>
    public abstract bool IsDuplicate(DbUpdateException exception);

    /// <summary>
    /// Waits until nobody else works on this database under a name, and holds it until disposed. It ends with the process, however
    /// that ends: nothing has to time out after a crash.
    /// </summary>
    public abstract Task<IAsyncDisposable> AloneAsync(string name, CancellationToken ct);

    protected override void OnModelCreating(ModelBuilder modelBuilder) =>
        modelBuilder.ApplyConfigurationsFromAssembly(typeof(ReportsDbContext).Assembly);

    protected override void ConfigureConventions(ModelConfigurationBuilder configurationBuilder)
    {
        configurationBuilder.Properties<DateTimeOffset>().HaveConversion<UtcInstant>();
        configurationBuilder.Properties<Enum>().HaveConversion<string>().HaveMaxLength(20);
    }

    /// <summary>
    /// Instants are stored as UTC date-times: SQLite can't order offsets, and PostgreSQL takes no other offset than zero. Whole
    /// microseconds, because that is what PostgreSQL keeps.
    /// </summary>
    private sealed class UtcInstant()
        : ValueConverter<DateTimeOffset, DateTime>(
            v => new DateTime(v.UtcTicks - (v.UtcTicks % TimeSpan.TicksPerMicrosecond), DateTimeKind.Utc),
            v => new DateTimeOffset(DateTime.SpecifyKind(v, DateTimeKind.Utc))
        );
}
