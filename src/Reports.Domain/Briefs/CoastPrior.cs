using System.Text.Json;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using Reports.Domain.Rigs;

namespace Reports.Domain.Briefs;

/// <summary>
/// What the whole coast tells of a species on a day, for every zone's brief of that day to lean on: plain numbers, computed once
/// for all of them and kept, so that a report moves the brief of its own zone only.
/// </summary>
/// <remarks>
/// It rests on what was fished before the day: then the day's own reports, however many come in and in whatever order, leave it as
/// it is. A young coast has too little to wait for the morning, so there the day itself is in.
/// </remarks>
public sealed record CoastPrior
{
    /// <summary>Under so many reports in the display window before the day the coast is young (common practice, no source).</summary>
    public const int Young = 40;

    public required DateOnly AsOf { get; init; }

    /// <summary>The coast was young: sailings fished on <see cref="AsOf"/> are in.</summary>
    public required bool IsYoung { get; init; }

    /// <summary>Reports of the display window that it rests on.</summary>
    public required int Reports { get; init; }
    public required CoastRates Rates { get; init; }
    public required CoastRigs Rigs { get; init; }

    /// <summary>Decayed wins by rig.</summary>
    public required IReadOnlyList<RigWins> Wins { get; init; }

    /// <summary>The answer of a zone that too few boats fished; its zone is empty.</summary>
    public required Brief Pooled { get; init; }

    /// <summary>Whether a report fished on a day is part of what this was made from, if it had been there.</summary>
    public bool RestsOn(DateOnly fishedOn) => IsYoung ? fishedOn <= AsOf : fishedOn < AsOf;

    /// <param name="evidence">Of any zone, with the reports of the whole coast.</param>
    public static CoastPrior Of(Evidence evidence) => Of(evidence.Reports, evidence.Species, evidence.AsOf);

    /// <param name="reports">The coast's counted reports; those beyond <see cref="Windows.Mechanics"/> are not used.</param>
    public static CoastPrior Of(IReadOnlyList<ReportMeasures> reports, string species, DateOnly asOf)
    {
        var all = Sighting.Of(reports, species, asOf);
        var before = all.Where(s => s.AgeDays > 0).ToList();
        var shown = before.Where(s => s.AgeDays < Windows.Display).ToList();
        var isYoung = shown.Count < Young || Sample.Boats(shown) < Confidentiality.FewestBoats;
        IReadOnlyList<Sighting> coast = isYoung ? all : before;
        var (rates, rigs) = (CoastRates.Of(coast, species, asOf), CoastRigs.Of(coast, species));
        var wins = Briefs.Rigs.WinsOf(coast, species);
        return new CoastPrior
        {
            AsOf = asOf,
            IsYoung = isYoung,
            Reports = coast.Count(s => s.AgeDays < Windows.Display),
            Rates = rates,
            Rigs = rigs,
            Wins = wins,
            Pooled = BriefMaker.Pooled(coast, species, asOf, rates, rigs, wins),
        };
    }

    public string ToJson() => JsonSerializer.Serialize(this, Brief.Json);

    public static CoastPrior FromJson(string json) => JsonSerializer.Deserialize<CoastPrior>(json, Brief.Json)!;
}

/// <summary>Decayed wins of a rig on the whole coast.</summary>
public sealed record RigWins(Technique Technique, int RungLb, HookStyle? HookStyle, int? HookStep, double Wins)
{
    internal RigKey Key => new(Technique, RungLb, HookStyle, HookStep);
}
