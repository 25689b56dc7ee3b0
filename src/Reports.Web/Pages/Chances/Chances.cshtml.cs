using System.Globalization;
using System.Text;
using System.Text.Json;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Reports.Domain.Briefs;
using Reports.Domain.Chances;
using Reports.Domain.Coast;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using Reports.Storage;
using Reports.Web.Api.V1;
using Reports.Web.Pages.Briefs;
using Reports.Web.Pages.Shared.Charts;

namespace Reports.Web.Pages.Chances;

/// <summary>The trips of a day that make for one zone and are of one length: they have the same chances.</summary>
/// <param name="IsPlanned">Their departures name the zone; else it is one of those in reach.</param>
public sealed record DayRow(ZoneChances At, BriefView View, IReadOnlyList<ComingTrip> Trips, bool IsPlanned);

/// <summary>
/// Which trip to book. All that was asked is in the address. Departures are not under the <see cref="PageStamp"/>, so the page has a
/// weak tag of its own, made from the stamp and all that the trips and their chances say.
/// </summary>
public sealed class ChancesModel(
    RegisterCache registers,
    ComingTrips trips,
    BriefStore briefs,
    PageStamp stamp,
    Settings settings,
    TimeProvider time
) : PageModel
{
    public ReaderUnits Units { get; private set; } = null!;
    public Register Register { get; private set; } = null!;
    public DateOnly Today { get; private set; }
    public IReadOnlyList<Species> Choices { get; private set; } = [];
    public Species? Species { get; private set; }

    /// <summary>Null where nothing was asked that could be answered.</summary>
    public Outlook? Outlook { get; private set; }

    /// <summary>What of the address could not be used, in words.</summary>
    public IReadOnlyList<string> Faults { get; private set; } = [];

    /// <summary>The trips day by day, those with the best odds first.</summary>
    public IReadOnlyList<IGrouping<DateOnly, DayRow>> Days { get; private set; } = [];

    /// <summary>Each zone once with its chances by length, the best odds first.</summary>
    public IReadOnlyList<(BriefView View, IReadOnlyList<ZoneChances> ByLength)> Zones { get; private set; } = [];

    /// <summary>The zone and length with the best odds that rest on the zone's own boats; null where none can be told.</summary>
    public ZoneChances? Best { get; private set; }

    /// <summary>How the fish of those best odds fall to the anglers.</summary>
    public Chart? FishChart =>
        Best is { Chances.Angler: { } angler, Published: { } published } best
            ? Shared.Charts.FishChart.Draw(
                angler,
                $"{best.Zone.Name}, a trip of {LengthWords(best.TripDays)}",
                $"from {Say.Count(published.Brief.Evidence)} of the last four weeks",
                Link("/chances.csv")
            )
            : null;

    /// <summary>Lengths to choose from: those of the coming trips, whichever length is chosen.</summary>
    public IReadOnlyList<decimal> Lengths { get; private set; } = [];

    public async Task<IActionResult> OnGetAsync(CancellationToken ct)
    {
        Units = ReaderUnits.Of(Request);
        Today = Landing.DayIn(settings.TimeZone, time.GetUtcNow());
        var seen = await stamp.CurrentAsync(ct);
        Register = await registers.GetAsync(ct);
        Choices =
        [
            .. Register
                .Species.Values.Where(s => s.Kind == SpeciesKind.Catch)
                .OrderBy(s => s.Name, StringComparer.OrdinalIgnoreCase),
        ];
        var asked = Request.Query["species"].ToString();
        Species =
            asked.Length > 0
                ? Choices.FirstOrDefault(s => s.Code == asked)
                : ThisWeekModel.MostReported(Choices, await briefs.AllAsync(ct));
        if (Species is null)
        {
            return asked.Length > 0 ? NotFound() : Page();
        }

        var reading = ChancesQuery.Read(Request.Query, Register, Today, Species);
        if (reading.Value is not { } query)
        {
            Faults = [.. reading.Errors.Select(e => Say.Capital(e.Detail))];
            return Page();
        }

        Outlook = await trips.OutlookAsync(query with { Weight = Units.Weight }, Register, ct);
        var made = JsonSerializer.Serialize(Outlook.ToChancesResponse(), BriefEndpoints.Json);
        var tag = ChancesEndpoints.WeakTag(
            Encoding.UTF8.GetBytes($"{Request.Host}{Request.Path}{Request.QueryString} {seen} {made}")
        );
        Response.Headers.ETag = tag.ToString();
        Response.Headers.CacheControl = "public, no-cache";
        if (Request.GetTypedHeaders().IfNoneMatch.Any(t => t.Compare(tag, useStrongComparison: false)))
        {
            return StatusCode(StatusCodes.Status304NotModified);
        }

        await ArrangeAsync(Outlook, ct);
        return Page();
    }

    /// <summary>An address of this page that asks the same but for what is named; an empty value asks for nothing.</summary>
    public string Link(params (string Name, string Value)[] but) => Link("/chances", but);

    public string Link(string path, params (string Name, string Value)[] but)
    {
        string[] names = ["species", "landing", "zone", "tripDays", "from", "days", "limit"];
        return Units.Link(
            path,
            [
                .. names
                    .Select(n =>
                        (Name: n, Value: but.FirstOrDefault(b => b.Name == n).Value ?? Request.Query[n].ToString())
                    )
                    .Where(p => p.Value.Length > 0),
            ]
        );
    }

    /// <summary>"half a day", "1.5 days"</summary>
    public static string LengthWords(decimal days) =>
        days switch
        {
            0.5m => "half a day",
            0.75m => "three quarters of a day",
            1 => "a day",
            < 1 => string.Create(CultureInfo.InvariantCulture, $"{days:0.##} of a day"),
            _ => string.Create(CultureInfo.InvariantCulture, $"{days:0.##} days"),
        };

    /// <summary>"Ardent Tern and Little Auk twice, Old Cannery Dock": who sails, by landing.</summary>
    public string Boats(DayRow row) =>
        string.Join(
            "; ",
            row.Trips.GroupBy(t => t.Boat.Landing)
                .Select(landing =>
                    string.Join(
                        ", ",
                        landing
                            .GroupBy(t => t.Boat)
                            .Select(b => Say.Capital(b.Key.Name) + (b.Count() > 1 ? $" ({b.Count()} sailings)" : ""))
                    )
                    + (
                        Register.Landings.Count > 1 && Register.Landings.TryGetValue(landing.Key, out var from)
                            ? " from " + from.Name
                            : ""
                    )
                )
        );

    /// <summary>The first trip of these chances; null where they are of no known trip.</summary>
    public ComingTrip? FirstTo(ZoneChances at) =>
        Outlook!.Trips.FirstOrDefault(t => t.Length.Days == at.TripDays && t.Zones.Contains(at.Zone));

    /// <summary>"7 % fewer fish had the silent ones caught nothing, 22 % more had they done well"; null where it makes no difference.</summary>
    public static string? Silent(CatchRate rate)
    {
        if (
            rate
            is not {
                PerAnglerIfSilentBlank: { } blank,
                PerAnglerIfSilentAlike: { } alike,
                PerAngler.Mean: > 0 and var mean
            }
        )
        {
            return null;
        }

        var fewer = (int)Math.Ceiling((100 * (1 - (blank / mean))) - 0.1);
        var more = (int)Math.Ceiling((100 * ((alike / mean) - 1)) - 0.1);
        return fewer < 1 && more < 1
            ? null
            : string.Create(
                CultureInfo.InvariantCulture,
                $"{Math.Max(0, fewer)} % fewer fish had the silent ones caught nothing, {Math.Max(0, more)} % more had they done well"
            );
    }

    /// <summary>"Of 100 anglers 39 land none, 24 one, 16 two, 21 three or more": whole numbers that sum to 100.</summary>
    public static string OfHundred(FishShares fish)
    {
        var shares = new[] { fish.None, fish.One, fish.Two, fish.ThreeOrMore };
        var counts = shares.Select(s => (int)Math.Floor(s * 100)).ToArray();
        var left = 100 - counts.Sum();
        foreach (var i in Enumerable.Range(0, 4).OrderByDescending(i => (shares[i] * 100) - counts[i]).Take(left))
        {
            counts[i]++;
        }

        return $"{counts[0]} none, {counts[1]} one, {counts[2]} two, {counts[3]} three or more";
    }

    /// <summary>"about 1 in 10 boat trips landed one of 100 lb or more"; null where no heavy fish is worth a word.</summary>
    public string? Heavy(SizePicture size)
    {
        return Verdict.Heavy(size, Units.Weight) is { } heavy
            ? $"{Say.InTen(heavy.BoatDays.Mean)} boat trips landed one of {heavy.Weight} {Units.Weight.Word()} or more"
            : null;
    }

    private async Task ArrangeAsync(Outlook outlook, CancellationToken ct)
    {
        var views = outlook
            .Chances.DistinctBy(c => c.Zone.Code)
            .ToDictionary(
                c => c.Zone.Code,
                c => BriefView.Of(c.Zone, outlook.Query.Species, c.Published, settings.TimeZone, Today)
            );
        var at = outlook.Chances.ToDictionary(c => (c.Zone.Code, c.TripDays));
        Days =
        [
            .. outlook
                .Trips.SelectMany(t => t.Zones, (trip, zone) => (trip, zone))
                .GroupBy(t => (t.trip.Date, t.zone.Code, t.trip.Length, t.trip.IsZonePlanned))
                .Select(g =>
                    (
                        g.Key.Date,
                        Row: new DayRow(
                            at[(g.Key.Code, g.Key.Length.Days)],
                            views[g.Key.Code],
                            [.. g.Select(t => t.trip)],
                            g.Key.IsZonePlanned
                        )
                    )
                )
                .OrderBy(r => r.Date)
                .ThenByDescending(r => Odds(r.Row.At))
                .ThenBy(r => r.Row.View.Zone.Name, StringComparer.Ordinal)
                .ThenBy(r => r.Row.At.TripDays)
                .ThenBy(r => !r.Row.IsPlanned)
                .GroupBy(r => r.Date, r => r.Row),
        ];
        Zones =
        [
            .. outlook
                .Chances.GroupBy(c => c.Zone.Code)
                .OrderByDescending(g => g.Max(Odds))
                .ThenBy(g => views[g.Key].Zone.Name, StringComparer.Ordinal)
                .Select(g => (views[g.Key], (IReadOnlyList<ZoneChances>)[.. g.OrderBy(c => c.TripDays)])),
        ];
        Best = outlook
            .Chances.Where(c => c.Chances?.AtLeastOne is not null && c.Published?.Brief.Evidence.Pooled == false)
            .OrderBy(c => c.TripDays)
            .MaxBy(Odds);
        var all = outlook.Query.TripDays is null
            ? outlook
            : await trips.OutlookAsync(outlook.Query with { TripDays = null }, Register, ct);
        Lengths =
        [
            .. all
                .Trips.Select(t => t.Length.Days)
                .Concat(outlook.Query.TripDays is { } chosen ? [chosen] : [])
                .Distinct()
                .Order(),
        ];

        static double Odds(ZoneChances c) => c.Chances?.AtLeastOne?.Mean ?? c.Chances?.PerAngler.Mean / 1000 ?? -1;
    }
}
