using System.Threading.Channels;
using Hangfire;

namespace Reports.Web.Jobs;

/// <summary>
/// Gathers which species were touched and hands them to the job when it has been quiet for a second, or three seconds after the
/// first: a burst of reports is computed once. What is lost here (a crash) is still marked in the database, and the sweep finds it.
/// </summary>
public sealed class BriefQueue(IBackgroundJobClient jobs, TimeProvider time, ILogger<BriefQueue> log)
    : BackgroundService
{
    private static readonly TimeSpan Quiet = TimeSpan.FromSeconds(1);
    private static readonly TimeSpan Longest = TimeSpan.FromSeconds(3);

    private readonly Channel<string> touched = Channel.CreateUnbounded<string>();

    public void Touched(IEnumerable<string> species)
    {
        foreach (var code in species)
        {
            touched.Writer.TryWrite(code);
        }
    }

    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        while (!stoppingToken.IsCancellationRequested)
        {
            var species = await GatherAsync(stoppingToken);
            foreach (var code in species)
            {
                try
                {
                    jobs.Enqueue<BriefJob>(job => job.ExecuteAsync(code, CancellationToken.None));
                }
                catch (BackgroundJobClientException e)
                {
                    // The queue's database is away; the touch is stored, so the sweep will enqueue it again.
                    log.LogWarning(e, "Could not enqueue the briefs of {Species}; the next sweep will", code);
                }
            }
        }
    }

    private async Task<IReadOnlyCollection<string>> GatherAsync(CancellationToken ct)
    {
        var species = new SortedSet<string>(StringComparer.Ordinal) { await touched.Reader.ReadAsync(ct) };
        var deadline = time.GetUtcNow() + Longest;
        var quietSince = time.GetUtcNow();
        while (time.GetUtcNow() < deadline && time.GetUtcNow() - quietSince < Quiet)
        {
            await Task.Delay(TimeSpan.FromMilliseconds(100), time, ct);
            while (touched.Reader.TryRead(out var code))
            {
                species.Add(code);
                quietSince = time.GetUtcNow();
            }
        }

        return species;
    }
}
