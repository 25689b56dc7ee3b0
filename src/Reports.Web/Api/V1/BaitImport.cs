using System.Text;
using Reports.Domain.Coast;
using Reports.Domain.Reporting;
using Reports.Domain.Reporting.Csv;
using Reports.Storage;

namespace Reports.Web.Api.V1;

/// <summary>Imports landings' bait of the day, for the landing that the key acts for. Like a PUT, it takes the place of what stands.</summary>
public sealed class BaitImport(LandingBaitStore store, RegisterStore registers, Published published, TimeProvider time)
    : CsvImport<LandingDay, LandingBait, LandingBaitRow>(CsvFormats.Bait, registers, published, time)
{
    protected override Task<IReadOnlyDictionary<LandingDay, LandingBaitRow>> StandingAsync(
        IReadOnlyCollection<LandingDay> keys,
        CancellationToken ct
    ) => store.StandingAsync(keys, ct);

    protected override CsvError? NotYours(int line, LandingBait bait, Register register, Credential who) =>
        who.ActsForLanding(bait.Day.Landing)
            ? null
            : new(
                line,
                "landing",
                "not-your-landing",
                $"The key does not act for \"{bait.Day.Landing}\". Use the key of that landing, or an administrator's."
            );

    protected override bool IsSame(LandingBait bait, LandingBaitRow standing) =>
        ReportContent
            .Hash(Encoding.UTF8.GetBytes(bait.Bait.ToJson()))
            .AsSpan()
            .SequenceEqual(ReportContent.Hash(Encoding.UTF8.GetBytes(standing.Body)));

    protected override Task<Imported> StoreAsync(
        Func<IAsyncEnumerable<IReadOnlyList<(LandingBait Value, LandingBaitRow? Standing)>>> sets,
        Credential who,
        CancellationToken ct
    ) => store.ImportAsync(() => sets().Select(IReadOnlyList<LandingBait> (set) => [.. set.Select(e => e.Value)]), ct);
}
