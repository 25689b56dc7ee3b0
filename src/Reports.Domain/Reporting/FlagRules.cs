using System.Globalization;
using Reports.Domain.Coast;
using Reports.Domain.Measures;

namespace Reports.Domain.Reporting;

/// <summary>
/// Doubts that a report raises about itself, each with its reason in plain words, the value seen and the value expected. A flag
/// never refuses a report. Holding flags depend on the report and the species table only.
/// </summary>
public static class FlagRules
{
    /// <summary>Share of hooks entered with a lost or an added aught (from memory of the trade, no source).</summary>
    private const double SlipRate = 0.01;

    /// <summary>Share of species rows told in the other unit (judgement, no source).</summary>
    private const double UnitSlipRate = 0.035;

    /// <summary>
    /// A question costs a glance, a slip that stands spoils a figure for weeks: asked from one slip in ten questions on (judgement; what
    /// it catches and whom it troubles is measured: docs/method/flags.md).
    /// </summary>
    private const double AskingOdds = 1 / 9.0;

    /// <summary>Predictive tail beyond which a size is far outside.</summary>
    private const double FarOutside = 0.001;

    /// <summary>One fish judged by eye and put on a scale has two weights that differ by less than this factor.</summary>
    private const double ByEye = 1.2;

    /// <summary>Where the released are not told the other size may be a released fish's, but seldom so many times smaller or larger (judgement).</summary>
    private const double OfOneSchool = 3;

    /// <summary>A fish heavier than this many times its line is landed so rarely that a slip is likelier.</summary>
    private const double MostWeightOverLine = 12;

    /// <summary>Rods that were counted on so large a share of the anglers are the whole boat's (judgement, no source).</summary>
    private const double WholeBoat = 0.9;

    /// <summary>Whole boats' counts by rig and by species are told by two people and differ; by more than this they contradict each other (judgement, no source).</summary>
    private const int MostOverLanded = 2;
    private const int MoreThanLanded = 5;

    /// <param name="profile">What the coast has seen lately.</param>
    /// <param name="landingBait">The landing's bait of the day, for a report that names none.</param>
    /// <param name="before">The same boat's latest earlier report, if any.</param>
    public static IReadOnlyList<ReportFlag> Of(
        CatchReport report,
        Register register,
        CoastProfile profile,
        IReadOnlyList<BaitMeasure> landingBait,
        ReportMeasures? before
    ) => [.. OfItself(report, register, profile, landingBait), .. OfRepeat(report, before)];

    /// <summary>Those of <see cref="Of"/> that do not depend on the boat's report before, so that many can be asked at once.</summary>
    public static IReadOnlyList<ReportFlag> OfItself(
        CatchReport report,
        Register register,
        CoastProfile profile,
        IReadOnlyList<BaitMeasure> landingBait
    ) =>
        [
            .. report.Catch.SelectMany((line, i) => OfCatch(report, line, i, register, profile)),
            .. report.Rigs.SelectMany((rig, i) => OfRig(report, rig, i, profile, landingBait)),
        ];

