using System.Globalization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.AspNetCore.OutputCaching;
using Reports.Domain.Briefs;
using Reports.Domain.Coast;
using Reports.Domain.TrackRecord;
using Reports.Storage;
using Reports.Web.Api.V1;
using Reports.Web.Pages.Shared.Charts;

namespace Reports.Web.Pages.TrackRecord;

/// <summary>How past briefs of a species did against what boats landed in the week after, bad weeks too.</summary>
[OutputCache(PolicyName = PagePolicy.Name)]
public sealed class RecordModel(RegisterCache registers, RecordStore store, Settings settings, TimeProvider time)
    : PageModel
{
    public ReaderUnits Units { get; private set; } = null!;
    public IReadOnlyList<Species> Choices { get; private set; } = [];

    /// <summary>Null where the coast has none yet.</summary>
    public Species? Species { get; private set; }
    public Record? Record { get; private set; }
    public Chart? Odds { get; private set; }
    public DateOnly Today { get; private set; }

    public async Task<IActionResult> OnGetAsync(string? species, CancellationToken ct)
    {
        Units = ReaderUnits.Of(Request);
        var register = await registers.GetAsync(ct);
        Choices =
        [
            .. register
                .Species.Values.Where(s => s.Kind == SpeciesKind.Catch)
                .OrderBy(s => s.Name, StringComparer.OrdinalIgnoreCase),
        ];
        Species = species is null
            ? (Choices is [var first, ..] ? first : null)
            : Choices.FirstOrDefault(s => s.Code == species);
        if (Species is null)
        {
            return species is null ? Page() : NotFound();
        }

        Today = Landing.DayIn(settings.TimeZone, time.GetUtcNow());
        Record = await store.OfAsync(Species.Code, Today, ct);
        if (Record is { Odds: { } odds, Weeks: { Count: > 0 } weeks })
        {
            Odds = CalibrationChart.Draw(
                odds,
                $"{Say.Day(weeks[^1].From, Today)} to {Say.Day(weeks[0].To, Today)}",
                Units.Link("/record.csv", ("species", Species.Code))
            );
        }

        return Page();
    }

    /// <summary>In a sentence or two.</summary>
    public string Lead()
    {
        if (Record?.Odds is not { } odds || Species is not { } fish)
        {
            return "";
        }

        var first = string.Create(
            CultureInfo.InvariantCulture,
            $"Over {Say.Plural(Record.Weeks.Count, "week")} the briefs gave an angler {CalibrationChart.Tenths(odds.Said)} chances in 10 of {fish.Name}; {CalibrationChart.Tenths(odds.Came)} in 10 had one."
        );
        return odds.SkillLikely switch
        {
            null => first,
            { Low: > 0, Mean: var skill } =>
                $"{first} Their odds were better than one number said all season, by {Percent(skill)} of its error.",
            { High: < 0, Mean: var skill } =>
                $"{first} Their odds were worse than one number said all season, by {Percent(-skill)} of its error.",
            _ => $"{first} Whether their odds were better or worse than one number said all season can't be told yet.",
        };
    }

    /// <summary>Whether odds that differed differed by as much as what came: said outside of a quarter about right (judgement, no source).</summary>
    public static string Boldness(double slope) =>
        slope < 0.75
            ? "Where the odds differed, they differed by more than what then came: high ones were too high, low ones too low."
        : slope > 1.25
            ? "Where the odds differed, they differed by less than what then came: they could have been bolder."
        : "Where the odds differed, so did what then came, by about as much.";

    /// <summary>"0.2, likely -0.1 to 0.5"</summary>
    public static string Ahead(Rate ahead) =>
        string.Create(
            CultureInfo.InvariantCulture,
            $"{ahead.Mean:0.##}, likely {Math.Floor(ahead.Low * 100) / 100:0.##} to {Math.Ceiling(ahead.High * 100) / 100:0.##}"
        );

    private static string Percent(double share) =>
        string.Create(CultureInfo.InvariantCulture, $"{Math.Max(1, Math.Round(100 * share)):0}\u00a0%");
}
