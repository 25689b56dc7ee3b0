namespace Reports.Web.Tests.Support;

/// <summary>One app with its coast per database, shared by the tests of a class; each test takes boats of its own.</summary>
public sealed class SharedApps(PostgresServer postgres) : IAsyncDisposable
{
    private readonly Dictionary<DatabaseKind, Task<(ReportsApp App, Fleet Fleet)>> apps = [];

    public Task<(ReportsApp App, Fleet Fleet)> OfAsync(DatabaseKind database)
    {
        lock (apps)
        {
            if (!apps.TryGetValue(database, out var app))
            {
                apps[database] = app = StartAsync(database);
            }

            return app;
        }
    }

    public async ValueTask DisposeAsync()
    {
        foreach (var app in apps.Values.Where(a => a.IsCompletedSuccessfully))
        {
            await (await app).App.DisposeAsync();
        }
    }

    private async Task<(ReportsApp App, Fleet Fleet)> StartAsync(DatabaseKind database)
    {
        var app = await ReportsApp.StartAsync(database, postgres);
        return (app, await Fleet.SetUpCoastAsync(app));
    }
}
