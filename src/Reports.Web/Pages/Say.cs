using System.Globalization;
using Reports.Domain.Briefs;
using Reports.Domain.Coast;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;

namespace Reports.Web.Pages;

/// <summary>
/// How numbers sound on a page. Chances are natural frequencies; a range always goes with them and is rounded outwards, so that no
/// wording is surer than the number behind it; the number said lies within the range said.
/// </summary>
public static class Say
{
    private const double Slack = 1e-9;

    /// <summary>Of ten, as said: 1 to 9, or 0 and 10 for "fewer than 1" and "more than 9".</summary>
    public static int OfTen(double share) =>
        share < 0.05 ? 0
        : share > 0.95 ? 10
        : Math.Clamp((int)Math.Round(share * 10, MidpointRounding.AwayFromZero), 1, 9);

    /// <summary>Of ten, rounded outwards.</summary>
    public static (int Low, int High) RangeOfTen(Share share) =>
        ((int)Math.Floor((share.Low * 10) + Slack), (int)Math.Ceiling((share.High * 10) - Slack));

    /// <summary>"about 6 in 10"</summary>
    public static string InTen(double share) => InTen(OfTen(share));

    /// <summary>"likely 5 to 7"</summary>
    public static string Likely(Share share)
    {
        var (low, high) = RangeOfTen(share);
        return "likely " + Between(low, high);
    }

    /// <summary>"about 6 in 10 anglers, likely 5 to 7"</summary>
    public static string InTen(Share share, string of) => $"{InTen(share.Mean)} {of}, {Likely(share)}";

    /// <summary>The same chance the other way round: "about 4 in 10". Both sum to ten.</summary>
    public static string OthersInTen(double share) => InTen(10 - OfTen(share));

    /// <summary>"11 of 100 fish, likely 8 to 15"</summary>
    public static string OfHundred(Share share, string of) =>
        $"{HundredOf(share.Mean)} of 100 {of}, {LikelyOfHundred(share)}";

    /// <summary>Under a heading that says "of 100": "11, likely 8 to 15"</summary>
    public static string HundredCell(Share share) => $"{HundredOf(share.Mean)}, {LikelyOfHundred(share)}";

    /// <summary>Under a heading that says "of 10": "6, likely 5 to 7"</summary>
    public static string TenCell(Share share) => $"{Tens(share.Mean)}, {Likely(share)}";

    /// <summary>Under a heading that says "of 10": "6", "under 1", "over 9"</summary>
    public static string Tens(double share) =>
        OfTen(share) switch
        {
            0 => "under 1",
            10 => "over 9",
            var tens => Number(tens),
        };

    /// <summary>"11", "under 1"</summary>
    public static string HundredOf(double share) =>
        share is > 0 and < 0.005 ? "under 1" : Number(Math.Round(share * 100, MidpointRounding.AwayFromZero));

    /// <summary>"1.4, likely 1.1 to 1.8"</summary>
    public static string Spread(Rate rate)
    {
        var digits = FishDigits(rate.Mean);
        var unit = Math.Pow(10, -digits);
        var low = Math.Floor((rate.Low / unit) + Slack) * unit;
        var high = Math.Ceiling((rate.High / unit) - Slack) * unit;
        return $"{Fish(rate.Mean)}, likely {Fixed(low, digits)} to {Fixed(high, digits)}";
    }

    /// <summary>Fish for each angler or rod: two digits below one, else one, zeros too, so that a column of them can be read down.</summary>
    public static string Fish(double rate) => Fixed(rate, FishDigits(rate));

    private static int FishDigits(double rate) => rate < 0.95 ? 2 : 1;

    private static string Fixed(double value, int digits) =>
        value.ToString("F" + digits.ToString(CultureInfo.InvariantCulture), CultureInfo.InvariantCulture);

    /// <summary>
    /// The fish that custom has an outfit's line for, and a word where most of those landed lately are not of them: line is chosen by what
    /// bites and holds, so it may be lighter than custom's.
    /// </summary>
    public static string MeantFor(Outfit outfit, SizePicture? size, WeightUnit unit) =>
        $"{Weights(outfit.FishLowGrams, outfit.FishHighGrams, unit)} by custom"
        + (
            size is not null && size.Quantiles.P50 > outfit.FishHighGrams
                ? "; most landed lately are heavier, so expect long fights and lost fish"
            : size is not null && size.Quantiles.P50 < outfit.FishLowGrams ? "; most landed lately are smaller"
            : ""
        );

