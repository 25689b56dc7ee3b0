using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Design;
using Npgsql;

namespace Reports.Storage;

/// <summary>PostgreSQL, for a fleet: several web and worker processes.</summary>
public sealed class PostgresReportsDbContext(DbContextOptions<PostgresReportsDbContext> options)
    : ReportsDbContext(options)
{
    protected override string KeysTable =>
        """jsonb_to_recordset({0}::jsonb) AS k("Boat" text, "Zone" text, "FishedOn" date, "Sailing" int)""";

    public override bool IsDuplicate(Exception exception) => State(exception) == PostgresErrorCodes.UniqueViolation;

    public override bool IsLostRace(Exception exception) =>
        base.IsLostRace(exception)
        || State(exception) is PostgresErrorCodes.DeadlockDetected or PostgresErrorCodes.SerializationFailure;

    /// <summary>Binary COPY.</summary>
    public override async Task InsertAllAsync<T>(IReadOnlyCollection<T> rows, CancellationToken ct)
    {
        if (rows.Count == 0)
        {
            return;
        }

        var (table, columns) = TableOf<T>();
        var connection = (NpgsqlConnection)Database.GetDbConnection();
        await using var copy = await connection.BeginBinaryImportAsync(
            $"""COPY {table} ({string.Join(", ", columns.Select(c => $"\"{c.Name}\""))}) FROM STDIN (FORMAT BINARY)""",
            ct
        );
        foreach (var row in rows)
        {
            await copy.StartRowAsync(ct);
            foreach (var column in columns)
            {
                if (column.Value(row) is { } value)
                {
                    await copy.WriteAsync(value, column.StoreType, ct);
                }
                else
                {
                    await copy.WriteNullAsync(ct);
                }
            }
        }

        await copy.CompleteAsync(ct);
    }

    /// <summary>The server is its operator's, who may have reasons: what is not safe is told.</summary>
    public override async Task<IReadOnlyList<string>> CheckDurabilityAsync(CancellationToken ct)
    {
        var off = await Database
            .SqlQuery<string>(
                $"""SELECT name AS "Value" FROM pg_settings WHERE name IN ('fsync', 'synchronous_commit') AND setting = 'off'"""
            )
            .ToListAsync(ct);
        return
        [
            .. off.Order(StringComparer.Ordinal)
                .Select(name =>
                    $"PostgreSQL runs with {name} = off: a crash of the server may lose reports that were acknowledged."
                ),
        ];
    }

    /// <summary>By an advisory lock of this context's session, which the server frees when the connection breaks.</summary>
    public override async Task<IAsyncDisposable> AloneAsync(string name, CancellationToken ct)
    {
        await Database.OpenConnectionAsync(ct);
        try
        {
            await Database.ExecuteSqlAsync($"SELECT pg_advisory_lock(hashtextextended({name}, 0))", ct);
            return new Held(this, name);
        }
        catch
        {
            await Database.CloseConnectionAsync();
            throw;
        }
    }

    protected override void OnModelCreating(ModelBuilder modelBuilder)
    {
        base.OnModelCreating(modelBuilder);

        modelBuilder.Entity<ReportVersionRow>().Property(v => v.Measures).HasColumnType("jsonb");
    }

    private static string? State(Exception exception) =>
        (exception as PostgresException ?? exception.InnerException as PostgresException)?.SqlState;

    private sealed class Held(PostgresReportsDbContext db, string name) : IAsyncDisposable
    {
        public async ValueTask DisposeAsync()
        {
            try
            {
                await db.Database.ExecuteSqlAsync($"SELECT pg_advisory_unlock(hashtextextended({name}, 0))");
            }
            finally
            {
                await db.Database.CloseConnectionAsync();
            }
        }
    }

    internal sealed class DesignTime : IDesignTimeDbContextFactory<PostgresReportsDbContext>
    {
        public PostgresReportsDbContext CreateDbContext(string[] args) =>
            new(new DbContextOptionsBuilder<PostgresReportsDbContext>().UseNpgsql("Host=design-time-only").Options);
    }
}
