using Microsoft.Data.Sqlite;
using Microsoft.EntityFrameworkCore;
using Npgsql;
using Reports.Storage;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Storage;

/// <summary>At start the database is held to the promise that what was acknowledged is kept.</summary>
public sealed class DurabilityTests(PostgresServer postgres) : IDisposable
{
    private readonly DirectoryInfo folder = Directory.CreateTempSubdirectory("reports-");

    private static CancellationToken Ct => TestContext.Current.CancellationToken;

    [Fact]
    public async Task The_embedded_database_writes_ahead_in_full_and_checks_references()
    {
        await using var app = await ReportsApp.StartAsync(DatabaseKind.Sqlite, postgres);
        Assert.Equal(("wal", "2", "1"), await app.AskAsync(PragmasAsync));
    }

    [Fact]
    public async Task A_file_that_some_tool_took_out_of_write_ahead_is_put_back()
    {
        await using var db = Sqlite($"Data Source={Path.Combine(folder.FullName, "reports.db")};Pooling=False");
        await db.Database.ExecuteSqlAsync($"PRAGMA journal_mode = DELETE", Ct);
        Assert.Equal(("delete", "2", "1"), await PragmasAsync(db));

        Assert.Empty(await db.CheckDurabilityAsync(Ct));

        Assert.Equal(("wal", "2", "1"), await PragmasAsync(db));
    }

    [Theory]
    [InlineData("Data Source=:memory:", "", "journal_mode = memory")]
    [InlineData("Data Source={0};Pooling=False", "PRAGMA synchronous = NORMAL", "synchronous = 1")]
    [InlineData("Data Source={0};Pooling=False;Foreign Keys=False", "", "foreign_keys = 0")]
    public async Task An_embedded_database_that_keeps_nothing_safe_is_refused(
        string connection,
        string pragma,
        string told
    )
    {
        var file = Path.Combine(folder.FullName, "reports.db");
        await using var db = Sqlite(connection.Replace("{0}", file, StringComparison.Ordinal));
        await db.Database.OpenConnectionAsync(Ct);
        if (pragma.Length > 0)
        {
            await db.Database.ExecuteSqlRawAsync(pragma, Ct);
        }

        var refusal = await Assert.ThrowsAsync<UnsafeDatabaseException>(() => db.CheckDurabilityAsync(Ct));

        Assert.Contains(told, refusal.Message, StringComparison.Ordinal);
        Assert.Equal(refusal.Message, Verbs.OperatorsFault(refusal));
    }

    [Fact]
    public async Task A_server_that_may_lose_reports_is_told_of()
    {
        var connection = await postgres.CreateDatabaseAsync();
        await using var db = Postgres(connection);
        var fsync = await db.Database.SqlQuery<string>($"SELECT current_setting('fsync') AS \"Value\"").SingleAsync(Ct);
        Assert.Equal(fsync == "off", await ToldAsync("", "fsync = off"));
        Assert.True(await ToldAsync("-c synchronous_commit=off", "synchronous_commit = off"));
        Assert.False(await ToldAsync("-c synchronous_commit=on", "synchronous_commit = off"));
        Assert.False(await ToldAsync("-c synchronous_commit=local", "synchronous_commit = off"));

        async Task<bool> ToldAsync(string options, string what)
        {
            await using var other = Postgres(
                new NpgsqlConnectionStringBuilder(connection) { Options = options, Pooling = false }.ToString()
            );
            return (await other.CheckDurabilityAsync(Ct)).Any(d => d.Contains(what, StringComparison.Ordinal));
        }
    }

    [Fact]
    public async Task The_start_logs_it_as_a_warning()
    {
        var connection = new NpgsqlConnectionStringBuilder(await postgres.CreateDatabaseAsync())
        {
            Options = "-c synchronous_commit=off",
        };
        var (process, _) = await ReportsProcess.ServeAsync(
            new()
            {
                ["Reports__DataPath"] = folder.FullName,
                ["Reports__Demo"] = "false",
                ["ConnectionStrings__Reports"] = connection.ToString(),
            }
        );
        await using (process)
        {
            Assert.Matches("warn: .*ReportsDbContext[^\n]*\n[^\n]*synchronous_commit = off", process.Output);
        }
    }

    public void Dispose() => folder.Delete(recursive: true);

    private static async Task<(string Journal, string Synchronous, string ForeignKeys)> PragmasAsync(
        ReportsDbContext db
    )
    {
        await db.Database.OpenConnectionAsync(Ct);
        return (await PragmaAsync("journal_mode"), await PragmaAsync("synchronous"), await PragmaAsync("foreign_keys"));

        async Task<string> PragmaAsync(string name)
        {
            await using var command = db.Database.GetDbConnection().CreateCommand();
            command.CommandText = "PRAGMA " + name;
            return $"{await command.ExecuteScalarAsync(Ct)}";
        }
    }

    private static SqliteReportsDbContext Sqlite(string connection) =>
        new(new DbContextOptionsBuilder<SqliteReportsDbContext>().UseSqlite(connection).Options);

    private static PostgresReportsDbContext Postgres(string connection) =>
        new(new DbContextOptionsBuilder<PostgresReportsDbContext>().UseNpgsql(connection).Options);
}
