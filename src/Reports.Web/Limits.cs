using System.Collections.Concurrent;
using System.Globalization;
using System.Net;
using System.Net.Sockets;
using System.Security.Claims;
using Reports.Web.Api.V1;

namespace Reports.Web;

/// <summary>
/// How much one client may ask for: requests a minute per key in force, or per address without one; and keys that are none a
/// minute per address, so that nobody tries keys out at the database's expense. No limit set: neither is limited.
/// </summary>
public sealed class Limits(Settings settings, TimeProvider time)
{
    /// <summary>Unknown keys a minute from one address: far above a slip while copying, far below a search.</summary>
    public const int MostFailures = 20;

    /// <summary>A boat's phone on a thread of signal is slow; who trickles is not one.</summary>
    public const int LeastBytesPerSecond = 240;

    private static readonly TimeSpan Window = TimeSpan.FromMinutes(1);
    private readonly ConcurrentDictionary<string, Count> counts = [];
    private long sweptTicks;

    /// <summary>
    /// The RateLimit and Retry-After headers of draft-ietf-httpapi-ratelimit-headers, and 429 for who has used up the minute.
    /// </summary>
    public async Task LimitAsync(HttpContext http, RequestDelegate next)
    {
        if (settings.RateLimit is not { } quota || http.Request.Path.StartsWithSegments("/health"))
        {
            await next(http);
            return;
        }

        var client = http.User.FindFirstValue(ClaimTypes.NameIdentifier) is { } id ? $"key {id}" : Address(http);
        var (used, reset) = Take(client);

        // Whatever answers in the end, an error page too.
        http.Response.OnStarting(() =>
        {
            var headers = http.Response.Headers;
            headers["RateLimit-Policy"] = Text($"\"default\";q={quota};w={(int)Window.TotalSeconds}");
            headers["RateLimit"] = Text($"\"default\";r={Math.Max(0, quota - used)};t={reset}");
            return Task.CompletedTask;
        });
        if (http.Features.Get<TooManyFailures>() is { } failures)
        {
            await RefuseAsync(
                http,
                failures.RetryAfter,
                "Too many requests with keys that are not in force came from this address."
            );
        }
        else if (used > quota)
        {
            await RefuseAsync(http, reset, $"A client may send {quota} requests a minute.");
        }
        else
        {
            await next(http);
        }
    }

    /// <summary>Whether the request's address may still try a key that is not known; if not, it is answered 429.</summary>
    public bool MayTry(HttpContext http)
    {
        if (
            settings.RateLimit is null
            || !counts.TryGetValue(Failures(http), out var count)
            || count.Of(time.GetUtcNow()) is not (>= MostFailures, var reset)
        )
        {
            return true;
        }

        http.Features.Set(new TooManyFailures(reset));
        return false;
    }

    /// <summary>The request's key was none.</summary>
    public void Failed(HttpContext http)
    {
        if (settings.RateLimit is not null)
        {
            Take(Failures(http));
        }
    }

    private static Task RefuseAsync(HttpContext http, int seconds, string detail)
    {
        http.Response.Headers.RetryAfter = Text($"{seconds}");
        return Problems
            .Of(StatusCodes.Status429TooManyRequests, "too-many-requests", "Too many requests.", detail)
            .ExecuteAsync(http);
    }

    private static string Failures(HttpContext http) => "failures " + Address(http);

    /// <summary>The client's address; of IPv6 its network, because one client has all the addresses of one.</summary>
    private static string Address(HttpContext http)
    {
        var address = http.Connection.RemoteIpAddress ?? IPAddress.None;
        if (address.IsIPv4MappedToIPv6)
        {
            address = address.MapToIPv4();
        }

        return address.AddressFamily == AddressFamily.InterNetworkV6
            ? Convert.ToHexString(address.GetAddressBytes().AsSpan(0, 8))
            : address.ToString();
    }

    private static string Text(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);

    /// <summary>Counts one; how many it makes in this window, and whole seconds until the next.</summary>
    private (int Used, int Reset) Take(string client)
    {
        var now = time.GetUtcNow();
        Sweep(now);
        return counts.GetOrAdd(client, _ => new Count(now)).Add(now);
    }

    /// <summary>Forgets, once a window, clients that have gone.</summary>
    private void Sweep(DateTimeOffset now)
    {
        var swept = Interlocked.Read(ref sweptTicks);
        if (
            now.UtcTicks - swept < Window.Ticks
            || Interlocked.CompareExchange(ref sweptTicks, now.UtcTicks, swept) != swept
        )
        {
            return;
        }

        foreach (var (client, count) in counts)
        {
            if (count.IsOver(now))
            {
                counts.TryRemove(new(client, count));
            }
        }
    }

    private sealed record TooManyFailures(int RetryAfter);

    /// <summary>A client's fixed window, opened by its first request.</summary>
    private sealed class Count(DateTimeOffset opened)
    {
        private readonly Lock door = new();
        private DateTimeOffset opened = opened;
        private int used;

        public bool IsOver(DateTimeOffset now)
        {
            lock (door)
            {
                return now - opened >= Window;
            }
        }

        public (int Used, int Reset) Of(DateTimeOffset now)
        {
            lock (door)
            {
                return now - opened >= Window
                    ? (0, (int)Window.TotalSeconds)
                    : (used, (int)Math.Ceiling((opened + Window - now).TotalSeconds));
            }
        }

        public (int Used, int Reset) Add(DateTimeOffset now)
        {
            lock (door)
            {
                if (now - opened >= Window)
                {
                    (opened, used) = (now, 0);
                }

                used++;
                return Of(now);
            }
        }
    }
}
