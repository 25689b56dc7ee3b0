using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Design;
using Npgsql;

namespace Reports.Storage;

/// <summary>PostgreSQL, for a fleet: several web and worker processes.</summary>
public sealed class PostgresReportsDbContext(DbContextOptions<PostgresReportsDbContext> options)
    : ReportsDbContext(options)
{
    private const int MostInOneStatement = 256;

    protected override string KeysTable =>
        """jsonb_to_recordset({0}::jsonb) AS k("Boat" text, "Zone" text, "FishedOn" date, "Sailing" int)""";

    public override bool IsDuplicate(Exception exception) => State(exception) == PostgresErrorCodes.UniqueViolation;

    public override bool IsLostRace(Exception exception) =>
        base.IsLostRace(exception)
        || State(exception) is PostgresErrorCodes.DeadlockDetected or PostgresErrorCodes.SerializationFailure;

    /// <summary>Binary COPY of many rows; few are cheaper as a prepared statement.</summary>
    public override async Task InsertAllAsync<T>(IReadOnlyCollection<T> rows, CancellationToken ct)
    {
        if (rows.Count <= MostInOneStatement)
        {
            await ExecuteAsync([InsertOf(rows)], ct);
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

    /// <summary>Few rows go to the server and back once for all tables.</summary>
    public override async Task InsertAllAsync<T1, T2, T3>(
        IReadOnlyCollection<T1> first,
        IReadOnlyCollection<T2> second,
        IReadOnlyCollection<T3> third,
        CancellationToken ct
    )
    {
        if (Math.Max(first.Count, Math.Max(second.Count, third.Count)) > MostInOneStatement)
        {
            await base.InsertAllAsync(first, second, third, ct);
        }
        else
        {
            await ExecuteAsync([InsertOf(first), InsertOf(second), InsertOf(third)], ct);
        }
    }

    private async Task ExecuteAsync(IEnumerable<NpgsqlBatchCommand?> commands, CancellationToken ct)
    {
        await using var batch = ((NpgsqlConnection)Database.GetDbConnection()).CreateBatch();
        foreach (var command in commands.OfType<NpgsqlBatchCommand>())
        {
            batch.BatchCommands.Add(command);
        }

        if (batch.BatchCommands.Count > 0)
        {
            await batch.ExecuteNonQueryAsync(ct);
        }
    }

    /// <summary>One statement, the same text for any number of rows: an array for each column. Null for no rows.</summary>
    private NpgsqlBatchCommand? InsertOf<T>(IReadOnlyCollection<T> rows)
        where T : class
    {
        if (rows.Count == 0)
        {
            return null;
        }

        var (table, columns) = TableOf<T>();
        var command = new NpgsqlBatchCommand(
            $"""INSERT INTO {table} ({string.Join(", ", columns.Select(c => $"\"{c.Name}\""))}) SELECT * FROM unnest({string.Join(", ", columns.Select((_, i) => $"${i + 1}"))})"""
        );
        foreach (var column in columns)
        {
            var values = Array.CreateInstance(column.ClrType, rows.Count);
            var at = 0;
            foreach (var row in rows)
            {
                values.SetValue(column.Value(row), at++);
            }

            command.Parameters.Add(new NpgsqlParameter { Value = values, DataTypeName = column.StoreType + "[]" });
        }

        return command;
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
