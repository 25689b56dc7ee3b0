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

    protected override void OnModelCreating(ModelBuilder modelBuilder)
    {
        base.OnModelCreating(modelBuilder);

        // Codes and ids sort by their bytes, as they do on SQLite, whatever the cluster's locale.
        modelBuilder.UseCollation("C");
        modelBuilder.Entity<ReportVersionRow>().Property(v => v.Measures).HasColumnType("jsonb");
    }

    internal sealed class DesignTime : IDesignTimeDbContextFactory<PostgresReportsDbContext>
    {
        public PostgresReportsDbContext CreateDbContext(string[] args) =>
            new(new DbContextOptionsBuilder<PostgresReportsDbContext>().UseNpgsql("Host=design-time-only").Options);
    }
}
