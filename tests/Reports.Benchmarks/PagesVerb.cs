using System.Diagnostics;
using System.Globalization;
using System.Net;
using Microsoft.Playwright;

namespace Reports.Benchmarks;

/// <summary>
/// How fast the public pages are: requests a second and their 99th percentile for a page from the cache and for "you have it
/// already", beside the least that the same server can answer, in interleaved rounds; and, in a real browser slowed to a cheap phone
/// on a poor network, when the largest part of a page is painted.
/// </summary>
internal static class PagesVerb
{
    private const int Connections = 64;
    private const int Rounds = 5;
    private const int Loads = 5;
    private const int Made = 300;
    private const string Page = "/zones/cannery-bank/SBF";
    private static readonly TimeSpan PerRound = TimeSpan.FromSeconds(3);
    private static readonly TimeSpan Still = TimeSpan.FromSeconds(10);
    private static readonly Uri Site = new("http://127.0.0.1:5991");

    /// <summary>Slow 4G: as a line is (150 ms there and back, 1.6 Mbit/s), and as some tools set the browser for it, harder still.</summary>
    private static readonly (string Name, double LatencyMs, double MegabitsPerSecond)[] Networks =
    [
        ("150 ms, 1.6 Mbit/s", 150, 1.6),
        ("562.5 ms, 1.47 Mbit/s", 562.5, 1.47),
    ];

    public static async Task<int> RunAsync(string[] words)
    {
        if (words is not ["--service", var program, "--chromium", var chromium])
        {
            await Console.Error.WriteLineAsync(
                "pages --service DLL --chromium PATH    the built Reports.Web.dll, which serves its demo coast; a Chromium"
            );
            return 2;
        }

        var data = Directory.CreateTempSubdirectory("reports-pages-");
        using var service = await StartAsync(program, data.FullName);
        try
        {
            await LoadAsync();
            await MakeAsync();
            await PaintAsync(chromium);
            return 0;
        }
        finally
        {
            service.Kill();
            await service.WaitForExitAsync();
            data.Delete(recursive: true);
        }
    }

    private static async Task LoadAsync()
    {
        using var http = new HttpClient(
            new SocketsHttpHandler
            {
                MaxConnectionsPerServer = Connections,
                AutomaticDecompression = DecompressionMethods.None,
            }
        )
        {
            BaseAddress = Site,
        };
        http.DefaultRequestHeaders.Add("Accept-Encoding", "br");
        var (tag, length) = await StandingAsync(http);
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{Page}: {length} bytes as br"));
        (string Name, string Path, string? Tag)[] kinds =
        [
            ("from the cache", Page, null),
            ("304", Page, tag),
            ("bare (/health/live)", "/health/live", null),
        ];
        var measured = kinds.ToDictionary(k => k.Name, _ => new List<(double PerSecond, double P99)>());
        for (var round = 0; round <= Rounds; round++)
        {
            foreach (var (name, path, known) in kinds)
            {
                var result = await RoundAsync(http, path, known);

                // The first round warms up.
                if (round > 0)
                {
                    measured[name].Add(result);
                }
            }
        }

        foreach (var (name, rounds) in measured)
        {
            var middle = rounds.OrderBy(r => r.PerSecond).ElementAt(Rounds / 2);
            Console.WriteLine(
                string.Create(
                    CultureInfo.InvariantCulture,
                    $"{name}: {middle.PerSecond:0} requests/s, p99 {middle.P99:0.0} ms"
                )
            );
        }
    }

    /// <summary>The page's tag and bytes, once the service has computed what it starts with and nothing has moved for a while.</summary>
    private static async Task<(string Tag, int Bytes)> StandingAsync(HttpClient http)
    {
        var (tag, same, bytes) = ("", 0, 0);
        while (same < Still.TotalSeconds)
        {
            using var answer = await http.GetAsync(Page);
            bytes = (await answer.Content.ReadAsByteArrayAsync()).Length;
            var now = answer.Headers.ETag?.ToString() ?? "";
            (same, tag) = now.Length > 0 && now == tag ? (same + 1, tag) : (0, now);
            await Task.Delay(TimeSpan.FromSeconds(1));
        }

        return (tag, bytes);
    }

    /// <summary>Pages that are in no cache, one after the other: an address that nobody asked for before is a page of its own.</summary>
    private static async Task MakeAsync()
    {
        using var http = new HttpClient { BaseAddress = Site };
        http.DefaultRequestHeaders.Add("Accept-Encoding", "br");
        foreach (var path in new[] { Page, "/", "/chances", "/record", "/zones" })
        {
            var times = new List<double>();
            for (var i = 0; i < 2 * Made; i++)
            {
                var from = Stopwatch.GetTimestamp();
                using var answer = await http.GetAsync($"{path}?made={i}");
                await answer.EnsureSuccessStatusCode().Content.ReadAsByteArrayAsync();

                // The first half warms up.
                if (i >= Made)
                {
                    times.Add(Stopwatch.GetElapsedTime(from).TotalMilliseconds);
                }
            }

            times.Sort();
            Console.WriteLine(
                string.Create(
                    CultureInfo.InvariantCulture,
                    $"{path}, made anew: median {times[Made / 2]:0.0} ms, p95 {times[(int)(0.95 * Made)]:0.0} ms"
                )
            );
        }
    }

