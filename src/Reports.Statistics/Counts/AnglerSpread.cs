using MathNet.Numerics;

namespace Reports.Statistics;

/// <summary>How many anglers of a boat had a fish, given how many fish there were.</summary>
/// <param name="Anglers">At least 1.</param>
/// <param name="Fish">Of all of them, above 0.</param>
/// <param name="WithFish">Anglers with one or more; need not be whole (a crew's "half").</param>
public readonly record struct SharedCatch(int Anglers, int Fish, double WithFish);

/// <summary>Negative binomial k between the anglers of a boat, from how many of them had a fish.</summary>
/// <remarks>
/// <para>Model: counts negative binomial with the same k are, given their total T over N anglers, Dirichlet-multinomial whatever
/// the boat's mean. So P(an angler has none | T) = G(T + (N - 1) k) G(N k) / (G((N - 1) k) G(T + N k)), G the gamma function.</para>
/// <para>Parameters: k no unit, above 0; prior normal on ln k.</para>
/// <para>Method: quasi-likelihood sum_i [Z ln p_0 + (N - Z) ln(1 - p_0)], Z the anglers without, plus the prior, by Newton in ln k. The
/// expectation of each term's score is zero at the true k; the binomial variance is a little larger than the true one (who has a
/// fish takes it from another), so the standard error errs to the wide side.</para>
/// <para>Reference: Johnson, Kotz and Balakrishnan 1997, Discrete Multivariate Distributions, ch. 35, for the
/// Dirichlet-multinomial; Wedderburn 1974, Biometrika 61:439-447, for the quasi-likelihood (both from memory).</para>
/// <para>Accuracy: p_0 to rounding on cases counted by hand; k of two simulated fleets within three standard errors
/// (DriftingRateTests).</para>
/// </remarks>
/// <param name="K">Estimate.</param>
/// <param name="LogError">Standard error of ln k.</param>
public sealed record AnglerSpread(double K, double LogError)
{
    /// <param name="logK">Centre of ln k without data.</param>
    /// <param name="logSpread">Its standard deviation, above 0.</param>
    public static AnglerSpread Fit(IReadOnlyList<SharedCatch> boats, double logK, double logSpread)
    {
        double Value(double[] p)
        {
            var k = Math.Exp(p[0]);
            var sum = new CompensatedSum();
            foreach (var boat in boats)
            {
                if (boat.Anglers < 2)
                {
                    continue;
                }

                var none = Math.Clamp(LogNone(boat.Anglers, boat.Fish, k), -700, -1e-12);
                sum.Add(
                    (boat.Anglers - boat.WithFish) * none + boat.WithFish * Math.Log(-SpecialFunctions.Expm1(none))
                );
            }

            var z = (p[0] - logK) / logSpread;
            return sum.Value - z * z / 2;
        }

        var top = NumericMaximum.Find(Value, [logK], logK - 6, logK + 6);
        var information = -top.Hessian[0, 0];
        return new AnglerSpread(
            Math.Exp(top.At[0]),
            information > 0 ? Math.Min(logSpread, 1 / Math.Sqrt(information)) : logSpread
        );
    }

    /// <summary>ln P(one angler of a boat has none | the boat has <paramref name="fish"/>).</summary>
    public static double LogNone(int anglers, int fish, double k)
    {
        var (others, all) = ((anglers - 1) * k, anglers * k);
        if (fish <= 32)
        {
            // A product of few factors, each angler's fish passing the one by.
            var product = 1.0;
            for (var i = 0; i < fish; i++)
            {
                product *= (others + i) / (all + i);
            }

            return Math.Log(product);
        }

        return SpecialFunctions.GammaLn(fish + others)
            - SpecialFunctions.GammaLn(others)
            - SpecialFunctions.GammaLn(fish + all)
            + SpecialFunctions.GammaLn(all);
    }
}
