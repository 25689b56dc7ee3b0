using System.IO.Compression;
using Hangfire;
using Hangfire.AspNetCore;
using Hangfire.InMemory;
using Hangfire.PostgreSql;
using Hangfire.PostgreSql.Factories;
using Microsoft.AspNetCore.Authentication;
using Microsoft.AspNetCore.ResponseCompression;
using Microsoft.AspNetCore.Server.Kestrel.Core;
using Microsoft.EntityFrameworkCore;
using Microsoft.Extensions.Diagnostics.HealthChecks;
using Reports.Domain.Coast;
using Reports.Storage;
using Reports.Web.Api.V1;
using Reports.Web.Demo;
using Reports.Web.Jobs;
using Reports.Web.Pages;
using Reports.Web.Pages.Briefs;
using Reports.Web.Pages.Chances;
using Reports.Web.Pages.Feeds;
using Reports.Web.Pages.TrackRecord;

namespace Reports.Web;

/// <summary>The concerns that Program lists, one method each.</summary>
public static class Startup
{
    public static void AddApi(this IServiceCollection services)
    {
        services.AddSingleton<ApiDescription>();
        services.AddSingleton<RegisterCache>();
        services.AddSingleton<CoastProfiles>();
        services.AddSingleton<PastBriefs>();
        services.AddSingleton<Published>();
        services.AddSingleton<KeyRing>();
        services.AddHostedService(s => s.GetRequiredService<KeyRing>());
        services.AddSingleton<Intake>();
        services.AddHostedService(s => s.GetRequiredService<Intake>());
        services.AddScoped<Doubts>();
        services.AddScoped<ReportImport>();
        services.AddScoped<DepartureImport>();
        services.AddScoped<BaitImport>();
        services.AddScoped<RegisterPutter>();
        services.AddScoped<ComingTrips>();
        services.AddProblemDetails();
        services.AddExceptionHandler<BrokenRequests>();
        services
            .AddAuthentication(ApiKeyHandler.Scheme)
            .AddScheme<AuthenticationSchemeOptions, ApiKeyHandler>(ApiKeyHandler.Scheme, null);
        services
            .AddAuthorizationBuilder()
            .AddPolicy(ApiKeyHandler.AdminPolicy, p => p.RequireRole(nameof(KeyScope.Admin)))
            .AddPolicy(
                ApiKeyHandler.ReporterPolicy,
                p => p.RequireRole(nameof(KeyScope.Admin), nameof(KeyScope.Landing), nameof(KeyScope.Boat))
            );
    }

    public static void AddPages(this IServiceCollection services)
    {
        services.AddRazorPages();
        services.AddSingleton<Assets>();
        services.AddSingleton<PageStamp>();
        services.AddOutputCache(cache =>
        {
            cache.SizeLimit = 64 * 1024 * 1024;
            cache.UseCaseSensitivePaths = true;
            cache.AddPolicy(PagePolicy.Name, policy => policy.AddPolicy<PagePolicy>(), excludeDefaultPolicy: true);
        });
        services.AddResponseCompression(compression =>
            compression.MimeTypes = [
                "text/html",
                "text/csv",
                "text/plain",
                "text/calendar",
                "application/atom+xml",
                "application/xml",
            ]
        );

        // A page is compressed once and sent often.
        services.Configure<BrotliCompressionProviderOptions>(brotli => brotli.Level = CompressionLevel.Optimal);
    }

    /// <summary>Compression inside the cache: what is kept is what is sent.</summary>
    public static void UsePageCache(this WebApplication app)
    {
        app.UseOutputCache();
        app.UseResponseCompression();
    }

    /// <summary>What a client may cost: requests, bytes of a body, and time to send them.</summary>
    public static void AddLimits(this IServiceCollection services, Settings settings)
    {
        services.AddSingleton<Limits>();
        services.Configure<KestrelServerOptions>(kestrel =>
        {
            kestrel.AddServerHeader = false;

            // The largest body is a batch; each endpoint holds its own to less.
            kestrel.Limits.MaxRequestBodySize = 2 * BatchEndpoint.MostBytes;

            kestrel.Limits.RequestHeadersTimeout = settings.ClientTimeout;
            kestrel.Limits.MinRequestBodyDataRate = new(Limits.LeastBytesPerSecond, settings.ClientTimeout);
            kestrel.Limits.MinResponseDataRate = new(Limits.LeastBytesPerSecond, settings.ClientTimeout);
        });
    }

