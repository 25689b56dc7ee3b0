using System.Diagnostics;
using System.Net;
using System.Net.Sockets;
using System.Text;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Processes;

/// <summary>On a real socket: who trickles is cut off, who is merely slow is not, and nobody else waits for either.</summary>
public sealed class SlowClientTests
{
    private const int TimeoutSeconds = 2;

    /// <summary>The server looks once a second, and this machine may be busy.</summary>
    private static readonly TimeSpan CutOffBy = TimeSpan.FromSeconds(TimeoutSeconds + 8);

    private static readonly TimeSpan Pause = TimeSpan.FromMilliseconds(50);

    [Fact]
    public async Task Who_trickles_is_cut_off_and_the_others_are_served_meanwhile()
    {
        var data = Directory.CreateTempSubdirectory("reports-").FullName;
        try
        {
            var (process, address) = await ReportsProcess.ServeAsync(
                new()
                {
                    ["Reports__DataPath"] = data,
                    ["Reports__AdminKey"] = ReportsApp.AdminKey,
                    ["Reports__ClientTimeout"] = $"{TimeoutSeconds}",
                }
            );
            await using var service = process;
            using var http = new HttpClient { BaseAddress = address };
            var fleet = new Fleet(http);
            await fleet.PutCoastAsync();
            await fleet.SubmitReportAsync(
                ReportBody.Short(Fleet.Petrel, DateOnly.FromDateTime(DateTime.UtcNow).AddDays(-1))
            );

            // Twenty of each kind, none of which ever ends by itself.
            var endless = new string('x', 100_000);
            var headers = $"GET /api/v1/zones HTTP/1.1\r\nHost: boat\r\nX-Slow: {endless}";
            string Body(string path, string type) =>
                $"POST {path} HTTP/1.1\r\nHost: boat\r\nAuthorization: Bearer {ReportsApp.AdminKey}\r\n"
                + $"Idempotency-Key: {Guid.NewGuid()}\r\nContent-Type: {type}\r\nContent-Length: 100000\r\n\r\n";
            var report = Body("/api/v1/reports", "application/json");
            var file = Body("/api/v1/reports/import", "text/csv");
            var trickles = Enumerable
                .Range(0, 20)
                .SelectMany(_ =>
                    new[]
                    {
                        TrickleAsync(address, 0, headers),
                        TrickleAsync(address, report.Length, report + endless),
                        TrickleAsync(address, file.Length, file + endless),
                    }
                )
                .ToList();
            var slow = SlowButHonestAsync(address);

            var all = Task.WhenAll(trickles);
            var served = 0;
            while (!all.IsCompleted)
            {
                var day = DateOnly.FromDateTime(DateTime.UtcNow).AddDays(-2 - served);
                await fleet.SubmitReportAsync(ReportBody.Short(Fleet.Petrel, day));
                served++;
                await Task.Delay(Pause, TestContext.Current.CancellationToken);
            }

            Assert.All(
                await all,
                t =>
                {
                    Assert.True(
                        t.Answer.Length == 0 || t.Answer.StartsWith("HTTP/1.1 408 ", StringComparison.Ordinal),
                        t.Answer
                    );
                    Assert.InRange(t.After, TimeSpan.FromSeconds(1), CutOffBy);
                }
            );
            Assert.Contains(
                await all,
                t => t.Answer.Contains("urn:railside:problem:too-slow", StringComparison.Ordinal)
            );
            Assert.True(served >= 3, $"only {served} reports were taken meanwhile");
            Assert.StartsWith("HTTP/1.1 201 ", await slow, StringComparison.Ordinal);
            using var list = await fleet.GetAsync("/api/v1/reports?limit=500", ReportsApp.AdminKey);
            Assert.Equal(served + 2, (await list.JsonAsync())["items"]!.AsArray().Count);

            // Their affair, no error of the service.
            Assert.DoesNotContain("fail:", process.Output, StringComparison.Ordinal);
        }
        finally
        {
            Directory.Delete(data, recursive: true);
        }
    }

    /// <summary>Sends the first bytes at once and the others one by one, until the server has enough of it.</summary>
    private static async Task<(string Answer, TimeSpan After)> TrickleAsync(Uri address, int atOnce, string text)
    {
        using var client = await ConnectAsync(address);
        var stream = client.GetStream();
        var bytes = Encoding.ASCII.GetBytes(text);
        var watch = Stopwatch.StartNew();
        await stream.WriteAsync(bytes.AsMemory(0, atOnce));
        var answer = AnswerAsync(stream);
        try
        {
            for (var i = atOnce; !answer.IsCompleted; i++)
            {
                await stream.WriteAsync(bytes.AsMemory(i, 1));
                await Task.WhenAny(answer, Task.Delay(Pause));
                Assert.True(watch.Elapsed < CutOffBy + CutOffBy, "it trickles for ever");
            }
        }
        catch (IOException)
        {
            // Closed while we wrote.
        }

        return (await answer, watch.Elapsed);
    }

    /// <summary>A report, most of it blanks, at ten times the least rate (this machine may be busy) for twice the time of grace.</summary>
    private static async Task<string> SlowButHonestAsync(Uri address)
    {
        using var client = await ConnectAsync(address);
        var stream = client.GetStream();
        var yesterday = DateOnly.FromDateTime(DateTime.UtcNow).AddDays(-1);
        var body = ReportBody.Short(Fleet.Tern, yesterday).ToJsonString().PadRight(2 * TimeoutSeconds * 2400);
        await stream.WriteAsync(
            Encoding.ASCII.GetBytes(
                $"POST /api/v1/reports HTTP/1.1\r\nHost: boat\r\nAuthorization: Bearer {ReportsApp.AdminKey}\r\n"
                    + $"Idempotency-Key: {Guid.NewGuid()}\r\nContent-Type: application/json\r\n"
                    + $"Content-Length: {body.Length}\r\nConnection: close\r\n\r\n"
            )
        );
        foreach (var piece in Encoding.ASCII.GetBytes(body).Chunk(240))
        {
            await stream.WriteAsync(piece);
            await Task.Delay(2 * Pause);
        }

        return await AnswerAsync(stream);
    }

    private static async Task<TcpClient> ConnectAsync(Uri address)
    {
        var client = new TcpClient();
        await client.ConnectAsync(IPAddress.Loopback, address.Port);
        client.NoDelay = true;
        return client;
    }

    /// <summary>What comes until the server closes; nothing where it resets the connection.</summary>
    private static async Task<string> AnswerAsync(NetworkStream stream)
    {
        using var reader = new StreamReader(stream, Encoding.UTF8, leaveOpen: true);
        try
        {
            return await reader.ReadToEndAsync();
        }
        catch (IOException)
        {
            return "";
        }
    }
}
