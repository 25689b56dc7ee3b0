namespace Reports.Statistics;

/// <summary>Log-likelihood, gradient and EM step of a lognormal mixture on exact and censored observations.</summary>
internal sealed class ObservationLikelihood
{
    private readonly double[] logLower;
    private readonly double[] logUpper;
    private readonly double[] weight;
    private readonly double[] middle;

    // A value far outside every group would end the search with ln 0.
    private const double Tiny = 1e-300;

    internal ObservationLikelihood(IReadOnlyList<IntervalObservation> observations, string parameter)
    {
        IntervalObservation.Validate(observations, parameter);
        var merged = observations
            .Where(o => o.Weight > 0)
            .GroupBy(o => (Lower: Math.Max(o.Lower, 0), o.Upper))
            .Select(g => (g.Key.Lower, g.Key.Upper, Weight: g.Select(o => o.Weight).Order().Sum()))
            .OrderBy(o => o.Lower)
            .ThenBy(o => o.Upper)
            .ToArray();
        if (merged.Any(o => !(o.Upper > 0)))
        {
            throw new InvalidSampleException(SampleFault.OutOfRange, parameter, "sizes are above 0");
        }

        logLower = [.. merged.Select(o => Math.Log(o.Lower))];
        logUpper = [.. merged.Select(o => Math.Log(o.Upper))];
        weight = [.. merged.Select(o => o.Weight)];
        TotalWeight = weight.Sum();
        var (least, most) = (
            merged.Min(o => o.Lower > 0 ? o.Lower : o.Upper),
            merged.Max(o => double.IsFinite(o.Upper) ? o.Upper : o.Lower)
        );
        middle =
        [
            .. merged.Select(o =>
                double.IsInfinity(o.Upper)
                    ? Math.Log(o.Lower > 0 ? o.Lower * 1.1 : Math.Sqrt(least * Math.Max(most, least)))
                : o.Lower > 0 ? 0.5 * (Math.Log(o.Lower) + Math.Log(o.Upper))
                : Math.Log(o.Upper / 1.1)
            ),
        ];
    }

    internal double TotalWeight { get; }
    internal int Count => weight.Length;
    internal double[] Middle => middle;
    internal double[] Weight => weight;

    private static double Guard(double z) => Math.Clamp(z, -1e3, 1e3);

    /// <summary>Minus the log-likelihood and its gradient.</summary>
    internal double Evaluate(MixtureParameters x, double[] v, double[] gradient)
    {
        x.Read(v);
        var K = x.Pi.Length;
        Span<double> cell = stackalloc double[K];
        Span<double> byMu = stackalloc double[K];
        Span<double> bySigma = stackalloc double[K];
        var sum = 0.0;
        for (var i = 0; i < weight.Length; i++)
        {
            var exact = logLower[i].Equals(logUpper[i]);
            var density = 0.0;
            for (var k = 0; k < K; k++)
            {
                var s = x.Sigma[k];
                var a = Guard((logLower[i] - x.Mu[k]) / s);
                if (exact)
                {
                    var c = NormalMass.Density(a) / (s * Math.Exp(logLower[i]));
                    (cell[k], byMu[k], bySigma[k]) = (c, c * a / s, c * (a * a - 1) / s);
                }
                else
                {
                    var b = Guard((logUpper[i] - x.Mu[k]) / s);
                    var (fa, fb) = (NormalMass.Density(a), NormalMass.Density(b));
                    (cell[k], byMu[k], bySigma[k]) = (NormalMass.Between(a, b), (fa - fb) / s, (a * fa - b * fb) / s);
                }

                density += x.Pi[k] * cell[k];
            }

            if (!(density > Tiny))
            {
                return double.PositiveInfinity;
            }

            sum += weight[i] * Math.Log(density);
            var r = weight[i] / density;
            for (var k = 0; k < K; k++)
            {
                x.ByPi[k] += r * cell[k];
                x.ByMu[k] += r * x.Pi[k] * byMu[k];
                x.BySigma[k] += r * x.Pi[k] * bySigma[k];
            }
        }

        x.WriteNegativeGradient(v, gradient);
        return -sum;
    }

    /// <summary>
    /// EM steps in place; returns the log-likelihood before the last step, or -Infinity where an observation is out of
    /// reach of every group.
    /// </summary>
    internal double Em(double[] pi, double[] mu, double[] sigma, double floor, int steps, List<double>? path = null)
    {
        var K = pi.Length;
        Span<double> part = stackalloc double[K];
        Span<double> first = stackalloc double[K];
        Span<double> second = stackalloc double[K];
        Span<double> n = stackalloc double[K];
        Span<double> s1 = stackalloc double[K];
        Span<double> s2 = stackalloc double[K];
        var sum = double.NegativeInfinity;
        for (var step = 0; step < steps; step++)
        {
            n.Clear();
            s1.Clear();
            s2.Clear();
            sum = 0;
            for (var i = 0; i < weight.Length; i++)
            {
                var exact = logLower[i].Equals(logUpper[i]);
                var density = 0.0;
                for (var k = 0; k < K; k++)
                {
                    var s = sigma[k];
                    var a = Guard((logLower[i] - mu[k]) / s);
                    double cell,
                        z,
                        zz;
                    if (exact)
                    {
                        (cell, z, zz) = (NormalMass.Density(a) / (s * Math.Exp(logLower[i])), a, a * a);
                    }
                    else
                    {
                        var b = Guard((logUpper[i] - mu[k]) / s);
                        cell = NormalMass.Between(a, b);
                        if (cell > 1e-250)
                        {
                            var (fa, fb) = (NormalMass.Density(a), NormalMass.Density(b));
                            z = (fa - fb) / cell;
                            zz = 1 + (a * fa - b * fb) / cell;
                        }
                        else
                        {
                            z = Math.Min(Math.Max(0, a), b);
                            zz = z * z;
                        }
                    }

                    part[k] = pi[k] * cell;
                    first[k] = z;
                    second[k] = zz;
                    density += part[k];
                }

                if (!(density > Tiny))
                {
                    return double.NegativeInfinity;
                }

                sum += weight[i] * Math.Log(density);
                var r = weight[i] / density;
                for (var k = 0; k < K; k++)
                {
                    var t = r * part[k];
                    n[k] += t;
                    // Moments about the present mean: no cancellation for a narrow group.
                    s1[k] += t * first[k];
                    s2[k] += t * second[k];
                }
            }

            path?.Add(sum);
            for (var k = 0; k < K; k++)
            {
                pi[k] = n[k] / TotalWeight;
                if (n[k] > 1e-12)
                {
                    var shift = s1[k] / n[k];
                    mu[k] += sigma[k] * shift;
                    sigma[k] = Math.Max(floor, sigma[k] * Math.Sqrt(Math.Max(0, s2[k] / n[k] - shift * shift)));
                }
            }
        }

        return sum;
    }
}
