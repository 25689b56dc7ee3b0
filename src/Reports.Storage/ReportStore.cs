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
public sealed record Submission(string Credential, Guid IdempotencyKey, byte[] RequestHash, bool Replace)
{
    internal (string Credential, Guid Key) Slot => (Credential, IdempotencyKey);
}

/// <summary>A request to create. Without a report (its document was refused) it is only looked up by its idempotency key.</summary>
public sealed record Creation(Submission Submission, CatchReport? Report);

/// <summary>
/// Gathers at once what the flags of some reports need beside what their boats reported before, and answers what raises the flags
/// of each. It is asked in the order in which the reports are stored, for those that are stored.
/// </summary>
public delegate Task<Func<CatchReport, IReadOnlyList<ReportFlag>>> Doubting(
    IReadOnlyList<CatchReport> reports,
    IReadOnlyList<BoatReport> before,
    CancellationToken ct
);

/// <summary>
/// Stores reports: each call is one transaction that writes the version, moves the report's head, uses up the idempotency key
/// and marks the touched briefs, or nothing at all. Reports that come together are written together.
/// </summary>
public sealed partial class ReportStore(ReportsDbContext db, TimeProvider time)
{
    private const int Attempts = 40;
    private const int AttemptsAsSet = 6;
    private const int LongestPauseMilliseconds = 20;
    private const int ImportSet = 500;

    /// <summary>
    /// Creates reports, or new versions of those that may be replaced, as if one were sent after the other, in one transaction
    /// and a fixed number of statements. One outcome per creation, in order; null for one without a report whose idempotency
    /// key is new.
    /// </summary>
    /// <remarks>
    /// A set that keeps losing races is stored one by one, each in a transaction of its own: no set can hold up its members.
    /// </remarks>
    public async Task<IReadOnlyList<StoreOutcome?>> CreateAllAsync(
        IReadOnlyList<Creation> creations,
        Doubting doubting,
        CancellationToken ct
    )
    {
        if (creations.Count == 0)
        {
            return [];
        }

        try
        {
            return await InTransactionAsync(
                () => CreateSetAsync(creations, doubting, ct),
                ct,
                creations.Count > 1 ? AttemptsAsSet : Attempts
            );
        }
        catch (Exception e) when (creations.Count > 1 && db.IsLostRace(e))
        {
            var outcomes = new List<StoreOutcome?>(creations.Count);
            foreach (var creation in creations)
            {
                outcomes.AddRange(await CreateAllAsync([creation], doubting, ct));
            }

            return outcomes;
        }
    }

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
                var corrected = Next(
                    head,
                    WrittenReport.Of(report),
                    flags,
                    StateOf(report, flags),
                    credential,
                    null,
                    time.GetUtcNow()
                );
                return await SaveAsync(corrected, before, ct);
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
        await using var transaction = await db.Database.BeginTransactionAsync(ct);
        foreach (var set in reports.Chunk(ImportSet))
        {
            var heads = set.Select(r => NewHead(r.Report, r.At)).ToList();
            var versions = set.Zip(
                    heads,
                    (r, head) =>
                        Next(
                            head,
                            WrittenReport.Of(r.Report),
                            r.Flags,
                            StateOf(r.Report, r.Flags),
                            credential,
                            null,
                            r.At
                        )
                )
                .ToList();
            await db.InsertAllAsync(heads, ct);
            await db.InsertAllAsync(versions, ct);
            await db.InsertAllAsync([.. versions.SelectMany(Touches).Distinct().Select(TouchedRow.Of)], ct);
        }

