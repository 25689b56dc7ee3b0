using System.Runtime.CompilerServices;
using Reports.Domain.Coast;
using Reports.Domain.Reporting;
using Reports.Domain.Reporting.Csv;
using Reports.Storage;

namespace Reports.Web.Api.V1;

/// <summary>How a file is imported.</summary>
/// <param name="DayFirst">Dates such as 20/11/2026 are taken, the day first.</param>
/// <param name="GoodRows">The reports without errors are stored; otherwise an error keeps all of them out.</param>
/// <param name="DryRun">Nothing is stored; the answer says what would be.</param>
/// <param name="Replace">A report that differs from the standing one of its key becomes its next version.</param>
public sealed record ImportOptions(bool DayFirst, bool GoodRows, bool DryRun, bool Replace);

/// <summary>What an import did, or would do.</summary>
/// <param name="Stored">Reports stored; in a dry run, that would be.</param>
/// <param name="Unchanged">Reports that stand already, word for word.</param>
/// <param name="Errors">By line and column; of very many the first.</param>
public sealed record ImportResult(int Stored, int Unchanged, IReadOnlyList<CsvError> Errors, int ErrorCount);

/// <summary>
/// Stores a CSV file's reports, all or none, or the good ones. The file is read twice, so that it never lies in memory: once to
/// find every error without holding a lock, and once to store in sets inside one transaction, where each report is held against
/// what stands by then.
/// </summary>
public sealed class ReportImport(
    ReportStore store,
    RegisterStore registers,
    Doubts doubts,
    Published published,
    TimeProvider time
)
{
    /// <summary>Most errors that are told one by one.</summary>
    public const int MostErrors = 1000;

    private const int Set = 500;

    private enum Verdict : byte
    {
        Refused,
        Unchanged,
        Store,
    }

    /// <param name="open">Opens the file from its start; each stream is closed after use.</param>
    public async Task<ImportResult> RunAsync(
        Func<Stream> open,
        ImportOptions options,
        Credential who,
        CancellationToken ct
    )
    {
        var findings = new Findings();
        using (var bytes = open())
        {
            if (CsvReports.EncodingFault(bytes) is { } fault)
            {
                findings.Add(fault);
                return findings.Result(stored: false);
            }
        }

        var file = new Reading(open, options, who, await registers.LoadAsync(ct), time.GetUtcNow());
        await CheckAsync(file, findings, ct);
        if (options.DryRun)
        {
            return findings.Result(stored: true);
        }

        if ((findings.ErrorCount > 0 && !options.GoodRows) || !findings.AnyToStore)
        {
            return findings.Result(stored: false);
        }

        try
        {
            published.Changed(await store.ImportAsync(() => ToStoreAsync(file, findings, ct), who.Id, ct));
            return findings.Result(stored: true);
        }
        catch (OvertakenException)
        {
            return findings.Result(stored: false);
        }
    }

    private async Task CheckAsync(Reading file, Findings findings, CancellationToken ct)
    {
        foreach (var set in file.Reports().Chunk(Set))
        {
            var standing = await store.StandingAsync([.. set.Select(r => r.Report?.Key).OfType<ReportKey>()], ct);
            foreach (var item in set)
            {
                findings.AddAll(item.Errors);
                findings.Verdicts.Add(
                    item.Report is { } report
                        ? Judge(item.Line, report, standing.GetValueOrDefault(report.Key), file, findings)
                        : Verdict.Refused
                );
                foreach (var number in item.Spoils)
                {
                    findings.Verdicts[number] = Verdict.Refused;
                }
            }
        }
    }

    /// <summary>The sets to store: drawn inside the transaction, so judged once more by what stands now.</summary>
    private async IAsyncEnumerable<IReadOnlyList<ImportEntry>> ToStoreAsync(
        Reading file,
        Findings findings,
        [EnumeratorCancellation] CancellationToken ct
    )
    {
        var good = file.Reports()
            .Select((r, number) => (Number: number, r.Line, Report: r.Report!))
            .Where(r => findings.Verdicts[r.Number] == Verdict.Store);
        foreach (var set in good.Chunk(Set))
        {
            var standing = await store.StandingAsync([.. set.Select(r => r.Report.Key)], ct);
            var entries = new List<(CatchReport Report, StandingReport? Standing)>();
            foreach (var (number, line, report) in set)
            {
                var before = standing.GetValueOrDefault(report.Key);
                findings.Verdicts[number] = Judge(line, report, before, file, findings);
                switch (findings.Verdicts[number])
                {
                    case Verdict.Store:
                        entries.Add((report, before));
                        break;
                    case Verdict.Refused when !file.Options.GoodRows:
                        throw new OvertakenException();
                }
            }

            var flagsOf = await doubts.AboutAllAsync([.. entries.Select(e => e.Report)], ct);
            yield return [.. entries.Select(e => new ImportEntry(e.Report, flagsOf(e.Report), e.Standing))];
        }
    }

    private static Verdict Judge(
        int line,
        CatchReport report,
        StandingReport? standing,
        Reading file,
        Findings findings
    )
    {
        if (!file.Who.ActsFor(file.Register.Boats[report.Boat]))
        {
            findings.Add(
                new(
                    line,
                    "boat",
                    "not-your-boat",
                    $"The key does not act for \"{report.Boat}\". Use the key of the boat, of its landing, or an administrator's."
                )
            );
            return Verdict.Refused;
        }

        if (standing is null)
        {
            return Verdict.Store;
        }

        if (
            ReportContent
                .Hash(ReportWriter.Write(report, "", 0, ReportState.Counted, []))
                .AsSpan()
                .SequenceEqual(ReportContent.Hash(System.Text.Encoding.UTF8.GetBytes(standing.Version.Body)))
        )
        {
            return Verdict.Unchanged;
        }

        if (file.Options.Replace || (standing.Head.State == ReportState.SoFar && report.Status == ReportStatus.Final))
        {
            return Verdict.Store;
        }

        findings.Add(
            new(
                line,
                null,
                "report-stands",
                $"Report {standing.Head.Id} of {report.Boat}, {report.Zone}, {Dates.Text(report.FishedOn)}, sailing {report.Sailing} stands and says something else; import with replace to store this as its next version."
            )
        );
        return Verdict.Refused;
    }

    /// <summary>A file being imported, and by what it is read.</summary>
    private sealed record Reading(
        Func<Stream> Open,
        ImportOptions Options,
        Credential Who,
        Register Register,
        DateTimeOffset Now
    )
    {
        public IEnumerable<CsvReport> Reports()
        {
            using var text = new StreamReader(Open());
            using var reports = new CsvReports(text, Options.DayFirst, Register, Now);
            foreach (var report in reports.Read())
            {
                yield return report;
            }
        }
    }

    /// <summary>What is found out about a file: a verdict for each of its reports, and the errors.</summary>
    private sealed class Findings
    {
        private readonly List<CsvError> errors = [];

        public List<Verdict> Verdicts { get; } = [];
        public int ErrorCount { get; private set; }
        public bool AnyToStore => Verdicts.Contains(Verdict.Store);

        public void AddAll(IEnumerable<CsvError> some)
        {
            foreach (var error in some)
            {
                Add(error);
            }
        }

        public void Add(CsvError error)
        {
            ErrorCount++;
            if (errors.Count < MostErrors)
            {
                errors.Add(error);
            }
        }

        public ImportResult Result(bool stored)
        {
            var columns = Column.All.Select((c, i) => (c.Name, i)).ToDictionary(c => c.Name, c => c.i);
            return new(
                stored ? Verdicts.Count(v => v == Verdict.Store) : 0,
                Verdicts.Count(v => v == Verdict.Unchanged),
                [.. errors.OrderBy(e => e.Line).ThenBy(e => columns.GetValueOrDefault(e.Column ?? "", -1))],
                ErrorCount
            );
        }
    }

    /// <summary>Another door stored one of the reports, differently, after this import had checked it.</summary>
    private sealed class OvertakenException : Exception;
}
