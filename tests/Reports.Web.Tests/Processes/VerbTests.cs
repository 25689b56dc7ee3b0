using System.Net;
using Npgsql;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Processes;

/// <summary>What an operator types, and what the process says and answers to the shell.</summary>
public sealed class VerbTests(PostgresServer postgres)
{
    public static TheoryData<DatabaseKind> Both => Databases.Both;

    [Fact]
    public async Task EveryWrongSettingIsToldAtOnceAndEndsTheProcess()
    {
        var (code, output, errors) = await ReportsProcess.RunAsync(
            new()
            {
                ["Reports__Demo"] = "maybe",
                ["Reports__AdminKey"] = "short",
                ["Reports__TimeZone"] = "Middle/Nowhere",
                ["Reports__RateLimit"] = "-5",
                ["Reports__ClientTimeout"] = "1",
                ["Reports__Colour"] = "blue",
                ["ConnectionStrings__Reports"] = "Nonsense=1",
            }
        );

        Assert.Equal(2, code);
        Assert.Empty(output);
        foreach (
            var name in new[]
            {
                "Demo",
                "AdminKey",
                "TimeZone",
                "RateLimit",
                "ClientTimeout",
                "Colour",
                "ConnectionStrings__Reports",
            }
        )
        {
            Assert.Contains(name, errors, StringComparison.Ordinal);
        }

        Assert.DoesNotContain("Exception", errors, StringComparison.Ordinal);
        Assert.DoesNotContain("short", errors, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("web")]
    [InlineData("worker")]
    public async Task SharedRolesAreRefusedOnTheEmbeddedDatabase(string verb)
    {
        var (code, _, errors) = await ReportsProcess.RunAsync([], verb);

        Assert.Equal(2, code);
        Assert.Contains("PostgreSQL", errors, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("frobnicate")]
    [InlineData("migrate", "now")]
    [InlineData("key", "burn", "x")]
    [InlineData("key")]
    public async Task AnUnknownVerbPrintsTheUsage(params string[] words)
    {
        using var folder = new TempFolder();
        var (code, _, errors) = await ReportsProcess.RunAsync(folder.Settings(), words);

        Assert.Equal(2, code);
        Assert.Contains("Usage:", errors, StringComparison.Ordinal);
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task KeysAreMadeListedAndRevokedFromTheShell(DatabaseKind database)
    {
        using var folder = new TempFolder();
        var settings = folder.Settings();
        if (database == DatabaseKind.Postgres)
        {
            settings["ConnectionStrings__Reports"] = await postgres.CreateDatabaseAsync();
        }

        var migrated = await ReportsProcess.RunAsync(settings, "migrate");
        Assert.Equal((0, ""), (migrated.Code, migrated.Errors));
        Assert.Contains("Initial", migrated.Output, StringComparison.Ordinal);

        var made = await ReportsProcess.RunAsync(settings, "key", "create", "the office", "admin");
        Assert.Equal(0, made.Code);
        Assert.Matches("^railside_[0-9a-f]{64}$", made.Output);
        var foreign = await ReportsProcess.RunAsync(settings, "key", "create", "the quay", "landing", "no-quay");
        Assert.Equal(1, foreign.Code);
        Assert.Contains("no-quay", foreign.Errors, StringComparison.Ordinal);
        var listed = await ReportsProcess.RunAsync(settings, "key", "list");
        Assert.Contains("\"the office\"", listed.Output, StringComparison.Ordinal);
        Assert.DoesNotContain(made.Output, listed.Output, StringComparison.Ordinal);
        var id = listed.Output.Split('\n').Single(l => l.Contains("the office", StringComparison.Ordinal)).Split(' ')[
            0
        ];

        // The key opens the service (as a worker's neighbour on PostgreSQL, whose database is migrated), and closes it no more.
        var serve = database == DatabaseKind.Postgres ? new[] { "web" } : [];
        var (service, address) = await ReportsProcess.ServeAsync(settings, serve);
        await using (service)
        {
            using var http = new HttpClient { BaseAddress = address };
            var fleet = new Fleet(http);
            using var open = await fleet.GetAsync("/api/v1/reports", made.Output);
            await open.ShouldBeAsync(HttpStatusCode.OK);
            Assert.False(open.Headers.Contains("Server"));

            var revoked = await ReportsProcess.RunAsync(settings, "key", "revoke", id);
            Assert.Equal(0, revoked.Code);

            // A process keeps a key that it has just seen for two seconds.
            await Task.Delay(TimeSpan.FromSeconds(2.5), TestContext.Current.CancellationToken);
            using var closed = await fleet.GetAsync("/api/v1/reports", made.Output);
            await closed.ProblemAsync(HttpStatusCode.Unauthorized);
        }

        var again = await ReportsProcess.RunAsync(settings, "key", "revoke", id);
        Assert.Equal(1, again.Code);
        Assert.Contains(id, again.Errors, StringComparison.Ordinal);
    }

    [Fact]
    public async Task ARoleOnAnUnmigratedOrAbsentDatabaseSaysWhatToDo()
    {
        using var folder = new TempFolder();
        var settings = folder.Settings();
        var connection = await postgres.CreateDatabaseAsync();
        settings["ConnectionStrings__Reports"] = connection;
        var unmigrated = await ReportsProcess.RunAsync(settings, "web");
        Assert.Equal(1, unmigrated.Code);
        Assert.Contains("migrate", unmigrated.Errors, StringComparison.Ordinal);
        Assert.DoesNotContain("   at ", unmigrated.Errors, StringComparison.Ordinal);

        settings["ConnectionStrings__Reports"] = new NpgsqlConnectionStringBuilder(connection)
        {
            Port = 1,
            Timeout = 2,
        }.ToString();
        var absent = await ReportsProcess.RunAsync(settings, "worker");
        Assert.Equal(1, absent.Code);
        Assert.DoesNotContain("   at ", absent.Errors, StringComparison.Ordinal);
    }

    private sealed class TempFolder : IDisposable
    {
        private readonly DirectoryInfo folder = Directory.CreateTempSubdirectory("reports-");

        public Dictionary<string, string> Settings() =>
            new() { ["Reports__DataPath"] = folder.FullName, ["Reports__Demo"] = "false" };

        public void Dispose() => folder.Delete(recursive: true);
    }
}
