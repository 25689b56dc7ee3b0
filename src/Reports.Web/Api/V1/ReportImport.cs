using System.Runtime.CompilerServices;
using System.Text;
using Reports.Domain.Coast;
using Reports.Domain.Reporting;
using Reports.Domain.Reporting.Csv;
using Reports.Storage;

namespace Reports.Web.Api.V1;

/// <summary>Imports reports, for the boats that the key acts for.</summary>
public sealed class ReportImport(
    ReportStore store,
    RegisterStore registers,
    Doubts doubts,
    Published published,
    TimeProvider time
) : CsvImport<ReportKey, CatchReport, StandingReport>(CsvFormats.Reports, registers, published, time)
{
    protected override Task<IReadOnlyDictionary<ReportKey, StandingReport>> StandingAsync(
        IReadOnlyCollection<ReportKey> keys,
        CancellationToken ct
    ) => store.StandingAsync(keys, ct);

    protected override CsvError? NotYours(int line, CatchReport report, Register register, Credential who) =>
        who.ActsFor(register.Boats[report.Boat])
            ? null
            : new(
                line,
                "boat",
                "not-your-boat",
                $"The key does not act for \"{report.Boat}\". Use the key of the boat, of its landing, or an administrator's."
            );

    protected override bool IsSame(CatchReport report, StandingReport standing) =>
        ReportContent
            .Hash(ReportWriter.Write(report, "", 0, ReportState.Counted, []))
            .AsSpan()
            .SequenceEqual(ReportContent.Hash(Encoding.UTF8.GetBytes(standing.Version.Body)));

    /// <summary>A report is not overwritten unasked; only a so-far count gives way to the final one.</summary>
    protected override CsvError? Stands(int line, CatchReport report, StandingReport standing, ImportOptions options) =>
        options.Replace || (standing.Head.State == ReportState.SoFar && report.Status == ReportStatus.Final)
            ? null
            : new(
                line,
                null,
                "report-stands",
                $"Report {standing.Head.Id} of {report.Boat}, {report.Zone}, {Dates.Text(report.FishedOn)}, sailing {report.Sailing} stands and says something else; import with replace to store this as its next version."
            );

    protected override Task<Imported> StoreAsync(
        Func<IAsyncEnumerable<IReadOnlyList<(CatchReport Value, StandingReport? Standing)>>> sets,
        Credential who,
        CancellationToken ct
    ) => store.ImportAsync(() => EntriesAsync(sets(), ct), who.Id, ct);

    private async IAsyncEnumerable<IReadOnlyList<ImportEntry>> EntriesAsync(
        IAsyncEnumerable<IReadOnlyList<(CatchReport Value, StandingReport? Standing)>> sets,
        [EnumeratorCancellation] CancellationToken ct
    )
    {
        await foreach (var set in sets.WithCancellation(ct))
        {
            var flagsOf = await doubts.AboutAllAsync([.. set.Select(e => e.Value)], ct);
            yield return [.. set.Select(e => new ImportEntry(e.Value, flagsOf(e.Value), e.Standing))];
        }
    }
}
