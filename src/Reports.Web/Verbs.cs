using System.Data.Common;
using System.Globalization;
using System.Text.Json;
using System.Text.Json.Nodes;
using Microsoft.EntityFrameworkCore;
using Reports.Domain.Coast;
using Reports.Domain.Reporting;
using Reports.Storage;
using Reports.Web.Api.V1;

namespace Reports.Web;

/// <summary>The verbs that do one thing and end. Each answers a process exit code.</summary>
public static class Verbs
{
    public const int Good = 0;
    public const int Failed = 1;
    public const int Misused = 2;
    private const string ImportId = "import";

    /// <summary>What the operator has to mend (a database that is away, refuses, has another version, or keeps nothing safe); null for our own faults.</summary>
    public static string? OperatorsFault(Exception exception)
    {
        for (var e = exception; e is not null; e = e.InnerException)
        {
            if (e is DbException or NotMigratedException or UnsafeDatabaseException)
            {
                return e.Message;
            }
        }

        return null;
    }

    public static async Task<int> MigrateAsync(IServiceProvider services)
    {
        await using var scope = services.CreateAsyncScope();
        Directory.CreateDirectory(scope.ServiceProvider.GetRequiredService<Settings>().DataPath);
        var db = scope.ServiceProvider.GetRequiredService<ReportsDbContext>();
        var pending = (await db.Database.GetPendingMigrationsAsync()).ToList();
        await db.Database.MigrateAsync();
        Console.WriteLine(
            pending.Count == 0 ? "The database is up to date." : $"Applied: {string.Join(", ", pending)}."
        );
        return Good;
    }

    public static async Task<int> KeyAsync(IServiceProvider services, string[] words)
    {
        await using var scope = services.CreateAsyncScope();
        Directory.CreateDirectory(scope.ServiceProvider.GetRequiredService<Settings>().DataPath);
        await scope.ServiceProvider.GetRequiredService<ReportsDbContext>().Database.MigrateAsync();
        var keys = scope.ServiceProvider.GetRequiredService<KeyStore>();
        switch (words)
        {
            case ["create", _, _] or ["create", _, _, _]:
                return await CreateAsync(scope.ServiceProvider, keys, words[1..]);
            case ["list"]:
                foreach (var key in await keys.ListAsync(CancellationToken.None))
                {
                    var state = key.RevokedAt is { } at ? "revoked " + At(at) : "in force";
                    var used = key.LastUsedAt is { } last ? "last used " + At(last) : "not used yet";
                    Console.WriteLine(
                        $"{key.Id}  {key.Scope.Word()}{(key.Owner is null ? "" : " " + key.Owner)}  \"{key.Name}\"  made {At(key.CreatedAt)}  {used}  {state}"
                    );
                }

                return Good;
            case ["revoke", var id]:
                if (await keys.RevokeAsync(id, CancellationToken.None))
                {
                    Console.WriteLine($"Revoked {id}.");
                    return Good;
                }

                await Console.Error.WriteLineAsync($"No key in force has the id \"{id}\".");
                return Failed;
            default:
                await Console.Error.WriteLineAsync(CommandLine.Usage);
                return Misused;
        }
    }

    /// <summary>Imports a CSV file as the operator, who may write every boat. Every error is told, each on a line.</summary>
    public static async Task<int> ImportAsync(IServiceProvider services, CommandLine command)
    {
        var file = command.Words[^1];
        if (!File.Exists(file))
        {
            await Console.Error.WriteLineAsync($"There is no file \"{file}\".");
            return Misused;
        }

        await using var scope = services.CreateAsyncScope();
        var settings = scope.ServiceProvider.GetRequiredService<Settings>();
        Directory.CreateDirectory(settings.DataPath);
        await scope.ServiceProvider.GetRequiredService<ReportsDbContext>().Database.MigrateAsync();

        // A name for the history; no secret opens it.
        var keys = scope.ServiceProvider.GetRequiredService<KeyStore>();
        await keys.SetAsync(ImportId, "import on the server", KeyStore.NewSecret(), CancellationToken.None);
        await keys.SetAsync(ImportId, "", null, CancellationToken.None);
        var options = new ImportOptions(
            command.Switches.Contains(CommandLine.DayFirst),
            command.Switches.Contains(CommandLine.GoodRows),
            command.Switches.Contains(CommandLine.DryRun),
            command.Switches.Contains(CommandLine.Replace)
        );
        CsvImport import = command.Words switch
        {
            [CommandLine.Departures, _] => scope.ServiceProvider.GetRequiredService<DepartureImport>(),
            [CommandLine.Bait, _] => scope.ServiceProvider.GetRequiredService<BaitImport>(),
            _ => scope.ServiceProvider.GetRequiredService<ReportImport>(),
        };
        var result = await import.RunAsync(
            () => File.OpenRead(file),
            options,
            new Credential(ImportId, KeyScope.Admin, null),
            CancellationToken.None
        );
        foreach (var error in result.Errors)
        {
            await Console.Error.WriteLineAsync(
                $"line {error.Line}{(error.Column is null ? "" : ", " + error.Column)}: {error.Detail} ({error.Code})"
            );
        }

        if (result.ErrorCount > result.Errors.Count)
        {
            await Console.Error.WriteLineAsync($"and {result.ErrorCount - result.Errors.Count} more errors");
        }

        var where = settings.Demo ? " of the demo coast (Reports__Demo is true)" : "";
        Console.WriteLine(
            $"{(options.DryRun ? "Would be stored" : "Stored")}: {result.Stored}. Unchanged: {result.Unchanged}. Errors: {result.ErrorCount}. Database{where}: {(settings.Postgres is null ? settings.SqliteFile : "PostgreSQL")}."
        );
        return result.ErrorCount == 0 ? Good : Failed;
    }

    private static async Task<int> CreateAsync(IServiceProvider services, KeyStore keys, string[] words)
    {
        var asked = new JsonObject { ["name"] = words[0], ["scope"] = words[1] };
        if (words.Length == 3)
        {
            asked["owner"] = words[2];
        }

        var register = await services.GetRequiredService<RegisterStore>().LoadAsync(CancellationToken.None);
        var reading = KeyRequest.Read(JsonSerializer.SerializeToElement(asked), register);
        if (reading.Value is not { } request)
        {
            await Console.Error.WriteLineAsync(
                string.Join('\n', reading.Errors.Select(e => $"{e.Pointer.TrimStart('/')}: {e.Detail}"))
            );
            return Failed;
        }

        var (key, secret) = await keys.CreateAsync(request.Name, request.Scope, request.Owner, CancellationToken.None);
        await Console.Error.WriteLineAsync($"Key {key.Id} made. It is shown this once:");
        Console.WriteLine(secret);
        return Good;
    }

    private static string At(DateTimeOffset instant) =>
        instant.ToString("yyyy-MM-dd HH:mm'Z'", CultureInfo.InvariantCulture);
}
