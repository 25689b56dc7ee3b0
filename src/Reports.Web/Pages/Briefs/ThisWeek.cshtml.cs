using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.AspNetCore.OutputCaching;
using Reports.Domain.Coast;
using Reports.Storage;
using Reports.Web.Api.V1;
using Reports.Web.Pages.Shared.Charts;

namespace Reports.Web.Pages.Briefs;

/// <summary>Where to go this week for one species: a card for each zone, the best odds first.</summary>
[OutputCache(PolicyName = PagePolicy.Name)]
public sealed class ThisWeekModel(RegisterCache registers, BriefStore briefs, Settings settings, TimeProvider time)
    : PageModel
{
    public ReaderUnits Units { get; private set; } = null!;
    public Register Register { get; private set; } = null!;
    public IReadOnlyList<Species> Choices { get; private set; } = [];

    /// <summary>The species asked for, else that with the most evidence; null where the coast has none yet.</summary>
    public Species? Species { get; private set; }
    public IReadOnlyList<BriefView> Zones { get; private set; } = [];
    public Chart? Map { get; private set; }

    /// <summary>When the newest of the zones' briefs was computed.</summary>
    public DateTimeOffset? ComputedAt => Zones.Max(v => v.ComputedAt);

    /// <summary>The species with the most evidence, of equal ones the first; null of none.</summary>
    public static Species? MostReported(IEnumerable<Species> choices, IReadOnlyList<PublishedBrief> standing) =>
        choices.MaxBy(choice =>
            standing
                .Where(b => b.Brief.Species == choice.Code && !b.Brief.Evidence.Pooled)
                .Sum(b => b.Brief.Evidence.Reports)
        );

    public async Task<IActionResult> OnGetAsync(string? species, CancellationToken ct)
    {
        Units = ReaderUnits.Of(Request);
        Register = await registers.GetAsync(ct);
        Choices =
        [
            .. Register
                .Species.Values.Where(s => s.Kind == SpeciesKind.Catch)
                .OrderBy(s => s.Name, StringComparer.OrdinalIgnoreCase),
        ];
        var today = Landing.DayIn(settings.TimeZone, time.GetUtcNow());
        var standing = await briefs.AllAsync(ct);
        if (species is null)
        {
            Species = MostReported(Choices, standing);
        }
        else if ((Species = Choices.FirstOrDefault(s => s.Code == species)) is null)
        {
            return NotFound();
        }

        if (Species is not null)
        {
            var byZone = standing.Where(b => b.Brief.Species == Species.Code).ToDictionary(b => b.Brief.Zone);
            Zones =
            [
                .. Register
                    .Zones.Values.Select(z =>
                        BriefView.Of(z, Species, byZone.GetValueOrDefault(z.Code), settings.TimeZone, today)
                    )
                    .OrderBy(v => v.Brief.CatchRate is null)
                    .ThenBy(v => v.Brief.Evidence.Pooled)
                    .ThenByDescending(v => v.Brief.CatchRate?.AtLeastOne?.Mean ?? 0)
                    .ThenByDescending(v => v.Brief.CatchRate?.PerAngler.Mean)
                    .ThenBy(v => v.Zone.Name, StringComparer.Ordinal),
            ];
            Map = ZoneMap.Draw(
                [
                    .. Zones.Select(v => new ZoneShade(
                        v.Zone,
                        v.Brief.Evidence.Pooled || v.IsClosed ? null : v.Brief.CatchRate?.PerAngler.Mean
                    )),
                ],
                Say.Capital(Species.Name),
                $"the four weeks to {Say.Day(today, today)}, the newest days weighing most"
            );
        }

        return Page();
    }
}
