using System.Collections.Concurrent;
using Microsoft.Data.Sqlite;
using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Design;

namespace Reports.Storage;

/// <summary>The embedded database: one file, web and jobs in one process.</summary>
public sealed class SqliteReportsDbContext(DbContextOptions<SqliteReportsDbContext> options) : ReportsDbContext(options)
{
    private const int ConstraintError = 19;
    private static readonly ConcurrentDictionary<(string Database, string Name), SemaphoreSlim> Turns = [];

    public override bool IsDuplicate(DbUpdateException exception) =>
        exception.InnerException is SqliteException { SqliteErrorCode: ConstraintError };

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
