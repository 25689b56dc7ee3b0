using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.AspNetCore.OutputCaching;
using Reports.Domain.Coast;
using Reports.Storage;
using Reports.Web.Api.V1;

namespace Reports.Web.Pages.Briefs;

/// <summary>All zones, each with its briefs.</summary>
[OutputCache(PolicyName = PagePolicy.Name)]
public sealed class ZonesModel(RegisterCache registers, BriefStore briefs, Settings settings, TimeProvider time)
    : PageModel
{
    public ReaderUnits Units { get; private set; } = null!;
    public Register Register { get; private set; } = null!;
    public IReadOnlyList<(Zone Zone, IReadOnlyList<BriefView> Briefs)> Zones { get; private set; } = [];

    public async Task OnGetAsync(CancellationToken ct)
    {
        Units = ReaderUnits.Of(Request);
        Register = await registers.GetAsync(ct);
        var standing = (await briefs.AllAsync(ct)).ToDictionary(b => (b.Brief.Zone, b.Brief.Species));
        var today = Landing.DayIn(settings.TimeZone, time.GetUtcNow());
        var species = Register
            .Species.Values.Where(s => s.Kind == SpeciesKind.Catch)
            .OrderBy(s => s.Name, StringComparer.OrdinalIgnoreCase)
            .ToList();
        Zones =
        [
            .. Register
                .Zones.Values.OrderBy(z => z.Reach.Select(r => (decimal?)r.Hours).Min() ?? decimal.MaxValue)
                .ThenBy(z => z.Name, StringComparer.Ordinal)
                .Select(z =>
                    (
                        z,
                        (IReadOnlyList<BriefView>)
                            [
                                .. species.Select(s =>
                                    BriefView.Of(
                                        z,
                                        s,
                                        standing.GetValueOrDefault((z.Code, s.Code)),
                                        settings.TimeZone,
                                        today
                                    )
                                ),
                            ]
                    )
                ),
        ];
    }
}
