using System.Diagnostics.CodeAnalysis;
using System.Text.Json;
using System.Threading.Channels;
using Microsoft.AspNetCore.Http.HttpResults;
using Reports.Domain.Coast;
using Reports.Domain.Reporting;
using Reports.Storage;

namespace Reports.Web.Api.V1;

/// <summary>A report as a request brings it.</summary>
public sealed record Arrival(Guid IdempotencyKey, JsonElement Document, bool Replace);

/// <summary>
/// Where new reports come in. A batch is stored as one set, a large one as a few side by side; single reports that arrive while a set is being written wait for each
/// other and are the next set (group commit), so that many at once cost one transaction. Nothing is answered before its commit.
/// </summary>
public sealed class Intake(
    IServiceScopeFactory scopes,
    RegisterCache registers,
    Published published,
    Settings settings,
    TimeProvider time,
    ILogger<Intake> log
) : BackgroundService
{
    /// <summary>Most single reports of one set: beyond it a larger set saves nothing and only makes the first wait.</summary>
    private const int MostGathered = 256;

    /// <summary>A batch from this size on is stored in parts: each should still be large enough for the database's bulk path.</summary>
    private const int FewestParted = 600;

    private const int MostWaits = 2;
    private static readonly TimeSpan Moment = TimeSpan.FromMilliseconds(1);

    /// <summary>
    /// Sets on their way at once: while PostgreSQL commits one the next is gathered and looked up. SQLite has one writer.
    /// </summary>
    private readonly int setsAtOnce = settings.Postgres is null ? 1 : 2;

    private readonly Channel<Waiting> arrivals = Channel.CreateBounded<Waiting>(8 * MostGathered);

    /// <summary>Stores one report; what the request is answered with.</summary>
    public async Task<Results<StoredReport, ProblemHttpResult>> CreateAsync(
        Credential who,
        Arrival arrival,
        CancellationToken ct
    )
    {
        var (creations, refusals) = await CheckAsync(who, [arrival], ct);
        var waiting = new Waiting(creations[0], ct);
        await arrivals.Writer.WriteAsync(waiting, ct);
        return Answer(await waiting.Outcome.Task.WaitAsync(ct), refusals[0]);
    }

    /// <summary>
    /// Stores many reports, as if one were sent after the other. What one boat sent stays together and in its order; the parts of a
    /// large batch are read, looked up and written side by side, each as a set of its own.
    /// </summary>
    public async Task<IReadOnlyList<Results<StoredReport, ProblemHttpResult>>> CreateAllAsync(
        Credential who,
        IReadOnlyList<Arrival> arriving,
        CancellationToken ct
    )
    {
        var (partOf, count) = (new Dictionary<string, int>(StringComparer.Ordinal), PartsOf(arriving));
        int PartOf(string boat) =>
            partOf.TryGetValue(boat, out var known) ? known : partOf[boat] = partOf.Count % count;
        var parts = arriving
            .Select((arrival, index) => (Arrival: arrival, Index: index))
            .GroupBy(a => PartOf(BoatOf(a.Arrival)))
            .Select(part => part.ToList())
            .ToList();
        var answers = new Results<StoredReport, ProblemHttpResult>[arriving.Count];
        await Task.WhenAll(
            parts.Select(async part =>
            {
                var answered = await CreateSetAsync(who, part.ConvertAll(a => a.Arrival), ct);
                foreach (var (arrived, answer) in part.Zip(answered))
                {
                    answers[arrived.Index] = answer;
                }
            })
        );
        return answers;
    }

    /// <summary>
    /// One with SQLite, which has one writer, with few reports, and where one idempotency key stands twice, for then their order matters.
    /// </summary>
    private int PartsOf(IReadOnlyList<Arrival> arriving) =>
        setsAtOnce == 1
        || arriving.Count < FewestParted
        || arriving.DistinctBy(a => a.IdempotencyKey).Count() < arriving.Count
            ? 1
            : setsAtOnce;

    private static string BoatOf(Arrival arrival) =>
        arrival.Document.ValueKind == JsonValueKind.Object
        && arrival.Document.TryGetProperty("boat", out var boat)
        && boat.ValueKind == JsonValueKind.String
            ? boat.GetString()!
            : "";

    private async Task<IReadOnlyList<Results<StoredReport, ProblemHttpResult>>> CreateSetAsync(
        Credential who,
        IReadOnlyList<Arrival> arriving,
        CancellationToken ct
    )
    {
        var (creations, refusals) = await CheckAsync(who, arriving, ct);
        var outcomes = await StoreAsync(creations, ct);
        return [.. outcomes.Zip(refusals, Answer)];
    }

    protected override Task ExecuteAsync(CancellationToken stoppingToken) =>
        Task.WhenAll(Enumerable.Range(0, setsAtOnce).Select(_ => StoreSetsAsync(stoppingToken)));

    [SuppressMessage(
        "Design",
        "CA1031",
        Justification = "Whatever went wrong is answered to the request that waits for it."
    )]
    private async Task StoreSetsAsync(CancellationToken stoppingToken)
    {
        var set = new List<Waiting>();
        while (await arrivals.Reader.WaitToReadAsync(stoppingToken))
        {
            await GatherAsync(set.Count / 2, stoppingToken);
            set.Clear();
            while (set.Count < MostGathered && arrivals.Reader.TryRead(out var waiting))
            {
                // Who has gone away will send it again.
                if (!waiting.Gone.IsCancellationRequested)
                {
                    set.Add(waiting);
                }
            }

            if (set.Count == 0)
            {
                continue;
            }

            try
            {
                var outcomes = await StoreAsync([.. set.Select(w => w.Creation)], stoppingToken);
                foreach (var (waiting, outcome) in set.Zip(outcomes))
                {
                    waiting.Outcome.TrySetResult(outcome);
                }
            }
            catch (Exception e) when (set.Count > 1 && !stoppingToken.IsCancellationRequested)
            {
                // One of them may be at fault: each alone then gets its own answer.
                log.LogWarning(e, "A set of {Count} reports could not be stored together", set.Count);
                foreach (var waiting in set)
                {
                    await StoreAloneAsync(waiting, stoppingToken);
                }
            }
            catch (Exception e)
            {
                set.ForEach(w => w.Outcome.TrySetException(e));
            }
        }
    }

    /// <summary>
    /// Under load the next set comes right after the last: those who were answered send again at once. A moment's patience makes one
    /// set of them, where the first to come would else be a set of its own. Who is alone waits for nobody.
    /// </summary>
    private async Task GatherAsync(int expected, CancellationToken ct)
    {
        for (var waits = 0; waits < MostWaits && arrivals.Reader.Count < expected; waits++)
        {
            await Task.Delay(Moment, ct);
        }
    }

    [SuppressMessage(
        "Design",
        "CA1031",
        Justification = "Whatever went wrong is answered to the request that waits for it."
    )]
    private async Task StoreAloneAsync(Waiting waiting, CancellationToken ct)
    {
        try
        {
            waiting.Outcome.TrySetResult((await StoreAsync([waiting.Creation], ct))[0]);
        }
        catch (Exception e)
        {
            waiting.Outcome.TrySetException(e);
        }
    }

    private async Task<IReadOnlyList<StoreOutcome?>> StoreAsync(IReadOnlyList<Creation> creations, CancellationToken ct)
    {
        await using var scope = scopes.CreateAsyncScope();
        var outcomes = await scope
            .ServiceProvider.GetRequiredService<ReportStore>()
            .CreateAllAsync(creations, scope.ServiceProvider.GetRequiredService<Doubts>().AboutAllAsync, ct);
        published.Changed(outcomes);
        return outcomes;
    }

    /// <summary>
    /// What can be said without the reports that are stored. A refusal is not final: a request that was stored once is answered as
    /// it was then, whatever has become of the coast.
    /// </summary>
    private async Task<(IReadOnlyList<Creation> Creations, IReadOnlyList<ProblemHttpResult?> Refusals)> CheckAsync(
        Credential who,
        IReadOnlyList<Arrival> arriving,
        CancellationToken ct
    )
    {
        var now = time.GetUtcNow();
        var (register, readings) = await registers.ReadAllAsync(
            arriving,
            (a, r) => ReportReader.Read(a.Document, r, now),
            ct
        );
        var refusals = readings.SelectAbreast(r => Refusal(who, register, r));
        var creations = arriving
            .Zip(readings, refusals)
            .ToList()
            .SelectAbreast(a => new Creation(
                new Submission(who.Id, a.First.IdempotencyKey, CanonicalJson.Hash(a.First.Document), a.First.Replace),
                a.Third is null ? a.Second.Value : null
            ));
        return (creations, refusals);
    }

    private static ProblemHttpResult? Refusal(Credential who, Register register, Reading<CatchReport> reading) =>
        reading.Value is not { } report ? Problems.Invalid(reading.Errors)
        : !who.ActsFor(register.Boats[report.Boat]) ? Problems.NotYourBoat(report.Boat)
        : null;

    private static Results<StoredReport, ProblemHttpResult> Answer(StoreOutcome? outcome, ProblemHttpResult? refusal) =>
        outcome is null ? refusal! : ReportEndpoints.Answer(outcome);

    private sealed record Waiting(Creation Creation, CancellationToken Gone)
    {
        // The answer is written by the request, not by the loop that stores.
        public TaskCompletionSource<StoreOutcome?> Outcome { get; } =
            new(TaskCreationOptions.RunContinuationsAsynchronously);
    }
}