    private static IEnumerable<ReportFlag> OfCatch(
        CatchReport report,
        CatchLine line,
        int index,
        Register register,
        CoastProfile profile
    )
    {
        var at = $"/catch/{index}";
        var species = register.Species.GetValueOrDefault(line.Species);
        if (line.Largest is { } heaviest && species?.CredibleGrams is { } most && heaviest.Grams > most)
        {
            yield return new(
                $"{at}/largest",
                "over-record",
                $"A {Show(heaviest)} {species.Name} would beat every one ever landed on rod and line. Is the number or the unit right?",
                Show(heaviest),
                $"at most {Show(most, heaviest.Unit)}",
                Holding: true
            );
        }
        else if (profile.Sizes(line.Species) is { } seen)
        {
            foreach (
                var flag in OfSizes(
                    line,
                    at,
                    species?.Name ?? line.Species,
                    seen.At(report.Zone, report.FishedOn, line.Fish)
                )
            )
            {
                yield return flag;
            }
        }

        var effort = report.Anglers * ReportMeasures.FishedDays(report.DaysCovered, report.TripDays);
        if (
            line.Fish > 0
            && effort > 0
            && profile.Catches(line.Species) is { } catches
            && catches.AsMany(line.Fish / effort) < FarOutside
        )
        {
            var (few, many) = catches.Usual();
            yield return new(
                line.Released > line.Kept ? $"{at}/released" : $"{at}/kept",
                "far-outside",
                $"So many {species?.Name ?? line.Species} on {report.Anglers} anglers are far from what boats here have told in the last four weeks. Is the number right?",
                Show(line.Fish),
                $"{Show((int)Math.Floor(few * effort))} to {Show((int)Math.Ceiling(many * effort))} lately, where there were any",
                Holding: false
            );
        }

        if (
            line is { Fish: 1, Smallest: { } a, Largest: { } b }
            && b.Grams > a.Grams * (line.Released is null ? OfOneSchool : ByEye)
        )
        {
            yield return new(
                $"{at}/smallest",
                "one-fish-two-sizes",
                line.Released is null
                    ? "One fish was kept and there are two sizes, and the released are not told. Is the count right?"
                    : "One fish has two sizes. Is the count right?",
                $"{Show(a)} and {Show(b)}",
                line.Released is null ? "one size, more fish, or released given" : "one size, or more fish",
                Holding: false
            );
        }

        var rigs = report.Rigs.Where(r => r.Species == line.Species).ToList();
        if (
            rigs.Count > 0
            && report.CrewFished != true
            && rigs.All(r => r.Landed is not null)
            && rigs.Sum(r => r.Rods ?? 0) >= WholeBoat * report.Anglers
            && rigs.Sum(r => r.Landed!.Value) is var landed
            && line.Fish > MostOverLanded * landed + MoreThanLanded
        )
        {
            yield return new(
                line.Released > line.Kept ? $"{at}/released" : $"{at}/kept",
                "catch-over-landed",
                $"The rigs of nearly all anglers landed {landed} {line.Species} together, but {line.Fish} were kept or released. Which is right?",
                Show(line.Fish),
                $"about {Show(landed)}",
                Holding: false
            );
        }

        if (line.Released is null && line.TopRod > line.Kept)
        {
            yield return new(
                $"{at}/topRod",
                "top-rod-over-kept",
                "The top rod has more fish than the boat kept, and the released are not told.",
                Show(line.TopRod.Value),
                $"at most {Show(line.Kept)}, or released given",
                Holding: false
            );
        }

        if (line.TopRod is { } top && report.CrewFished != true && (long)top * report.Anglers < line.Fish)
        {
            yield return new(
                $"{at}/topRod",
                "top-rod-under-share",
                $"If nobody had more than {top}, {report.Anglers} anglers can't have had {line.Fish} fish.",
                Show(top),
                $"at least {Show((int)Math.Ceiling(line.Fish / (double)report.Anglers))}",
                Holding: false
            );
        }
    }

    private static IEnumerable<ReportFlag> OfSizes(CatchLine line, string at, string name, SizesSeen.Near seen)
    {
        if ((line.Smallest ?? line.Largest) is not { } smallest || (line.Largest ?? line.Smallest) is not { } largest)
        {
            yield break;
        }

        var other = largest.Unit == WeightUnit.Lb ? WeightUnit.Kg : WeightUnit.Lb;
        if (
            Asks(
                UnitSlipRate,
                seen.LikelierTimes(SizesSeen.OtherUnit(largest.Unit), smallest.Grams, largest.Grams),
                () => seen.BeyondVariety
            )
        )
        {
            yield return new(
                $"{at}/{(line.Largest is null ? "smallest" : "largest")}",
                "other-unit",
                $"{Numbers(smallest, largest)} would be usual for {name} here in {other.Word()}, not in {largest.Unit.Word()}. Which unit is it?",
                smallest.Grams == largest.Grams ? Show(largest) : $"{Show(smallest)} to {Show(largest)}",
                Expected(largest.Unit),
                Holding: false
            );
            yield break;
        }

        if (line.Largest is { } heavy && seen.AsLarge(heavy.Grams) < FarOutside)
        {
            yield return Far("largest", heavy);
        }
        else if (
            line is { Smallest: { } from, Largest: { } to }
            && seen.ReachingAsFar(from.Grams, to.Grams) < FarOutside
        )
        {
            yield return Far("largest", to);
        }

        if (line.Smallest is { } light && seen.AsSmall(light.Grams) < FarOutside)
        {
            yield return Far("smallest", light);
        }

        ReportFlag Far(string field, Weight size) =>
            new(
                $"{at}/{field}",
                "far-outside",
                $"A {name} of this size is far from what boats here have told in the last four weeks. Is the number right?",
                Show(size),
                Expected(size.Unit),
                Holding: false
            );

        string Expected(WeightUnit unit) =>
            seen.Usual() is var (low, high) ? $"{Show(low, unit)} to {Show(high, unit)} lately" : "";
    }

    /// <summary>
    /// Is a slip, as often as it happens and as much likelier as it would make what was told, worth asking about? What is as odd in
    /// good reports of this coast is not; where too few tell what is usual a slip must be likelier than not.
    /// </summary>
    private static bool Asks(double rate, double likelier, Func<double?> beyondVariety)
    {
        var odds = rate / (1 - rate) * likelier;
        return odds > AskingOdds && likelier > (beyondVariety() ?? 0);
    }

