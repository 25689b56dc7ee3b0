using Npgsql;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Storage;

/// <summary>The database that a connection string names need not exist yet, whatever the server's locale.</summary>
public sealed class NewDatabaseTests(PostgresServer postgres)
{
    [Fact]
    public async Task A_database_that_does_not_exist_is_made_at_start()
    {
        var named = new NpgsqlConnectionStringBuilder(await postgres.CreateDatabaseAsync());
        named.Database += "_new";
        await using var app = await ReportsApp.StartAsync(
            DatabaseKind.Postgres,
            postgres,
            more: ("ConnectionStrings:Reports", named.ToString())
        );
        var fleet = await Fleet.SetUpCoastAsync(app);
        await fleet.SubmitReportAsync(ReportBody.Short(Fleet.Petrel));
    }
}
