using System.Diagnostics;
using System.Globalization;
using System.Net.Http.Headers;
using System.Text;
using System.Text.Json.Nodes;
using Microsoft.EntityFrameworkCore;
using Npgsql;
using Reports.Storage;

namespace Reports.Benchmarks;

/// <summary>
/// How fast reports come in, beside what the same PostgreSQL does bare: batches of 1,000 beside a binary COPY of the same rows into
/// the same tables, and single posts of 64 connections beside pgbench's single-row inserts into a copy of the version table. The
/// rounds are interleaved, so that a busy machine slows both; what counts is the ratio.
/// </summary>
internal static class Ingest
{
    private const string Key = "the-administrator-of-the-measurement-0123456789";
    private const int Boats = 200;
    private const int BatchSize = 1000;
    private const int BatchesPerRound = 4;
    private const int Connections = 64;
    private const int Rounds = 5;
    private static readonly TimeSpan SinglesPerRound = TimeSpan.FromSeconds(3);

    private static int drawn;

    public static async Task<int> RunAsync(string[] words)
    {
        if (words is not ["--postgres", var connection, "--service", var program])
        {
            await Console.Error.WriteLineAsync(
                "ingest --postgres CONN --service DLL    an empty database of a server with fsync and synchronous_commit on; the built Reports.Web.dll"
            );
            return 2;
        }

        using var service = await StartAsync(connection, program);
        try
        {
            using var http = new HttpClient(new SocketsHttpHandler { MaxConnectionsPerServer = Connections })
            {
                BaseAddress = new Uri("http://127.0.0.1:5990"),
            };
            http.DefaultRequestHeaders.Authorization = new AuthenticationHeaderValue("Bearer", Key);
            await PutCoastAsync(http, connection);
            await using var db = new PostgresReportsDbContext(
                new DbContextOptionsBuilder<PostgresReportsDbContext>().UseNpgsql(connection).Options
            );
            var batches = new List<(double Ours, double Bare)>();
            var singles = new List<(double Ours, double Bare)>();
            for (var round = 0; round <= Rounds; round++)
            {
                var batch = (await BatchesAsync(http), await CopyAsync(db));
                var single = (await SinglesAsync(http), await PgbenchAsync(connection));

                // The first round warms up.
                if (round > 0)
                {
                    batches.Add(batch);
                    singles.Add(single);
                    Show($"round {round}, batches, rows/s", batch);
                    Show($"round {round}, singles, posts/s", single);
                }
            }

            Show("median, batches beside COPY", Median(batches));
            Show("median, singles beside pgbench", Median(singles));
            return 0;
        }
        finally
        {
            service.Kill();
            await service.WaitForExitAsync();
        }
    }

    private static (double, double) Median(List<(double Ours, double Bare)> rounds) =>
        rounds.OrderBy(r => r.Ours / r.Bare).ElementAt(rounds.Count / 2);

    private static void Show(string what, (double Ours, double Bare) pair) =>
        Console.WriteLine(
            string.Create(
                CultureInfo.InvariantCulture,
                $"{what}: {pair.Ours:0} beside {pair.Bare:0}, ratio {pair.Ours / pair.Bare:0.00}"
            )
        );

    private static async Task<Process> StartAsync(string connection, string program)
    {
        var start = new ProcessStartInfo("dotnet", [program, "--urls", "http://127.0.0.1:5990"])
        {
            RedirectStandardOutput = true,
        };
        start.Environment["ConnectionStrings__Reports"] = connection;
        start.Environment["Reports__AdminKey"] = Key;
        start.Environment["Reports__Demo"] = "false";
        start.Environment["Reports__RateLimit"] = "off";
        var service = Process.Start(start)!;
        while (await service.StandardOutput.ReadLineAsync() is { } line)
        {
            if (line.StartsWith("Railside answers", StringComparison.Ordinal))
            {
                return service;
            }
        }

        throw new InvalidOperationException("The service ended before it answered.");
    }

