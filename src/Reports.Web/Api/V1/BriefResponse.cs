using Reports.Domain.Briefs;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using Reports.Storage;

namespace Reports.Web.Api.V1;

/// <summary>A brief as the API shows it: in the reader's units, with the set of as many outfits as were asked for.</summary>
public sealed record BriefResponse(
    string Zone,
    string Species,
    DateOnly AsOf,
    int Version,
    DateTime ComputedAt,
    EvidenceResponse Evidence,
    SizeResponse? Size,
    BaitResponse? Bait,
    SignsResponse? Signs,
    IReadOnlyList<RigResponse> Rigs,
    IReadOnlyList<OutfitResponse> Outfits,
    CatchRateResponse? CatchRate,
    IReadOnlyList<DayResponse> Days,
    IReadOnlyList<MissingPart> Missing,
    string? ClosedNotice
);

public sealed record EvidenceResponse(
    int Reports,
    int Boats,
    int? Fish,
    double EffectiveReports,
    double DecayedReports,
    DateOnly? Newest,
    string Strength,
    bool Pooled,
    BoatTrips? BoatTrips
);

public sealed record SizeResponse(
    string Unit,
    string Of,
    QuantilesResponse Quantiles,
    IReadOnlyList<GradeResponse> Grades,
    IReadOnlyList<OverResponse> Over,
    IReadOnlyList<SizeBar> Density
);

public sealed record QuantilesResponse(double P05, double P25, double P50, double P75, double P95);

public sealed record GradeResponse(double Share, double Low, double High, double Median, double BoatDays);

/// <summary>Shares over a round weight, each with its interval beside it.</summary>
public sealed record OverResponse(int Weight, double Fish, double BoatDays, Share FishInterval, Share BoatDaysInterval);

public sealed record BaitResponse(string Unit, double P10, double P50, double P90, IReadOnlyList<BaitKind> Kinds);

public sealed record SignsResponse(double? Surface, DepthResponse? Depth, double? Birds, string Hooking);

public sealed record DepthResponse(double P50, string Unit);

public sealed record HookResponse(string Style, string? Size, decimal? GapeMm, string? Wire);

/// <summary>The hook of an outfit, and by the bait of the day, from the shortest to the longest, what to tie on instead.</summary>
public sealed record OutfitHookResponse(
    string Style,
    string Size,
    decimal? GapeMm,
    string Wire,
    IReadOnlyList<HookOfBaitResponse> ByBait
);

/// <summary>A hook size and the longest bait, in the unit of <c>bait</c>, that it is for; null: any longer one.</summary>
public sealed record HookOfBaitResponse(double? UpTo, string Size);

public sealed record RigResponse(
    string Technique,
    int LineClass,
    HookResponse? Hook,
    int Reports,
    Share? Wins,
    Rate? LandedPerRod,
    Share? Held
);

public sealed record LeaderResponse(string Material, int Test);

public sealed record RangeResponse(double Low, double High);

public sealed record NotBitResponse(int LineClass);

public sealed record OutmatchedResponse(int Order);

public sealed record OutfitResponse(
    int Order,
    string Technique,
    int LineClass,
    LeaderResponse Leader,
    RangeResponse Drag,
    OutfitHookResponse Hook,
    RangeResponse Fish,
    double? BestOn,
    NotBitResponse? IfNotBit,
    OutmatchedResponse? IfOutmatched,
    string Basis,
    bool NoClearDifference
);

public sealed record CatchRateResponse(
    Rate PerAngler,
    Share? AtLeastOne,
    string? Trend,
    double? PerAnglerIfSilentBlank,
    double? PerAnglerIfSilentAlike,
    double StoppedAtLimit
);

public sealed record DayResponse(DateOnly Date, int? Boats, double? PerAngler);