    /// <summary>"20 to 40 lb": whole units below 20, else fives, outwards; a gram of rounding does not widen it.</summary>
    public static string Weights(int lowGrams, int highGrams, WeightUnit unit)
    {
        var low = Weight.FromGrams(lowGrams, unit);
        var high = Weight.FromGrams(highGrams, unit);
        var step = high > 20 ? 5 : 1;
        var from = Math.Floor((low + 0.01) / step) * step;
        var to = Math.Max(Math.Ceiling((high - 0.01) / step) * step, from);
        return from.Equals(to)
            ? $"about {Number(from)} {unit.Word()}"
            : $"{Number(from)} to {Number(to)} {unit.Word()}";
    }

    /// <summary>"20 to 40 lb for half of them, 15 to 80 lb for nine in ten"; where both ranges are one, it is said once.</summary>
    public static string Sizes(SizeQuantiles sizes, WeightUnit unit)
    {
        var half = Weights(sizes.P25, sizes.P75, unit);
        var most = Weights(sizes.P05, sizes.P95, unit);
        return half == most ? $"{most} for nine in ten" : $"{half} for half of them, {most} for nine in ten";
    }

    /// <summary>Drag by a scale: half pounds, tenths of a kilogram.</summary>
    public static string Drag(int lowGrams, int highGrams, WeightUnit unit)
    {
        var step = unit == WeightUnit.Kg ? 0.1 : 0.5;
        double Near(int grams) =>
            Math.Max(step, Math.Round(Weight.FromGrams(grams, unit) / step, MidpointRounding.AwayFromZero) * step);
        return $"{Number(Near(lowGrams), 1)} to {Number(Near(highGrams), 1)} {unit.Word()}";
    }

    /// <summary>A length to half an inch or a whole centimetre.</summary>
    public static string BaitLengths(BaitPicture bait, LengthUnit unit)
    {
        var step = unit == LengthUnit.In ? 0.5 : 1;
        double Of(int mm) => Length.FromMillimetres(mm, unit) / step;
        var low = Math.Floor(Of(bait.P10Mm) + 0.02) * step;
        var high = Math.Ceiling(Of(bait.P90Mm) - 0.02) * step;
        return low.Equals(high)
            ? $"about {Number(low, 1)} {unit.Word()}"
            : $"{Number(low, 1)} to {Number(high, 1)} {unit.Word()}";
    }

    public static string BaitLength(int mm, LengthUnit unit)
    {
        var step = unit == LengthUnit.In ? 0.5 : 1;
        var length = Length.FromMillimetres(mm, unit);
        return $"{Number(Math.Round(length / step, MidpointRounding.AwayFromZero) * step, 1)} {unit.Word()}";
    }

    /// <summary>A depth in fives.</summary>
    public static string MarkedAt(int mm, DepthUnit unit) =>
        $"{Number(Math.Round(mm / (double)Depth.MillimetresPer(unit) / 5, MidpointRounding.AwayFromZero) * 5)} {unit.Word()}";

    /// <summary>A line by the name it is sold under.</summary>
    public static string Line(int rungLb, WeightUnit unit) =>
        unit == WeightUnit.Kg ? $"{LineClass.Kg(rungLb)} kg" : $"{rungLb} lb";

    /// <summary>"1/0", "size 2"</summary>
    private static string HookSizeOf(int step) =>
        HookSize.FromStep(step) is { IsAught: true } aught ? aught.ToString() : $"size {HookSize.FromStep(step)}";

    /// <summary>"1/0 circle", "size 2 circle"</summary>
    public static string Hook(HookStyle? style, int? step) =>
        step is { } s ? $"{HookSizeOf(s)} {Named(style)}"
        : style is null or HookStyle.None ? ""
        : style is HookStyle.Circle ? "circle hook"
        : Named(style);

    /// <summary>What a hook of a size is called.</summary>
    private static string Named(HookStyle? style) =>
        style switch
        {
            null or HookStyle.None => "hook",
            HookStyle.J => "J hook",
            HookStyle.Circle => "circle",
            _ => "treble",
        };

