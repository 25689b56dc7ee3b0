namespace Reports.Statistics;

/// <summary>Shares of a whole told on a day: of one telling, or summed over those of the day.</summary>
/// <param name="Day">Number of the day.</param>
/// <param name="Shares">By cell, 0 or more; the sum is how many tellings they are.</param>
public sealed record SharesOfDay(int Day, IReadOnlyList<double> Shares);

/// <summary>
/// How fast a composition (sizes by weight class, bait by length, wins by rig) is forgotten: the half-life whose decayed shares
/// foretold the following days best.
/// </summary>
/// <remarks>
/// The past is replayed. From every third day as origin each group's shares of the last 28 days, decayed and drawn to those of all
/// groups by as much as one telling, forecast the group's next seven days; the score of a telling is the sum over cells of its share times the
/// logarithm of the forecast's (the logarithmic score: Gneiting and Raftery, J. Am. Stat. Assoc. 102, 2007, section 4.1). An origin
/// counts as the share that it has of the days it is scored on, so that each day is counted once.
/// </remarks>
public static class FadingShares
{
    private const int Window = 28;
    private const int Ahead = 7;
    private const int RunUp = 7;
    private const int Step = 3;

    /// <summary>What all groups together are worth to one, in tellings.</summary>
    private const double Whole = 1;

    /// <summary>Nothing is impossible: this much of a forecast is spread evenly.</summary>
    private const double Even = 0.01;

    /// <summary>The half-life, days, of the choices.</summary>
    /// <param name="groups">Each group's days, ascending, one item for a day; all with the same cells.</param>
    /// <param name="today">Days after it are not looked at.</param>
    /// <param name="choices">Half-lives in days, above 0.</param>
    /// <param name="centre">Where too little is told, the choice nearest to this.</param>
    /// <param name="logSpread">Standard deviation of the half-life's logarithm about the centre's, above 0.</param>
    /// <exception cref="ArgumentException">No choice, or groups of different cells.</exception>
    public static double HalfLife(
        IReadOnlyList<IReadOnlyList<SharesOfDay>> groups,
        int today,
        IReadOnlyList<double> choices,
        double centre,
        double logSpread
    )
    {
        if (choices.Count == 0 || choices.Any(h => !(h > 0)))
        {
            throw new ArgumentException("Half-lives must be above 0, and one at least.", nameof(choices));
        }

        var cells = groups.SelectMany(g => g).Select(d => d.Shares.Count).Distinct().ToList();
        if (cells.Count > 1)
        {
            throw new ArgumentException("All days must have the same cells.", nameof(groups));
        }

        return choices.MaxBy(h =>
        {
            var z = Math.Log(h / centre) / logSpread;
            return Math.Round((cells.Count == 0 ? 0 : LogScore(groups, cells[0], today, h)) - z * z / 2, 9);
        });
    }

    /// <summary>The log score of a half-life over the replayed past.</summary>
    public static double LogScore(
        IReadOnlyList<IReadOnlyList<SharesOfDay>> groups,
        int cells,
        int today,
        double halfLife
    )
    {
        var days = groups.SelectMany(g => g).Select(d => d.Day).Where(d => d <= today).DefaultIfEmpty(today).ToList();
        var score = 0.0;
        for (var origin = days.Min() + RunUp - 1; origin < today; origin += Step)
        {
            var pasts = groups.Select(g => Decayed(g, cells, origin, halfLife)).ToList();
            var whole = new double[cells];
            foreach (var past in pasts)
            {
                for (var j = 0; j < cells; j++)
                {
                    whole[j] += past[j];
                }
            }

            var total = whole.Sum();
            if (total <= 0)
            {
                continue;
            }

            for (var g = 0; g < groups.Count; g++)
            {
                var own = pasts[g].Sum();
                foreach (var day in groups[g])
                {
                    if (day.Day <= origin || day.Day > Math.Min(origin + Ahead, today))
                    {
                        continue;
                    }

                    for (var j = 0; j < cells; j++)
                    {
                        if (day.Shares[j] > 0)
                        {
                            var forecast = (pasts[g][j] + Whole * whole[j] / total) / (own + Whole);
                            score += day.Shares[j] * Math.Log((1 - Even) * forecast + Even / cells);
                        }
                    }
                }
            }
        }

        return score * Step / Ahead;
    }

    private static double[] Decayed(IReadOnlyList<SharesOfDay> group, int cells, int origin, double halfLife)
    {
        var sum = new double[cells];
        foreach (var day in group)
        {
            var age = origin - day.Day;
            if (age is < 0 or >= Window)
            {
                continue;
            }

            var weight = Evidence.DecayWeight(age, halfLife);
            for (var j = 0; j < cells; j++)
            {
                sum[j] += weight * day.Shares[j];
            }
        }

        return sum;
    }
}
