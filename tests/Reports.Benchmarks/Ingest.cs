using System.Diagnostics;
using System.Globalization;
using System.Net.Http.Headers;
using System.Text;
using Microsoft.Data.Sqlite;
using Microsoft.EntityFrameworkCore;
using Npgsql;
using Reports.Storage;

namespace Reports.Benchmarks;

/// <summary>
/// How fast reports come in, beside what the same database does bare. PostgreSQL: batches of 1,000 beside a binary COPY of the same
/// rows into the same tables, and single posts of 64 connections beside pgbench's single-row inserts into a copy of the version
/// table. SQLite: both beside the same rows inserted into a file with the same tables by one prepared statement each, a transaction
/// per batch or per report. The rounds are interleaved, so that a busy machine slows both; what counts is the ratio.
/// </summary>
internal sealed class Ingest : IAsyncDisposable
{
    private const string Key = "the-administrator-of-the-measurement-0123456789";
    private const int Port = 5990;
    private const int Boats = 200;
    private const int BatchSize = 1000;
    private const int BatchesPerRound = 4;
    private const int Connections = 64;
    private const int Rounds = 7;
    private static readonly TimeSpan SinglesPerRound = TimeSpan.FromSeconds(3);

    /// <summary>The service compiles its hot paths while it is used.</summary>
    private static readonly TimeSpan WarmUp = TimeSpan.FromSeconds(60);

    private static int drawn;

    private readonly Posting posting = new(Port, Key);
    private readonly Process service;
    private readonly HttpClient http;

    private Ingest(Process service)
    {
        this.service = service;
        http = new HttpClient { BaseAddress = new Uri($"http://127.0.0.1:{Port}") };
        http.DefaultRequestHeaders.Authorization = new AuthenticationHeaderValue("Bearer", Key);
    }

    public static async Task<int> RunAsync(string[] words)
    {
        if (words is not [var kind and ("--postgres" or "--sqlite"), var target, "--service", var program, .. var verb])
        {
            await Console.Error.WriteLineAsync(
                """
                ingest --postgres CONN --service DLL [web]    an empty database of a server with fsync and synchronous_commit on
                ingest --sqlite FOLDER --service DLL          an empty folder
                DLL: the built Reports.Web.dll; web: without the jobs, as beside workers, in a database that is migrated
                """
            );
            return 2;
        }

        var postgres = kind == "--postgres";
        var setting = postgres ? ("ConnectionStrings__Reports", target) : ("Reports__DataPath", target);
        await using var ingest = new Ingest(await StartAsync(setting, program, verb));
        await ingest.PutCoastAsync();
        await using var db = postgres
            ? new PostgresReportsDbContext(
                new DbContextOptionsBuilder<PostgresReportsDbContext>().UseNpgsql(target).Options
            )
            : (ReportsDbContext)
                new SqliteReportsDbContext(
                    new DbContextOptionsBuilder<SqliteReportsDbContext>()
                        .UseSqlite(SqliteReportsDbContext.ConnectionString(Path.Combine(target, "reports.db")))
                        .Options
                );
        await ingest.SinglesAsync(WarmUp / 2);
        await ingest.BatchesAsync(WarmUp / 2);
        var example = await db.ReportVersions.AsNoTracking().OrderByDescending(v => v.ReportId).FirstAsync();
        if (postgres)
        {
            await PrepareBareAsync(target);
            await ingest.CompareAsync(
                () => CopyAsync(db, example),
                () => PgbenchAsync(target, OneRow),
                () => PgbenchAsync(target, BothRows)
            );
        }
        else
        {
            await using var bare = await BareFileAsync(target, db);
            await ingest.CompareAsync(
                () => Task.FromResult(InsertSets(bare, example)),
                () => Task.FromResult(InsertSingles(bare, example)),
                null
            );
        }

        return 0;
    }

    public async ValueTask DisposeAsync()
    {
        http.Dispose();
        service.Kill();
        await service.WaitForExitAsync();
        service.Dispose();
    }

    /// <param name="bareBoth">Single inserts into all that a report is stored in, where <paramref name="bareSingles"/> does less.</param>
    private async Task CompareAsync(
        Func<Task<double>> bareBatches,
        Func<Task<double>> bareSingles,
        Func<Task<double>>? bareBoth
    )
    {
        var batches = new List<Pair>();
        var singles = new List<Pair>();
        var both = new List<Pair>();
        for (var round = 1; round <= Rounds; round++)
        {
            batches.Add(await PairAsync(BatchesAsync, bareBatches));
            singles.Add(await PairAsync(() => SinglesAsync(SinglesPerRound), bareSingles));
            Show($"round {round}, batches, reports/s", batches[^1]);
            Show($"round {round}, singles, posts/s  ", singles[^1]);
            if (bareBoth is not null)
            {
                both.Add(singles[^1] with { Bare = await bareBoth() });
                Show($"round {round}, beside both rows   ", both[^1]);
            }
        }

        Show("median, batches", Median(batches));
        Show("median, singles", Median(singles));
        if (both.Count > 0)
        {
            Show("median, singles beside both rows", Median(both));
        }

        var refused = await PairAsync(RefusedAsync, () => Task.FromResult(double.NaN));
        Show("for comparison, the same posts refused for want of a header, posts/s", refused);
    }

