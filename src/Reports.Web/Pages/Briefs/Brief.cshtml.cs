using System.Globalization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.AspNetCore.OutputCaching;
using Reports.Domain.Briefs;
using Reports.Domain.Coast;
using Reports.Domain.Measures;
using Reports.Storage;
using Reports.Web.Api.V1;
using Reports.Web.Pages.Shared.Charts;

namespace Reports.Web.Pages.Briefs;

/// <summary>The brief of a zone and species, read from its row and said in words, charts and tables.</summary>
[OutputCache(PolicyName = PagePolicy.Name)]
public sealed class BriefModel(RegisterCache registers, BriefStore briefs, Settings settings, TimeProvider time)
    : PageModel
{
    private const string FourWeeks = "the last four weeks, the newest days weighing most";
    private const string ThreeMonths = "the last three months, the newest weeks weighing most";

    public ReaderUnits Units { get; private set; } = null!;
    public Register Register { get; private set; } = null!;
    public BriefView View { get; private set; } = null!;

    /// <summary>How many outfits the reader would carry.</summary>
    public int Carried { get; private set; } = BriefEndpoints.DefaultOutfits;
    public IReadOnlyList<Outfit> Outfits { get; private set; } = [];

    public Brief Brief => View.Brief;

    /// <summary>What to tie on, in a breath; empty where nothing is advised.</summary>
    public string Bring => View.IsClosed ? "" : Say.Bring(Outfits, Units.Weight);

    public string Verdict => Domain.Briefs.Verdict.Of(Brief, View.Zone.Name, View.Species.Name, Units.Weight);
    public string Title => $"{Say.Capital(View.Species.Name)} on {View.Zone.Name}";

    public SizeTable? Sizes =>
        Brief.Size is not { } size ? null
        : Units.Weight == WeightUnit.Kg ? size.Kg
        : size.Lb;

    public async Task<IActionResult> OnGetAsync(string zone, string species, string? outfits, CancellationToken ct)
    {
        Units = ReaderUnits.Of(Request);
        Register = await registers.GetAsync(ct);
        if (
            !Register.Zones.TryGetValue(zone, out var knownZone)
            || !Register.Species.TryGetValue(species, out var knownSpecies)
            || knownSpecies.Kind != SpeciesKind.Catch
        )
        {
            return NotFound();
        }

        if (
            int.TryParse(outfits, NumberStyles.None, CultureInfo.InvariantCulture, out var carried)
            && carried is >= 1 and <= BriefEndpoints.MostOutfits
        )
        {
            Carried = carried;
        }

        var published = await briefs.FindAsync(zone, species, ct);
        View = BriefView.Of(
            knownZone,
            knownSpecies,
            published,
            settings.TimeZone,
            Landing.DayIn(settings.TimeZone, time.GetUtcNow())
        );
        Outfits = Brief.OutfitSets.Count == 0 ? [] : Brief.OutfitSets[Math.Min(Carried, Brief.OutfitSets.Count) - 1];
        return Page();
    }

    public Chart? SizeChart =>
        Brief.Size is { } size && Sizes is { Bars.Count: > 0 }
            ? Shared.Charts.SizeChart.Draw(size, Outfits, Units.Weight, Period(FourWeeks), Csv("sizes"))
            : null;

    public IReadOnlyList<Chart> RigCharts =>
        Brief.Rigs.Count == 0
            ? []
            :
            [
                Shared.Charts.RigCharts.Wins(Brief.Rigs, Units.Weight, ThreeMonths, Csv("rigs")),
                Shared.Charts.RigCharts.LandedPerRod(Brief.Rigs, Units.Weight, ThreeMonths, Csv("rigs")),
                Shared.Charts.RigCharts.Held(Brief.Rigs, Units.Weight, ThreeMonths, Csv("rigs")),
            ];

    public Chart? FishChart =>
        Brief.CatchRate?.Angler is { } angler && !View.IsClosed
            ? Shared.Charts.FishChart.Draw(angler, "a trip of a day", Period(FourWeeks), Csv("anglers"))
            : null;

    public Chart? BaitChart =>
        Shared.Charts.BaitChart.Draw(
            Brief.Bait,
            Brief.Rigs,
            Outfits,
            Units.Length,
            $"bait of {Say.Count(Brief.Evidence)}, {FourWeeks}",
            Csv("bait")
        );

    public Chart? DayChart =>
        Brief.Days.Count > 0
            ? Shared.Charts.DayChart.Draw(
                Brief.Days,
                Brief.CatchRate,
                $"Fish for each angler and trip day, {Say.Day(Brief.Days[0].Date, View.Today)} to {Say.Day(Brief.Days[^1].Date, View.Today)}; {Say.Count(Brief.Evidence)}. A dash: too few boats to show.",
                View.Today,
                Csv("days")
            )
            : null;

    /// <summary>What could not be computed, for readers: one line for each reason, without those of single rigs.</summary>
    public IEnumerable<string> Missing =>
        Brief
            .Missing.Where(m => !m.Pointer.StartsWith("/rigs/", StringComparison.Ordinal))
            .Select(m => m.Detail)
            .Distinct(StringComparer.Ordinal);

    public string BaitName(string code) =>
        Say.Capital(Register.Species.TryGetValue(code, out var bait) ? bait.Name : code);

    private string Csv(string plot) => Units.Link($"{View.Path}/{plot}.csv");

    private string Period(string window) => $"{Say.Count(Brief.Evidence)}, {window}";
}
