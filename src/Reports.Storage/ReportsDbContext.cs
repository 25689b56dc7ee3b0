using System.Collections.Concurrent;
using System.Text.Json;
using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata;
using Microsoft.EntityFrameworkCore.Metadata.Conventions;
using Microsoft.EntityFrameworkCore.Storage.ValueConversion;
using Reports.Domain.Reporting;

// The statements are put together from constants only; values go in as parameters.
#pragma warning disable EF1002

namespace Reports.Storage;

/// <summary>
/// The database, modelled for the weaker of the two providers: dates, UTC instants, integers, text. One subclass per provider
/// only so that each has migrations of its own.
/// </summary>
public abstract class ReportsDbContext(DbContextOptions options) : DbContext(options)
{
    private const int Attempts = 5;

    private static readonly ConcurrentDictionary<
        (IModel Model, Type Row),
        (string Table, IReadOnlyList<BulkColumn> Columns)
    > Tables = [];

    public DbSet<ReportRow> Reports => Set<ReportRow>();
    public DbSet<ReportVersionRow> ReportVersions => Set<ReportVersionRow>();
    public DbSet<TouchedRow> Touched => Set<TouchedRow>();
    public DbSet<CoastRow> Coasts => Set<CoastRow>();
    public DbSet<BriefRow> Briefs => Set<BriefRow>();
    public DbSet<RecordWeekRow> RecordWeeks => Set<RecordWeekRow>();
    public DbSet<EpochRow> Epochs => Set<EpochRow>();
    public DbSet<LandingRow> Landings => Set<LandingRow>();
    public DbSet<BoatRow> Boats => Set<BoatRow>();
    public DbSet<ZoneRow> Zones => Set<ZoneRow>();
    public DbSet<SpeciesRow> Species => Set<SpeciesRow>();
    public DbSet<DepartureRow> Departures => Set<DepartureRow>();
    public DbSet<LandingBaitRow> LandingBait => Set<LandingBaitRow>();
    public DbSet<ApiKeyRow> ApiKeys => Set<ApiKeyRow>();

    /// <summary>
    /// A table expression of <see cref="ReportKey"/>s, called k, over one JSON list of them as parameter {0}.
    /// </summary>
    protected abstract string KeysTable { get; }

    /// <summary>True when an exception says that a unique index or primary key already holds the row.</summary>
    public abstract bool IsDuplicate(Exception exception);

    /// <summary>True when somebody else was first: the same work, begun again, finds what now stands.</summary>
    public virtual bool IsLostRace(Exception exception) =>
        exception is DbUpdateConcurrencyException || IsDuplicate(exception);

    /// <summary>
    /// The bulk path: inserts rows of one table without tracking them, inside the current transaction, as fast as the database
    /// takes them. A column that the database fills by itself is left out.
    /// </summary>
    public abstract Task InsertAllAsync<T>(IReadOnlyCollection<T> rows, CancellationToken ct)
        where T : class;

    /// <summary>The bulk path for several tables, in this order, as the last of the current transaction: it is committed.</summary>
    public virtual async Task InsertAllAndCommitAsync<T1, T2, T3>(
        IReadOnlyCollection<T1> first,
        IReadOnlyCollection<T2> second,
        IReadOnlyCollection<T3> third,
        CancellationToken ct
    )
        where T1 : class
        where T2 : class
        where T3 : class
    {
        await InsertAllAsync(first, ct);
        await InsertAllAsync(second, ct);
        await InsertAllAsync(third, ct);
        await Database.CommitTransactionAsync(ct);
    }

    /// <summary>
    /// Holds the database to what the service promises: what was acknowledged survives a crash. What can be mended is mended; where
    /// the promise can't be kept at all there is no start.
    /// </summary>
    /// <returns>What the operator should know, a sentence each.</returns>
    /// <exception cref="UnsafeDatabaseException">The embedded database does not keep what it acknowledges.</exception>
    public abstract Task<IReadOnlyList<string>> CheckDurabilityAsync(CancellationToken ct);

    /// <summary>
    /// What is stored that decides about a set of reports. What stands is looked up first, then the idempotency keys: a request's
    /// twin that is stored in between is found by its key.
    /// </summary>
    /// <param name="keys">What the reports are of.</param>
    /// <param name="idempotencyKeys">What the requests are known by, whoever sent them.</param>
    /// <param name="lookingBack">Keys of those reports that are compared with what their boat reported before.</param>
    public virtual async Task<Known> KnownAsync(
        IReadOnlyCollection<ReportKey> keys,
        IReadOnlyCollection<Guid> idempotencyKeys,
        IReadOnlyCollection<ReportKey> lookingBack,
        CancellationToken ct
    )
    {
        var standing = await Reports
            .FromSqlRaw(Standing("r.*", KeysTable), JsonSerializer.Serialize(keys.Distinct()))
            .ToListAsync(ct);
        var asked = idempotencyKeys.Select(k => (Guid?)k).Distinct().ToList();
        var earlier = await ReportVersions.AsNoTracking().Where(v => asked.Contains(v.IdempotencyKey)).ToListAsync(ct);
        return new(standing, earlier, await BeforeAsync(lookingBack, ct));
    }

