using Hangfire;
using Microsoft.AspNetCore.Hosting;
using Microsoft.AspNetCore.Mvc.Testing;
using Microsoft.AspNetCore.TestHost;
using Microsoft.Data.Sqlite;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Hosting;
using Microsoft.Extensions.Logging;
using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Extensions.Time.Testing;
using Npgsql;
using Reports.Storage;

namespace Reports.Web.Tests.Support;

/// <summary>
/// The service in this process, on an empty database of its own. By default its clock is <see cref="Frozen"/> and stands still,
/// and no job runs unless a test runs it; with <c>jobs: true</c> it computes by itself, as in the field, in real time.
/// </summary>
public sealed class ReportsApp : WebApplicationFactory<Program>
{
    public const string AdminKey = "the-administrator-of-the-tests-0123456789";

    /// <summary>The instant at which the clock of a test stands: noon of 23 November 2026, UTC.</summary>
    public static readonly DateTimeOffset Frozen = new(2026, 11, 23, 12, 0, 0, TimeSpan.Zero);

    private readonly Dictionary<string, string> settings;
    private readonly TimeProvider time;
    private readonly bool jobs;
    private readonly string dataPath;

    private ReportsApp(Dictionary<string, string> settings, TimeProvider time, bool jobs, string dataPath)
    {
        this.settings = settings;
        this.time = time;
        this.jobs = jobs;
        this.dataPath = dataPath;
        ClientOptions.AllowAutoRedirect = false;
    }

    /// <summary>The clock, where it is a still one.</summary>
    public FakeTimeProvider Time => (FakeTimeProvider)time;

    /// <param name="database">Which database it stores in.</param>
    /// <param name="postgres">The run's server; used for PostgreSQL only.</param>
    /// <param name="jobs">Compute briefs by itself, in real time.</param>
    /// <param name="time">The clock; null for a still one (for the real one where jobs run).</param>
    /// <param name="more">Settings that differ, such as ("Reports:RateLimit", "5").</param>
    public static async Task<ReportsApp> StartAsync(
        DatabaseKind database,
        PostgresServer postgres,
        bool jobs = false,
        TimeProvider? time = null,
        params (string Name, string Value)[] more
    )
    {
        // First, because it may skip the test.
        var connection = database == DatabaseKind.Postgres ? await postgres.CreateDatabaseAsync() : "";
        var dataPath = Directory.CreateTempSubdirectory("reports-").FullName;
        var settings = new Dictionary<string, string>
        {
            ["ConnectionStrings:Reports"] = connection,
            ["Reports:DataPath"] = dataPath,
            ["Reports:Demo"] = "false",
            ["Reports:AdminKey"] = AdminKey,
            ["Reports:TimeZone"] = "UTC",
            ["Reports:RateLimit"] = "off",
        };
        foreach (var (name, value) in more)
        {
            settings[name] = value;
        }

        time ??= jobs ? TimeProvider.System : new FakeTimeProvider(Frozen);
        var app = new ReportsApp(settings, time, jobs, dataPath);
        _ = app.Server;
        return app;
    }

    /// <summary>Runs something with the services of one request.</summary>
    public async Task<T> WithAsync<TService, T>(Func<TService, Task<T>> run)
        where TService : notnull
    {
        await using var scope = Services.CreateAsyncScope();
        return await run(scope.ServiceProvider.GetRequiredService<TService>());
    }

    /// <summary>Runs something with the services of one request.</summary>
    public async Task WithAsync<TService>(Func<TService, Task> run)
        where TService : notnull
    {
        await using var scope = Services.CreateAsyncScope();
        await run(scope.ServiceProvider.GetRequiredService<TService>());
    }

    /// <summary>Asks the database itself.</summary>
    public Task<T> AskAsync<T>(Func<ReportsDbContext, Task<T>> ask) => WithAsync(ask);

    protected override void ConfigureWebHost(IWebHostBuilder builder)
    {
        foreach (var (name, value) in settings)
        {
            builder.UseSetting(name, value);
        }

        builder.ConfigureTestServices(services =>
        {
            services.AddSingleton(time);

            // The job queue's library logs through the factory of the service that started last in this process. Of another test's
            // service that factory may be gone, and then the queue of this one does not start.
            services.AddSingleton<ILoggerFactory>(NullLoggerFactory.Instance);
            if (!jobs)
            {
                // Without its server the queue only keeps what is put into it.
                foreach (
                    var server in services
                        .Where(s =>
                            s.ServiceType == typeof(IHostedService)
                            && s.ImplementationFactory?.Method.DeclaringType?.Assembly
                                == typeof(BackgroundJobServerHostedService).Assembly
                        )
                        .ToList()
                )
                {
                    services.Remove(server);
                }
            }
        });
    }

    public override async ValueTask DisposeAsync()
    {
        var used = Services.GetRequiredService<Settings>();
        await base.DisposeAsync();
        if (used.Postgres is { } connectionString)
        {
            await using var connection = new NpgsqlConnection(connectionString);
            NpgsqlConnection.ClearPool(connection);
        }
        else
        {
            await using var connection = new SqliteConnection(SqliteReportsDbContext.ConnectionString(used.SqliteFile));
            SqliteConnection.ClearPool(connection);
        }

        Directory.Delete(dataPath, recursive: true);
    }
}
