using System.Globalization;
using System.Text;
using Microsoft.AspNetCore.Http.HttpResults;
using Reports.Domain.Briefs;
using Reports.Domain.Coast;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using Reports.Storage;
using Reports.Web.Api.V1;
using Reports.Web.Pages.Shared.Charts;

namespace Reports.Web.Pages.Briefs;

/// <summary>
/// The numbers of each plot as a file: RFC 4180, UTF-8, a header row, points as decimal marks, empty where a number is withheld.
/// Weights in the unit that the header names.
/// </summary>
public static class BriefCsv
{
    public static void MapBriefCsv(this WebApplication app)
    {
        var brief = app.MapGroup("/zones/{zone}/{species}").CacheOutput(PagePolicy.Name);
        brief.MapGet("/sizes.csv", ([AsParameters] Asked asked) => FileAsync(asked, "sizes", Sizes));
        brief.MapGet("/rigs.csv", ([AsParameters] Asked asked) => FileAsync(asked, "rigs", Rigs));
        brief.MapGet("/anglers.csv", ([AsParameters] Asked asked) => FileAsync(asked, "anglers", (b, _) => Anglers(b)));
        brief.MapGet("/bait.csv", ([AsParameters] Asked asked) => FileAsync(asked, "bait", Bait));
        brief.MapGet("/days.csv", ([AsParameters] Asked asked) => FileAsync(asked, "days", (b, _) => Days(b)));
    }

    /// <summary>Bars of the size plot.</summary>
    public static string Sizes(Brief brief, WeightUnit unit) =>
        Rows(
            [$"from_{unit.Word()}", $"to_{unit.Word()}", "share_of_fish"],
            ((unit == WeightUnit.Kg ? brief.Size?.Kg : brief.Size?.Lb)?.Bars ?? []).Select(b =>
                (object?[])[b.From, b.To, b.Share]
            )
        );

    /// <summary>Rigs with the ends of their 80 % intervals. A line class is called what it is called on a shelf of the unit.</summary>
    public static string Rigs(Brief brief, WeightUnit unit) =>
        Rows(
            [
                "technique",
                $"line_class_{unit.Word()}",
                "hook_style",
                "hook_size",
                "boat_trips",
                "wins",
                "wins_low",
                "wins_high",
                "landed_per_rod",
                "landed_per_rod_low",
                "landed_per_rod_high",
                "held",
                "held_low",
                "held_high",
            ],
            brief.Rigs.Select(r =>
                (object?[])
                    [
                        r.Technique.Word(),
                        unit == WeightUnit.Kg ? LineClass.Kg(r.RungLb) : r.RungLb,
                        r.HookStyle?.Word(),
                        r.HookStep is { } step ? HookSize.FromStep(step).ToString() : null,
                        r.Reports,
                        r.Wins?.Mean,
                        r.Wins?.Low,
                        r.Wins?.High,
                        r.LandedPerRod?.Mean,
                        r.LandedPerRod?.Low,
                        r.LandedPerRod?.High,
                        r.Held?.Mean,
                        r.Held?.Low,
                        r.Held?.High,
                    ]
            )
        );

    /// <summary>How many of equally likely anglers land how many fish.</summary>
    public static string Anglers(Brief brief)
    {
        var (few, many) = brief.CatchRate?.Angler is { } angler
            ? (FishChart.Anglers(angler, FishChart.FewDots), FishChart.Anglers(angler, FishChart.ManyDots))
            : ([], []);
        return Rows(
            ["fish_from", "fish_to", "of_20_anglers", "of_50_anglers"],
            (many.Count == 0 ? [] : FishChart.Columns(many[^1])).Select(c =>
                (object?[])[c.From, c.To, FishChart.In(few, c), FishChart.In(many, c)]
            )
        );
    }

