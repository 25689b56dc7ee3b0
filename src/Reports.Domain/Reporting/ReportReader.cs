using System.Globalization;
using System.Text.Json;
using Reports.Domain.Coast;
using Reports.Domain.Measures;

namespace Reports.Domain.Reporting;

/// <summary>
/// The one rule behind every door: turns a document of the report contract (JSON from the API; CSV rows and forms build the
/// same document) into a <see cref="CatchReport"/>, or into the list of all its wrong fields. Pure: the register and the
/// instant are handed in.
/// </summary>
public sealed class ReportReader
{
    /// <summary>Most paying rods that one boat can carry.</summary>
    public const int MostAnglers = 300;

    /// <summary>Most sailings of a boat on one day.</summary>
    public const int MostSailings = 9;
    public const int MostFish = 100_000;
    public const int MostCatchLines = 30;
    public const int MostRigLines = 60;
    public const int MostNoteLength = 2000;
    public const decimal MostWeightLb = 3000;

    /// <summary>Every weight and test lies above this, lb or kg: statistics take logs of whole grams.</summary>
    public const decimal LeastWeight = 0.01m;

    /// <summary>First day accepted: an earlier one is a slip of the year.</summary>
    public static readonly DateOnly Earliest = new(1800, 1, 1);

    private static readonly string[] Rendered = ["id", "version", "state", "flags"];

    private readonly Register register;
    private readonly DateTimeOffset now;
    private readonly FieldReader root;
    private readonly List<FieldError> errors;
    private ReportUnits units = ReportUnits.Default;

    private ReportReader(FieldReader root, List<FieldError> errors, Register register, DateTimeOffset now)
    {
        this.root = root;
        this.errors = errors;
        this.register = register;
        this.now = now;
    }

    /// <summary>
    /// Reads a report. With <paramref name="correction"/> the fields that the service adds (id, version, state, flags) are
    /// ignored, so that what was read can be put back.
    /// </summary>
    public static Reading<CatchReport> Read(
        JsonElement document,
        Register register,
        DateTimeOffset now,
        bool correction = false
    )
    {
        var errors = new List<FieldError>();
        var root = FieldReader.Open(document, "", errors);
        if (root is null)
        {
            return new(null, errors);
        }

        if (correction)
        {
            root.Ignore(Rendered);
        }

        var report = new ReportReader(root, errors, register, now).Report();
        // A field that breaks two rules is one wrong field: the first reason is enough to find it.
        return errors.Count > 0 ? new(null, [.. errors.DistinctBy(e => e.Pointer)]) : new(report, errors);
    }

    /// <summary>Length of a trip in days, a report's or a departure's.</summary>
    internal static decimal? TripDays(FieldReader reader)
    {
        const string name = "tripDays";
        var days = reader.Number(name, 0, 30, "days");
        if (days * 4 is { } quarters && quarters != decimal.Truncate(quarters))
        {
            reader.Refuse(
                name,
                "out-of-range",
                "must be a length in quarter days: 0.25, 0.5, 0.75, 1, 1.5, 2 ... up to 30."
            );
        }

        return days;
    }

    private CatchReport Report()
    {
        units = Units(root.Object("units"));
        var boat = root.Code("boat", "boat", register.Boats.Keys, required: true);
        var (zone, position) = Place();
        var fishedOn = FishedOn(boat);
        var sailing = root.Whole("sailing", 1, MostSailings) ?? 1;
        var tripDays = TripDays(root);
        var daysCovered = root.Whole("daysCovered", 1, 30) ?? 1;
        var status = root.Word("status", Words.Of<ReportStatus>()) ?? ReportStatus.Final;
        var anglers = root.Whole("anglers", 1, MostAnglers, required: true, negativeCode: "negative-count");
        var crewFished = root.Flag("crewFished");
        var hours = root.Number(
            "hours",
            0,
            24 * daysCovered,
            daysCovered == 1 ? "hours a day" : $"hours in {daysCovered} days"
        );
        var bite = root.Word("bite", Words.Of<Bite>());
        var lines = root.Objects("catch", MostCatchLines, required: true);
        var catchLines = lines.Select(l => Line(l, anglers)).ToList();
        NoneTwice(
            lines,
            catchLines.Select(l => l.Species),
            "species",
            "duplicate-species",
            "is already a line above; give each species once."
        );
        var (bait, single) = Bait();
        // With a line of the catch unreadable, or its species missing or unknown, nothing can be said of the rigs' species.
        var whole =
            root.Raw("catch") is { ValueKind: JsonValueKind.Array } given && given.GetArrayLength() == lines.Count;
        var fished =
            whole && catchLines.Count > 0 && catchLines.All(l => l.Species.Length > 0)
                ? catchLines.Select(l => l.Species).ToHashSet(StringComparer.Ordinal)
                : null;
        var rigs = root.Objects("rigs", MostRigLines).Select(r => Rig(r, fished)).ToList();
        var signs = Signs(root.Object("signs"));
        var note = root.Text("note", MostNoteLength);
        root.RefuseUnknown();

        return new CatchReport
        {
            Boat = boat ?? "",
            Zone = zone ?? "",
            Position = position,
            FishedOn = fishedOn ?? default,
            Sailing = sailing,
            TripDays = tripDays,
            DaysCovered = daysCovered,
            Status = status,
            Anglers = anglers ?? 0,
            CrewFished = crewFished,
            Hours = hours,
            Bite = bite,
            Units = units,
            Catch = catchLines,
            Bait = bait,
            BaitIsSingle = single,
            Rigs = rigs,
            Signs = signs,
            Note = note,
        };
    }

