using System.Diagnostics;
using System.Net.Sockets;
using DotNet.Testcontainers.Builders;
using DotNet.Testcontainers.Configurations;
using Npgsql;
using Reports.Web.Tests.Support;
using Testcontainers.PostgreSql;

[assembly: AssemblyFixture(typeof(PostgresServer))]

namespace Reports.Web.Tests.Support;

/// <summary>
/// One PostgreSQL server for the whole run, started when the first test asks for it: the one that REPORTS_TEST_POSTGRES names,
/// else a container where a Docker engine answers, else a private local cluster. Where there is none at all, tests on it are
/// skipped with the reason; under CI=true they fail.
/// </summary>
public sealed class PostgresServer : IAsyncDisposable
{
    private readonly Lazy<Task<string>> administrator;
    private PostgreSqlContainer? container;
    private string? folder;

    public PostgresServer() => administrator = new(StartAsync);

    /// <summary>Makes an empty database; its connection string.</summary>
    public async Task<string> CreateDatabaseAsync()
    {
        var name = "t_" + Guid.NewGuid().ToString("N");
        var server = await administrator.Value;
        await using var connection = new NpgsqlConnection(server);
        await connection.OpenAsync();
        await using var command = connection.CreateCommand();
        command.CommandText = $"CREATE DATABASE {name}";
        await command.ExecuteNonQueryAsync();

        // Many databases share one server's connections.
        return new NpgsqlConnectionStringBuilder(server) { Database = name, MaxPoolSize = 30 }.ToString();
    }

    public async ValueTask DisposeAsync()
    {
        NpgsqlConnection.ClearAllPools();
        if (container is not null)
        {
            await container.DisposeAsync();
        }

        if (folder is not null)
        {
            await ScriptAsync("stop", folder);
        }
    }

    private async Task<string> StartAsync()
    {
        if (Environment.GetEnvironmentVariable("REPORTS_TEST_POSTGRES") is { Length: > 0 } given)
        {
            return given;
        }

        if (DockerAnswers())
        {
            container = new PostgreSqlBuilder("postgres:17-alpine").Build();
            await container.StartAsync();
            return container.GetConnectionString();
        }

        // A short path: the server's socket lies in it.
        var local = Path.Combine(Path.GetTempPath(), "rpg-" + Guid.NewGuid().ToString("N")[..8]);
        var (code, output, errors) = await ScriptAsync("start", local);
        if (code == 0)
        {
            folder = local;
            return output.Trim();
        }

        var reason = $"no PostgreSQL: REPORTS_TEST_POSTGRES is not set, no Docker engine answers, and {errors.Trim()}";
        Assert.False(Environment.GetEnvironmentVariable("CI") == "true", reason);
        Assert.Skip(reason);
        return "";
    }

    private static async Task<(int Code, string Output, string Errors)> ScriptAsync(string verb, string path)
    {
        var start = new ProcessStartInfo("bash", [Path.Combine(Repository.Root, "eng", "pg-temp.sh"), verb, path])
        {
            RedirectStandardOutput = true,
            RedirectStandardError = true,
        };
        using var script = Process.Start(start)!;
        var output = script.StandardOutput.ReadToEndAsync();
        var errors = script.StandardError.ReadToEndAsync();
        await script.WaitForExitAsync();
        return (script.ExitCode, await output, await errors);
    }

    private static bool DockerAnswers()
    {
        try
        {
            if (TestcontainersSettings.OS.DockerEndpointAuthConfig?.Endpoint is not { } endpoint)
            {
                return false;
            }

            var unix = endpoint.Scheme == "unix";
            using var socket = unix
                ? new Socket(AddressFamily.Unix, SocketType.Stream, ProtocolType.Unspecified)
                : new Socket(SocketType.Stream, ProtocolType.Tcp);
            if (unix)
            {
                socket.Connect(new UnixDomainSocketEndPoint(endpoint.AbsolutePath));
            }
            else
            {
                socket.Connect(endpoint.Host, endpoint.Port);
            }

            return true;
        }
        catch (Exception e) when (e is SocketException or DockerUnavailableException)
        {
            return false;
        }
    }
}