    /// <summary>
    /// Of each key's boat the latest counted report of an earlier day. (Each key's own is the latest of the answered ones that is
    /// earlier than the key.)
    /// </summary>
    public async Task<IReadOnlyList<BoatReport>> BeforeAsync(
        IReadOnlyCollection<ReportKey> keys,
        CancellationToken ct
    ) =>
        keys.Count == 0
            ? []
            : await ReportVersions
                .FromSqlRaw(Before("v.*", KeysTable), JsonSerializer.Serialize(BoatDays(keys)))
                .AsNoTracking()
                .Select(v => new BoatReport(v.Boat, v.FishedOn, v.Measures))
                .ToListAsync(ct);

    /// <summary>The heads that stand under the keys of a table expression k.</summary>
    private static string Standing(string columns, string keysTable) =>
        $"""
            SELECT {columns} FROM {keysTable} CROSS JOIN reports r
            WHERE r."Boat" = k."Boat" AND r."FishedOn" = k."FishedOn" AND r."Zone" = k."Zone" AND r."Sailing" = k."Sailing"
            """;

    /// <summary>
    /// The standing versions of what the boats of the keys k reported before. (Of one day the last in the order of the unique index,
    /// which answers this without a sort.)
    /// </summary>
    private static string Before(string columns, string keysTable) =>
        $"""
            SELECT {columns} FROM {keysTable} CROSS JOIN reports r CROSS JOIN report_versions v
            WHERE r."Id" = (
                SELECT x."Id" FROM reports x
                WHERE x."Boat" = k."Boat" AND x."FishedOn" < k."FishedOn" AND x."State" = '{nameof(
                ReportState.Counted
            )}'
                ORDER BY x."FishedOn" DESC, x."Zone" DESC, x."Sailing" DESC LIMIT 1)
            AND v."ReportId" = r."Id" AND v."Version" = r."Version"
            """;

    /// <summary>One key for each boat and day.</summary>
    protected static IEnumerable<ReportKey> BoatDays(IEnumerable<ReportKey> keys) =>
        keys.DistinctBy(k => (k.Boat, k.FishedOn));

    /// <summary>
    /// Runs work as one transaction: all of it or none. When somebody else was first with some of it, it is begun again, a few times.
    /// </summary>
    public async Task<T> AllOrNoneAsync<T>(Func<Task<T>> work, CancellationToken ct)
    {
        for (var attempt = 1; ; attempt++)
        {
            ChangeTracker.Clear();
            await using var transaction = await Database.BeginTransactionAsync(ct);
            try
            {
                var result = await work();
                await transaction.CommitAsync(ct);
                return result;
            }
            catch (Exception e) when (attempt < Attempts && IsLostRace(e))
            {
                await transaction.RollbackAsync(ct);
            }
        }
    }

    /// <summary>The columns of an entity's table that a row brings along, each with how its value is read for the database.</summary>
    protected (string Table, IReadOnlyList<BulkColumn> Columns) TableOf<T>()
        where T : class =>
        Tables.GetOrAdd(
            (Model, typeof(T)),
            static t =>
            {
                var entity = t.Model.FindEntityType(t.Row)!;
                return (
                    entity.GetTableName()!,
                    [
                        .. entity
                            .GetProperties()
                            .Where(p => p.ValueGenerated == ValueGenerated.Never)
                            .Select(BulkColumn.Of),
                    ]
                );
            }
        );

    /// <summary>
    /// Waits until nobody else works on this database under a name, and holds it until disposed. It ends with the process, however
    /// that ends: nothing has to time out after a crash.
    /// </summary>
    public abstract Task<IAsyncDisposable> AloneAsync(string name, CancellationToken ct);

    protected override void OnModelCreating(ModelBuilder modelBuilder) =>
        modelBuilder.ApplyConfigurationsFromAssembly(typeof(ReportsDbContext).Assembly);

    protected override void ConfigureConventions(ModelConfigurationBuilder configurationBuilder)
    {
        // An index is written with every row: there are those that a question asks for. What is referred to is never deleted.
        configurationBuilder.Conventions.Remove<ForeignKeyIndexConvention>();
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

/// <summary>What is stored that decides about a set of reports.</summary>
/// <param name="Standing">Heads under the reports' keys, tracked.</param>
/// <param name="Earlier">Versions that requests with the same idempotency keys stored.</param>
/// <param name="Before">What the boats reported before.</param>
public sealed record Known(
    IReadOnlyList<ReportRow> Standing,
    IReadOnlyList<ReportVersionRow> Earlier,
    IReadOnlyList<BoatReport> Before
);

/// <summary>A boat's counted report of a day: <see cref="ReportMeasures"/> as JSON.</summary>
public sealed record BoatReport(string Boat, DateOnly FishedOn, string Measures);

/// <summary>A column of the bulk path: its name, its type in the database and in memory, and the value that the database gets.</summary>
public sealed record BulkColumn(string Name, string StoreType, Type ClrType, Func<object, object?> Value)
{
    internal static BulkColumn Of(IProperty property)
    {
        var mapping = property.GetRelationalTypeMapping();
        var getter = property.GetGetter();
        var convert = mapping.Converter?.ConvertToProvider;
        return new(
            property.GetColumnName(),
            mapping.StoreTypeNameBase,
            mapping.Converter?.ProviderClrType ?? property.ClrType,
            convert is null ? getter.GetClrValue : row => getter.GetClrValue(row) is { } value ? convert(value) : null
        );
    }
}

/// <summary>The database does not keep what it acknowledges.</summary>
public sealed class UnsafeDatabaseException(string what) : Exception(what);
