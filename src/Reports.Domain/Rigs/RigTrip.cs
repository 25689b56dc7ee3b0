using Reports.Domain.Briefs;
using Reports.Domain.Reporting;

namespace Reports.Domain.Rigs;

/// <summary>A boat trip as the rig model sees it. What was reported is fixed; what is inferred changes from round to round.</summary>
internal sealed class RigTrip
{
    public RigTrip(Sighting sighting, BaitAsk bait, IEnumerable<RigMeasure> lines)
    {
        (Sighting, Bait) = (sighting, bait);
        Lines = [.. lines.Where(l => Rigs.Bite.IsBait(l.Technique))];
        Features = Lines.ConvertAll(FeaturesOf);
        Rods = [.. Lines.Select(RodsOf)];
        Hooked = [.. Lines.Select(l => l.Rods > 0 ? HookedOf(l) : null)];
        Tallied = Hooked.Count(h => h is not null) >= 2 && Hooked.Sum(h => h ?? 0) > 0;
    }

    public Sighting Sighting { get; }
    public BaitAsk Bait { get; }
    public List<RigMeasure> Lines { get; private set; }

    /// <summary>One row for each line.</summary>
    public List<RigFeatures> Features { get; private set; }

    /// <summary>Rods that fished each line; by the word where nobody counted, 0 where nothing was told.</summary>
    public List<double> Rods { get; }

    /// <summary>Fish hooked on each line; null where it can't be told.</summary>
    public List<double?> Hooked { get; }

    /// <summary>Two rigs or more were counted, and something was hooked: the trip compares rigs.</summary>
    public bool Tallied { get; }

    /// <summary>Slope of ln bite in ln line on this trip: posterior mean.</summary>
    public double Slope { get; set; } = RigPriors.CoastSlope.Mean;

    /// <summary>Fish landed by cell of the size grid, where sizes are known; else null.</summary>
    public double[]? Landed { get; set; }

    /// <summary>Shares of the fish met by cell, where sizes are known.</summary>
    public double[]? Met { get; set; }

    /// <summary>Hook-ups of a rod and day on a thirty with the table's hook.</summary>
    public double Rate { get; set; } = RigPriors.HookupsPerRod;

    /// <summary>Forgets the sizes of hooks that are likelier slips than hooks.</summary>
    public void Doubt(HookHabit habit)
    {
        Lines = Lines.ConvertAll(l =>
            l.HookStep is { } step && habit.Slipped(step, Bait) ? l with { HookStep = null } : l
        );
        Features = Lines.ConvertAll(FeaturesOf);
    }

    private RigFeatures FeaturesOf(RigMeasure l) =>
        RigFeatures.Of(l.RungLb, l.Technique, l.HookStyle, l.HookStep, Bait);

    private double RodsOf(RigMeasure line) =>
        line.Rods
        ?? line.Use switch
        {
            Reporting.RigUse.Most => RigPriors.MostRods * Sighting.Report.Anglers,
            Reporting.RigUse.Some => RigPriors.SomeRods * Sighting.Report.Anglers,
            Reporting.RigUse.Few => RigPriors.FewRods * Sighting.Report.Anglers,
            _ => 0,
        };

    private static double? HookedOf(RigMeasure line)
    {
        if (line.Hooked is { } hooked)
        {
            return hooked;
        }

        var told = line.BrokenOff ?? line.Pulled ?? line.Straightened;
        return line.Landed is { } landed && told is not null
            ? landed + (line.BrokenOff ?? 0) + (line.Pulled ?? 0) + (line.Straightened ?? 0)
            : null;
    }
}
