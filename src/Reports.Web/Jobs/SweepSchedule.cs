using Hangfire;
using Hangfire.PostgreSql;

namespace Reports.Web.Jobs;

/// <summary>
/// Every minute, and now: whatever is still touched is computed. A process that was killed while it wrote the schedule leaves Hangfire's
/// lock behind for a minute; the schedule is then the one that it found, and is written again until that succeeds.
/// </summary>
public sealed class SweepSchedule(IRecurringJobManager recurring, IBackgroundJobClient jobs, ILogger<SweepSchedule> log)
    : BackgroundService
{
    private const string Id = "sweep";
    private static readonly TimeSpan Again = TimeSpan.FromSeconds(5);

    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        // The start shall not wait for a lock.
        await Task.Yield();
        jobs.Enqueue<SweepJob>(job => job.ExecuteAsync(CancellationToken.None));
        while (true)
        {
            try
            {
                recurring.AddOrUpdate<SweepJob>(Id, job => job.ExecuteAsync(CancellationToken.None), Cron.Minutely());
                return;
            }
            catch (PostgreSqlDistributedLockException e)
            {
                log.LogWarning(e, "The schedule of the sweep is locked; it is written again in a few seconds.");
                await Task.Delay(Again, stoppingToken);
            }
        }
    }
}