    private static async Task PutCoastAsync(HttpClient http, string connection)
    {
        await PutAsync(http, "landings/corran-quay", """{"name":"Corran Quay","timeZone":"UTC"}""");
        await PutAsync(
            http,
            "zones/cannery-bank",
            """{"name":"Cannery Bank","area":{"type":"Polygon","coordinates":[[[170,-45],[171,-45],[171,-44],[170,-44],[170,-45]]]},"reach":[]}"""
        );
        await PutAsync(
            http,
            "species/SBF",
            """{"name":"southern bluefin","scientificName":"Thunnus maccoyii","kind":"catch"}"""
        );
        await PutAsync(
            http,
            "species/PIL",
            """{"name":"sardine","scientificName":"Sardina pilchardus","kind":"bait"}"""
        );
        for (var boat = 0; boat < Boats; boat++)
        {
            await PutAsync(http, $"boats/auk-{boat}", $$"""{"name":"auk {{boat}}","landing":"corran-quay"}""");
        }

        await using var database = new NpgsqlConnection(connection);
        await database.OpenAsync();
        await using var command = database.CreateCommand();
        command.CommandText = "CREATE TABLE bare_versions (LIKE report_versions INCLUDING ALL)";
        await command.ExecuteNonQueryAsync();
    }

    private static async Task PutAsync(HttpClient http, string path, string body)
    {
        using var content = new StringContent(body, Encoding.UTF8, "application/json");
        using var answer = await http.PutAsync("/api/v1/" + path, content);
        answer.EnsureSuccessStatusCode();
    }

    /// <summary>A report of the contract's example's size, of a boat, day and sailing that were not drawn before.</summary>
    private static JsonObject Draw()
    {
        var n = Interlocked.Increment(ref drawn);
        var day = new DateOnly(2020, 1, 1).AddDays(n / (Boats * 9));
        return JsonNode
            .Parse(
                $$"""
                {"boat":"auk-{{n % Boats}}","zone":"cannery-bank","fishedOn":"{{day.ToString(
                    "yyyy-MM-dd",
                    CultureInfo.InvariantCulture
                )}}",
                 "sailing":{{(n / Boats % 9)
                    + 1}},"tripDays":1,"status":"final","anglers":24,"hours":6.5,"bite":"picky",
                 "units":{"weight":"lb","length":"in"},
                 "catch":[{"species":"SBF","kept":{{20
                    + (n % 17)}},"released":4,"smallest":18,"largest":42,"anglersWithFish":14,"topRod":4}],
                 "bait":{"species":"PIL","shortest":4,"longest":5},
                 "rigs":[{"species":"SBF","technique":"fly-line","lineClass":30,"leader":{"material":"fluorocarbon","test":30},
                          "hook":{"style":"circle","size":"1/0"},"rods":9,"hooked":14,"landed":12,"winning":true}],"note":""}
                """
            )!
            .AsObject();
    }

    private static async Task<double> BatchesAsync(HttpClient http)
    {
        var bodies = Enumerable
            .Range(0, BatchesPerRound)
            .Select(_ =>
                new JsonObject
                {
                    ["reports"] = new JsonArray([
                        .. Enumerable
                            .Range(0, BatchSize)
                            .Select(_ => new JsonObject
                            {
                                ["idempotencyKey"] = Guid.NewGuid().ToString(),
                                ["report"] = Draw(),
                            }),
                    ]),
                }.ToJsonString()
            )
            .ToList();
        var clock = Stopwatch.StartNew();
        foreach (var body in bodies)
        {
            using var content = new StringContent(body, Encoding.UTF8, "application/json");
            using var answer = await http.PostAsync("/api/v1/reports/batch", content);
            var text = await answer.Content.ReadAsStringAsync();
            if (text.Split("\"status\":201").Length != BatchSize + 1)
            {
                throw new InvalidOperationException($"Not all were stored: {text[..Math.Min(400, text.Length)]}");
            }
        }

        return BatchesPerRound * BatchSize / clock.Elapsed.TotalSeconds;
    }

