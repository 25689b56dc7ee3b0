using System.Globalization;
using Reports.Domain.Coast;
using Reports.Storage;
using Reports.Web.Api.V1;

namespace Reports.Web.Pages;

/// <summary>
/// All that a public page is made from besides its address, in one word: the briefs that stand, their record, the register, the coast's day and
/// the program. While it stays the same, so does every page.
/// </summary>
public sealed class PageStamp(
    RegisterCache registers,
    IServiceScopeFactory scopes,
    BriefChanges changes,
    Settings settings,
    TimeProvider time
)
{
    /// <summary>For so long another process's newer brief may go unseen.</summary>
    private static readonly TimeSpan Kept = TimeSpan.FromSeconds(1);

    private static readonly string Program = typeof(PageStamp).Module.ModuleVersionId.ToString("N");

    private volatile Held? held;

    /// <summary>The stamp, from memory where nothing can have changed it.</summary>
    public async ValueTask<string> CurrentAsync(CancellationToken ct) =>
        await WordAsync(
            held is { } seen && seen.Changes == changes.Published && time.GetUtcNow() - seen.At < Kept
                ? seen.Computed
                : await LookAsync(ct),
            ct
        );

    /// <summary>The stamp as the database has it now.</summary>
    public async ValueTask<string> FreshAsync(CancellationToken ct) => await WordAsync(await LookAsync(ct), ct);

    private async ValueTask<string> WordAsync(string computed, CancellationToken ct)
    {
        var register = await registers.StampAsync(ct);
        var day = Landing.DayIn(settings.TimeZone, time.GetUtcNow()).DayNumber;
        return string.Create(CultureInfo.InvariantCulture, $"{computed}-{register}-{day}-{Program}");
    }

    private async Task<string> LookAsync(CancellationToken ct)
    {
        // First, so that what is published meanwhile makes for one more look.
        var (before, now) = (changes.Published, time.GetUtcNow());
        await using var scope = scopes.CreateAsyncScope();
        var briefs = await scope.ServiceProvider.GetRequiredService<BriefStore>().StampAsync(ct);
        var record = await scope.ServiceProvider.GetRequiredService<RecordStore>().StampAsync(ct);
        var computed = string.Create(CultureInfo.InvariantCulture, $"{briefs}-{record}");
        held = new Held(computed, before, now);
        return computed;
    }

    private sealed record Held(string Computed, int Changes, DateTimeOffset At);
}
