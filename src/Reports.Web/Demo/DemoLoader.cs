using System.Text.Json;
using Microsoft.EntityFrameworkCore;
using Reports.Domain.Briefs;
using Reports.Domain.Coast;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using Reports.Storage;

namespace Reports.Web.Demo;

/// <summary>
/// Keeps the demo's own database up to yesterday: missing days are generated and pass through the same reader and flag rules as
/// real reports; days that fell out of the history are dropped. Does nothing when it is up to date.
/// </summary>
public sealed class DemoLoader(
    ReportsDbContext db,
    ReportStore reports,
    RegisterStore register,
    KeyStore keys,
    Settings settings
)
{
    private const string Credential = "demo";

    /// <summary>The demo's administrator key: made once, kept beside the demo's data, so that a restart does not change it.</summary>
    public async Task<string> KeyAsync(CancellationToken ct)
    {
        var file = Path.Combine(settings.DataPath, "demo.key");
        if (!File.Exists(file))
        {
            Directory.CreateDirectory(settings.DataPath);
            await File.WriteAllTextAsync(file, KeyStore.NewSecret(), ct);
        }

        var secret = (await File.ReadAllTextAsync(file, ct)).Trim();
        await keys.SetAsync(Credential, "demo coast", secret, ct);
        return secret;
    }

    public async Task RenewAsync(DateOnly today, CancellationToken ct)
    {
        var world = DemoCoast.World();
        if (!await db.Zones.AnyAsync(ct))
        {
            await LoadRegisterAsync(world, ct);
        }

        var first = today.AddDays(-DemoCoast.HistoryDays);
        var last = today.AddDays(-1);
        var newest = await db
            .ReportVersions.Where(v => v.Credential == Credential)
            .Select(v => (DateOnly?)v.FishedOn)
            .MaxAsync(ct);
        var from = newest is { } day && day >= first ? day.AddDays(1) : first;
        if (from <= last)
        {
            await AddDaysAsync(world.ToRegister(), from, last, ct);
        }

        await DropBeforeAsync(first, ct);
        await AddDeparturesAsync(today, ct);
    }

    private async Task LoadRegisterAsync(DemoWorld world, CancellationToken ct)
    {
        foreach (var landing in world.Landings)
        {
            await register.PutAsync(landing, ct);
        }

        foreach (var boat in world.Boats)
        {
            await register.PutAsync(boat, ct);
        }

        foreach (var zone in world.Zones)
        {
            await register.PutAsync(zone, ct);
        }

        foreach (var species in world.Species)
        {
            await register.PutAsync(species, ct);
        }
    }

    private async Task AddDaysAsync(Register world, DateOnly from, DateOnly last, CancellationToken ct)
    {
        db.ChangeTracker.Clear();
        var days = DemoCoast.Days(from, last).ToList();
        var declared = await db
            .LandingBait.Where(b => b.Date >= from)
            .Select(b => new { b.Landing, b.Date })
            .ToListAsync(ct);
        var bait = days.SelectMany(d => d.Bait).ToDictionary(b => (b.Landing, b.Date));
        db.LandingBait.AddRange(
            bait.Values.Where(b => !declared.Contains(new { b.Landing, b.Date }))
                .Select(b => new LandingBaitRow
                {
                    Landing = b.Landing,
                    Date = b.Date,
                    Body = new DayBait(LengthUnit.In, b.Bait, IsSingle: b.Bait.Count == 1).ToJson(),
                    Measures = LandingBaitStore.MeasuresOf(b.Bait),
                })
        );
        await db.SaveChangesAsync(ct);

        // What a visitor has reported in the demo by hand stays; the generator leaves its place free.
        var taken = await db
            .Reports.Where(r => r.FishedOn >= from)
            .Select(r => new ReportKey(r.Boat, r.Zone, r.FishedOn, r.Sailing))
            .ToListAsync(ct);
        await reports.ImportNewAsync(Read(world, days, bait, [.. taken]), Credential, ct);
    }

    private static IEnumerable<(CatchReport, IReadOnlyList<ReportFlag>, DateTimeOffset)> Read(
        Register world,
        IReadOnlyList<DemoDay> days,
        Dictionary<(string Landing, DateOnly Date), DemoLandingBait> bait,
        HashSet<ReportKey> taken
    )
    {
        var lately = new Queue<ReportMeasures>();
        var before = new Dictionary<string, ReportMeasures>(StringComparer.Ordinal);
        foreach (var day in days)
        {
            while (
                lately.TryPeek(out var oldest)
                && oldest.FishedOn <= day.Date.AddDays(-Reports.Domain.Briefs.Windows.Display)
            )
            {
                lately.Dequeue();
            }

            var profile = CoastProfile.Of(lately.ToList());
            foreach (var draft in day.Reports)
            {
                using var document = JsonDocument.Parse(draft.Json);
                var reading = ReportReader.Read(document.RootElement, world, draft.ReceivedAt);
                if (reading.Value is not { } report)
                {
                    throw new InvalidOperationException(
                        $"The demo made a report that its own reader refuses: {string.Join("; ", reading.Errors)}"
                    );
                }

                if (!taken.Add(report.Key))
                {
                    continue;
                }

                var inherited = bait.TryGetValue((world.Boats[report.Boat].Landing, report.FishedOn), out var declared)
                    ? declared.Bait.Select(BaitMeasure.Of).ToList()
                    : [];
                var flags = FlagRules.Of(report, world, profile, inherited, before.GetValueOrDefault(report.Boat));
                yield return (report, flags, draft.ReceivedAt);
                var measures = ReportMeasures.Of(report);
                lately.Enqueue(measures.WithBait(inherited));
                before[report.Boat] = measures;
            }
        }
    }

    private async Task DropBeforeAsync(DateOnly first, CancellationToken ct)
    {
        await using var transaction = await db.Database.BeginTransactionAsync(ct);
        var old = db.Reports.Where(r => r.FishedOn < first);
        await db.ReportVersions.Where(v => old.Any(r => r.Id == v.ReportId)).ExecuteDeleteAsync(ct);
        await old.ExecuteDeleteAsync(ct);
        await db.LandingBait.Where(b => b.Date < first).ExecuteDeleteAsync(ct);
        await db.Departures.Where(d => d.Date < first).ExecuteDeleteAsync(ct);
        await transaction.CommitAsync(ct);
    }

    private async Task AddDeparturesAsync(DateOnly today, CancellationToken ct)
    {
        db.ChangeTracker.Clear();
        var (first, last) = (today.AddDays(-DemoCoast.DeparturesBack), today.AddDays(DemoCoast.DeparturesAhead));
        var known = await db
            .Departures.Where(d => d.Date >= first)
            .Select(d => new
            {
                d.Boat,
                d.Date,
                d.Sailing,
            })
            .ToListAsync(ct);
        var keys = known.ToHashSet();
        db.Departures.AddRange(
            DemoCoast
                .Departures(first, last)
                .Select(d => d.Departure)
                .Where(d =>
                    keys.Add(
                        new
                        {
                            d.Boat,
                            d.Date,
                            d.Sailing,
                        }
                    )
                )
                .Select(DepartureRow.Of)
        );
        await db.SaveChangesAsync(ct);
    }
}