    /// <summary>
    /// Hooks in use or advised (of the usual number of outfits) with the bait lengths that each is advised for or, where it is not, goes with by common practice, and the
    /// bait now: a tenth of it is shorter than the first, half than the second, nine tenths than the third.
    /// </summary>
    public static string Bait(Brief brief, WeightUnit unit)
    {
        var length = unit == WeightUnit.Kg ? LengthUnit.Cm : LengthUnit.In;
        var name = length.Word();
        double? Of(int? mm) => mm is { } m ? Math.Round(Length.FromMillimetres(m, length), 2) : null;
        var outfits =
            brief.OutfitSets.Count == 0
                ? []
                : brief.OutfitSets[Math.Min(BriefEndpoints.DefaultOutfits, brief.OutfitSets.Count) - 1];
        return Rows(
            [
                "hook_style",
                "hook_size",
                "advised",
                $"bait_from_{name}",
                $"bait_to_{name}",
                $"bait_p10_{name}",
                $"bait_p50_{name}",
                $"bait_p90_{name}",
            ],
            (brief.Bait is null ? [] : BaitChart.Hooks(brief.Rigs, outfits)).Select(h =>
                (object?[])
                    [
                        h.Style.Word(),
                        HookSize.FromStep(h.Step).ToString(),
                        h.IsAdvised ? "yes" : "no",
                        Of(h.Bait?.FromMm),
                        Of(h.Bait?.ToMm),
                        Of(brief.Bait!.P10Mm),
                        Of(brief.Bait.P50Mm),
                        Of(brief.Bait.P90Mm),
                    ]
            )
        );
    }

    /// <summary>The day strip. Boats and rate are empty where fewer than three boats reported.</summary>
    public static string Days(Brief brief) =>
        Rows(
            ["date", "boats", "fish_per_angler"],
            brief.Days.Select(d => (object?[])[Dates.Text(d.Date), d.Boats, d.PerAngler])
        );

    internal static string Rows(IReadOnlyList<string> columns, IEnumerable<IReadOnlyList<object?>> rows)
    {
        var text = new StringBuilder();
        foreach (var row in rows.Prepend(columns))
        {
            text.AppendJoin(',', row.Select(Cell)).Append("\r\n");
        }

        return text.ToString();
    }

    private static string Cell(object? value)
    {
        var text = Convert.ToString(value, CultureInfo.InvariantCulture) ?? "";
        return text.AsSpan().IndexOfAny(",\"\r\n") < 0
            ? text
            : $"\"{text.Replace("\"", "\"\"", StringComparison.Ordinal)}\"";
    }

    private static async Task<Results<FileContentHttpResult, NotFound>> FileAsync(
        Asked asked,
        string plot,
        Func<Brief, WeightUnit, string> rows
    )
    {
        var ct = asked.Http.RequestAborted;
        var register = await asked.Registers.GetAsync(ct);
        if (
            !register.Zones.TryGetValue(asked.Zone, out var zone)
            || !register.Species.TryGetValue(asked.Species, out var species)
            || species.Kind != SpeciesKind.Catch
        )
        {
            return TypedResults.NotFound();
        }

        var today = Landing.DayIn(asked.Settings.TimeZone, asked.Time.GetUtcNow());
        var published = await asked.Briefs.FindAsync(zone.Code, species.Code, ct);
        var view = BriefView.Of(zone, species, published, asked.Settings.TimeZone, today);
        return TypedResults.Bytes(
            Encoding.UTF8.GetBytes(rows(view.Brief, ReaderUnits.Of(asked.Http.Request).Weight)),
            "text/csv; charset=utf-8",
            $"{zone.Code}-{species.Code}-{plot}.csv"
        );
    }

    /// <summary>The address that was asked for, and what its answer is made from.</summary>
    private sealed record Asked(
        string Zone,
        string Species,
        HttpContext Http,
        RegisterCache Registers,
        BriefStore Briefs,
        Settings Settings,
        TimeProvider Time
    );
}
