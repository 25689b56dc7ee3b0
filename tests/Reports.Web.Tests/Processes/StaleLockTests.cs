using Npgsql;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Processes;

/// <summary>A process that was killed at the wrong moment must not keep the next one from starting.</summary>
public sealed class StaleLockTests(PostgresServer postgres)
{
    [Fact]
    public async Task ALockThatAKilledProcessLeftBehindDoesNotStopTheStart()
    {
        var ct = TestContext.Current.CancellationToken;
        var connection = await postgres.CreateDatabaseAsync();
        var settings = new Dictionary<string, string>
        {
            ["ConnectionStrings__Reports"] = connection,
            ["Reports__Demo"] = "false",
            ["Reports__AdminKey"] = ReportsApp.AdminKey,
        };
        var (first, _) = await ReportsProcess.ServeAsync(settings);
        await first.DisposeAsync();
        await using (var database = new NpgsqlConnection(connection))
        {
            await database.OpenAsync(ct);
            // As Hangfire writes it while the schedule of the sweep is being written.
            await using var leave = new NpgsqlCommand(
                "insert into hangfire.lock (resource, acquired) values ('hangfire:lock:recurring-job:sweep', now() at time zone 'utc')",
                database
            );
            Assert.Equal(1, await leave.ExecuteNonQueryAsync(ct));
        }

        var (second, address) = await ReportsProcess.ServeAsync(settings);
        await using var service = second;
        using var http = new HttpClient { BaseAddress = address };
        using var ready = await http.GetAsync(new Uri("/health/ready", UriKind.Relative), ct);
        Assert.True(ready.IsSuccessStatusCode);
        // Longer than Hangfire waits for the lock.
        await Task.Delay(TimeSpan.FromSeconds(20), ct);
        using var still = await http.GetAsync(new Uri("/health/ready", UriKind.Relative), ct);
        Assert.True(still.IsSuccessStatusCode);
        Assert.Contains("is locked", second.Output, StringComparison.Ordinal);
    }
}
