using System.Collections.Concurrent;
using System.Net;
using Microsoft.EntityFrameworkCore;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Api;

/// <summary>Many clients at once: one report per key, one winner per decision, and never a 5xx.</summary>
[Collection(OnSharedApps.Name)]
public sealed class ConcurrencyTests(SharedApps apps)
{
    private static readonly ParallelOptions AtOnce = new() { MaxDegreeOfParallelism = 12 };

    public static TheoryData<DatabaseKind> Both => Databases.Both;

    [Theory]
    [MemberData(nameof(Both))]
    public async Task FiveHundredKeyedPostsSomeRepeatedAreFiveHundredReports(DatabaseKind database)
    {
        var (app, fleet) = await apps.OfAsync(database);
        var boats = new List<string>();
        for (var i = 0; i < 12; i++)
        {
            boats.Add(await fleet.NewBoatAsync());
        }

        var posts = (
            from boat in boats
            from day in Enumerable.Range(0, 5)
            from sailing in Enumerable.Range(1, 9)
            select (
                Key: Guid.NewGuid(),
                Body: ReportBody.Short(boat, new DateOnly(2024, 5, 1).AddDays(day), sailing: sailing).ToJsonString()
            )
        )
            .Take(500)
            .ToList();
        // Every third is sent twice: half of these in the next moment, half at the end.
        var sent = posts
            .SelectMany((p, i) => Enumerable.Repeat(p, i % 6 == 0 ? 2 : 1))
            .Concat(posts.Where((_, i) => i % 6 == 3))
            .ToList();
        var answers = new ConcurrentBag<(Guid Key, HttpStatusCode Status, string Body)>();

        await Parallel.ForEachAsync(
            sent,
            AtOnce,
            async (post, _) =>
            {
                using var answer = await fleet.SendAsync(
                    HttpMethod.Post,
                    "/api/v1/reports",
                    fleet.Admin,
                    post.Body,
                    ("Idempotency-Key", post.Key.ToString())
                );
                answers.Add((post.Key, answer.StatusCode, await answer.TextAsync()));
            }
        );

        Assert.Equal(sent.Count, answers.Count);
        Assert.All(
            answers.GroupBy(a => a.Key),
            of =>
            {
                Assert.Single(of, a => a.Status == HttpStatusCode.Created);
                Assert.All(of, a => Assert.True(a.Status is HttpStatusCode.Created or HttpStatusCode.OK, a.Body));
                Assert.Single(of.Select(a => a.Body).Distinct());
            }
        );
        var stored = await app.AskAsync(db =>
            db.ReportVersions.Where(v => boats.Contains(v.Boat))
                .Select(v => new
                {
                    v.ReportId,
                    v.Version,
                    v.IdempotencyKey,
                })
                .ToListAsync(TestContext.Current.CancellationToken)
        );
        Assert.Equal(500, stored.Count);
        Assert.Equal(500, stored.Select(v => v.ReportId).Distinct().Count());
        Assert.Equal(posts.Select(p => (Guid?)p.Key).ToHashSet(), stored.Select(v => v.IdempotencyKey).ToHashSet());
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task OfTwoKeysForOneReportAtOnceOneIsToldThatTheOtherStands(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        var boat = await fleet.NewBoatAsync();
        for (var day = 1; day <= 12; day++)
        {
            var report = ReportBody.Short(boat, new(2024, 6, day)).ToJsonString();
            var answers = await AtOnceAsync(
                2,
                _ =>
                    fleet.SendAsync(
                        HttpMethod.Post,
                        "/api/v1/reports",
                        fleet.Admin,
                        report,
                        ("Idempotency-Key", Guid.NewGuid().ToString())
                    )
            );
            Assert.Equal([HttpStatusCode.Created, HttpStatusCode.Conflict], answers.Order());
        }
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task OneKeyWithTwoBodiesAtOnceStoresOne(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        var boat = await fleet.NewBoatAsync();
        for (var day = 1; day <= 8; day++)
        {
            var key = Guid.NewGuid();
            var answers = await AtOnceAsync(
                2,
                i => fleet.SubmitAsync(ReportBody.Short(boat, new(2024, 7, day), sailing: i + 1), idempotencyKey: key)
            );
            Assert.Equal([HttpStatusCode.Created, HttpStatusCode.UnprocessableEntity], answers.Order());
        }
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task OfManyCorrectionsOfOneVersionExactlyOneHolds(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        var boat = await fleet.NewBoatAsync();
        var stored = await fleet.SubmitReportAsync(ReportBody.Short(boat, new(2024, 8, 1)));
        for (var version = 1; version <= 4; version++)
        {
            var answers = await AtOnceAsync(
                8,
                i =>
                {
                    var body = ReportBody.Short(boat, new(2024, 8, 1), kept: 10 + i);
                    return fleet.SendAsync(
                        HttpMethod.Put,
                        $"/api/v1/reports/{stored.Text("id")}",
                        fleet.Admin,
                        body,
                        ("If-Match", $"\"{version}\"")
                    );
                }
            );
            Assert.Single(answers, HttpStatusCode.OK);
            Assert.Equal(7, answers.Count(a => a == HttpStatusCode.PreconditionFailed));
        }
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task ManyReplacementsAtOnceAreAllVersions(DatabaseKind database)
    {
        var (app, fleet) = await apps.OfAsync(database);
        var boat = await fleet.NewBoatAsync();
        var stored = await fleet.SubmitReportAsync(ReportBody.Short(boat, new(2024, 9, 1)));

        var answers = await AtOnceAsync(
            20,
            i => fleet.SubmitAsync(ReportBody.Short(boat, new(2024, 9, 1), kept: 10 + i), replace: true)
        );

        Assert.All(answers, a => Assert.Equal(HttpStatusCode.Created, a));
        Assert.Equal(
            Enumerable.Range(1, 21),
            await app.AskAsync(db =>
                db.ReportVersions.Where(v => v.ReportId == stored.Text("id"))
                    .OrderBy(v => v.Version)
                    .Select(v => v.Version)
                    .ToListAsync(TestContext.Current.CancellationToken)
            )
        );
    }

    [Theory]
    [MemberData(nameof(Both))]
    public async Task TheSameReferenceDataAtOnceIsStoredOnce(DatabaseKind database)
    {
        var (_, fleet) = await apps.OfAsync(database);
        var answers = await AtOnceAsync(
            12,
            i =>
                fleet.SendAsync(
                    HttpMethod.Put,
                    "/api/v1/boats/storm-diver",
                    fleet.Admin,
                    new { name = $"Storm Diver {i}", landing = Fleet.Quay }
                )
        );

        Assert.Single(answers, HttpStatusCode.Created);
        Assert.Equal(11, answers.Count(a => a == HttpStatusCode.OK));
    }

    private static async Task<List<HttpStatusCode>> AtOnceAsync(int count, Func<int, Task<HttpResponseMessage>> send)
    {
        var start = new TaskCompletionSource();
        var sent = Enumerable
            .Range(0, count)
            .Select(i =>
                Task.Run(async () =>
                {
                    await start.Task;
                    using var answer = await send(i);
                    return answer.StatusCode;
                })
            )
            .ToList();
        start.SetResult();
        return [.. await Task.WhenAll(sent)];
    }
}
