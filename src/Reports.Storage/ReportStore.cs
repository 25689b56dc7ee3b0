using System.Text;
using Microsoft.EntityFrameworkCore;
using Reports.Domain.Reporting;

namespace Reports.Storage;

/// <summary>How storing a report ended.</summary>
public abstract record StoreOutcome
{
    private StoreOutcome() { }

    /// <summary>A version was stored by this call; the briefs of these species are now older than their reports.</summary>
    public sealed record Stored(ReportVersionRow Version, IReadOnlyList<string> TouchedSpecies) : StoreOutcome;

    /// <summary>The same request was stored before: its version, with the bytes that were answered then.</summary>
    public sealed record Replayed(ReportVersionRow Version) : StoreOutcome;

    /// <summary>The idempotency key was used for another body.</summary>
    public sealed record KeyReused : StoreOutcome;

    /// <summary>Another report of the same boat, zone, day and sailing stands.</summary>
    public sealed record Standing(ReportRow Report) : StoreOutcome;

    /// <summary>Somebody else changed the report first.</summary>
    public sealed record Stale(ReportRow Report) : StoreOutcome;
}

/// <summary>What a request to create carries beside the report: who, with which idempotency key, hashing to what.</summary>
public sealed record Submission(string Credential, Guid IdempotencyKey, byte[] RequestHash, bool Replace);

/// <summary>
/// Stores reports: each call is one transaction that writes the version, moves the report's head, uses up the idempotency key
/// and marks the touched briefs, or nothing at all.
/// </summary>
public sealed partial class ReportStore(ReportsDbContext db, TimeProvider time)
{
    private const int Attempts = 40;
    private const int LongestPauseMilliseconds = 20;
    private const int ImportSet = 500;

    /// <summary>The outcome of the same idempotency key earlier, or null when the key is new.</summary>
    public async Task<StoreOutcome?> FindEarlierAsync(Submission submission, CancellationToken ct)
    {
        var version = await db
            .ReportVersions.AsNoTracking()
            .FirstOrDefaultAsync(
                v => v.Credential == submission.Credential && v.IdempotencyKey == submission.IdempotencyKey,
                ct
            );
        return version is null ? null
            : version.RequestHash is { } hash && hash.AsSpan().SequenceEqual(submission.RequestHash)
                ? new StoreOutcome.Replayed(version)
            : new StoreOutcome.KeyReused();
    }

    /// <summary>Creates a report, or a new version of one that may be replaced.</summary>
    public Task<StoreOutcome> CreateAsync(
        CatchReport report,
        IReadOnlyList<ReportFlag> flags,
        Submission submission,
        CancellationToken ct
    ) => InTransactionAsync(() => CreateOnceAsync(report, flags, submission, ct), ct);

    /// <summary>Stores a corrected version. <paramref name="ifVersion"/> null: whatever version stands.</summary>
    public Task<StoreOutcome> CorrectAsync(
        string id,
        int? ifVersion,
        CatchReport report,
        IReadOnlyList<ReportFlag> flags,
        string credential,
        CancellationToken ct
    ) =>
        InTransactionAsync(
            async () =>
            {
                var head = await db.Reports.SingleAsync(r => r.Id == id, ct);
                if (ifVersion is { } version && head.Version != version)
                {
                    return new StoreOutcome.Stale(head);
                }

                var standing = await StandingAsync(report.Key, ct);
                if (standing is not null && standing.Id != id)
                {
                    return new StoreOutcome.Standing(standing);
                }

                var before = await VersionAsync(head, ct);
                return await AppendAsync(head, report, flags, StateOf(report, flags), before, credential, null, ct);
            },
            ct
        );

