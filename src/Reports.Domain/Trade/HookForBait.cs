namespace Reports.Domain.Trade;

/// <summary>
/// The bait decides the hook: which hook step goes with a bait of a length, centre and spread (common practice, no source: live
/// sardine of 4-6 in with 4 to 1, 6-8 in with 1 to 2/0, 8-10 in with 2/0 to 4/0, large mackerel with 4/0 to 7/0).
/// </summary>
public static class HookForBait
{
    /// <summary>Standard deviation in steps.</summary>
    public const double SpreadSteps = 2;

    private static readonly (double Mm, double Step)[] Centres =
    [
        (102, -3),
        (127, -1.5),
        (178, 1),
        (229, 3),
        (305, 5.5),
    ];

    /// <summary>Centre in steps for a bait length in mm, linear between the table's rows and held at its ends.</summary>
    public static double CentreStep(double baitMm)
    {
        if (baitMm <= Centres[0].Mm)
        {
            return Centres[0].Step;
        }

        for (var i = 1; i < Centres.Length; i++)
        {
            var (from, to) = (Centres[i - 1], Centres[i]);
            if (baitMm <= to.Mm)
            {
                return from.Step + ((to.Step - from.Step) * (baitMm - from.Mm) / (to.Mm - from.Mm));
            }
        }

        return Centres[^1].Step;
    }

    /// <summary>Probability of a step for a bait length: a normal in steps, by its density at the step.</summary>
    public static double Probability(int step, double baitMm)
    {
        var z = (step - CentreStep(baitMm)) / SpreadSteps;
        return Math.Exp(-z * z / 2) / (SpreadSteps * Math.Sqrt(2 * Math.PI));
    }
}
