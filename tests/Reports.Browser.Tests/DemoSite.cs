using Microsoft.AspNetCore.Hosting;
using Microsoft.AspNetCore.Mvc.Testing;
using Microsoft.Data.Sqlite;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Logging;
using Microsoft.Playwright;
using Reports.Storage;
using Reports.Web;

namespace Reports.Browser.Tests;

/// <summary>The demo coast on a real port, on an embedded database of its own, and one browser to look at it.</summary>
public sealed class DemoSite : WebApplicationFactory<Program>, IAsyncLifetime
{
    private readonly string dataPath = Directory.CreateTempSubdirectory("reports-browser-").FullName;
    private IPlaywright playwright = null!;
    private IBrowser browser = null!;

    public async ValueTask InitializeAsync()
    {
        UseKestrel(0);
        StartServer();
        playwright = await Playwright.CreateAsync();
        browser = await playwright.Chromium.LaunchAsync(
            new()
            {
                ExecutablePath = Environment.GetEnvironmentVariable("CHROMIUM") ?? "/usr/bin/chromium",
                ChromiumSandbox = false,
                Args =
                [
                    "--disable-gpu",
                    "--disable-quic",
                    "--no-first-run",
                    "--disable-background-networking",
                    "--disable-component-update",
                    "--disable-sync",
                ],
            }
        );
    }

    /// <summary>A window of its own, without cookies; what its pages complain of is gathered.</summary>
    public async Task<Visitor> VisitAsync(
        int width,
        int height,
        ColorScheme scheme = ColorScheme.Light,
        bool script = true
    )
    {
        var context = await browser.NewContextAsync(
            new()
            {
                BaseURL = ClientOptions.BaseAddress.ToString(),
                ViewportSize = new() { Width = width, Height = height },
                ColorScheme = scheme,
                JavaScriptEnabled = script,
            }
        );
        return new Visitor(context, await context.NewPageAsync());
    }

    public override async ValueTask DisposeAsync()
    {
        await browser.DisposeAsync();
        playwright.Dispose();
        var file = Services.GetRequiredService<Settings>().SqliteFile;
        await base.DisposeAsync();
        await using (var connection = new SqliteConnection(SqliteReportsDbContext.ConnectionString(file)))
        {
            SqliteConnection.ClearPool(connection);
        }

        Directory.Delete(dataPath, recursive: true);
    }

    protected override void ConfigureWebHost(IWebHostBuilder builder)
    {
        builder.UseSetting("Reports:DataPath", dataPath);
        builder.UseSetting("Reports:Demo", "true");
        builder.UseSetting("Reports:RateLimit", "off");
        builder.ConfigureLogging(logging => logging.ClearProviders());
    }
}

/// <summary>One window and what its pages complained of: console errors, blocked content, refused requests.</summary>
public sealed class Visitor : IAsyncDisposable
{
    private static readonly string Screens = Path.Combine(AppContext.BaseDirectory, "TestResults", "screens");

    private readonly IBrowserContext context;
    private readonly List<string> complaints = [];

    public Visitor(IBrowserContext context, IPage page)
    {
        this.context = context;
        Page = page;
        page.Console += (_, message) =>
        {
            if (message.Type is "error" or "warning")
            {
                complaints.Add(message.Text);
            }
        };
        page.PageError += (_, error) => complaints.Add(error);
        page.Response += (_, answer) =>
        {
            if (answer.Status >= 400)
            {
                complaints.Add($"{answer.Status}: {answer.Url}");
            }
        };
    }

    public IPage Page { get; }

    public IReadOnlyList<string> Complaints => complaints;

    public async Task OpenAsync(string path)
    {
        var answer = await Page.GotoAsync(path);
        Assert.NotNull(answer);
        Assert.True(answer.Ok, $"{path}: {answer.Status}");
    }

    /// <summary>The whole page as a picture, kept for looking at.</summary>
    public Task ShotAsync(string name) =>
        Page.ScreenshotAsync(new() { Path = Path.Combine(Screens, name + ".png"), FullPage = true });

    public ValueTask DisposeAsync() => context.DisposeAsync();
}
