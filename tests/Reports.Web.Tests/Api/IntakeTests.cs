using System.Collections.Concurrent;
using System.Text.Json.Nodes;
using Microsoft.EntityFrameworkCore;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Api;

/// <summary>
/// Many clients at once, single posts and batches with the same keys: three in ten requests are repeated, one in ten is sent
/// twice at the same moment, one in twenty comes again altered. Whatever the interleaving, one row per key and the right answers.
/// REPORTS_TEST_INTAKE names another number of reports than the usual one.
/// </summary>
public sealed class IntakeTests(PostgresServer postgres)
{
    private const int Usual = 600;
    private const int Seed = 20261123;

    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task One_row_per_key_and_replays_byte_for_byte(DatabaseKind database)
    {
        var reports = int.TryParse(Environment.GetEnvironmentVariable("REPORTS_TEST_INTAKE"), out var asked)
            ? asked
            : Usual;
        await using var app = await ReportsApp.StartAsync(database, postgres);
        var fleet = await Fleet.SetUpCoastAsync(app);
        var random = new Random(Seed);
        var boats = Fleet.QuayBoats.Concat(Fleet.DockBoats).ToList();
        var sent = Enumerable
            .Range(0, reports)
            .Select(i =>
                (
                    Key: Guid.NewGuid(),
                    Report: ReportBody.Short(
                        boats[i % boats.Count],
                        Fleet.Today.AddDays(-(i / (boats.Count * 9))),
                        sailing: 1 + (i / boats.Count % 9)
                    ),
                    Fate: random.NextDouble()
                )
            )
            .ToList();
        var answers = new ConcurrentDictionary<Guid, ConcurrentBag<(int Status, string Id, string Body)>>();

        async Task PostAsync(Guid key, JsonObject report)
        {
            using var answer = await fleet.SubmitAsync(report, idempotencyKey: key);
            var body = await answer.Content.ReadAsStringAsync();
            var id = answer.IsSuccessStatusCode ? JsonNode.Parse(body)!.AsObject().Text("id") : "";
            answers.GetOrAdd(key, _ => []).Add(((int)answer.StatusCode, id, answer.IsSuccessStatusCode ? body : ""));
        }

        async Task BatchAsync(IEnumerable<(Guid Key, JsonObject Report, double Fate)> entries)
        {
            var all = entries.ToList();
            var results = await BatchTests.BatchAsync(
                fleet,
                fleet.Admin,
                all.Select(e => BatchTests.Entry(e.Key, e.Report))
            );
            foreach (var (entry, result) in all.Zip(results))
            {
                answers
                    .GetOrAdd(entry.Key, _ => [])
                    .Add((result.Number("status"), result["location"]?.GetValue<string>().Split('/')[^1] ?? "", ""));
            }
        }

        // Half singly, half in batches of 25; what is sent twice at once goes through both doors.
        await Parallel.ForEachAsync(
            sent.Chunk(25).SelectMany((chunk, i) => Requests(chunk, singly: i % 2 == 0)),
            new ParallelOptions { MaxDegreeOfParallelism = 32 },
            async (request, _) => await request()
        );
        await Parallel.ForEachAsync(
            sent,
            new ParallelOptions { MaxDegreeOfParallelism = 32 },
            async (item, _) =>
            {
                if (item.Fate < 0.3)
                {
                    await PostAsync(item.Key, item.Report.DeepClone().AsObject());
                }

                if (item.Fate is >= 0.4 and < 0.45)
                {
                    var altered = item.Report.DeepClone().AsObject();
                    altered["anglers"] = 21;
                    await PostAsync(item.Key, altered);
                }
            }
        );

        foreach (var (key, _, fate) in sent)
        {
            var given = answers[key].ToList();
            Assert.Single(given, a => a.Status == 201);
            Assert.Single(given.Where(a => a.Status is 200 or 201).Select(a => a.Id).Distinct());
            Assert.True(given.Where(a => a.Body.Length > 0).Select(a => a.Body).Distinct().Count() <= 1);
            Assert.Equal(fate is >= 0.4 and < 0.45 ? 1 : 0, given.Count(a => a.Status == 422));
            Assert.All(given, a => Assert.Contains(a.Status, new[] { 200, 201, 422 }));
        }

        var rows = await app.AskAsync(db =>
            db.ReportVersions.Where(v => v.IdempotencyKey != null).Select(v => v.IdempotencyKey!.Value).ToListAsync()
        );
        Assert.Equal(sent.Select(s => s.Key).Order(), rows.Order());
        Assert.Equal(reports, await app.AskAsync(db => db.Reports.CountAsync()));

        IEnumerable<Func<Task>> Requests((Guid Key, JsonObject Report, double Fate)[] chunk, bool singly)
        {
            var twice = chunk.Where(c => c.Fate is >= 0.3 and < 0.4).ToList();
            if (singly)
            {
                foreach (var item in chunk)
                {
                    yield return () => PostAsync(item.Key, item.Report.DeepClone().AsObject());
                }

                if (twice.Count > 0)
                {
                    yield return () => BatchAsync(twice);
                }
            }
            else
            {
                yield return () => BatchAsync(chunk);
                foreach (var item in twice)
                {
                    yield return () => PostAsync(item.Key, item.Report.DeepClone().AsObject());
                }
            }
        }
    }

    /// <summary>
    /// Batches that hold the same reports in other orders, under keys of their own, at once: one of them stores each report, the
    /// others are told which stands.
    /// </summary>
    [Theory]
    [MemberData(nameof(Databases.Both), MemberType = typeof(Databases))]
    public async Task Batches_that_want_the_same_places_get_through_without_a_knot(DatabaseKind database)
    {
        await using var app = await ReportsApp.StartAsync(database, postgres);
        var fleet = await Fleet.SetUpCoastAsync(app);
        var places = Enumerable
            .Range(0, 60)
            .Select(i => ReportBody.Short(Fleet.Petrel, Fleet.Today.AddDays(-(i / 9)), sailing: 1 + (i % 9)))
            .ToArray();
        var random = new Random(Seed);
        var batches = Enumerable
            .Range(0, 8)
            .Select(_ =>
            {
                var order = places.ToArray();
                random.Shuffle(order);
                return order.Select(p => BatchTests.Entry(Guid.NewGuid(), p)).ToList();
            })
            .ToList();

        var results = await Task.WhenAll(batches.Select(b => BatchTests.BatchAsync(fleet, fleet.Admin, b)));

        var statuses = results.SelectMany(r => r).Select(r => r.Number("status")).ToList();
        Assert.Equal(places.Length, statuses.Count(s => s == 201));
        Assert.Equal(places.Length * (batches.Count - 1), statuses.Count(s => s == 409));
        Assert.Equal(places.Length, await app.AskAsync(db => db.Reports.CountAsync()));
    }
}