    /// <summary>Rows as the batches stored them, under ids, keys and days of their own; a transaction per 1,000.</summary>
    private static async Task<double> CopyAsync(PostgresReportsDbContext db)
    {
        var example = await db.ReportVersions.AsNoTracking().OrderByDescending(v => v.ReportId).FirstAsync();
        var sets = Enumerable
            .Range(0, BatchesPerRound)
            .Select(_ =>
                Enumerable
                    .Range(0, BatchSize)
                    .Select(_ =>
                    {
                        var n = Interlocked.Increment(ref drawn);
                        var head = new ReportRow
                        {
                            Id = Guid.CreateVersion7().ToString("N"),
                            Boat = $"auk-{n % Boats}",
                            Zone = example.Zone,
                            FishedOn = new DateOnly(2020, 1, 1).AddDays(n / (Boats * 9)),
                            Sailing = (n / Boats % 9) + 1,
                            Version = 1,
                            State = example.State,
                        };
                        return (
                            Head: head,
                            Version: new ReportVersionRow
                            {
                                ReportId = head.Id,
                                Version = 1,
                                StoredAt = DateTimeOffset.UtcNow,
                                Boat = head.Boat,
                                Zone = head.Zone,
                                FishedOn = head.FishedOn,
                                State = head.State,
                                Body = example.Body,
                                Measures = example.Measures,
                                Credential = example.Credential,
                                IdempotencyKey = Guid.NewGuid(),
                                RequestHash = example.RequestHash,
                            }
                        );
                    })
                    .ToList()
            )
            .ToList();
        var clock = Stopwatch.StartNew();
        foreach (var set in sets)
        {
            await using var transaction = await db.Database.BeginTransactionAsync();
            await db.InsertAllAsync([.. set.Select(r => r.Head)], CancellationToken.None);
            await db.InsertAllAsync([.. set.Select(r => r.Version)], CancellationToken.None);
            await transaction.CommitAsync();
        }

        return BatchesPerRound * BatchSize / clock.Elapsed.TotalSeconds;
    }

    private static async Task<double> SinglesAsync(HttpClient http)
    {
        var clock = Stopwatch.StartNew();
        var posted = 0;
        await Task.WhenAll(
            Enumerable
                .Range(0, Connections)
                .Select(async _ =>
                {
                    while (clock.Elapsed < SinglesPerRound)
                    {
                        using var request = new HttpRequestMessage(HttpMethod.Post, "/api/v1/reports");
                        request.Headers.Add("Idempotency-Key", Guid.NewGuid().ToString());
                        request.Content = new StringContent(Draw().ToJsonString(), Encoding.UTF8, "application/json");
                        using var answer = await http.SendAsync(request);
                        answer.EnsureSuccessStatusCode();
                        Interlocked.Increment(ref posted);
                    }
                })
        );
        return posted / clock.Elapsed.TotalSeconds;
    }

    private static async Task<double> PgbenchAsync(string connection)
    {
        var server = new NpgsqlConnectionStringBuilder(connection);
        var script = Path.GetTempFileName();
        await File.WriteAllTextAsync(
            script,
            """
            INSERT INTO bare_versions SELECT replace(gen_random_uuid()::text, '-', ''), 1, now(), 'auk-1', 'cannery-bank', '2020-01-01', 'Counted', repeat('x', 900), '{"boat":"auk-1","zone":"cannery-bank","fishedOn":"2020-01-01","sailing":1,"daysCovered":1,"anglers":24,"givenIn":"lb","catch":[],"bait":[],"rigs":[]}', 'bootstrap', gen_random_uuid(), '\x00112233445566778899aabbccddeeff00112233445566778899aabbccddeeff';
            """
        );
        var start = new ProcessStartInfo(
            "pgbench",
            [
                "-n",
                "-M",
                "prepared",
                "-c",
                $"{Connections}",
                "-j",
                "2",
                "-T",
                $"{(int)SinglesPerRound.TotalSeconds}",
                "-f",
                script,
                "-h",
                server.Host!,
                "-p",
                $"{server.Port}",
                "-U",
                server.Username!,
                server.Database!,
            ]
        )
        {
            RedirectStandardOutput = true,
        };
        using var pgbench = Process.Start(start)!;
        var output = await pgbench.StandardOutput.ReadToEndAsync();
        await pgbench.WaitForExitAsync();
        File.Delete(script);
        var told = output.Split('\n').Single(l => l.StartsWith("tps", StringComparison.Ordinal));
        return double.Parse(told.Split(' ')[2], CultureInfo.InvariantCulture);
    }
}
