using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Diagnostics;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;

namespace Reports.Storage;

/// <summary>Wires the database that the settings name.</summary>
public static class StorageSetup
{
    /// <param name="postgres">Connection string of PostgreSQL; null for the embedded database.</param>
    /// <param name="sqliteFile">File of the embedded database, used when there is no connection string.</param>
    public static IServiceCollection AddReportsStorage(
        this IServiceCollection services,
        string? postgres,
        string sqliteFile
    )
    {
        if (postgres is not null)
        {
            // The statements are few and always the same: the server parses and plans each once per connection.
            var connection = new NpgsqlConnectionStringBuilder(postgres);
            if (!connection.ContainsKey("Max Auto Prepare"))
            {
                connection.MaxAutoPrepare = 64;
            }

            services.AddDbContextPool<ReportsDbContext, PostgresReportsDbContext>(o =>
                o.UseNpgsql(connection.ToString()).ConfigureWarnings(Quiet)
            );
        }
        else
        {
            services.AddDbContextPool<ReportsDbContext, SqliteReportsDbContext>(o =>
                o.UseSqlite(SqliteReportsDbContext.ConnectionString(sqliteFile)).ConfigureWarnings(Quiet)
            );
        }

        return services
            .AddScoped<ReportStore>()
            .AddScoped<RegisterStore>()
            .AddScoped<EvidenceStore>()
            .AddScoped<CoastStore>()
            .AddScoped<LandingBaitStore>()
            .AddScoped<BriefStore>()
            .AddSingleton<BriefChanges>()
            .AddSingleton<KeyEpoch>()
            .AddScoped<KeyStore>();
    }

    // FirstOrDefault by a whole unique key needs no order.
    private static void Quiet(WarningsConfigurationBuilder warnings) =>
        warnings.Ignore(CoreEventId.FirstWithoutOrderByAndFilterWarning);
}