/// <summary>The plain mapping from a published brief to what the API shows.</summary>
public static class BriefMapping
{
    public static BriefResponse ToBriefResponse(this PublishedBrief published, int outfits, WeightUnit unit)
    {
        var brief = published.Brief;
        var length = unit == WeightUnit.Kg ? LengthUnit.Cm : LengthUnit.In;
        double Heavy(double grams) => Math.Round(Weight.FromGrams(grams, unit), 1);
        double Long(double mm) => Math.Round(Length.FromMillimetres(mm, length), 1);
        int Line(int rung) => unit == WeightUnit.Kg ? LineClass.Kg(rung) : rung;

        return new BriefResponse(
            brief.Zone,
            brief.Species,
            brief.AsOf,
            published.Version,
            published.ComputedAt.UtcDateTime,
            new EvidenceResponse(
                brief.Evidence.Reports,
                brief.Evidence.Boats,
                brief.Evidence.Fish,
                brief.Evidence.EffectiveReports,
                brief.Evidence.DecayedReports,
                brief.Evidence.Newest,
                brief.Evidence.Strength.Word(),
                brief.Evidence.Pooled,
                brief.Evidence.BoatTrips
            ),
            brief.Size is { } size ? Size(size) : null,
            brief.Bait is { } bait
                ? new BaitResponse(length.Word(), Long(bait.P10Mm), Long(bait.P50Mm), Long(bait.P90Mm), bait.Kinds)
                : null,
            brief.Signs is { } signs ? Signs(signs) : null,
            [.. brief.Rigs.Select(Rig)],
            brief.OutfitSets.Count == 0
                ? []
                : [.. brief.OutfitSets[Math.Min(outfits, brief.OutfitSets.Count) - 1].Select(Outfit)],
            brief.CatchRate is { } rate
                ? new CatchRateResponse(
                    rate.PerAngler,
                    rate.AtLeastOne,
                    rate.Trend?.Word(),
                    rate.PerAnglerIfSilentBlank,
                    rate.PerAnglerIfSilentAlike,
                    rate.StoppedAtLimit
                )
                : null,
            [.. brief.Days.Select(d => new DayResponse(d.Date, d.Boats, d.PerAngler))],
            brief.Missing,
            brief.ClosedNotice
        );

        SizeResponse Size(SizePicture picture)
        {
            var table = unit == WeightUnit.Kg ? picture.Kg : picture.Lb;
            var q = picture.Quantiles;
            return new SizeResponse(
                unit.Word(),
                picture.Of.Word(),
                new(Heavy(q.P05), Heavy(q.P25), Heavy(q.P50), Heavy(q.P75), Heavy(q.P95)),
                [
                    .. picture.Grades.Select(g => new GradeResponse(
                        g.Share,
                        Heavy(g.LowGrams),
                        Heavy(g.HighGrams),
                        Heavy(g.MedianGrams),
                        g.BoatDays
                    )),
                ],
                [
                    .. table.Over.Select(o => new OverResponse(
                        o.Weight,
                        o.Fish.Mean,
                        o.BoatDays.Mean,
                        o.Fish,
                        o.BoatDays
                    )),
                ],
                table.Bars
            );
        }

        SignsResponse Signs(SignsPicture picture)
        {
            var depth = unit == WeightUnit.Kg ? DepthUnit.M : DepthUnit.Ft;
            return new SignsResponse(
                picture.Surface,
                picture.DepthP50Mm is { } mm
                    ? new(Math.Round(mm / (double)Depth.MillimetresPer(depth)), depth.Word())
                    : null,
                picture.Birds,
                picture.Hooking.Word()
            );
        }

        RigResponse Rig(RigRecord rig) =>
            new(
                rig.Technique.Word(),
                Line(rig.RungLb),
                rig.HookStyle is { } style
                    ? new HookResponse(
                        style.Word(),
                        rig.HookStep is { } step ? HookSize.FromStep(step).ToString() : null,
                        null,
                        null
                    )
                    : null,
                rig.Reports,
                rig.Wins,
                rig.LandedPerRod,
                rig.Held
            );

        OutfitResponse Outfit(Outfit outfit) =>
            new(
                outfit.Order,
                outfit.Technique.Word(),
                Line(outfit.RungLb),
                new(outfit.Leader.Word(), Line(outfit.LeaderTestLb)),
                new(Heavy(outfit.DragLowGrams), Heavy(outfit.DragHighGrams)),
                new(
                    outfit.HookStyle.Word(),
                    HookSize.FromStep(outfit.HookStep).ToString(),
                    outfit.GapeMm,
                    outfit.Wire.Word(),
                    [
                        .. outfit.HooksByBait.Select(h => new HookOfBaitResponse(
                            h.UpToMm is { } mm ? Long(mm) : null,
                            HookSize.FromStep(h.Step).ToString()
                        )),
                    ]
                ),
                new(Heavy(outfit.FishLowGrams), Heavy(outfit.FishHighGrams)),
                outfit.BestOn,
                outfit.IfNotBitRungLb is { } rung ? new(Line(rung)) : null,
                outfit.IfOutmatchedOrder is { } order ? new(order) : null,
                outfit.Basis.Word(),
                outfit.NoClearDifference
            );
    }
}