    private static ReportUnits Units(FieldReader? reader)
    {
        if (reader is null)
        {
            return ReportUnits.Default;
        }

        var weight = reader.Word("weight", Words.Of<WeightUnit>());
        var length = reader.Word("length", Words.Of<LengthUnit>());
        var depth = reader.Word("depth", Words.Of<DepthUnit>());
        reader.RefuseUnknown();
        var metric = weight == WeightUnit.Kg || (weight is null && length == LengthUnit.Cm);
        if (weight is { } w && length is { } l && (w == WeightUnit.Kg) != (l == LengthUnit.Cm))
        {
            reader.Refuse(
                "length",
                "mixed-units",
                $"kg goes with cm and lb with in; this is {w.Word()} with {l.Word()}."
            );
        }

        return new(
            metric ? WeightUnit.Kg : WeightUnit.Lb,
            metric ? LengthUnit.Cm : LengthUnit.In,
            depth ?? (metric ? DepthUnit.M : DepthUnit.Ft)
        );
    }

    private (string? Zone, Position? Position) Place()
    {
        var zone = root.Code("zone", "zone", register.Zones.Keys, required: !root.Has("position"));
        if (root.Object("position") is not { } reader)
        {
            return (zone, null);
        }

        var latitude = reader.Number("latitude", -90, 90, "degrees north", required: true, inclusive: true);
        var longitude = reader.Number("longitude", -180, 180, "degrees east", required: true, inclusive: true);
        reader.RefuseUnknown();
        if (root.Has("zone"))
        {
            root.Refuse("position", "zone-or-position", "give the zone or the position, not both.");
            return (zone, null);
        }

        if (latitude is not { } lat || longitude is not { } lon)
        {
            return (null, null);
        }

        if (register.ZoneAt(lat, lon) is { } found)
        {
            return (found.Code, new Position(lat, lon));
        }

        root.Refuse(
            "position",
            "outside-zones",
            $"lies in none of the zones; name the zone instead: {string.Join(", ", register.Zones.Keys.Order(StringComparer.Ordinal).Take(12))}."
        );
        return (null, null);
    }

    private DateOnly? FishedOn(string? boat)
    {
        var fishedOn = root.Date("fishedOn", required: true);
        if (fishedOn < Earliest)
        {
            root.Refuse("fishedOn", "too-early", "must not be earlier than 1800-01-01; look at the year.");
        }

        if (fishedOn is not { } day || boat is null || !register.Boats.TryGetValue(boat, out var vessel))
        {
            return fishedOn;
        }

        var today = register.Landings[vessel.Landing].DayOf(now);
        if (day > today)
        {
            root.Refuse(
                "fishedOn",
                "in-the-future",
                $"must not be later than the landing's day, {today.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture)} (a day ends at 04:00)."
            );
        }

        return fishedOn;
    }

