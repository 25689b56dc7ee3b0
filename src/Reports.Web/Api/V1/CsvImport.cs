using System.Runtime.CompilerServices;
using Reports.Domain.Coast;
using Reports.Domain.Reporting.Csv;
using Reports.Storage;

namespace Reports.Web.Api.V1;

/// <summary>How a file is imported.</summary>
/// <param name="DayFirst">Dates such as 20/11/2026 are taken, the day first.</param>
/// <param name="GoodRows">The records without errors are stored; otherwise an error keeps all of them out.</param>
/// <param name="DryRun">Nothing is stored; the answer says what would be.</param>
/// <param name="Replace">A report that differs from the standing one of its key becomes its next version.</param>
public sealed record ImportOptions(bool DayFirst, bool GoodRows, bool DryRun, bool Replace);

/// <summary>What an import did, or would do.</summary>
/// <param name="Stored">Records stored; in a dry run, that would be.</param>
/// <param name="Unchanged">Records that stand already, word for word.</param>
/// <param name="Errors">By line and column; of very many the first.</param>
public sealed record ImportResult(int Stored, int Unchanged, IReadOnlyList<CsvError> Errors, int ErrorCount);

/// <summary>An import of CSV files of one kind.</summary>
public abstract class CsvImport
{
    /// <summary>Most errors that are told one by one.</summary>
    public const int MostErrors = 1000;

    /// <param name="open">Opens the file from its start; each stream is closed after use.</param>
    public abstract Task<ImportResult> RunAsync(
        Func<Stream> open,
        ImportOptions options,
        Credential who,
        CancellationToken ct
    );
}

/// <summary>
/// Stores a CSV file's records, all or none, or the good ones. The file is read twice, so that it never lies in memory: once to
/// find every error without holding a lock, and once to store in sets inside one transaction, where each record is held against
/// what stands by then.
/// </summary>
/// <typeparam name="TKey">What makes a record the same record.</typeparam>
/// <typeparam name="T">A record.</typeparam>
/// <typeparam name="TStanding">What stands of a key.</typeparam>
public abstract class CsvImport<TKey, T, TStanding>(
    CsvFormat<TKey, T> format,
    RegisterStore registers,
    Published published,
    TimeProvider time
) : CsvImport
    where TKey : class
    where T : class
    where TStanding : class
{
    private const int Set = 500;

    private enum Verdict : byte
    {
        Refused,
        Unchanged,
        Store,
    }

    public sealed override async Task<ImportResult> RunAsync(
        Func<Stream> open,
        ImportOptions options,
        Credential who,
        CancellationToken ct
    )
    {
        var findings = new Findings(format);
        using (var bytes = open())
        {
            if (CsvText.EncodingFault(bytes) is { } fault)
            {
                findings.Add(fault);
                return findings.Result(stored: false);
            }
        }

        var file = new Reading(format, open, options, who, await registers.LoadAsync(ct), time.GetUtcNow());
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
            published.Changed(await StoreAsync(() => ToStoreAsync(file, findings, ct), who, ct));
            return findings.Result(stored: true);
        }
        catch (OvertakenException)
        {
            return findings.Result(stored: false);
        }
    }

    /// <summary>What stands of each of these keys; keys of which nothing stands are absent.</summary>
    protected abstract Task<IReadOnlyDictionary<TKey, TStanding>> StandingAsync(
        IReadOnlyCollection<TKey> keys,
        CancellationToken ct
    );

    /// <summary>Why a key that may import may not store this record; null when it may.</summary>
    protected virtual CsvError? NotYours(int line, T value, Register register, Credential who) => null;

    /// <summary>True when what stands says the same.</summary>
    protected abstract bool IsSame(T value, TStanding standing);

    /// <summary>Why a record may not take the place of one that says something else; null when it may.</summary>
    protected virtual CsvError? Stands(int line, T value, TStanding standing, ImportOptions options) => null;

    /// <summary>Stores the sets as one transaction, and draws them anew where it has to begin again.</summary>
    protected abstract Task<Imported> StoreAsync(
        Func<IAsyncEnumerable<IReadOnlyList<(T Value, TStanding? Standing)>>> sets,
        Credential who,
        CancellationToken ct
    );

    private async Task CheckAsync(Reading file, Findings findings, CancellationToken ct)
    {
        foreach (var set in file.Records().Chunk(Set))
        {
            var standing = await StandingAsync([.. set.Where(r => r.Value is not null).Select(r => r.Key!)], ct);
            foreach (var item in set)
            {
                findings.AddAll(item.Errors);
                findings.Verdicts.Add(
                    item.Value is { } value
                        ? Judge(item.Line, value, standing.GetValueOrDefault(item.Key!), file, findings)
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
    private async IAsyncEnumerable<IReadOnlyList<(T Value, TStanding? Standing)>> ToStoreAsync(
        Reading file,
        Findings findings,
        [EnumeratorCancellation] CancellationToken ct
    )
    {
        var good = file.Records()
            .Select((r, number) => (Number: number, r.Line, r.Key, r.Value))
            .Where(r => findings.Verdicts[r.Number] == Verdict.Store);
        foreach (var set in good.Chunk(Set))
        {
            var standing = await StandingAsync([.. set.Select(r => r.Key!)], ct);
            var entries = new List<(T Value, TStanding? Standing)>();
            foreach (var (number, line, key, value) in set)
            {
                var before = standing.GetValueOrDefault(key!);
                findings.Verdicts[number] = Judge(line, value!, before, file, findings);
                switch (findings.Verdicts[number])
                {
                    case Verdict.Store:
                        entries.Add((value!, before));
                        break;
                    case Verdict.Refused when !file.Options.GoodRows:
                        throw new OvertakenException();
                }
            }

            yield return entries;
        }
    }

    private Verdict Judge(int line, T value, TStanding? standing, Reading file, Findings findings)
    {
        if (NotYours(line, value, file.Register, file.Who) is { } foreign)
        {
            findings.Add(foreign);
            return Verdict.Refused;
        }

        if (standing is null)
        {
            return Verdict.Store;
        }

        if (IsSame(value, standing))
        {
            return Verdict.Unchanged;
        }

        if (Stands(line, value, standing, file.Options) is { } stands)
        {
            findings.Add(stands);
            return Verdict.Refused;
        }

        return Verdict.Store;
    }

    /// <summary>A file being imported, and by what it is read.</summary>
    private sealed record Reading(
        CsvFormat<TKey, T> Format,
        Func<Stream> Open,
        ImportOptions Options,
        Credential Who,
        Register Register,
        DateTimeOffset Now
    )
    {
        public IEnumerable<CsvRecord<TKey, T>> Records()
        {
            using var text = new StreamReader(Open());
            using var records = new CsvRecords<TKey, T>(Format, text, Options.DayFirst, Register, Now);
            foreach (var record in records.Read())
            {
                yield return record;
            }
        }
    }

    /// <summary>What is found out about a file: a verdict for each of its records, and the errors.</summary>
    private sealed class Findings(CsvFormat format)
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
            var columns = format.Columns.Select((c, i) => (c.Name, i)).ToDictionary(c => c.Name, c => c.i);
            return new(
                stored ? Verdicts.Count(v => v == Verdict.Store) : 0,
                Verdicts.Count(v => v == Verdict.Unchanged),
                [.. errors.OrderBy(e => e.Line).ThenBy(e => columns.GetValueOrDefault(e.Column ?? "", -1))],
                ErrorCount
            );
        }
    }

    /// <summary>Another door stored one of the records, differently, after this import had checked it.</summary>
    private sealed class OvertakenException : Exception;
}