    public static void UseLimits(this WebApplication app)
    {
        var limits = app.Services.GetRequiredService<Limits>();
        app.Use((http, next) => limits.LimitAsync(http, next));
    }

    /// <summary>
    /// The job queue: in PostgreSQL, in a schema of its own, or in memory. What memory loses is still marked in the database.
    /// </summary>
    public static void AddJobs(this IServiceCollection services, Settings settings, bool runs)
    {
        // Not by Hangfire's own configuration, which is one for the process: of several services in one process, such as those of
        // tests, each has its queue and computes in its own database.
        services.AddSingleton(_ => JobQueue(settings));
        services.AddSingleton<JobActivator>(s => new AspNetCoreJobActivator(
            s.GetRequiredService<IServiceScopeFactory>()
        ));
        services.AddHangfire(hangfire =>
            hangfire.UseSimpleAssemblyNameTypeSerializer().UseRecommendedSerializerSettings()
        );
        if (runs)
        {
            services.AddHangfireServer(server =>
            {
                server.WorkerCount = Math.Max(2, Environment.ProcessorCount);
                server.SchedulePollingInterval = TimeSpan.FromSeconds(2);
            });
            services.AddHostedService<SweepSchedule>();
        }

        services.AddScoped<BriefJob>();
        services.AddScoped<SweepJob>();
        services.AddScoped<RecordJob>();
        services.AddScoped<DemoLoader>();
        services.AddSingleton<BriefQueue>();
        services.AddHostedService(s => s.GetRequiredService<BriefQueue>());
    }

    private static JobStorage JobQueue(Settings settings)
    {
        if (settings.Postgres is not { } connection)
        {
            return new InMemoryStorage(new InMemoryStorageOptions { MaxExpirationTime = TimeSpan.FromMinutes(30) });
        }

        var options = new PostgreSqlStorageOptions
        {
            SchemaName = "hangfire",
            QueuePollInterval = TimeSpan.FromSeconds(1),
            UseSlidingInvisibilityTimeout = true,

            // Hangfire's own locks are held for moments, but outlive a killed process by this.
            DistributedLockTimeout = TimeSpan.FromMinutes(1),
            InvisibilityTimeout = TimeSpan.FromMinutes(5),
        };
        return new PostgreSqlStorage(new NpgsqlConnectionFactory(connection, options), options);
    }

    public static void AddHealth(this IServiceCollection services) =>
        services.AddHealthChecks().AddCheck<DatabaseReady>("database", tags: ["ready"]);

    /// <summary>Live: the process answers. Ready: its database does too, at this version.</summary>
    public static void MapHealth(this WebApplication app)
    {
        app.MapHealthChecks("/health/live", new() { Predicate = _ => false });
        app.MapHealthChecks("/health/ready", new() { Predicate = c => c.Tags.Contains("ready") });
    }

    public static void MapApi(this WebApplication app)
    {
        var api = app.MapGroup("/api/v1");
        api.MapReports();
        api.MapCsv();
        api.MapRegister();
        api.MapKeys();
        api.MapBriefs();
        api.MapRecord();
        api.MapChances();

        // Written by hand, first, and tested against the routes and the answers: docs/decisions says why.
        app.MapGet(
            "/openapi/v1.json",
            (ApiDescription document) => TypedResults.Bytes(document.Bytes, "application/json")
        );
    }

    /// <summary>
    /// What no endpoint answers: an address of the API that does not exist or takes another method, as problem details whatever the
    /// client accepts; and an address with a NUL in it, which names nothing and which PostgreSQL takes as no text.
    /// </summary>
    public static void UseApiProblems(this WebApplication app)
    {
        app.UseWhen(
            http => http.Request.Path.StartsWithSegments("/api"),
            api =>
                api.UseStatusCodePages(pages => Problems.Unanswered(pages.HttpContext).ExecuteAsync(pages.HttpContext))
        );
        app.Use(
            (http, next) =>
                http.Request.Path.Value?.Contains('\0', StringComparison.Ordinal) == true
                || http.Request.Query.Any(q => $"{q.Key}{q.Value}".Contains('\0', StringComparison.Ordinal))
                    ? Problems.MalformedAddress().ExecuteAsync(http)
                    : next(http)
        );
    }

