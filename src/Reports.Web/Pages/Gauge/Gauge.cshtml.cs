using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.AspNetCore.OutputCaching;
using Reports.Domain.Briefs;
using Reports.Domain.Coast;
using Reports.Storage;
using Reports.Web.Api.V1;
using Reports.Web.Pages.Briefs;

namespace Reports.Web.Pages.Gauge;

/// <summary>A sheet that prints at true scale: a card to check it, rulers, and the bait and hooks of a brief.</summary>
[OutputCache(PolicyName = PagePolicy.Name)]
public sealed class GaugeModel(RegisterCache registers, BriefStore briefs, Settings settings, TimeProvider time)
    : PageModel
{
    public ReaderUnits Units { get; private set; } = null!;
    public IReadOnlyList<Zone> Zones { get; private set; } = [];
    public IReadOnlyList<Species> Species { get; private set; } = [];

    /// <summary>Null until a zone and a species are chosen.</summary>
    public BriefView? View { get; private set; }

    public IReadOnlyList<Outfit> Outfits =>
        View is not { IsClosed: false, Brief.OutfitSets: { Count: > 0 } sets }
            ? []
            : sets[Math.Min(BriefEndpoints.DefaultOutfits, sets.Count) - 1];

    public async Task<IActionResult> OnGetAsync(string? zone, string? species, CancellationToken ct)
    {
        Units = ReaderUnits.Of(Request);
        var register = await registers.GetAsync(ct);
        Zones = [.. register.Zones.Values.OrderBy(z => z.Name, StringComparer.Ordinal)];
        Species =
        [
            .. register
                .Species.Values.Where(s => s.Kind == SpeciesKind.Catch)
                .OrderBy(s => s.Name, StringComparer.OrdinalIgnoreCase),
        ];
        if (string.IsNullOrEmpty(zone) || string.IsNullOrEmpty(species))
        {
            return Page();
        }

        if (Zones.FirstOrDefault(z => z.Code == zone) is not { } inZone)
        {
            return NotFound();
        }

        if (Species.FirstOrDefault(s => s.Code == species) is not { } ofSpecies)
        {
            return NotFound();
        }

        var standing = await briefs.FindAsync(zone, species, ct);
        View = BriefView.Of(
            inZone,
            ofSpecies,
            standing,
            settings.TimeZone,
            Landing.DayIn(settings.TimeZone, time.GetUtcNow())
        );
        return Page();
    }
}
