using System.Collections.Concurrent;
using Microsoft.Data.Sqlite;
using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Design;
using Microsoft.EntityFrameworkCore.Storage;

namespace Reports.Storage;

/// <summary>The embedded database: one file, web and jobs in one process.</summary>
public sealed class SqliteReportsDbContext(DbContextOptions<SqliteReportsDbContext> options) : ReportsDbContext(options)
{
    // https://sqlite.org/rescode.html
    private const int ConstraintPrimaryKey = 1555;
    private const int ConstraintUnique = 2067;
    private static readonly ConcurrentDictionary<(string Database, string Name), SemaphoreSlim> Turns = [];

    protected override string KeysTable =>
        """
            (SELECT value->>'Boat' AS "Boat", value->>'Zone' AS "Zone", value->>'FishedOn' AS "FishedOn",
                    value->>'Sailing' AS "Sailing" FROM json_each({0})) AS k
            """;

    public override bool IsDuplicate(Exception exception) =>
        (exception as SqliteException ?? exception.InnerException)
            is SqliteException { SqliteExtendedErrorCode: ConstraintPrimaryKey or ConstraintUnique };

    /// <summary>
    /// One prepared statement, run for each row: in the same process there is no way to and from a server that rows could share.
    /// </summary>
    public override async Task InsertAllAsync<T>(IReadOnlyCollection<T> rows, CancellationToken ct)
    {
        if (rows.Count == 0)
        {
            return;
        }

        var (table, columns) = TableOf<T>();
        await using var command = (SqliteCommand)Database.GetDbConnection().CreateCommand();
        command.Transaction = (SqliteTransaction?)Database.CurrentTransaction?.GetDbTransaction();
        command.CommandText =
            $"""INSERT INTO {table} ({string.Join(", ", columns.Select(c => $"\"{c.Name}\""))}) VALUES ({string.Join(", ", columns.Select((_, i) => $"${i}"))})""";
        var parameters = columns.Select((_, i) => command.Parameters.AddWithValue($"${i}", DBNull.Value)).ToList();
        await command.PrepareAsync(ct);
        foreach (var row in rows)
        {
            for (var i = 0; i < columns.Count; i++)
            {
                parameters[i].Value = columns[i].Value(row) ?? DBNull.Value;
            }

            await command.ExecuteNonQueryAsync(ct);
        }
    }

    /// <summary>
    /// The journal's mode lies in the file, where any tool can change it, so it is set; the other two are each connection's own and
    /// the library's defaults, so they are looked at.
    /// </summary>
    public override async Task<IReadOnlyList<string>> CheckDurabilityAsync(CancellationToken ct)
    {
        await Database.OpenConnectionAsync(ct);
        try
        {
            foreach (
                var (pragma, told, expected) in new[]
                {
                    ("journal_mode = WAL", "journal_mode", "wal"),
                    ("synchronous", "synchronous", "2"),
                    ("foreign_keys", "foreign_keys", "1"),
                }
            )
            {
                await using var command = Database.GetDbConnection().CreateCommand();
                command.CommandText = "PRAGMA " + pragma;
                var found = $"{await command.ExecuteScalarAsync(ct)}";
                if (found != expected)
                {
                    throw new UnsafeDatabaseException(
                        $"The database file {Database.GetDbConnection().DataSource} has {told} = {found}, not {expected}: what is acknowledged would not be safe. Put it on a local disk that can be written to."
                    );
                }
            }
        }
        finally
        {
            await Database.CloseConnectionAsync();
        }

        return [];
    }

    /// <summary>Within this process, because no other one works on the file.</summary>
    public override async Task<IAsyncDisposable> AloneAsync(string name, CancellationToken ct)
    {
        var turn = Turns.GetOrAdd((Database.GetConnectionString()!, name), _ => new SemaphoreSlim(1));
        await turn.WaitAsync(ct);
        return new Held(turn);
    }

    /// <summary>Connection string of a database file; writers queue for up to 30 s.</summary>
    public static string ConnectionString(string file) =>
        new SqliteConnectionStringBuilder { DataSource = file, DefaultTimeout = 30 }.ToString();

    private sealed class Held(SemaphoreSlim turn) : IAsyncDisposable
    {
        public ValueTask DisposeAsync()
        {
            turn.Release();
            return ValueTask.CompletedTask;
        }
    }

    internal sealed class DesignTime : IDesignTimeDbContextFactory<SqliteReportsDbContext>
    {
        public SqliteReportsDbContext CreateDbContext(string[] args) =>
            new(new DbContextOptionsBuilder<SqliteReportsDbContext>().UseSqlite("Data Source=:memory:").Options);
    }
}
