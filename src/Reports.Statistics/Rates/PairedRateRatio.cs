using MathNet.Numerics.Distributions;

namespace Reports.Statistics;

/// <summary>Two rates side by side in one stratum (a boat trip): events and what they came from.</summary>
/// <param name="Cluster">Names its cluster: strata of one may depend on each other in any way.</param>
public readonly record struct RatePair(
    double Events1,
    double Exposure1,
    double Events2,
    double Exposure2,
    double Weight,
    int Cluster
);

/// <summary>
/// How many times the first of two rates is the second, compared within strata only, so that what a stratum shares (boat, day,
/// crew, school) cancels.
/// <para>Model: in stratum k events come at rates λ_k R x1 and λ_k x2, any λ_k; strata of a cluster may depend on each other.</para>
/// <para>Parameters: y1, y2 >= 0 events of x1, x2 >= 0 exposures, w >= 0 weight, an integer naming the cluster.</para>
/// <para>Method: R = P / Q, P = Σ w y1 x2 / (x1 + x2), Q = Σ w y2 x1 / (x1 + x2), after half an event to each on one more
/// stratum of equal exposures and mean weight, so that none is nothing. Var ln R = G/(G-1) Σ_g (P_g / P - Q_g / Q)^2 over the G
/// clusters, with Student's t of Kish's number of clusters less one, at least one degree; with few clusters the spread seen may
/// be small by luck, so what chance alone gives, Σ w² x1 x2 (y1 + y2) / (x1 + x2)² / (P Q), must allow the same by the normal.
/// Strata with an empty exposure carry no information and are passed over.</para>
/// <para>Reference: Mantel &amp; Haenszel 1959 for the weights, Greenland &amp; Robins 1985, Biometrics 41:55-68 for person-time
/// and the chance variance; sandwich by clusters as in <see cref="ClusteredRatio"/> (all from memory).</para>
/// <para>Accuracy: closed form; the error rates of ranking by it are measured by simulation (benchmark verb <c>claims</c>).</para>
/// </summary>
/// <param name="LogRatio">ln R.</param>
/// <param name="StandardError">Of ln R, by the spread between clusters; 0 with a single one.</param>
/// <param name="ChanceError">Of ln R, were all spread that of counts.</param>
public readonly record struct PairedRateRatio(
    double LogRatio,
    double StandardError,
    double DegreesOfFreedom,
    double ChanceError
)
{
    /// <summary>Null where no stratum had both, or nothing happened.</summary>
    /// <exception cref="InvalidSampleException">Negative or not finite values.</exception>
    public static PairedRateRatio? Of(ReadOnlySpan<RatePair> strata)
    {
        var clusters = new SortedDictionary<int, (double P, double Q)>();
        var (p, q, chance, weight, informative) = (0.0, 0.0, 0.0, 0.0, 0);
        foreach (var (y1, x1, y2, x2, w, cluster) in strata)
        {
            RateInput.NotNegative([y1, x1, y2, x2, w], nameof(strata));
            if (w * x1 * x2 <= 0 || y1 + y2 <= 0)
            {
                continue;
            }

            var (p1, q1) = (w * y1 * x2 / (x1 + x2), w * y2 * x1 / (x1 + x2));
            var (pg, qg) = clusters.GetValueOrDefault(cluster);
            clusters[cluster] = (pg + p1, qg + q1);
            (p, q) = (p + p1, q + q1);
            chance += w * w * x1 * x2 * (y1 + y2) / ((x1 + x2) * (x1 + x2));
            (weight, informative) = (weight + w, informative + 1);
        }

        if (informative == 0)
        {
            return null;
        }

        var half = weight / informative / 4;
        (p, q) = (p + half, q + half);
        var count = clusters.Count;
        var seen = count > 1 ? count / (count - 1.0) * clusters.Values.Sum(c => Square(c.P / p - c.Q / q)) : 0;
        var kish = Square(clusters.Values.Sum(c => c.P + c.Q)) / clusters.Values.Sum(c => Square(c.P + c.Q));
        return new PairedRateRatio(
            Math.Log(p / q),
            Math.Sqrt(seen),
            Math.Max(1, kish - 1),
            Math.Sqrt(chance / (p * q))
        );
    }

    /// <summary>
    /// Probability that R exceeds a ratio: the less certain of what clusters show and what chance leaves, the more certain on the other
    /// side. A single cluster shows no spread: t of one degree on chance.
    /// </summary>
    public double ProbabilityAbove(double ratio)
    {
        var beyond = LogRatio - Math.Log(ratio);
        var error = StandardError > 0 ? StandardError : ChanceError;
        var (seen, chance) = (
            StudentT.CDF(0, 1, DegreesOfFreedom, beyond / error),
            Normal.CDF(0, 1, beyond / ChanceError)
        );
        return beyond > 0 ? Math.Min(seen, chance) : Math.Max(seen, chance);
    }

    private static double Square(double x) => x * x;
}
