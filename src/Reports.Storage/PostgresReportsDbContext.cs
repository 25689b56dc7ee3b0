using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Design;
using Npgsql;

namespace Reports.Storage;

/// <summary>PostgreSQL, for a fleet: several web and worker processes.</summary>
public sealed class PostgresReportsDbContext(DbContextOptions<PostgresReportsDbContext> options)
    : ReportsDbContext(options)
{
    public override bool IsDuplicate(DbUpdateException exception) =>
        exception.InnerException is PostgresException { SqlState: PostgresErrorCodes.UniqueViolation };

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
