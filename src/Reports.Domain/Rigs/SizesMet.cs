using Reports.Domain.Briefs;

namespace Reports.Domain.Rigs;

/// <summary>Weights of the fish that boats landed, and from them of those they met, on the size grid.</summary>
internal static class SizesMet
{
    /// <summary>
    /// Fish that hardly any of the rods on board could land were met oftener than landed, but no landed fish stands for more
    /// than this many over.
    /// </summary>
    public const double LeastHeld = 0.15;

    private const int Iterations = 8;

    /// <summary>
    /// Fills in what each trip landed: the quoted ends are fish, those between are spread like the coast's fish of that range
    /// (self-consistency: the mean of the trips is what the fish between are spread by). Returns the coast's shares by cell.
    /// </summary>
    public static double[] Landed(IReadOnlyList<RigTrip> trips)
    {
        var told = trips
            .Where(t => SizeReport.Told(t.Sighting.Line))
            .Select(t => (Trip: t, Report: SizeReport.Of(t.Sighting, HalfLives.SizeDays)))
            .ToList();
        var shares = new double[SizeGrid.Count];
        Array.Fill(shares, 1.0 / SizeGrid.Count);
        if (Sample.Boats(told.Select(t => t.Trip.Sighting)) < Confidentiality.FewestBoats)
        {
            return shares;
        }

        for (var iteration = 0; iteration < Iterations; iteration++)
        {
            var sum = new double[SizeGrid.Count];
            foreach (var (trip, report) in told)
            {
                trip.Landed = Landed(report, shares);
                var weight = 1 / Math.Sqrt(report.Fish) * trip.Sighting.Weight(HalfLives.RigDays);
                for (var j = 0; j < sum.Length; j++)
                {
                    sum[j] += weight * trip.Landed[j];
                }
            }

            var total = sum.Sum();
            for (var j = 0; j < sum.Length; j++)
            {
                // Nothing is impossible: a thousandth is spread evenly.
                shares[j] = 0.999 * sum[j] / total + 0.001 / SizeGrid.Count;
            }
        }

        return shares;
    }

    /// <summary>What one trip landed, the fish between its ends spread by the coast's shares; null where no size was told.</summary>
    public static double[]? Landed(Sighting sighting, double[] shares) =>
        SizeReport.Told(sighting.Line) ? Landed(SizeReport.Of(sighting, HalfLives.SizeDays), shares) : null;

    /// <summary>Shares of the fish met: landed over the chance of landing them.</summary>
    public static double[] Met(double[] landed, double[] held)
    {
        var met = new double[landed.Length];
        for (var j = 0; j < met.Length; j++)
        {
            met[j] = landed[j] / Math.Max(LeastHeld, held[j]);
        }

        var total = met.Sum();
        for (var j = 0; j < met.Length; j++)
        {
            met[j] /= total;
        }

        return met;
    }

    private static double[] Landed(SizeReport report, double[] shares)
    {
        var landed = new double[SizeGrid.Count];
        foreach (var end in report.Ends)
        {
            landed[SizeGrid.Cell(end)]++;
        }

        foreach (var (fish, from, to) in report.Between)
        {
            var first = SizeGrid.Cell(Math.Max(1, from));
            var last = double.IsInfinity(to) ? SizeGrid.Count - 1 : SizeGrid.Cell(to);
            var total = 0.0;
            for (var j = first; j <= last; j++)
            {
                total += shares[j];
            }

            for (var j = first; j <= last; j++)
            {
                landed[j] += fish * shares[j] / total;
            }
        }

        return landed;
    }
}