    private async Task<Pair> PairAsync(Func<Task<(int Count, TimeSpan Time)>> ours, Func<Task<double>> bare)
    {
        var before = service.TotalProcessorTime;
        var (count, time) = await ours();
        service.Refresh();
        var used = service.TotalProcessorTime - before;
        return new(count / time.TotalSeconds, await bare(), used / count);
    }

    private static Pair Median(List<Pair> rounds) => rounds.OrderBy(r => r.Ratio).ElementAt(rounds.Count / 2);

    private static void Show(string what, Pair pair) =>
        Console.WriteLine(
            string.Create(
                CultureInfo.InvariantCulture,
                $"{what}: {pair.Ours:0} beside {pair.Bare:0}, ratio {pair.Ratio:0.00}; {pair.Used.TotalMicroseconds:0} us of the service's processor each; load {LoadAverage()}"
            )
        );

    private static string LoadAverage() =>
        File.Exists("/proc/loadavg") ? File.ReadAllText("/proc/loadavg").Split(' ')[0] : "unknown";

    internal static async Task<Process> StartAsync((string Name, string Value) setting, string program, string[] verb)
    {
        var start = new ProcessStartInfo("dotnet", [program, .. verb, "--urls", $"http://127.0.0.1:{Port}"])
        {
            RedirectStandardOutput = true,
        };
        start.Environment[setting.Name] = setting.Value;
        start.Environment["Reports__AdminKey"] = Key;
        start.Environment["Reports__Demo"] = "false";
        start.Environment["Reports__RateLimit"] = "off";
        var service = Process.Start(start)!;
        while (await service.StandardOutput.ReadLineAsync() is { } line)
        {
            if (line.StartsWith("Railside answers", StringComparison.Ordinal))
            {
                // What it logs from here on is read, or it would wait for that one day, and shown.
                _ = service.StandardOutput.BaseStream.CopyToAsync(Console.OpenStandardError());
                return service;
            }
        }

        throw new InvalidOperationException("The service ended before it answered.");
    }

    private async Task PutCoastAsync()
    {
        await PutAsync("landings/corran-quay", """{"name":"Corran Quay","timeZone":"UTC"}""");
        await PutAsync(
            "zones/cannery-bank",
            """{"name":"Cannery Bank","area":{"type":"Polygon","coordinates":[[[170,-45],[171,-45],[171,-44],[170,-44],[170,-45]]]},"reach":[]}"""
        );
        await PutAsync(
            "species/SBF",
            """{"name":"southern bluefin","scientificName":"Thunnus maccoyii","kind":"catch"}"""
        );
        await PutAsync("species/PIL", """{"name":"sardine","scientificName":"Sardina pilchardus","kind":"bait"}""");
        for (var boat = 0; boat < Boats; boat++)
        {
            await PutAsync($"boats/{BoatOf(boat)}", $$"""{"name":"auk {{boat}}","landing":"corran-quay"}""");
        }
    }

    private async Task PutAsync(string path, string body)
    {
        using var content = new StringContent(body, Encoding.UTF8, "application/json");
        using var answer = await http.PutAsync("/api/v1/" + path, content);
        answer.EnsureSuccessStatusCode();
    }

    /// <summary>A report of the contract's example's size, of a boat, day and sailing that were not drawn before.</summary>
    private static string Draw()
    {
        var n = Interlocked.Increment(ref drawn);
        return string.Create(
                CultureInfo.InvariantCulture,
                $$"""{"boat":"{{BoatOf(n)}}","zone":"cannery-bank","fishedOn":"{{DayOf(n):yyyy-MM-dd}}","sailing":{{SailingOf(n)}},"""
            )
            + string.Create(
                CultureInfo.InvariantCulture,
                $$"""
                "tripDays":1,"status":"final","anglers":24,"hours":6.5,"bite":"picky","units":{"weight":"lb","length":"in"},"catch":[{"species":"SBF","kept":{{20
                    + (n % 17)}},"released":4,"smallest":18,"largest":42,"anglersWithFish":14,"topRod":4}],"bait":{"species":"PIL","shortest":4,"longest":5},
                """
            )
            + """
                "rigs":[{"species":"SBF","technique":"fly-line","lineClass":30,"leader":{"material":"fluorocarbon","test":30},"hook":{"style":"circle","size":"1/0"},"rods":9,"hooked":14,"landed":12,"winning":true}],"note":""}
                """;
    }