    /// <summary>Stores a version that differs in its state only: confirmed, or retracted.</summary>
    public Task<StoreOutcome> ChangeStateAsync(
        string id,
        int? ifVersion,
        ReportState state,
        string credential,
        CancellationToken ct
    ) =>
        InTransactionAsync(
            async () =>
            {
                var head = await db.Reports.SingleAsync(r => r.Id == id, ct);
                if (ifVersion is { } version && head.Version != version)
                {
                    return new StoreOutcome.Stale(head);
                }

                var before = await VersionAsync(head, ct);
                head.Version++;
                head.State = state;
                var restated = new ReportVersionRow
                {
                    ReportId = head.Id,
                    Version = head.Version,
                    StoredAt = time.GetUtcNow(),
                    Boat = head.Boat,
                    Zone = head.Zone,
                    FishedOn = head.FishedOn,
                    State = state,
                    Body = ReportWriter.Restate(before.Body, head.Version, state),
                    Measures = before.Measures,
                    Credential = credential,
                };
                return await SaveAsync(restated, before, ct);
            },
            ct
        );

    /// <summary>
    /// Stores reports that are known to be new as one transaction, in sets: the demo coast's history. Each keeps the instant at
    /// which it came in.
    /// </summary>
    public async Task ImportNewAsync(
        IEnumerable<(CatchReport Report, IReadOnlyList<ReportFlag> Flags, DateTimeOffset At)> reports,
        string credential,
        CancellationToken ct
    )
    {
        db.ChangeTracker.Clear();
        await using var transaction = await db.Database.BeginTransactionAsync(ct);
        foreach (var set in reports.Chunk(ImportSet))
        {
            foreach (var (report, flags, at) in set)
            {
                var head = NewHead(report, at);
                db.Reports.Add(head);
                var version = Next(head, report, flags, StateOf(report, flags), credential, null, at);
                db.ReportVersions.Add(version);
                Touch(version);
            }

            await db.SaveChangesAsync(ct);
            db.ChangeTracker.Clear();
        }

        await transaction.CommitAsync(ct);
    }

    /// <summary>The state that a report has by itself: only a final report without a holding flag counts.</summary>
    public static ReportState StateOf(CatchReport report, IReadOnlyList<ReportFlag> flags) =>
        report.Status == ReportStatus.SoFar ? ReportState.SoFar
        : flags.Any(f => f.Holding) ? ReportState.Held
        : ReportState.Counted;

    private async Task<StoreOutcome> CreateOnceAsync(
        CatchReport report,
        IReadOnlyList<ReportFlag> flags,
        Submission submission,
        CancellationToken ct
    )
    {
        if (await FindEarlierAsync(submission, ct) is { } earlier)
        {
            return earlier;
        }

        var head = await StandingAsync(report.Key, ct);
        if (head is null)
        {
            head = NewHead(report, time.GetUtcNow());
            db.Reports.Add(head);
            return await AppendAsync(
                head,
                report,
                flags,
                StateOf(report, flags),
                null,
                submission.Credential,
                submission,
                ct
            );
        }

        var mayReplace =
            submission.Replace
            || head.State == ReportState.Retracted
            || (head.State == ReportState.SoFar && report.Status == ReportStatus.Final);
        return mayReplace
            ? await AppendAsync(
                head,
                report,
                flags,
                StateOf(report, flags),
                await VersionAsync(head, ct),
                submission.Credential,
                submission,
                ct
            )
            // What stands may be this very request's twin, stored since the look above.
            : await FindEarlierAsync(submission, ct) ?? new StoreOutcome.Standing(head);
    }

    private async Task<StoreOutcome> AppendAsync(
        ReportRow head,
        CatchReport report,
        IReadOnlyList<ReportFlag> flags,
        ReportState state,
        ReportVersionRow? before,
        string credential,
        Submission? submission,
        CancellationToken ct
    )
    {
        var version = Next(head, report, flags, state, credential, submission, time.GetUtcNow());
        return await SaveAsync(version, before, ct);
    }

