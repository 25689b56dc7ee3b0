using System.Collections.Concurrent;
using Reports.Domain.Briefs;
using Reports.Storage;

namespace Reports.Web.Api.V1;

/// <summary>
/// Briefs of past days (or of a pair that no job has computed yet), computed when asked for: two at once, the others wait a
/// moment and are then told to come back. A computed one is kept until a report of its day or an earlier one arrives through this
/// process, and a minute at most, for reports that arrive through another.
/// </summary>
public sealed class PastBriefs(IServiceScopeFactory scopes, TimeProvider time) : IDisposable
{
    public const int RetryAfterSeconds = 5;
    private const int AtOnce = 2;
    private const int MostKept = 500;
    private static readonly TimeSpan Kept = TimeSpan.FromMinutes(1);
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(5);

    private readonly SemaphoreSlim slots = new(AtOnce);
    private readonly ConcurrentDictionary<Question, Answer> kept = [];

    /// <summary>What the last answer was computed from: who asks for one zone of a day mostly asks for the others next.</summary>
    private volatile Coast? coast;
    private int generation;

    /// <summary>The brief, or null when both places are taken for too long.</summary>
    public async Task<PublishedBrief?> GetAsync(
        string zone,
        string species,
        DateOnly asOf,
        DateTimeOffset? knownAt,
        CancellationToken ct
    )
    {
        var question = new Question(zone, new CoastDay(species, asOf, knownAt));
        if (Find(question) is { } found)
        {
            return found;
        }

        if (!await slots.WaitAsync(Patience, ct))
        {
            return null;
        }

        try
        {
            if (Find(question) is { } meanwhile)
            {
                return meanwhile;
            }

            var before = Volatile.Read(ref generation);
            await using var scope = scopes.CreateAsyncScope();
            var (evidence, prior) =
                coast is { } held && held.Day == question.Day && time.GetUtcNow() - held.At < Kept
                    ? (held.Evidence, held.Prior)
                    : await CoastAsync(scope.ServiceProvider.GetRequiredService<EvidenceStore>(), question.Day, ct);
            var brief = BriefMaker.Make(evidence.For(zone, species), prior);
            var published = new PublishedBrief(0, time.GetUtcNow(), brief);
            if (kept.Count >= MostKept)
            {
                kept.Clear();
            }

            // What arrived while this was computed is not in it: answer it, but don't keep it.
            if (before == Volatile.Read(ref generation))
            {
                coast = new Coast(question.Day, evidence, prior, time.GetUtcNow());
                kept[question] = new Answer(published, time.GetUtcNow());
            }

            return published;
        }
        finally
        {
            slots.Release();
        }
    }

    /// <summary>Forgets the briefs that a report fished on this day belongs to.</summary>
    public void DropFrom(DateOnly fishedOn)
    {
        Interlocked.Increment(ref generation);
        if (coast is { } held && held.Day.AsOf >= fishedOn)
        {
            coast = null;
        }

        foreach (var question in kept.Keys.Where(q => q.Day.AsOf >= fishedOn))
        {
            kept.TryRemove(question, out _);
        }
    }

    public void Dispose() => slots.Dispose();

    private PublishedBrief? Find(Question question) =>
        kept.TryGetValue(question, out var answer) && time.GetUtcNow() - answer.At < Kept ? answer.Brief : null;

    private static async Task<(CoastEvidence, CoastPrior)> CoastAsync(
        EvidenceStore store,
        CoastDay day,
        CancellationToken ct
    )
    {
        var evidence = await store.LoadAsync(day.AsOf, day.KnownAt, day.Species, null, ct);
        return (evidence, CoastPrior.Of(evidence.Reports, day.Species, day.AsOf));
    }

    private sealed record CoastDay(string Species, DateOnly AsOf, DateTimeOffset? KnownAt);

    private sealed record Question(string Zone, CoastDay Day);

    private sealed record Coast(CoastDay Day, CoastEvidence Evidence, CoastPrior Prior, DateTimeOffset At);

    private sealed record Answer(PublishedBrief Brief, DateTimeOffset At);
}