    /// <summary>"up to 4.5 in: size 1; up to 6 in: 1/0; longer: 2/0"; empty where one size serves every bait.</summary>
    public static string HooksByBait(Outfit outfit, LengthUnit unit) =>
        outfit.HooksByBait.Count < 2
            ? ""
            : string.Join(
                "; ",
                outfit.HooksByBait.Select(h =>
                    $"{(h.UpToMm is { } mm ? "up to " + BaitLength(mm, unit) : "longer")}: {HookSizeOf(h.Step)}"
                )
            );

    /// <summary>What to do with an outfit when the neighbours are bit and its angler is not.</summary>
    public static string IfNotBit(Outfit outfit, IReadOnlyList<Outfit> set, WeightUnit unit)
    {
        const string First = "go through the order below";
        return outfit.IfNotBitRungLb is not { } rung
                ? $"{First}, but keep to this line: no lighter one is advised for these fish"
            : set.FirstOrDefault(o => o.RungLb == rung) is { } lighter
                ? $"{First}; last, take outfit {lighter.Order}, {Line(rung, unit)}"
            : $"{First}; last, go down to {Line(rung, unit)}";
    }

    /// <summary>"1/0 circle"; of several sizes "circles 4, 2 and 1/0", style by style.</summary>
    public static string Hooks(IEnumerable<(HookStyle Style, int Step)> hooks) =>
        string.Join(
            "; ",
            hooks
                .GroupBy(h => h.Style, h => h.Step)
                .Select(g =>
                    g.Order().ToList() is [var only]
                        ? Hook(g.Key, only)
                        : $"{Named(g.Key)}s {List([.. g.Order().Select(s => HookSize.FromStep(s).ToString())])}"
                )
        );

    /// <summary>"30 lb, 1/0 circle", and how it was fished where that is not a free bait.</summary>
    public static string Rig(Technique technique, int rungLb, HookStyle? style, int? step, WeightUnit unit) =>
        string.Join(
            ", ",
            new[] { Line(rungLb, unit), Hook(style, step), technique == Technique.FlyLine ? "" : How(technique) }.Where(
                part => part.Length > 0
            )
        );

    /// <summary>
    /// The outfits in a breath, in the order to try them: "Tie on 25 lb fluorocarbon and a size 1 circle first; bring a 1/0 circle for the same
    /// rod and 60 lb with a size 1 circle." And how far the hook moves with the bait. Empty for none.
    /// </summary>
    public static string Bring(IReadOnlyList<Outfit> outfits, WeightUnit unit)
    {
        if (outfits.Count == 0)
        {
            return "";
        }

        var first = outfits[0];
        var line = Line(first.RungLb, unit) + (first.Leader == LeaderMaterial.None ? "" : " " + first.Leader.Word());
        var others = outfits
            .Skip(1)
            .Select(
                (o, i) =>
                    outfits.Take(i + 1).Any(b => b.RungLb == o.RungLb && b.Technique == o.Technique)
                        ? $"{A(Hook(o.HookStyle, o.HookStep))} {(o.RungLb == first.RungLb && o.Technique == first.Technique ? "for the same rod" : $"for the {Line(o.RungLb, unit)} too")}"
                        : $"{Line(o.RungLb, unit)} with {A(Hook(o.HookStyle, o.HookStep))}"
            )
            .ToList();
        return $"Tie on {line} and {A(Hook(first.HookStyle, first.HookStep))} first"
            + (others.Count > 0 ? $"; bring {List(others)} as well." : ".")
            + (
                first.HooksByBait is [var shortest, .., var longest] and [.., { UpToMm: { } over }, _]
                    ? $" Go by the bait you get: {HookSizeOf(shortest.Step)} for the shortest, {HookSizeOf(longest.Step)} over {BaitLength(over, unit == WeightUnit.Kg ? LengthUnit.Cm : LengthUnit.In)}."
                    : ""
            );
    }

    /// <summary>"an 8/0 circle", "a size 8 circle"</summary>
    private static string A(string thing) =>
        (
            thing.StartsWith('8')
            || thing.StartsWith("11/", StringComparison.Ordinal)
            || thing.StartsWith("18/", StringComparison.Ordinal)
                ? "an "
                : "a "
        ) + thing;

    private static string List(List<string> things) =>
        things.Count == 1 ? things[0] : string.Join(", ", things.SkipLast(1)) + " and " + things[^1];

