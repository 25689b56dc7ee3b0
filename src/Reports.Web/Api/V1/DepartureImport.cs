using Reports.Domain.Coast;
using Reports.Domain.Reporting.Csv;
using Reports.Storage;

namespace Reports.Web.Api.V1;

/// <summary>Imports departures, an administrator's to put. Like a PUT of each, a row takes the place of what stands.</summary>
public sealed class DepartureImport(RegisterStore registers, Published published, TimeProvider time)
    : CsvImport<DepartureKey, Departure, Departure>(CsvFormats.Departures, registers, published, time)
{
    private readonly RegisterStore store = registers;

    protected override Task<IReadOnlyDictionary<DepartureKey, Departure>> StandingAsync(
        IReadOnlyCollection<DepartureKey> keys,
        CancellationToken ct
    ) => store.DeparturesAsync(keys, ct);

    protected override bool IsSame(Departure departure, Departure standing) => departure == standing;

    protected override Task<Imported> StoreAsync(
        Func<IAsyncEnumerable<IReadOnlyList<(Departure Value, Departure? Standing)>>> sets,
        Credential who,
        CancellationToken ct
    ) => store.ImportAsync(sets, ct);
}