    private static IEnumerable<ReportFlag> OfRig(
        CatchReport report,
        RigLine rig,
        int index,
        CoastProfile profile,
        IReadOnlyList<BaitMeasure> landingBait
    )
    {
        var at = $"/rigs/{index}";
        if (rig.Hook is { Size: { AughtSlip: { } other } size } hook)
        {
            var bait = CoastProfile.BaitMm(
                report.Bait.Count > 0
                    ? report.Bait.Select(b => (b.Shortest?.Millimetres, b.Longest?.Millimetres))
                    : landingBait.Select(b => (b.ShortestMm, b.LongestMm))
            );
            var beside = report
                .Rigs.Where((r, i) => i != index && r.Hook?.Size is not null)
                .Select(r => new HookFished(r.Technique, r.Hook!.Style, r.Hook.Size!.Value.Step));
            var told = new HookFished(rig.Technique, hook.Style, size.Step);
            var likelier = profile.Hooks.Likelier(other.Step, told, bait, beside);

            // A plain size of 20 or more in tens is a lost slash far more often than the tiny hook it names.
            if (
                Asks(SlipRate, likelier, () => profile.Hooks.BeyondVariety)
                || (!size.IsAught && size.Number >= 20 && size.Number % 10 == 0)
            )
            {
                yield return new(
                    $"{at}/hook/size",
                    "aught-slip",
                    $"A {size} is unusual here with this bait. Did you mean {other}?",
                    size.ToString(),
                    other.ToString(),
                    Holding: false
                );
            }
        }

        var catchLine = report.Catch.FirstOrDefault(c => c.Species == rig.Species);
        if (catchLine is { Smallest: { } smallest } && smallest.Grams > MostWeightOverLine * rig.LineClass.Grams)
        {
            yield return new(
                $"{at}/lineClass",
                "fish-over-line",
                $"Every {rig.Species} weighed more than {MostWeightOverLine} times this line. Is the line class right?",
                Show(rig.LineClass),
                $"at least {Show((int)(smallest.Grams / MostWeightOverLine), rig.LineClass.Unit)}",
                Holding: false
            );
        }

        if (rig.Rods > report.Anglers)
        {
            yield return new(
                $"{at}/rods",
                "rods-over-anglers",
                "More rods fished this rig than there were anglers.",
                Show(rig.Rods.Value),
                $"at most {Show(report.Anglers)}",
                Holding: false
            );
        }

        // Rig lines are partial, so fewer than the catch is normal; more is not.
        var landed = report.Rigs.Where(r => r.Species == rig.Species).Sum(r => r.Landed ?? 0);
        var first = report.Rigs.ToList().FindIndex(r => r.Species == rig.Species && r.Landed > 0) == index;
        if (first && catchLine is { Released: not null } && landed > catchLine.Fish)
        {
            yield return new(
                $"{at}/landed",
                "landed-over-catch",
                $"The rigs landed {landed} {rig.Species} together, but only {catchLine.Fish} were kept or released.",
                Show(landed),
                $"at most {Show(catchLine.Fish)}",
                Holding: false
            );
        }
    }

    /// <summary>
    /// Whether a report says enough to be told from the boat's report before: counts alone are often the same on two days.
    /// </summary>
    public static bool LooksBack(CatchReport report) =>
        report.Catch.Any(c => c.Fish > 0) && (report.Rigs.Count > 0 || report.Catch.Any(c => c.Smallest is not null));

    /// <summary>The last of <see cref="Of"/>: an old form sent again.</summary>
    public static IEnumerable<ReportFlag> OfRepeat(CatchReport report, ReportMeasures? before)
    {
        if (before is null || !LooksBack(report))
        {
            return [];
        }

        var now = ReportMeasures.Of(report);
        var same =
            now.Anglers == before.Anglers
            && now.Hours == before.Hours
            && now.Catch.SequenceEqual(before.Catch)
            && now.Rigs.SequenceEqual(before.Rigs);
        return same
            ?
            [
                new(
                    "/catch",
                    "same-as-before",
                    "Every number is that of the boat's report before. Was an old form sent again?",
                    "the same counts, sizes and rigs",
                    $"other numbers than on {before.FishedOn.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture)}",
                    Holding: false
                ),
            ]
            : [];
    }

    private static string Numbers(Weight from, Weight to) =>
        string.Create(
            CultureInfo.InvariantCulture,
            $"{(from.Given == to.Given ? $"{to.Given:0.##}" : $"{from.Given:0.##} to {to.Given:0.##}")}"
        );

    private static string Show(int number) => number.ToString(CultureInfo.InvariantCulture);

    private static string Show(Weight weight) =>
        string.Create(CultureInfo.InvariantCulture, $"{weight.Given:0.##} {weight.Unit.Word()}");

    private static string Show(int grams, WeightUnit unit) =>
        string.Create(CultureInfo.InvariantCulture, $"{Weight.FromGrams(grams, unit):0.#} {unit.Word()}");
}
