namespace Reports.Statistics;

/// <summary>How differently boats did that fished one sea on one day.</summary>
/// <remarks>
/// <para>Model: boats of one group have rates r_i = y_i/e_i of mean m and variance m^2 V + m (1 + m/k)/e_i.</para>
/// <para>Parameters: V, the squared coefficient of variation of boats (1/shape of their gamma), 0 or more; e effort, above 0.</para>
/// <para>Method: moments over groups of two boats or more: sum of Q - (1 + R/k) R (n - 1) over sum of m^2 (E - sum e^2/E), where Q = sum
/// e (r - R)^2, R = sum y/E, and m^2 = R^2/(1 + its own relative variance), a few rounds. A prior value enters as so many spare boats.</para>
/// <para>Reference: the unbiased variance within of Bühlmann and Straub 1970 (from memory).</para>
/// <para>Accuracy: simulated groups in DriftingRateTests.</para>
/// </remarks>
public static class BoatSpread
{
    /// <param name="groups">Fish and effort of each boat, by group; <c>Unseen</c> is the part of its fish that a limit hid and
    /// that is only expected: about as uncertain as it is large.</param>
    /// <param name="prior">V without data.</param>
    /// <param name="priorBoats">How many spare boats (boats less groups) that is worth.</param>
    public static double Fit(
        IEnumerable<IReadOnlyList<(double Fish, double Effort, double Unseen)>> groups,
        double k,
        double prior,
        double priorBoats
    )
    {
        var several = groups.Where(g => g.Count > 1 && g.Any(b => b.Fish > 0)).ToList();
        var v = prior;
        for (var round = 0; round < 6; round++)
        {
            double top = 0,
                bottom = 0,
                spare = 0;
            foreach (var group in several)
            {
                double fish = 0,
                    effort = 0,
                    squares = 0,
                    weighted = 0;
                foreach (var (y, e, unseen) in group)
                {
                    fish += y;
                    effort += e;
                    squares += e * e;
                    weighted += (y * y + unseen * unseen) / e;
                }

                var rate = fish / effort;
                var chance = (1 + rate / k) * rate;
                var square = rate * rate / (1 + v * squares / (effort * effort) + chance / (rate * rate * effort));
                top += weighted - effort * rate * rate - chance * (group.Count - 1);
                bottom += square * (effort - squares / effort);
                spare += group.Count - 1;
            }

            v = bottom > 0 ? Math.Max(0, (top / bottom * spare + prior * priorBoats) / (spare + priorBoats)) : prior;
        }

        return v;
    }
}