    public static string How(Technique technique) =>
        technique switch
        {
            Technique.FlyLine => "live bait, no weight",
            Technique.Sinker => "with a sinker",
            Technique.Cast => "cast and wound",
            Technique.Drop => "dropped jig",
            Technique.Kite => "under a kite",
            Technique.Troll => "trolled",
            _ => "another way",
        };

    public static string Pin(Hooking hooking) =>
        hooking switch
        {
            Hooking.Nose => "through the nose",
            Hooking.Belly => "low in the belly, which makes it dive",
            _ => "through the collar",
        };

    public static string Heading(Trend? trend) =>
        trend switch
        {
            Trend.Up => "up on the week before",
            Trend.Down => "down on the week before",
            Trend.Steady => "the same as the week before",
            _ => "no clear change from the week before",
        };

    /// <summary>How sure, in a word or three; a pooled answer is never called well reported.</summary>
    public static string Sure(BriefEvidence evidence) =>
        evidence.Pooled && evidence.Strength != Strength.None
            ? "leans on the whole coast"
            : evidence.Strength switch
            {
                Strength.Good => "well reported",
                Strength.Fair => "fairly well reported",
                Strength.Thin => "little to go on",
                _ => "nothing to go on",
            };

    /// <summary>What the advice of an outfit rests on, to follow "rests on".</summary>
    public static string Basis(OutfitBasis basis) =>
        basis switch
        {
            OutfitBasis.Reports => "reports",
            OutfitBasis.Model => "what the whole coast's reports tell of lines, hooks and fish; too few fished it here",
            _ => "common practice for such fish and bait; too few reports to say",
        };

    /// <summary>"41 reports by 9 boats". Under three boats no number is said.</summary>
    public static string Count(BriefEvidence evidence) =>
        evidence.Reports == 0 ? "no reports"
        : evidence.Boats < 3 ? "reports of fewer than three boats"
        : $"{evidence.Reports} reports by {evidence.Boats} boats";

    /// <summary>"22 November"; the year where it is another.</summary>
    public static string Day(DateOnly day, DateOnly today) =>
        day.ToString(day.Year == today.Year ? "d MMMM" : "d MMMM yyyy", CultureInfo.InvariantCulture);

    /// <summary>"22 November at 12:00", by the clock that the instant is given in.</summary>
    public static string At(DateTimeOffset instant, DateOnly today) =>
        $"{Day(DateOnly.FromDateTime(instant.DateTime), today)} at {instant.ToString("HH:mm", CultureInfo.InvariantCulture)}";

    /// <summary>"1 hour", "2.25 hours"</summary>
    public static string Hours(decimal hours) =>
        hours == 1 ? "1 hour" : string.Create(CultureInfo.InvariantCulture, $"{hours:0.##} hours");

    public static string Plural(int number, string one) =>
        number == 1 ? $"1 {one}" : string.Create(CultureInfo.InvariantCulture, $"{number} {one}s");

    /// <summary>"Corran Quay 2.5 hours, Old Cannery Dock 4 hours"</summary>
    public static string Run(Zone zone, Register register) =>
        string.Join(
            ", ",
            zone.Reach.OrderBy(r => r.Hours)
                .Where(r => register.Landings.ContainsKey(r.Landing))
                .Select(r => $"{register.Landings[r.Landing].Name} {Hours(r.Hours)}")
        );

    /// <summary>A name or sentence at the start of a line.</summary>
    public static string Capital(string text) => text.Length == 0 ? text : char.ToUpperInvariant(text[0]) + text[1..];

    private static string InTen(int tens) =>
        tens switch
        {
            0 => "fewer than 1 in 10",
            10 => "more than 9 in 10",
            _ => string.Create(CultureInfo.InvariantCulture, $"about {tens} in 10"),
        };

    private static string LikelyOfHundred(Share share) =>
        "likely " + Between((int)Math.Floor((share.Low * 100) + Slack), (int)Math.Ceiling((share.High * 100) - Slack));

    private static string Between(int low, int high) => low == high ? Number(low) : $"{low} to {high}";

    private static string Number(double value, int digits = 0) =>
        value.ToString(
            digits switch
            {
                0 => "0",
                1 => "0.#",
                _ => "0.##",
            },
            CultureInfo.InvariantCulture
        );
}
