using System.Diagnostics;
using System.Globalization;
using Microsoft.EntityFrameworkCore;
using Reports.Domain.Coast;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using Reports.Storage;

namespace Reports.Benchmarks;

/// <summary>
/// How long a great coast's night takes: 200 zones by 5 species, each pair with 400 reports in its four weeks, out of a million
/// stored. The service itself opens the day and recomputes every brief; measured from its start until nothing is touched.
/// </summary>
internal static class Recompute
{
    private const int Zones = 200;
    private const int Reports = 1_000_000;
    private const int Month = 28;
    public const int PerZoneAndMonth = 400;
    private const int Boats = 1500;
    private const int Set = 5000;
    private static readonly string[] Species = ["SBF", "ALB", "YTC", "YFT", "DOL"];
    private static readonly int[] Rungs = [20, 25, 30, 40, 50, 80];

    public static async Task<int> RunAsync(string[] words)
    {
        if (words is not [var kind and ("--postgres" or "--sqlite"), var target, "--service", var program, .. var few])
        {
            await Console.Error.WriteLineAsync(
                """
                recompute --postgres CONN --service DLL [--share 0.1]    an empty database
                recompute --sqlite FOLDER --service DLL [--share 0.1]    an empty folder
                DLL: the built Reports.Web.dll; --share: so many of the 200 zones and of the million reports
                """
            );
            return 2;
        }

        var share = few is ["--share", var part] ? double.Parse(part, CultureInfo.InvariantCulture) : 1;
        var postgres = kind == "--postgres";
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
        await db.Database.MigrateAsync();
        var zones = (int)(Zones * share);
        if (!await db.Zones.AnyAsync())
        {
            var filling = Stopwatch.StartNew();
            await FillAsync(db, zones, (int)(Reports * share));
            Console.WriteLine($"filled in {filling.Elapsed.TotalSeconds:0} s");
        }

        await db.Touched.ExecuteDeleteAsync();
        await db.Epochs.ExecuteDeleteAsync();
        await db.Coasts.ExecuteDeleteAsync();
        var clock = Stopwatch.StartNew();
        var service = await Ingest.StartAsync(
            postgres ? ("ConnectionStrings__Reports", target) : ("Reports__DataPath", target),
            program,
            []
        );
        try
        {
            var ready = clock.Elapsed;
            while (!await db.Epochs.AnyAsync() || await db.Touched.AnyAsync())
            {
                await Task.Delay(500);
                if (service.HasExited)
                {
                    throw new InvalidOperationException("The service ended.");
                }
            }

            service.Refresh();
            Console.WriteLine(
                $"{await db.Briefs.Select(b => new { b.Zone, b.Species }).Distinct().CountAsync()} pairs out of {await db.Reports.CountAsync()} reports: "
                    + $"{clock.Elapsed.TotalSeconds:0} s from the start (answering after {ready.TotalSeconds:0} s), "
                    + $"{service.TotalProcessorTime.TotalSeconds:0} s of processor, {service.PeakWorkingSet64 / 1e6:0} MB at most"
            );
        }
        finally
        {
            service.Kill();
            await service.WaitForExitAsync();
            service.Dispose();
        }

        return 0;
    }

    private static async Task FillAsync(ReportsDbContext db, int zones, int reports)
    {
        db.Landings.Add(
            new LandingRow
            {
                Code = "corran-quay",
                Name = "Corran Quay",
                TimeZone = "UTC",
            }
        );
        db.Species.AddRange(
            Species.Select(s => new SpeciesRow
            {
                Code = s,
                Name = s,
                ScientificName = s,
                Kind = SpeciesKind.Catch,
            })
        );
        db.Zones.AddRange(
            Enumerable
                .Range(0, zones)
                .Select(z => new ZoneRow
                {
                    Code = Zone(z),
                    Name = Zone(z),
                    Area = """{"type":"Polygon","coordinates":[[[170,-45],[171,-45],[171,-44],[170,-44],[170,-45]]]}""",
                    Reach = "[]",
                })
        );
        db.Boats.AddRange(
            Enumerable
                .Range(0, Boats)
                .Select(b => new BoatRow
                {
                    Code = Boat(b),
                    Name = Boat(b),
                    Landing = "corran-quay",
                })
        );
        await db.SaveChangesAsync();
        db.ChangeTracker.Clear();
        var drawn = Draw(zones, DateOnly.FromDateTime(DateTime.UtcNow)).Take(reports);
        foreach (var set in drawn.Chunk(Set))
        {
            var heads = new List<ReportRow>(Set);
            var versions = new List<ReportVersionRow>(Set);
            foreach (var measures in set)
            {
                var at = new DateTimeOffset(measures.FishedOn, new TimeOnly(20, 0), TimeSpan.Zero);
                var head = new ReportRow
                {
                    Id = Guid.CreateVersion7(at).ToString("N"),
                    Boat = measures.Boat,
                    Zone = measures.Zone,
                    FishedOn = measures.FishedOn,
                    Sailing = measures.Sailing,
                    Version = 1,
                    State = ReportState.Counted,
                };
                heads.Add(head);
                versions.Add(
                    new ReportVersionRow
                    {
                        ReportId = head.Id,
                        Version = 1,
                        StoredAt = at,
                        Boat = head.Boat,
                        Zone = head.Zone,
                        FishedOn = measures.FishedOn,
                        State = head.State,
                        Body = "{}",
                        Measures = measures.ToJson(),
                        Credential = "measuring",
                    }
                );
            }

            await using var transaction = await db.Database.BeginTransactionAsync();
            await db.InsertAllAsync(heads, CancellationToken.None);
            await db.InsertAllAsync(versions, CancellationToken.None);
            await transaction.CommitAsync();
        }
    }