        await transaction.CommitAsync(ct);
    }

    /// <summary>The state that a report has by itself: only a final report without a holding flag counts.</summary>
    public static ReportState StateOf(CatchReport report, IReadOnlyList<ReportFlag> flags) =>
        report.Status == ReportStatus.SoFar ? ReportState.SoFar
        : flags.Any(f => f.Holding) ? ReportState.Held
        : ReportState.Counted;

    private async Task<IReadOnlyList<StoreOutcome?>> CreateSetAsync(
        IReadOnlyList<Creation> creations,
        Doubting doubting,
        CancellationToken ct
    )
    {
        var brought = creations.Select(c => c.Report).OfType<CatchReport>().ToList();
        var looking = db.KnownAsync(
            brought.ConvertAll(r => r.Key),
            [.. creations.Select(c => c.Submission.IdempotencyKey)],
            [.. brought.Where(FlagRules.LooksBack).Select(r => r.Key)],
            ct
        );

        // While the database looks.
        var written = creations.SelectAbreast(c => c.Report is { } report ? WrittenReport.Of(report) : null);
        var known = await looking;
        var heads = known.Standing.ToDictionary(r => r.Key);
        var earlier = known.Earlier.ToDictionary(v => (v.Credential, v.IdempotencyKey!.Value));
        var reports = creations
            .Where(c => !earlier.ContainsKey(c.Submission.Slot))
            .Select(c => c.Report)
            .OfType<CatchReport>()
            .ToList();
        if (reports.Count == 0)
        {
            return [.. creations.Select(c => Earlier(c, earlier))];
        }

        var standing = heads.Count == 0 ? [] : await VersionsAsync(heads.Values, ct);
        var flagsOf = await doubting(reports, known.Before, ct);
        var newHeads = new List<ReportRow>();
        var versions = new List<ReportVersionRow>();
        var touched = new HashSet<Touch>();
        var outcomes = new List<StoreOutcome?>(creations.Count);
        foreach (var (creation, body) in creations.Zip(written))
        {
            if (Earlier(creation, earlier) is { } stored)
            {
                outcomes.Add(stored);
                continue;
            }

            if (body is not { Report: var report })
            {
                outcomes.Add(null);
                continue;
            }

            if (!heads.TryGetValue(report.Key, out var head))
            {
                heads[report.Key] = head = NewHead(report, time.GetUtcNow());
                newHeads.Add(head);
            }
            else if (!MayReplace(head, creation))
            {
                outcomes.Add(new StoreOutcome.Standing(head));
                continue;
            }

            var flags = flagsOf(report);
            var version = Next(
                head,
                body,
                flags,
                StateOf(report, flags),
                creation.Submission.Credential,
                creation.Submission,
                time.GetUtcNow()
            );
            var moved = Touches(version, report).ToList();
            if (standing.TryGetValue(head.Id, out var before))
            {
                moved.AddRange(Touches(before));
            }

            touched.UnionWith(moved);
            versions.Add(version);
            standing[head.Id] = earlier[creation.Submission.Slot] = version;
            outcomes.Add(new StoreOutcome.Stored(version, [.. moved.Select(t => t.Species).Distinct()]));
        }

        // One order for every set, so that two of them never wait for each other in a circle.
        await db.SaveChangesAsync(ct);
        await db.InsertAllAndCommitAsync(
            [
                .. newHeads
                    .OrderBy(r => r.Boat, StringComparer.Ordinal)
                    .ThenBy(r => r.FishedOn)
                    .ThenBy(r => r.Zone, StringComparer.Ordinal)
                    .ThenBy(r => r.Sailing),
            ],
            [.. versions.OrderBy(v => v.IdempotencyKey).ThenBy(v => v.Credential, StringComparer.Ordinal)],
            [.. touched.Select(TouchedRow.Of)],
            ct
        );
        return outcomes;
    }

    private static StoreOutcome? Earlier(
        Creation creation,
        Dictionary<(string Credential, Guid Key), ReportVersionRow> earlier
    ) =>
        !earlier.TryGetValue(creation.Submission.Slot, out var version) ? null
        : version.RequestHash is { } hash && hash.AsSpan().SequenceEqual(creation.Submission.RequestHash)
            ? new StoreOutcome.Replayed(version)
        : new StoreOutcome.KeyReused();

    private static bool MayReplace(ReportRow head, Creation creation) =>
        creation.Submission.Replace
        || head.State == ReportState.Retracted
        || (head.State == ReportState.SoFar && creation.Report!.Status == ReportStatus.Final);

    private async Task<Dictionary<string, ReportVersionRow>> VersionsAsync(
        IEnumerable<ReportRow> heads,
        CancellationToken ct
    )
    {
        var ids = heads.Select(h => h.Id).ToList();
        return await (
            from r in db.Reports
            where ids.Contains(r.Id)
            join v in db.ReportVersions.AsNoTracking()
                on new { r.Id, r.Version } equals new { Id = v.ReportId, v.Version }
            select v
        ).ToDictionaryAsync(v => v.ReportId, ct);
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
        WrittenReport written,
        IReadOnlyList<ReportFlag> flags,
        ReportState state,
        string credential,
        Submission? submission,
        DateTimeOffset at
    )
    {
        var report = written.Report;
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
            Body = written.Body(head.Id, head.Version, state, flags),
            Measures = written.Measures,
            Credential = credential,
            IdempotencyKey = submission?.IdempotencyKey,
            RequestHash = submission?.RequestHash,
        };
    }

    /// <summary>Writes a version and marks the briefs that it, or the version before it, counts in.</summary>
    private async Task<StoreOutcome> SaveAsync(ReportVersionRow version, ReportVersionRow before, CancellationToken ct)
    {
        var touched = Touches(version).Union(Touches(before)).ToList();
        db.ReportVersions.Add(version);
        db.Touched.AddRange(touched.Select(TouchedRow.Of));
        await db.SaveChangesAsync(ct);
        return new StoreOutcome.Stored(version, [.. touched.Select(t => t.Species).Distinct()]);
    }

    /// <summary>The briefs that a version counts in.</summary>
    private static IEnumerable<Touch> Touches(ReportVersionRow version, CatchReport report) =>
        version.State == ReportState.Counted
            ? report.Catch.Select(line => new Touch(version.Zone, line.Species, version.FishedOn))
            : [];

    private static IEnumerable<Touch> Touches(ReportVersionRow version) =>
        version.State == ReportState.Counted
            ? ReportMeasures
                .FromJson(version.Measures)
                .Catch.Select(line => new Touch(version.Zone, line.Species, version.FishedOn))
            : [];

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
    private async Task<T> InTransactionAsync<T>(Func<Task<T>> decide, CancellationToken ct, int attempts = Attempts)
    {
        for (var attempt = 1; ; attempt++)
        {
            db.ChangeTracker.Clear();
            await using var transaction = await db.Database.BeginTransactionAsync(ct);
            try
            {
                var outcome = await decide();
                if (db.Database.CurrentTransaction is not null)
                {
                    await transaction.CommitAsync(ct);
                }

                return outcome;
            }
            catch (Exception e) when (attempt < attempts && db.IsLostRace(e))
            {
                await transaction.RollbackAsync(ct);
            }

            await Task.Delay(Random.Shared.Next(LongestPauseMilliseconds), ct);
        }
    }
}
