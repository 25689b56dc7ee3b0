using System.Globalization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.AspNetCore.OutputCaching;
using Reports.Domain.Briefs;
using Reports.Domain.Coast;
using Reports.Domain.Measures;
using Reports.Domain.PackLists;
using Reports.Storage;
using Reports.Web.Api.V1;
using Reports.Web.Pages.Briefs;

namespace Reports.Web.Pages.PackLists;

/// <summary>What to take along. All that was chosen is in the address, so that a link is the list.</summary>
[OutputCache(PolicyName = PagePolicy.Name)]
public sealed class PackListModel(RegisterCache registers, BriefStore briefs, Settings settings, TimeProvider time)
    : PageModel
{
    private const decimal UsualDays = 1;

    public ReaderUnits Units { get; private set; } = null!;
    public Register Register { get; private set; } = null!;
    public IReadOnlyList<Zone> Zones { get; private set; } = [];
    public IReadOnlyList<Species> Species { get; private set; } = [];
    public IReadOnlySet<string> ChosenZones { get; private set; } = new HashSet<string>();
    public IReadOnlySet<string> ChosenSpecies { get; private set; } = new HashSet<string>();
    public IReadOnlySet<int> Owned { get; private set; } = new HashSet<int>();
    public decimal Days { get; private set; } = UsualDays;
    public int Carried { get; private set; } = BriefEndpoints.DefaultOutfits;

    /// <summary>What of the address could not be used, in words.</summary>
    public IReadOnlyList<string> Faults { get; private set; } = [];

    /// <summary>The briefs that the list was made from; empty until zones and species are chosen.</summary>
    public IReadOnlyList<BriefView> Views { get; private set; } = [];

    /// <summary>Null until zones and species are chosen.</summary>
    public PackList? List { get; private set; }

    public async Task OnGetAsync(CancellationToken ct)
    {
        Units = ReaderUnits.Of(Request);
        Register = await registers.GetAsync(ct);
        Zones = [.. Register.Zones.Values.OrderBy(z => z.Name, StringComparer.Ordinal)];
        Species =
        [
            .. Register
                .Species.Values.Where(s => s.Kind == SpeciesKind.Catch)
                .OrderBy(s => s.Name, StringComparer.OrdinalIgnoreCase),
        ];
        ReadAddress();
        if (Faults.Count > 0 || ChosenZones.Count == 0 || ChosenSpecies.Count == 0)
        {
            return;
        }

        var standing = (await briefs.AllAsync(ct)).ToDictionary(b => (b.Brief.Zone, b.Brief.Species));
        var today = Landing.DayIn(settings.TimeZone, time.GetUtcNow());
        Views =
        [
            .. from zone in Zones.Where(z => ChosenZones.Contains(z.Code))
            from species in Species.Where(s => ChosenSpecies.Contains(s.Code))
            select BriefView.Of(
                zone,
                species,
                standing.GetValueOrDefault((zone.Code, species.Code)),
                settings.TimeZone,
                today
            ),
        ];
        List = PackList.Make([.. Views.Select(v => v.Brief)], Days, Carried, Owned);
    }

    /// <summary>The name of a brief on this list: "southern bluefin on Cannery Bank".</summary>
    public string Name((string Zone, string Species) brief) =>
        $"{Register.Species[brief.Species].Name} on {Register.Zones[brief.Zone].Name}";

    private void ReadAddress()
    {
        var faults = new List<string>();
        ChosenZones = Known("zone", Zones.Select(z => z.Code));
        ChosenSpecies = Known("species", Species.Select(s => s.Code));
        Owned = Known("own", LineClass.Ladder.Select(r => r.ToString(CultureInfo.InvariantCulture)))
            .Select(r => int.Parse(r, CultureInfo.InvariantCulture))
            .ToHashSet();
        if (Request.Query["days"].ToString() is { Length: > 0 } days)
        {
            if (
                decimal.TryParse(days, NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out var told)
                && told is >= PackList.ShortestDays and <= PackList.LongestDays
            )
            {
                Days = told;
            }
            else
            {
                faults.Add("Days: a number from 0.5 to 21, such as 1.5.");
            }
        }

        if (Request.Query["outfits"].ToString() is { Length: > 0 } outfits)
        {
            if (
                int.TryParse(outfits, NumberStyles.None, CultureInfo.InvariantCulture, out var told)
                && told is >= 1 and <= PackList.MostOutfits
            )
            {
                Carried = told;
            }
            else
            {
                faults.Add("Outfits: a whole number from 1 to 5.");
            }
        }

        if (ChosenZones.Count == 0 != (ChosenSpecies.Count == 0))
        {
            faults.Add(ChosenZones.Count == 0 ? "Zones: choose at least one." : "Species: choose at least one.");
        }

        Faults = faults;

        HashSet<string> Known(string name, IEnumerable<string> known)
        {
            var asked = Request.Query[name].Select(v => v ?? "").ToHashSet();
            var found = known.Where(asked.Contains).ToHashSet();
            if (found.Count < asked.Count)
            {
                faults.Add("The address names something that is not known here; choose among what stands below.");
            }

            return found;
        }
    }
}