    private static ReportRow NewHead(CatchReport report, DateTimeOffset at) =>
        new()
        {
            Id = Guid.CreateVersion7(at).ToString("N"),
            Boat = report.Boat,
            Zone = report.Zone,
            FishedOn = report.FishedOn,
            Sailing = report.Sailing,
            Version = 0,
            State = ReportState.Retracted,
        };

    /// <summary>Moves the head to its next version and makes that version's row.</summary>
    private static ReportVersionRow Next(
        ReportRow head,
        CatchReport report,
        IReadOnlyList<ReportFlag> flags,
        ReportState state,
        string credential,
        Submission? submission,
        DateTimeOffset at
    )
    {
        head.Version++;
        head.State = state;
        head.Boat = report.Boat;
        head.Zone = report.Zone;
        head.FishedOn = report.FishedOn;
        head.Sailing = report.Sailing;
        return new ReportVersionRow
        {
            ReportId = head.Id,
            Version = head.Version,
            StoredAt = at,
            Boat = head.Boat,
            Zone = head.Zone,
            FishedOn = head.FishedOn,
            State = state,
            Body = Encoding.UTF8.GetString(ReportWriter.Write(report, head.Id, head.Version, state, flags)),
            Measures = ReportMeasures.Of(report).ToJson(),
            Credential = credential,
            IdempotencyKey = submission?.IdempotencyKey,
            RequestHash = submission?.RequestHash,
        };
    }

    /// <summary>Writes a version and marks the briefs that it, or the version before it, counts in.</summary>
    private async Task<StoreOutcome> SaveAsync(ReportVersionRow version, ReportVersionRow? before, CancellationToken ct)
    {
        db.ReportVersions.Add(version);
        Touch(version);
        if (before is not null)
        {
            Touch(before);
        }

        var touched = db.Touched.Local.Select(t => t.Species).Distinct().ToList();
        await db.SaveChangesAsync(ct);
        return new StoreOutcome.Stored(version, touched);
    }

    private void Touch(ReportVersionRow version)
    {
        if (version.State != ReportState.Counted)
        {
            return;
        }

        foreach (var line in ReportMeasures.FromJson(version.Measures).Catch)
        {
            if (!db.Touched.Local.Any(t => t.Zone == version.Zone && t.Species == line.Species))
            {
                db.Touched.Add(new TouchedRow { Zone = version.Zone, Species = line.Species });
            }
        }
    }

    private Task<ReportRow?> StandingAsync(ReportKey key, CancellationToken ct) =>
        db.Reports.FirstOrDefaultAsync(
            r => r.Boat == key.Boat && r.Zone == key.Zone && r.FishedOn == key.FishedOn && r.Sailing == key.Sailing,
            ct
        );

    private Task<ReportVersionRow> VersionAsync(ReportRow head, CancellationToken ct) =>
        db.ReportVersions.AsNoTracking().SingleAsync(v => v.ReportId == head.Id && v.Version == head.Version, ct);

    /// <summary>
    /// Two requests may decide at once; the unique indexes and the version token let one through, and the other decides again with
    /// what now stands. Of many at once one gets through each time, so they are done in as many rounds; the pauses spread them.
    /// </summary>
    private async Task<StoreOutcome> InTransactionAsync(Func<Task<StoreOutcome>> decide, CancellationToken ct)
    {
        for (var attempt = 1; ; attempt++)
        {
            db.ChangeTracker.Clear();
            await using var transaction = await db.Database.BeginTransactionAsync(ct);
            try
            {
                var outcome = await decide();
                await transaction.CommitAsync(ct);
                return outcome;
            }
            catch (DbUpdateConcurrencyException) when (attempt < Attempts)
            {
                await transaction.RollbackAsync(ct);
            }
            catch (DbUpdateException e) when (attempt < Attempts && db.IsDuplicate(e))
            {
                await transaction.RollbackAsync(ct);
            }

            await Task.Delay(Random.Shared.Next(LongestPauseMilliseconds), ct);
        }
    }
}
