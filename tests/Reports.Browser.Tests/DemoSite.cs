using Microsoft.AspNetCore.Hosting;
using Microsoft.AspNetCore.Mvc.Testing;
using Microsoft.Data.Sqlite;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Logging;
using Microsoft.Playwright;
using Reports.Storage;
using Reports.Web;

[assembly: AssemblyFixture(typeof(Reports.Browser.Tests.DemoSite))]

namespace Reports.Browser.Tests;

/// <summary>The site on a real port, on an embedded database of its own.</summary>
public class Site : WebApplicationFactory<Program>, IAsyncLifetime
{
    private readonly string dataPath = Directory.CreateTempSubdirectory("reports-browser-").FullName;
    private readonly bool demo;

    protected Site(bool demo) => this.demo = demo;

    /// <summary>A coast on whose register nothing stands yet.</summary>
    public static async Task<Site> EmptyAsync()
    {
        var site = new Site(demo: false);
        await site.InitializeAsync();
        return site;
    }

    public virtual ValueTask InitializeAsync()
    {
        UseKestrel(0);
        StartServer();
        return ValueTask.CompletedTask;
    }

    public override async ValueTask DisposeAsync()
    {
        var file = Services.GetRequiredService<Settings>().SqliteFile;
        await base.DisposeAsync();
        await using (var connection = new SqliteConnection(SqliteReportsDbContext.ConnectionString(file)))
        {
            SqliteConnection.ClearPool(connection);
        }

        Directory.Delete(dataPath, recursive: true);
        GC.SuppressFinalize(this);
    }

    protected override void ConfigureWebHost(IWebHostBuilder builder)
    {
        builder.UseSetting("Reports:DataPath", dataPath);
        builder.UseSetting("Reports:Demo", demo ? "true" : "false");
        builder.UseSetting("Reports:AdminKey", demo ? "" : "the-administrator-of-the-tests-0123456789");
        builder.UseSetting("Reports:RateLimit", "off");
        builder.ConfigureLogging(logging => logging.ClearProviders());
    }
}

/// <summary>The demo coast, shared by all tests, and one browser to look at it.</summary>
public sealed class DemoSite() : Site(demo: true)
{
    private IPlaywright playwright = null!;
    private IBrowser browser = null!;

    public override async ValueTask InitializeAsync()
    {
        await base.InitializeAsync();
        playwright = await Playwright.CreateAsync();
        browser = await playwright.Chromium.LaunchAsync(
            new()
            {
                ExecutablePath = Environment.GetEnvironmentVariable("REPORTS_TEST_CHROMIUM") ?? "/usr/bin/chromium",
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
        bool script = true,
        Site? of = null
    )
    {
        var context = await browser.NewContextAsync(
            new()
            {
                BaseURL = (of ?? this).ClientOptions.BaseAddress.ToString(),
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
        await base.DisposeAsync();
    }
}

/// <summary>One window and what its pages complained of: console errors, blocked content, refused requests.</summary>
public sealed class Visitor : IAsyncDisposable
{
    public static readonly string Screens = Path.Combine(AppContext.BaseDirectory, "TestResults", "screens");

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

    /// <summary>Opens a page whose answer is an error, which by itself is nothing to complain of.</summary>
    public async Task OpenErrorAsync(string path, int status)
    {
        var before = complaints.Count;
        var answer = await Page.GotoAsync(path);
        Assert.Equal(status, answer?.Status);
        complaints.RemoveRange(
            before,
            complaints.FindIndex(before, c => c.StartsWith($"{status}: ", StringComparison.Ordinal)) + 1 - before
        );
        complaints.RemoveAll(c => c.Contains($"status of {status}", StringComparison.Ordinal));
    }

    /// <summary>The whole page as a picture, kept for looking at.</summary>
    public Task ShotAsync(string name) =>
        Page.ScreenshotAsync(new() { Path = Path.Combine(Screens, name + ".png"), FullPage = true });

    public ValueTask DisposeAsync() => context.DisposeAsync();
}
