using Reports.Storage;
using Reports.Web;

if (CommandLine.Parse(args) is not { } command)
{
    await Console.Error.WriteLineAsync(CommandLine.Usage);
    return Verbs.Misused;
}

// Content beside the program, whatever the working directory.
var builder = WebApplication.CreateBuilder(
    new WebApplicationOptions { Args = command.Options, ContentRootPath = AppContext.BaseDirectory }
);
var (settings, faults) = Settings.Read(builder.Configuration);
if (settings is null || (command.Verb is Verb.Worker or Verb.Web && settings.Postgres is null))
{
    var told = settings is not null
        ? ["web and worker share work through PostgreSQL: set ConnectionStrings__Reports, or start without a verb."]
        : faults;
    await Console.Error.WriteLineAsync("Reports can't start:\n  " + string.Join("\n  ", told));
    return Verbs.Misused;
}

builder.Configuration["urls"] ??= command.Verb == Verb.Worker ? "http://127.0.0.1:5081" : "http://127.0.0.1:5080";
builder.Host.UseDefaultServiceProvider(provider => (provider.ValidateOnBuild, provider.ValidateScopes) = (true, true));
builder.Logging.AddFilter("Microsoft.EntityFrameworkCore", LogLevel.Warning);
builder.Logging.AddFilter("Microsoft.AspNetCore", LogLevel.Warning);
builder.Logging.AddFilter("Hangfire", LogLevel.Warning);

builder.Services.AddSingleton(settings);
builder.Services.AddSingleton(TimeProvider.System);
builder.Services.AddReportsStorage(settings.Postgres, settings.SqliteFile);
builder.Services.AddApi();
builder.Services.AddLimits(settings);
builder.Services.AddJobs(settings, runs: command.Verb is Verb.All or Verb.Worker);
builder.Services.AddHealth();
builder.Services.AddPages();

var app = builder.Build();
string? demoKey;
try
{
    if (command.Verb is Verb.Migrate)
    {
        return await Verbs.MigrateAsync(app.Services);
    }

    if (command.Verb is Verb.Key)
    {
        return await Verbs.KeyAsync(app.Services, command.Words);
    }

    if (command.Verb is Verb.Import)
    {
        return await Verbs.ImportAsync(app.Services, command);
    }

    demoKey = await app.PrepareAsync(settings, command.Verb);
}
catch (Exception e) when (Verbs.OperatorsFault(e) is { } fault)
{
    // The operator's to mend, so told in a line; a fault of the program keeps its trace.
    await Console.Error.WriteLineAsync("Reports can't start:\n  " + fault);
    return Verbs.Failed;
}

app.UsePageHeaders();
app.UseErrors();
app.UseApiProblems();
app.UseAuthentication();
app.UseLimits();
app.UsePageCache();
app.UseAuthorization();
app.MapHealth();
if (command.Verb is not Verb.Worker)
{
    app.MapApi();
    app.MapPages();
}

await app.StartAsync();
Console.WriteLine($"Railside answers at {string.Join(" ", app.Urls)}");
if (demoKey is not null)
{
    Console.WriteLine($"Demo data of an invented coast. API key for trying things: {demoKey}");
}

await app.WaitForShutdownAsync();
return Verbs.Good;

public partial class Program;