    private CatchLine Line(FieldReader reader, int? anglers)
    {
        var species = reader.Code("species", "species", register.Species.Keys, required: true);
        var kept = reader.Count("kept", MostFish, required: true);
        var released = reader.Count("released", MostFish);
        var smallest = WeightOf(reader, "smallest");
        var largest = WeightOf(reader, "largest");
        var mostFrom = WeightOf(reader, "mostFrom");
        var mostTo = WeightOf(reader, "mostTo");
        var weighed = reader.Flag("weighed");
        var limit = reader.Flag("limit");
        var (withFish, withFishWord) = WithFish(reader, anglers);
        var topRod = reader.Count("topRod", MostFish);
        var lostHeavy = reader.Count("lostHeavy", MostFish);
        reader.RefuseUnknown();

        if (
            Ordered(reader, "smallest", smallest, "largest", largest)
            & Ordered(reader, "mostFrom", mostFrom, "mostTo", mostTo)
        )
        {
            if ((mostFrom ?? mostTo) is { } low && low.Grams < smallest?.Grams)
            {
                reader.Refuse(
                    mostFrom is null ? "mostTo" : "mostFrom",
                    "outside-range",
                    $"most of the fish reach down to {low.Given}, below the smallest, {smallest?.Given}."
                );
            }

            if ((mostTo ?? mostFrom) is { } high && high.Grams > largest?.Grams)
            {
                reader.Refuse(
                    mostTo is null ? "mostFrom" : "mostTo",
                    "outside-range",
                    $"most of the fish reach up to {high.Given}, above the largest, {largest?.Given}."
                );
            }
        }

        // Released not told is unknown, so only a count that is known to be complete can contradict the rest.
        if (kept is { } k && released is { } r)
        {
            var fish = k + r;
            if (topRod > fish)
            {
                reader.Refuse(
                    "topRod",
                    "top-rod-over-catch",
                    $"one angler can't have {topRod} of {fish} fish (kept + released)."
                );
            }

            if (withFish > fish)
            {
                reader.Refuse(
                    "anglersWithFish",
                    "anglers-with-fish-over-catch",
                    $"{withFish} anglers can't share {fish} fish (kept + released)."
                );
            }

            if (fish == 0)
            {
                foreach (var name in new[] { "smallest", "largest", "mostFrom", "mostTo" }.Where(reader.Has))
                {
                    reader.Refuse(
                        name,
                        "size-without-fish",
                        "a blank (kept 0, released 0) has no sizes; leave it out."
                    );
                }
            }
        }

        if ((kept ?? 0) + (released ?? 0) is > 0 and var known)
        {
            if (withFish == 0)
            {
                reader.Refuse(
                    "anglersWithFish",
                    "no-angler-with-fish",
                    $"somebody had the {known} fish: give 1 or more, or leave it out."
                );
            }

            if (topRod == 0)
            {
                reader.Refuse(
                    "topRod",
                    "no-top-rod",
                    $"somebody had the most of the {known} fish: give 1 or more, or leave it out."
                );
            }
        }

        return new CatchLine
        {
            Species = species ?? "",
            Kept = kept ?? 0,
            Released = released,
            Smallest = smallest,
            Largest = largest,
            MostFrom = mostFrom,
            MostTo = mostTo,
            Weighed = weighed,
            Limit = limit,
            AnglersWithFish = withFish,
            AnglersWithFishWord = withFishWord,
            TopRod = topRod,
            LostHeavy = lostHeavy,
        };
    }

    private static (int? Number, AnglerShare? Word) WithFish(FieldReader reader, int? anglers)
    {
        const string name = "anglersWithFish";
        if (reader.Raw(name) is not { } value)
        {
            return (null, null);
        }

        if (value.ValueKind == JsonValueKind.String)
        {
            return (null, reader.Word(name, Words.Of<AnglerShare>()));
        }

        if (value.ValueKind != JsonValueKind.Number)
        {
            reader.Refuse(
                name,
                "wrong-type",
                $"must be a whole number or one of {string.Join(", ", Words.Of<AnglerShare>().Keys)}, not {FieldReader.Kind(value)}."
            );
            return (null, null);
        }

        var number = reader.Count(name, MostAnglers);
        if (number > anglers)
        {
            reader.Refuse(
                name,
                "anglers-with-fish-over-anglers",
                $"must be at most the boat's anglers, {anglers}; this is {number}."
            );
        }

        return (number, null);
    }

    private (IReadOnlyList<BaitLine> Lines, bool Single) Bait()
    {
        var single = root.Raw("bait") is { ValueKind: JsonValueKind.Object };
        return (BaitReader.Read(root, "bait", register, units.Length), single);
    }

