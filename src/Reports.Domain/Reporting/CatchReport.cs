using Reports.Domain.Measures;

namespace Reports.Domain.Reporting;

/// <summary>
/// What one boat did in one zone on one sailing, as it was given: every measure keeps its number and unit. Built only by
/// <see cref="ReportReader"/>, so a value of this type has passed every rule of a single report.
/// </summary>
public sealed record CatchReport
{
    public required string Boat { get; init; }
    public required string Zone { get; init; }

    /// <summary>Where it was fished, when a position was given instead of a zone. Private: never rendered anywhere.</summary>
    public Position? Position { get; init; }

    /// <summary>The day fished, in the landing's time zone; of a multi-day total its last day.</summary>
    public required DateOnly FishedOn { get; init; }

    /// <summary>1 for the first sailing of the boat that day.</summary>
    public int Sailing { get; init; } = 1;

    /// <summary>Length of the trip in days, 0.25 to 30; null when not given.</summary>
    public decimal? TripDays { get; init; }

    /// <summary>Days that the counts cover, 1 or more.</summary>
    public int DaysCovered { get; init; } = 1;

    public ReportStatus Status { get; init; } = ReportStatus.Final;

    /// <summary>Paying rods.</summary>
    public required int Anglers { get; init; }

    public bool? CrewFished { get; init; }

    /// <summary>Hours with lines in the water.</summary>
    public decimal? Hours { get; init; }
    public Bite? Bite { get; init; }
    public ReportUnits Units { get; init; } = ReportUnits.Default;
    public required IReadOnlyList<CatchLine> Catch { get; init; }

    /// <summary>Bait used, one per kind. Empty: the landing's bait of that day holds.</summary>
    public IReadOnlyList<BaitLine> Bait { get; init; } = [];

    /// <summary>True when the bait was given as one object, not a list; kept so that the report reads back as it was sent.</summary>
    public bool BaitIsSingle { get; init; }
    public IReadOnlyList<RigLine> Rigs { get; init; } = [];
    public Signs? Signs { get; init; }
    public string? Note { get; init; }

    /// <summary>What makes a report the same report.</summary>
    public ReportKey Key => new(Boat, Zone, FishedOn, Sailing);
}

/// <summary>A boat fishes a zone once per sailing: two reports of one key are versions of one report.</summary>
public sealed record ReportKey(string Boat, string Zone, DateOnly FishedOn, int Sailing);

/// <summary>WGS 84 degrees.</summary>
public sealed record Position(decimal Latitude, decimal Longitude);

/// <summary>
/// One species that was fished for. Counts, sizes, top rod and anglers with fish refer to kept + released; the limit to kept.
/// </summary>
public sealed record CatchLine
{
    public required string Species { get; init; }
    public required int Kept { get; init; }

    /// <summary>Null: unknown, not zero.</summary>
    public int? Released { get; init; }
    public Weight? Smallest { get; init; }
    public Weight? Largest { get; init; }

    /// <summary>Range of about nine in ten of the fish (common practice, no source).</summary>
    public Weight? MostFrom { get; init; }
    public Weight? MostTo { get; init; }

    /// <summary>The largest went on a scale; the rest are estimates by eye.</summary>
    public bool? Weighed { get; init; }

    /// <summary>The boat stopped at its limit, so the count is capped.</summary>
    public bool? Limit { get; init; }
    public int? AnglersWithFish { get; init; }

    /// <summary>In words, where nobody counted.</summary>
    public AnglerShare? AnglersWithFishWord { get; init; }

    /// <summary>Most fish by one angler.</summary>
    public int? TopRod { get; init; }

    /// <summary>Heavy fish hooked and lost.</summary>
    public int? LostHeavy { get; init; }

    /// <summary>Fish known to have been caught: kept, and released where that is known.</summary>
    public int Fish => Kept + (Released ?? 0);
}

public sealed record BaitLine
{
    public required string Species { get; init; }
    public Length? Shortest { get; init; }
    public Length? Longest { get; init; }
    public BaitCondition? Condition { get; init; }
    public BaitSupply? Supply { get; init; }
}

/// <summary>What one rig did: its tallies, or only that it worked best.</summary>
public sealed record RigLine
{
    public required string Species { get; init; }
    public Technique Technique { get; init; } = Technique.FlyLine;

    /// <summary>Rated strength at the hook end: the leader's when there is one, else the line's.</summary>
    public required Weight LineClass { get; init; }
    public Leader? Leader { get; init; }
    public MainLine? MainLine { get; init; }
    public Hook? Hook { get; init; }
    public RigUse? Use { get; init; }
    public int? Rods { get; init; }
    public int? Hooked { get; init; }
    public int? Landed { get; init; }
    public int? BrokenOff { get; init; }
    public int? Pulled { get; init; }
    public int? Straightened { get; init; }

    /// <summary>Ounces of a sinker or jig.</summary>
    public decimal? WeightOz { get; init; }
    public bool Winning { get; init; }

    /// <summary>Fish hooked and lost, as far as they are told.</summary>
    public int Lost => (BrokenOff ?? 0) + (Pulled ?? 0) + (Straightened ?? 0);
}

public sealed record Leader(LeaderMaterial Material, Weight? Test);

public sealed record MainLine(MainLineMaterial Material, Weight? Test);

public sealed record Hook
{
    public required HookStyle Style { get; init; }

    /// <summary>Null only where there is no hook.</summary>
    public HookSize? Size { get; init; }

    /// <summary>Measured gape (gap), the one thing that compares between makers.</summary>
    public decimal? GapeMm { get; init; }
    public HookWire? Wire { get; init; }
    public bool? Ringed { get; init; }
}

/// <summary>What was seen: fish on top, the depth at which they were marked, birds stealing bait.</summary>
public sealed record Signs(bool? Surface, Depth? Depth, bool? Birds);