    /// <summary>
    /// Errors as their reader needs them: a page that helps for people, and nearer to the answer, so that it speaks first, problem
    /// details for software.
    /// </summary>
    public static void UseErrors(this WebApplication app)
    {
        app.UseExceptionHandler("/problem/500");
        app.UseStatusCodePagesWithReExecute("/problem/{0}");
        app.UseWhen(
            http => IsForSoftware(http.Request),
            api =>
            {
                api.UseExceptionHandler();
                api.UseStatusCodePages();
            }
        );
    }

    /// <summary>
    /// What a browser may do with a page: nothing that does not come from here, and no script of ours exists to run. Set when the
    /// answer starts, because the error handler clears what was set before.
    /// </summary>
    public static void UsePageHeaders(this WebApplication app) =>
        app.Use(
            (http, next) =>
            {
                if (!IsForSoftware(http.Request))
                {
                    http.Response.OnStarting(() =>
                    {
                        var headers = http.Response.Headers;
                        headers.ContentSecurityPolicy =
                            $"default-src 'self'; style-src {StyleSheet.Source}; object-src 'none'; base-uri 'none'; frame-ancestors 'none'; form-action 'self'";
                        headers.XContentTypeOptions = "nosniff";
                        headers["Referrer-Policy"] = "same-origin";
                        return Task.CompletedTask;
                    });
                }

                return next(http);
            }
        );

    public static void MapPages(this WebApplication app)
    {
        app.MapRazorPages();
        app.MapBriefCsv();
        app.MapRecordCsv();
        app.MapChancesCsv();
        app.MapFeeds();
        foreach (var name in app.Services.GetRequiredService<Assets>().Names)
        {
            app.MapGet(
                "/" + name,
                (HttpContext http, Assets assets, IResponseCompressionProvider encodings) =>
                    assets.Send(name, http, encodings)
            );
        }
    }

    /// <summary>
    /// Before the first request: the database at this version, the settings' administrator, the demo up to yesterday with its briefs
    /// computed. A process that shares its database with others only checks that somebody has migrated it.
    /// </summary>
    public static async Task<string?> PrepareAsync(this WebApplication app, Settings settings, Verb verb)
    {
        await using var scope = app.Services.CreateAsyncScope();
        var services = scope.ServiceProvider;
        var db = services.GetRequiredService<ReportsDbContext>();
        if (verb == Verb.All)
        {
            Directory.CreateDirectory(settings.DataPath);
            await db.Database.MigrateAsync();
        }
        else if ((await db.Database.GetPendingMigrationsAsync()).Any())
        {
            throw new NotMigratedException();
        }

        var log = services.GetRequiredService<ILogger<ReportsDbContext>>();
        foreach (var doubt in await db.CheckDurabilityAsync(CancellationToken.None))
        {
            log.LogWarning("{Doubt}", doubt);
        }

        await services
            .GetRequiredService<KeyStore>()
            .SetAsync(
                KeyStore.BootstrapId,
                "administrator from the settings",
                settings.AdminKey,
                CancellationToken.None
            );
        if (!settings.Demo)
        {
            return null;
        }

        var key = await services.GetRequiredService<DemoLoader>().KeyAsync(CancellationToken.None);
        await services.GetRequiredService<SweepJob>().OpenEpochAsync(CancellationToken.None);
        foreach (var species in DemoCoast.World().Species.Where(s => s.Kind == SpeciesKind.Catch))
        {
            await services.GetRequiredService<BriefJob>().ExecuteAsync(species.Code, CancellationToken.None);
        }

        return key;
    }

    internal static bool IsForSoftware(HttpRequest request) =>
        request.Path.StartsWithSegments("/api", StringComparison.OrdinalIgnoreCase)
        || request.Path.StartsWithSegments("/health", StringComparison.OrdinalIgnoreCase);

    private sealed class DatabaseReady(ReportsDbContext db) : IHealthCheck
    {
        public async Task<HealthCheckResult> CheckHealthAsync(
            HealthCheckContext context,
            CancellationToken cancellationToken = default
        ) =>
            !await db.Database.CanConnectAsync(cancellationToken)
                ? HealthCheckResult.Unhealthy("the database does not answer")
            : (await db.Database.GetPendingMigrationsAsync(cancellationToken)).Any()
                ? HealthCheckResult.Unhealthy("the database is not at this version")
            : HealthCheckResult.Healthy();
    }
}

/// <summary>A process that shares its database found it at another version.</summary>
public sealed class NotMigratedException()
    : Exception("The database is not at this version: run the verb migrate first.");
