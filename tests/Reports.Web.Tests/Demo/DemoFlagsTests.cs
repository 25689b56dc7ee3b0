using System.Text.Json;
using Reports.Domain.Reporting;
using Reports.Web.Demo;

namespace Reports.Web.Tests.Demo;

/// <summary>
/// A year of the demo's reports, whose slips are known, past the flag rules: a sea and crews of another model than the simulation that
/// the rules were measured with (docs/method/flags.md), their hooks more varied, so that more good reports are asked about: 3 in 100
/// at most. A lost aught is not looked for: that of a 1/0 no rule tells, and these crews fish sizes three steps apart on one trip.
/// </summary>
public sealed class DemoFlagsTests
{
    private static readonly DateOnly First = new(2025, 11, 1);
    private static readonly DateOnly Last = new(2026, 10, 31);

    private static readonly Lazy<List<(DemoReport Draft, IReadOnlyList<ReportFlag> Flags)>> Year = new(() =>
    {
        var register = DemoCoast.World().ToRegister();
        var seen = new Queue<ReportMeasures>();
        var before = new Dictionary<string, ReportMeasures>(StringComparer.Ordinal);
        var flagged = new List<(DemoReport, IReadOnlyList<ReportFlag>)>();
        foreach (var day in DemoCoast.Days(First.AddDays(-Reports.Domain.Briefs.Windows.Display), Last))
        {
            while (
                seen.TryPeek(out var oldest)
                && oldest.FishedOn <= day.Date.AddDays(-Reports.Domain.Briefs.Windows.Display)
            )
            {
                seen.Dequeue();
            }

            var profile = CoastProfile.Of([.. seen]);
            var landings = day.Bait.ToDictionary(b => b.Landing, b => b.Bait.Select(BaitMeasure.Of).ToList());
            foreach (var draft in day.Reports.Where(r => !r.SoFar))
            {
                using var document = JsonDocument.Parse(draft.Json);
                var report = ReportReader.Read(document.RootElement, register, draft.ReceivedAt).Value!;
                var inherited = landings.GetValueOrDefault(register.Boats[report.Boat].Landing, []);
                var flags = FlagRules.Of(report, register, profile, inherited, before.GetValueOrDefault(report.Boat));
                if (day.Date >= First)
                {
                    flagged.Add((draft, flags));
                }

                before[report.Boat] = ReportMeasures.Of(report);
                seen.Enqueue(before[report.Boat].WithBait(inherited));
            }
        }

        return flagged;
    });

    [Fact]
    public void FewGoodReportsAreDoubtedAndNoneIsHeld()
    {
        var good = Year.Value.Where(r => r.Draft.Slip is null).ToList();
        Assert.NotEmpty(good);
        var doubted = good.Where(r => r.Flags.Count > 0).ToList();
        var codes = string.Join(", ", doubted.SelectMany(r => r.Flags.Select(f => f.Code)).CountBy(c => c));
        Assert.True(doubted.Count * 100 < good.Count * 3, $"{doubted.Count} of {good.Count}: {codes}");
        Assert.DoesNotContain(good, r => r.Flags.Any(f => f.Holding));
    }

    [Theory]
    [InlineData(DemoSlip.OtherUnit, "other-unit", "far-outside")]
    [InlineData(DemoSlip.WildSize, "over-record", "far-outside", "other-unit")]
    public void MostSlipsAreCaught(DemoSlip slip, params string[] codes)
    {
        var slipped = Year.Value.Where(r => r.Draft.Slip == slip).ToList();
        Assert.NotEmpty(slipped);
        var caught = slipped.Count(r => r.Flags.Any(f => codes.Contains(f.Code)));
        Assert.True(caught * 10 >= 8 * slipped.Count, $"{caught} of {slipped.Count}");
    }
}