    private static string BoatOf(int n) => $"auk-{n % Boats}";

    private static DateOnly DayOf(int n) => new DateOnly(2020, 1, 1).AddDays(n / (Boats * 9));

    private static int SailingOf(int n) => (n / Boats % 9) + 1;

    private async Task BatchesAsync(TimeSpan time)
    {
        for (var clock = Stopwatch.StartNew(); clock.Elapsed < time; )
        {
            await BatchesAsync();
        }
    }

    private async Task<(int Count, TimeSpan Time)> BatchesAsync()
    {
        var bodies = Enumerable
            .Range(0, BatchesPerRound)
            .Select(_ =>
                $$"""{"reports":[{{string.Join(',', Enumerable.Range(0, BatchSize).Select(_ => $$"""{"idempotencyKey":"{{Guid.NewGuid()}}","report":{{Draw()}}}"""))}}]}"""
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

        return (BatchesPerRound * BatchSize, clock.Elapsed);
    }

    private async Task<(int Count, TimeSpan Time)> SinglesAsync(TimeSpan time)
    {
        var clock = Stopwatch.StartNew();
        var posted = await posting.ManyAsync(Connections, time, "/api/v1/reports", identified: true, Draw, 201);
        return (posted, clock.Elapsed);
    }

    /// <summary>As far as a post gets without the database: the way in and out, the key, the body.</summary>
    private async Task<(int Count, TimeSpan Time)> RefusedAsync()
    {
        var body = Draw();
        var clock = Stopwatch.StartNew();
        var posted = await posting.ManyAsync(
            Connections,
            SinglesPerRound,
            "/api/v1/reports",
            identified: false,
            () => body,
            400
        );
        return (posted, clock.Elapsed);
    }

    /// <summary>Rows as the batches stored them, under ids, keys and days of their own.</summary>
    private static (ReportRow Head, ReportVersionRow Version) Like(ReportVersionRow example)
    {
        var n = Interlocked.Increment(ref drawn);
        var head = new ReportRow
        {
            Id = Guid.CreateVersion7().ToString("N"),
            Boat = BoatOf(n),
            Zone = example.Zone,
            FishedOn = DayOf(n),
            Sailing = SailingOf(n),
            Version = 1,
            State = example.State,
        };
        return (
            head,
            new ReportVersionRow
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
    }

    private static List<List<(ReportRow Head, ReportVersionRow Version)>> Sets(ReportVersionRow example) =>
        [
            .. Enumerable
                .Range(0, BatchesPerRound)
                .Select(_ => Enumerable.Range(0, BatchSize).Select(_ => Like(example)).ToList()),
        ];

    /// <summary>A transaction per 1,000.</summary>
    private static async Task<double> CopyAsync(ReportsDbContext db, ReportVersionRow example)
    {
        var sets = Sets(example);
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

    private static async Task PrepareBareAsync(string connection)
    {
        await using var database = new NpgsqlConnection(connection);
        await database.OpenAsync();
        await using var command = database.CreateCommand();
        command.CommandText = """
            CREATE TABLE bare_versions (LIKE report_versions INCLUDING ALL);
            CREATE SEQUENCE bare_sailings;
            """;
        await command.ExecuteNonQueryAsync();
    }

    private const string VersionValues = """
        1, now(), 'auk-1', 'cannery-bank', '1990-01-01', 'Counted', repeat('x', 900), '{"boat":"auk-1","zone":"cannery-bank","fishedOn":"2020-01-01","sailing":1,"daysCovered":1,"anglers":24,"givenIn":"lb","catch":[],"bait":[],"rigs":[]}', 'bootstrap', gen_random_uuid(), '\x00112233445566778899aabbccddeeff00112233445566778899aabbccddeeff'
        """;

    /// <summary>A version's row alone, into a copy of its table without foreign keys.</summary>
    private const string OneRow =
        $"INSERT INTO bare_versions SELECT replace(gen_random_uuid()::text, '-', ''), {VersionValues};";

    /// <summary>Both rows that a report is stored in, into the tables themselves.</summary>
    private const string BothRows = $"""
        WITH head AS (INSERT INTO reports ("Id", "Boat", "Zone", "FishedOn", "Sailing", "Version", "State") SELECT replace(gen_random_uuid()::text, '-', ''), 'auk-1', 'cannery-bank', '1990-01-01', nextval('bare_sailings'), 1, 'Counted' RETURNING "Id") INSERT INTO report_versions SELECT "Id", {VersionValues} FROM head;
        """;

    private static async Task<double> PgbenchAsync(string connection, string statement)
    {
        var server = new NpgsqlConnectionStringBuilder(connection);
        var script = Path.GetTempFileName();
        await File.WriteAllTextAsync(script, statement);
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

    /// <summary>A file with the same tables and the same coast, in WAL mode and fully synchronous.</summary>
    private static async Task<SqliteConnection> BareFileAsync(string folder, ReportsDbContext from)
    {
        var connection = SqliteReportsDbContext.ConnectionString(Path.Combine(folder, "bare.db"));
        await using var db = new SqliteReportsDbContext(
            new DbContextOptionsBuilder<SqliteReportsDbContext>().UseSqlite(connection).Options
        );
        await db.Database.MigrateAsync();
        db.AddRange(await from.Landings.AsNoTracking().ToListAsync());
        db.AddRange(await from.Boats.AsNoTracking().ToListAsync());
        db.AddRange(await from.Zones.AsNoTracking().ToListAsync());
        await db.SaveChangesAsync();
        var bare = new SqliteConnection(connection);
        await bare.OpenAsync();
        await using var command = bare.CreateCommand();
        command.CommandText = "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON";
        await command.ExecuteNonQueryAsync();
        return bare;
    }

    private static double InsertSets(SqliteConnection bare, ReportVersionRow example)
    {
        var sets = Sets(example);
        using var insert = new BareInsert(bare);
        var clock = Stopwatch.StartNew();
        foreach (var set in sets)
        {
            insert.Commit(set);
        }

        return BatchesPerRound * BatchSize / clock.Elapsed.TotalSeconds;
    }

    private static double InsertSingles(SqliteConnection bare, ReportVersionRow example)
    {
        using var insert = new BareInsert(bare);
        var clock = Stopwatch.StartNew();
        var stored = 0;
        for (; clock.Elapsed < SinglesPerRound; stored++)
        {
            insert.Commit([Like(example)]);
        }

        return stored / clock.Elapsed.TotalSeconds;
    }

    /// <summary>Bare beside ours, per second, and the service's processor time for each of ours.</summary>
    private sealed record Pair(double Ours, double Bare, TimeSpan Used)
    {
        public double Ratio => Ours / Bare;
    }

    /// <summary>The two inserts, prepared.</summary>
    private sealed class BareInsert : IDisposable
    {
        private readonly SqliteConnection connection;
        private readonly SqliteCommand head;
        private readonly SqliteCommand version;

        public BareInsert(SqliteConnection connection)
        {
            this.connection = connection;
            head = Prepared(
                """INSERT INTO reports ("Id", "Boat", "Zone", "FishedOn", "Sailing", "Version", "State")""",
                7
            );
            version = Prepared(
                """
                INSERT INTO report_versions ("ReportId", "Version", "StoredAt", "Boat", "Zone", "FishedOn", "State", "Body",
                    "Measures", "Credential", "IdempotencyKey", "RequestHash")
                """,
                12
            );
        }

        public void Commit(IReadOnlyList<(ReportRow Head, ReportVersionRow Version)> rows)
        {
            using var transaction = connection.BeginTransaction();
            (head.Transaction, version.Transaction) = (transaction, transaction);
            foreach (var (h, v) in rows)
            {
                Run(head, h.Id, h.Boat, h.Zone, h.FishedOn, h.Sailing, h.Version, h.State.ToString());
                Run(
                    version,
                    v.ReportId,
                    v.Version,
                    v.StoredAt.UtcDateTime,
                    v.Boat,
                    v.Zone,
                    v.FishedOn,
                    v.State.ToString(),
                    v.Body,
                    v.Measures,
                    v.Credential,
                    v.IdempotencyKey!,
                    v.RequestHash!
                );
            }

            transaction.Commit();
        }

        public void Dispose()
        {
            head.Dispose();
            version.Dispose();
        }

        private SqliteCommand Prepared(string into, int columns)
        {
            var command = connection.CreateCommand();
            command.CommandText =
                $"{into} VALUES ({string.Join(", ", Enumerable.Range(0, columns).Select(i => $"${i}"))})";
            for (var i = 0; i < columns; i++)
            {
                command.Parameters.AddWithValue($"${i}", DBNull.Value);
            }

            command.Prepare();
            return command;
        }

        private static void Run(SqliteCommand command, params object[] values)
        {
            for (var i = 0; i < values.Length; i++)
            {
                command.Parameters[i].Value = values[i];
            }

            command.ExecuteNonQuery();
        }
    }
}