    private RigLine Rig(FieldReader reader, HashSet<string>? fished)
    {
        var species = reader.Code("species", "species", register.Species.Keys, required: true);
        if (species is not null && fished?.Contains(species) == false)
        {
            reader.Refuse(
                "species",
                "species-not-in-catch",
                $"{species} is not a line of catch; add it there (kept 0 when blank)."
            );
        }

        var technique = reader.Word("technique", Words.Of<Technique>()) ?? Technique.FlyLine;
        var lineClass = TestOf(reader, "lineClass", required: true);
        var leader = Leader(reader.Object("leader"));
        var mainLine = MainLine(reader.Object("mainLine"));
        var hook = Hook(reader.Object("hook"));
        var use = reader.Word("use", Words.Of<RigUse>());
        var rods = reader.Count("rods", MostAnglers);
        var hooked = reader.Count("hooked", MostFish);
        var landed = reader.Count("landed", MostFish);
        var brokenOff = reader.Count("brokenOff", MostFish);
        var pulled = reader.Count("pulled", MostFish);
        var straightened = reader.Count("straightened", MostFish);
        var weightOz = reader.Number("weightOz", 0, 200, "ounces");
        var winning = reader.Flag("winning") ?? false;
        reader.RefuseUnknown();

        var rig = new RigLine
        {
            Species = species ?? "",
            Technique = technique,
            LineClass = lineClass ?? default,
            Leader = leader,
            MainLine = mainLine,
            Hook = hook,
            Use = use,
            Rods = rods,
            Hooked = hooked,
            Landed = landed,
            BrokenOff = brokenOff,
            Pulled = pulled,
            Straightened = straightened,
            WeightOz = weightOz,
            Winning = winning,
        };
        if (hooked is { } h && (landed ?? 0) + rig.Lost > h)
        {
            reader.Refuse(
                landed is null ? "hooked" : "landed",
                "landed-and-lost-over-hooked",
                $"landed and lost together are {(landed ?? 0) + rig.Lost}, more than the {h} hooked."
            );
        }

        return rig;
    }

    private Leader? Leader(FieldReader? reader)
    {
        if (reader is null)
        {
            return null;
        }

        var material = reader.Word("material", Words.Of<LeaderMaterial>(), required: true);
        var test = TestOf(reader, "test");
        reader.RefuseUnknown();
        return new(material ?? default, test);
    }

    private MainLine? MainLine(FieldReader? reader)
    {
        if (reader is null)
        {
            return null;
        }

        var material = reader.Word("material", Words.Of<MainLineMaterial>(), required: true);
        var test = TestOf(reader, "test");
        reader.RefuseUnknown();
        return new(material ?? default, test);
    }

    private static Hook? Hook(FieldReader? reader)
    {
        if (reader is null)
        {
            return null;
        }

        var style = reader.Word("style", Words.Of<HookStyle>(), required: true);
        var text = reader.Text("size", 12, required: style is not null and not HookStyle.None);
        HookSize? size = null;
        if (text is not null)
        {
            if (HookSize.TryParse(text, out var parsed))
            {
                size = parsed;
            }
            else
            {
                reader.Refuse("size", "unknown-hook-size", $"must be {HookSize.Accepted}.");
            }
        }

        var gape = reader.Number("gapeMm", 0, 150, "mm");
        var wire = reader.Word("wire", Words.Of<HookWire>());
        var ringed = reader.Flag("ringed");
        reader.RefuseUnknown();
        return new Hook
        {
            Style = style ?? default,
            Size = size,
            GapeMm = gape,
            Wire = wire,
            Ringed = ringed,
        };
    }

    private Signs? Signs(FieldReader? reader)
    {
        if (reader is null)
        {
            return null;
        }

        var surface = reader.Flag("surface");
        var depth = reader.Number(
            "depth",
            0,
            Math.Round(1_000_000 / Depth.MillimetresPer(units.Depth)),
            units.Depth.Word()
        );
        var birds = reader.Flag("birds");
        reader.RefuseUnknown();
        return new(surface, depth is { } d ? new Depth(d, units.Depth) : null, birds);
    }

    private Weight? WeightOf(FieldReader reader, string name)
    {
        var most = units.Weight == WeightUnit.Lb ? MostWeightLb : Math.Round(MostWeightLb * 0.4536m);
        return reader.Number(name, LeastWeight, most, units.Weight.Word()) is { } given
            ? new Weight(given, units.Weight)
            : null;
    }

    private Weight? TestOf(FieldReader reader, string name, bool required = false)
    {
        var most = units.Weight == WeightUnit.Lb ? LineClass.StrongestLb : 180;
        return reader.Number(name, LeastWeight, most, units.Weight.Word(), required) is { } given
            ? new Weight(given, units.Weight)
            : null;
    }

    private static bool Ordered(FieldReader reader, string lowName, Weight? low, string highName, Weight? high)
    {
        if (low is not { } l || high is not { } h || l.Grams <= h.Grams)
        {
            return true;
        }

        reader.Refuse(lowName, "range-reversed", $"{lowName} {l.Given} is more than {highName} {h.Given}.");
        return false;
    }

    private static void NoneTwice(
        IReadOnlyList<FieldReader> readers,
        IEnumerable<string> keys,
        string field,
        string code,
        string detail
    )
    {
        var seen = new HashSet<string>(StringComparer.Ordinal);
        foreach (var (reader, key) in readers.Zip(keys))
        {
            if (key.Length > 0 && !seen.Add(key))
            {
                reader.Refuse(field, code, $"{key} {detail}");
            }
        }
    }
}