    /// <summary>
    /// Reports without end, the newest first; one after the other through the zones, so that each has its part of each day.
    /// </summary>
    private static IEnumerable<ReportMeasures> Draw(int zones, DateOnly today)
    {
        var random = new Random(1);
        var perDay = zones * PerZoneAndMonth / (double)Month;
        for (var i = 0; ; i++)
        {
            yield return Draw(
                random,
                Boat(i % Boats),
                Zone(i % zones),
                today.AddDays(-(int)(i / perDay)),
                1 + i / zones % 20
            );
        }
    }

    /// <summary>All reports of so many days, in the order in which briefs are given them.</summary>
    public static IEnumerable<ReportMeasures> Draw(int zones, int days, DateOnly today) =>
        Draw(zones, today)
            .TakeWhile(r => r.FishedOn > today.AddDays(-days))
            .OrderBy(r => r.FishedOn)
            .ThenBy(r => r.Zone, StringComparer.Ordinal)
            .ThenBy(r => r.Boat, StringComparer.Ordinal)
            .ThenBy(r => r.Sailing);

    private static ReportMeasures Draw(Random random, string boat, string zone, DateOnly day, int sailing)
    {
        var anglers = random.Next(8, 31);
        CatchMeasure Fish(string species)
        {
            var kept = random.NextDouble() < 0.15 ? 0 : random.Next(1, 2 * anglers);
            var heavy = random.NextDouble() < 0.2 ? 5 : 1;
            var smallest = random.Next(12, 25) * heavy;
            return new CatchMeasure
            {
                Species = species,
                Kept = kept,
                Released = 0,
                SmallestGrams = kept > 0 ? Grams(smallest) : null,
                LargestGrams =
                    kept == 0 ? null
                    : kept == 1 ? Grams(smallest)
                    : Grams(smallest + random.Next(1, 25) * heavy),
                AnglersWithFish = kept == 0 ? 0 : random.Next(1, Math.Min(kept, anglers) + 1),
                Limit = random.NextDouble() < 0.05,
            };
        }

        IEnumerable<RigMeasure> Rigs(string species)
        {
            var first = random.Next(Rungs.Length - 1);
            for (var k = 0; k < 2; k++)
            {
                var hooked = random.Next(0, 12);
                yield return new RigMeasure
                {
                    Species = species,
                    Technique = Technique.FlyLine,
                    LineClassGrams = Grams(Rungs[first + k]),
                    RungLb = Rungs[first + k],
                    HookStyle = HookStyle.Circle,
                    HookStep = random.Next(-1, 4),
                    Rods = random.Next(3, 10),
                    Hooked = hooked,
                    Landed = random.Next(0, hooked + 1),
                    Winning = k == 0,
                };
            }
        }

        return new ReportMeasures
        {
            Boat = boat,
            Zone = zone,
            FishedOn = day,
            Sailing = sailing,
            DaysCovered = 1,
            Anglers = anglers,
            GivenIn = WeightUnit.Lb,
            Bite = (Bite)random.Next(4),
            Catch = [.. Species.Select(Fish)],
            Bait =
            [
                new BaitMeasure
                {
                    Species = "PIL",
                    ShortestMm = 100,
                    LongestMm = 130,
                },
            ],
            Rigs = [.. Species.OrderBy(_ => random.Next()).Take(2).SelectMany(Rigs)],
        };
    }

    private static int Grams(int lb) => new Weight(lb, WeightUnit.Lb).Grams;

    private static string Zone(int z) => string.Create(CultureInfo.InvariantCulture, $"zone-{z}");

    private static string Boat(int b) => string.Create(CultureInfo.InvariantCulture, $"auk-{b}");
}
