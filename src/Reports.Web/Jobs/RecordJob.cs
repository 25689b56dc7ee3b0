using System.Diagnostics.CodeAnalysis;
using Hangfire;
using Reports.Domain.Coast;
using Reports.Storage;

namespace Reports.Web.Jobs;

/// <summary>
/// Scores the weeks of the record that are due, newest first, for half a minute at most: the sweep calls it again while any is left,
/// and between two runs the briefs have both workers. Safe to run twice, and to be killed anywhere: a week is one row.
/// </summary>
public sealed class RecordJob(RecordStore record, Settings settings, TimeProvider time)
{
    private static readonly TimeSpan Longest = TimeSpan.FromSeconds(30);

    /// <remarks>A second one, enqueued while a week of a great coast takes its time, gives up at once: it would only hold a worker.</remarks>
    [SuppressMessage(
        "Design",
        "CA1031",
        Justification = "A week that can't be scored must not keep the others from it; it is told at the end."
    )]
    [AutomaticRetry(Attempts = 0, OnAttemptsExceeded = AttemptsExceededAction.Delete)]
    [DisableConcurrentExecution(0)]
    public async Task ExecuteAsync(CancellationToken ct)
    {
        var began = time.GetTimestamp();
        var failed = new List<Exception>();
        foreach (var (species, origin) in await DueAsync(ct))
        {
            try
            {
                await record.ComputeAsync(species, origin, Landing.EndIn(settings.TimeZone, origin), ct);
            }
            catch (Exception e) when (!ct.IsCancellationRequested)
            {
                failed.Add(e);
            }

            if (time.GetElapsedTime(began) > Longest)
            {
                break;
            }
        }

        if (failed.Count > 0)
        {
            throw new AggregateException("Some weeks of the record could not be scored.", failed);
        }
    }

    /// <summary>Weeks to score: those that are not kept, and once a day those whose late reports are still taken in.</summary>
    public Task<IReadOnlyList<(string Species, DateOnly Origin)>> DueAsync(CancellationToken ct)
    {
        var today = Landing.DayIn(settings.TimeZone, time.GetUtcNow());
        return record.DueAsync(today, Landing.EndIn(settings.TimeZone, today.AddDays(-1)), ct);
    }
}