    private static async Task<(double PerSecond, double P99)> RoundAsync(HttpClient http, string path, string? tag)
    {
        var clock = Stopwatch.StartNew();
        var times = await Task.WhenAll(
            Enumerable
                .Range(0, Connections)
                .Select(async _ =>
                {
                    var own = new List<double>();
                    while (clock.Elapsed < PerRound)
                    {
                        var from = Stopwatch.GetTimestamp();
                        using var request = new HttpRequestMessage(HttpMethod.Get, path);
                        if (tag is not null)
                        {
                            request.Headers.TryAddWithoutValidation("If-None-Match", tag);
                        }

                        using var answer = await http.SendAsync(request);
                        await answer.Content.ReadAsByteArrayAsync();
                        if (answer.StatusCode != (tag is null ? HttpStatusCode.OK : HttpStatusCode.NotModified))
                        {
                            throw new InvalidOperationException($"{path}: {answer.StatusCode}");
                        }

                        own.Add(Stopwatch.GetElapsedTime(from).TotalMilliseconds);
                    }

                    return own;
                })
        );
        var all = times.SelectMany(t => t).Order().ToList();
        return (all.Count / clock.Elapsed.TotalSeconds, all[(int)(0.99 * (all.Count - 1))]);
    }

    private static async Task PaintAsync(string chromium)
    {
        using var playwright = await Playwright.CreateAsync();
        await using var browser = await playwright.Chromium.LaunchAsync(
            new()
            {
                ExecutablePath = chromium,
                ChromiumSandbox = false,
                Args = ["--disable-gpu", "--disable-background-networking", "--disable-component-update"],
            }
        );
        foreach (var (name, latency, megabits) in Networks)
        {
            foreach (var path in new[] { "/", Page, "/pack?zone=cannery-bank&species=SBF" })
            {
                var paints = new List<double>();
                for (var load = 0; load < Loads; load++)
                {
                    // A window of its own: nothing is kept from the load before.
                    await using var window = await browser.NewContextAsync(
                        new()
                        {
                            BaseURL = Site.ToString(),
                            ViewportSize = new() { Width = 360, Height = 740 },
                            DeviceScaleFactor = 2,
                        }
                    );
                    var page = await window.NewPageAsync();
                    var cdp = await window.NewCDPSessionAsync(page);
                    await cdp.SendAsync("Network.enable");
                    await cdp.SendAsync(
                        "Network.emulateNetworkConditions",
                        new()
                        {
                            ["offline"] = false,
                            ["latency"] = latency,
                            ["downloadThroughput"] = megabits * 1e6 / 8,
                            ["uploadThroughput"] = 750e3 / 8,
                        }
                    );
                    await cdp.SendAsync("Emulation.setCPUThrottlingRate", new() { ["rate"] = 4 });
                    await page.GotoAsync(path, new() { WaitUntil = WaitUntilState.Load });
                    paints.Add(
                        await page.EvaluateAsync<double>(
                            """
                            () => new Promise(done => new PerformanceObserver(list =>
                              setTimeout(() => done(list.getEntries().at(-1).startTime), 300)
                            ).observe({ type: 'largest-contentful-paint', buffered: true }))
                            """
                        )
                    );
                }

                Console.WriteLine(
                    string.Create(
                        CultureInfo.InvariantCulture,
                        $"{path}, {name}, 4x slower processor: largest paint {paints.Order().ElementAt(Loads / 2):0} ms ({paints.Min():0} to {paints.Max():0})"
                    )
                );
            }
        }
    }

    private static async Task<Process> StartAsync(string program, string data)
    {
        var start = new ProcessStartInfo("dotnet", [program, "--urls", Site.ToString()])
        {
            RedirectStandardOutput = true,
        };
        start.Environment["Reports__DataPath"] = data;
        start.Environment["Reports__Demo"] = "true";
        start.Environment["Reports__RateLimit"] = "off";
        var service = Process.Start(start)!;
        while (await service.StandardOutput.ReadLineAsync() is { } line)
        {
            if (line.Contains("answers at", StringComparison.Ordinal))
            {
                _ = service.StandardOutput.ReadToEndAsync();
                return service;
            }
        }

        throw new InvalidOperationException("The service did not start.");
    }
}
