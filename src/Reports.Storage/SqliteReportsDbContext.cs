using Microsoft.Data.Sqlite;
using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Design;

namespace Reports.Storage;

/// <summary>The embedded database: one file, web and jobs in one process.</summary>
public sealed class SqliteReportsDbContext(DbContextOptions<SqliteReportsDbContext> options) : ReportsDbContext(options)
{
    private const int ConstraintError = 19;

    public override bool IsDuplicate(DbUpdateException exception) =>
        exception.InnerException is SqliteException { SqliteErrorCode: ConstraintError };

    /// <summary>Connection string of a database file; writers queue for up to 30 s.</summary>
    public static string ConnectionString(string file) =>
        new SqliteConnectionStringBuilder { DataSource = file, DefaultTimeout = 30 }.ToString();

    internal sealed class DesignTime : IDesignTimeDbContextFactory<SqliteReportsDbContext>
    {
        public SqliteReportsDbContext CreateDbContext(string[] args) =>
            new(new DbContextOptionsBuilder<SqliteReportsDbContext>().UseSqlite("Data Source=:memory:").Options);
    }
}
