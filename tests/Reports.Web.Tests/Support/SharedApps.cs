namespace Reports.Web.Tests.Support;

/// <summary>
/// One app with its coast per database, shared by all tests of the collection, which run one after the other; each takes boats of
/// its own.
/// </summary>
public sealed class SharedApps(PostgresServer postgres) : IAsyncDisposable
{
    private readonly Dictionary<DatabaseKind, (ReportsApp App, Fleet Fleet)> apps = [];

    public async Task<(ReportsApp App, Fleet Fleet)> OfAsync(DatabaseKind database)
    {
        if (!apps.TryGetValue(database, out var shared))
        {
            var app = await ReportsApp.StartAsync(database, postgres);
            apps[database] = shared = (app, await Fleet.SetUpCoastAsync(app));
        }

        return shared;
    }

    public async ValueTask DisposeAsync()
    {
        foreach (var (app, _) in apps.Values)
        {
            await app.DisposeAsync();
        }
    }
}

[CollectionDefinition(Name)]
public sealed class OnSharedApps : ICollectionFixture<SharedApps>
{
    public const string Name = "on shared apps";
}
