using MathNet.Numerics;

namespace Reports.Statistics;

/// <summary>
/// Probability of report lines (n fish, rounded smallest and largest) under size groups whose shares vary from line to line.
/// </summary>
/// <remarks>
/// <para>
/// <b>Model.</b> Shares q ~ Dirichlet(phi pi_1, ..., phi pi_K) for each line, then n fish, each of group k with probability
/// q_k and with log-size Normal(mu_k, s_k). With cell ends a-, a+, b-, b+ the line has
/// P = T(a-,b+) - T(a+,b+) - T(a-,b-) + T(a+,b-), for a = b or n = 1 P = T(a-,b+), where T(l,u) = E[(sum_k q_k A_k)^n],
/// A_k = F_k(u) - F_k(l). phi = Infinity: T = (sum_k pi_k A_k)^n. A line with a range of most: m = round(0.9 (n - 1)) fish lie
/// in that range, the other n - m have their largest in the cell of b (and their smallest in the cell of a, where a is
/// below the range).
/// </para>
/// <para>
/// <b>Parameters.</b> pi_k: mean share of group k; phi &gt; 0: concentration; mu_k, s_k as in <see cref="LognormalMixture"/>.
/// </para>
/// <para>
/// <b>Method.</b> The expectation is the sum over the compositions (j_1..j_K) of n with Dirichlet-multinomial weights, on logs.
/// Inside each term the four-term difference is taken as (1-u)(1-v) - uv(1-e^d), u = (B/A)^j, v = (C/A)^j, which loses no
/// digits when an end is improbable or n is in the thousands. Cost C(n+K-1, K-1) per distinct line.
/// </para>
/// <para>
/// <b>Reference.</b> David and Nagaraja 2003, Order Statistics, section 2.2 (joint law of the extremes; from memory);
/// Dirichlet-multinomial: Mosimann 1962, Biometrika 49:65-82.
/// </para>
/// <para><b>Accuracy.</b> Reference case A2H-01..03: 1e-12; see docs/method/sizes.md.</para>
/// </remarks>
internal sealed class RangeLikelihood
{
    // Stands for ln 0 where it must still be multiplied by a count of 0.
    private const double Nothing = -1e10;
    private readonly int components;
    private readonly bool varying;
    private readonly Line[] lines;
    private readonly double[] logEdge;
    private readonly int largestCount;

    // Per edge and group: both tails, the density, and the accumulated derivative by Phi(edge).
    private readonly double[] lower;
    private readonly double[] upper;
    private readonly double[] byEdge;

    // Prefix sums of ln(alpha_k + i), 1/(alpha_k + i), the same for phi, and ln i!.
    private readonly double[] logRising;
    private readonly double[] harmonic;
    private readonly double[] logRisingTotal;
    private readonly double[] harmonicTotal;
    private readonly double[] logFactorial;

    private readonly int groups;
    private readonly double[] alpha;
    private readonly double[] byAlpha;
    private readonly double[] byAlphaLine;
    private readonly double[] A;
    private readonly double[] B;
    private readonly double[] C;
    private readonly double[] D;
    private readonly double[] M;
    private readonly double[] logA;
    private readonly double[] logB;
    private readonly double[] logC;
    private readonly double[] logK;
    private readonly double[] logM;
    private readonly double[] gradA;
    private readonly double[] gradB;
    private readonly double[] gradC;
    private readonly double[] gradD;
    private readonly double[] gradM;
    private readonly int[] free;
    private readonly int[] inside;
    private readonly double[] held;
    private double[] exponents = new double[64];

    /// <summary>A distinct line; edges index the table of distinct cell ends, -1 stands for size 0.</summary>
    private readonly record struct Line(
        int Free,
        int Inside,
        LineKind Kind,
        int ALow,
        int AHigh,
        int BLow,
        int BHigh,
        int MostLow,
        int MostHigh,
        double Weight
    );

    private enum LineKind
    {
        OneCell,
        Ends,
        LargestOnly,
    }

    internal RangeLikelihood(IReadOnlyList<SizeLine> sample, int components, bool varying)
    {
        this.components = components;
        this.varying = varying && components > 1;
        var distinct = sample
            .Where(l => l.Weight > 0)
            .GroupBy(l => l with { Weight = 0 })
            .Select(g => g.Key with { Weight = g.Select(l => l.Weight).Order().Sum() })
            .OrderBy(l => l.Fish)
            .ThenBy(l => l.Smallest)
            .ThenBy(l => l.Largest)
            .ThenBy(l => l.Rounding)
            .ThenBy(l => l.MostFrom)
            .ThenBy(l => l.MostTo)
            .ToArray();
        Dictionary<double, int> edges = [];
        List<double> logs = [];
        int Edge(double x)
        {
            if (!(x > 0))
            {
                return -1;
            }

            if (!edges.TryGetValue(x, out var at))
            {
                edges[x] = at = logs.Count;
                logs.Add(Math.Log(x));
            }

            return at;
        }

        lines =
        [
            .. distinct.Select(l =>
            {
                var h = l.Rounding / 2;
                var (n, a, b) = (l.Fish, l.Smallest, l.Largest);
                var one = n == 1 || a.Equals(b);
                var most = !one && l.MostFrom.HasValue;
                var belowMost = !most || a < l.MostFrom;
                var insideCount = most ? SizeLine.CountInside(n, belowMost) : 0;
                return new Line(
                    n - insideCount,
                    insideCount,
                    one ? LineKind.OneCell
                        : belowMost ? LineKind.Ends
                        : LineKind.LargestOnly,
                    belowMost || one ? Edge(a - h) : -1,
                    belowMost || one ? Edge(a + h) : -1,
                    Edge(b - h),
                    Edge(b + h),
                    most ? Edge(l.MostFrom!.Value - h) : -1,
                    most ? Edge(Math.Min(l.MostTo!.Value, b) + h) : -1,
                    l.Weight
                );
            }),
        ];
        TotalWeight = lines.Sum(l => l.Weight);
        logEdge = [.. logs];
        largestCount = lines.Max(l => l.Free + l.Inside);
        groups = this.varying ? components : 1;
        lower = new double[logEdge.Length * components];
        upper = new double[logEdge.Length * components];
        byEdge = new double[logEdge.Length * components];
        logRising = new double[groups * (largestCount + 1)];
        harmonic = new double[groups * (largestCount + 1)];
        logRisingTotal = new double[largestCount + 1];
        harmonicTotal = new double[largestCount + 1];
        logFactorial = new double[largestCount + 1];
        for (var i = 1; i <= largestCount; i++)
        {
            logFactorial[i] = logFactorial[i - 1] + Math.Log(i);
        }

        double[] New() => new double[groups];
        (alpha, byAlpha, byAlphaLine) = (New(), New(), New());
        (A, B, C, D, M) = (New(), New(), New(), New(), New());
        (logA, logB, logC, logK, logM) = (New(), New(), New(), New(), New());
        (gradA, gradB, gradC, gradD, gradM) = (New(), New(), New(), New(), New());
        free = new int[groups];
        inside = new int[groups];
        held = New();
    }

    internal double TotalWeight { get; }

    /// <summary>Minus the log-likelihood and its gradient.</summary>
    internal double Evaluate(MixtureParameters x, double[] v, double[] gradient)
    {
        x.Read(v);
        Prepare(x);
        var sum = 0.0;
        foreach (ref readonly var line in lines.AsSpan())
        {
            var log = LogProbability(line, x, derivatives: true);
            if (!double.IsFinite(log))
            {
                return double.PositiveInfinity;
            }

            sum += line.Weight * log;
        }

        for (var k = 0; k < components; k++)
        {
            for (var e = 0; e < logEdge.Length; e++)
            {
                var d = byEdge[e * components + k];
                if (d != 0)
                {
                    var z = (logEdge[e] - x.Mu[k]) / x.Sigma[k];
                    var f = NormalMass.Density(z) / x.Sigma[k];
                    x.ByMu[k] -= d * f;
                    x.BySigma[k] -= d * f * z;
                }
            }
        }

        if (varying)
        {
            for (var k = 0; k < components; k++)
            {
                x.ByPi[k] += x.Concentration * byAlpha[k];
                x.ByLogConcentration += alpha[k] * byAlpha[k];
            }
        }

        x.WriteNegativeGradient(v, gradient);
        return -sum;
    }

    /// <summary>ln P of one line, without its weight.</summary>
    /// <param name="without">A group held to have given no fish of this line, -1 for none.</param>
    internal static double LogProbability(
        SizeLine line,
        LognormalMixture mixture,
        double concentration,
        int without = -1
    )
    {
        var varying = !double.IsInfinity(concentration);
        var likelihood = new RangeLikelihood([line with { Weight = 1 }], mixture.Components, varying);
        var x = Natural(mixture, concentration, varying);
        likelihood.Prepare(x);
        return likelihood.LogProbability(likelihood.lines[0], x, derivatives: false, without);
    }

    /// <summary>Expected share of each group among the fish of one line, given the line; null where it is out of reach.</summary>
    internal static double[]? ExpectedShares(SizeLine line, LognormalMixture mixture, double concentration)
    {
        var likelihood = new RangeLikelihood([line with { Weight = 1 }], mixture.Components, varying: true);
        var x = Natural(mixture, concentration, varying: true);
        likelihood.Prepare(x);
        return double.IsFinite(likelihood.LogProbability(likelihood.lines[0], x, derivatives: false))
            ? likelihood.groups == 1
                ? [1]
                : [.. likelihood.held.Select(h => h / line.Fish)]
            : null;
    }

    private static MixtureParameters Natural(LognormalMixture mixture, double concentration, bool varying)
    {
        var x = new MixtureParameters(mixture.Components, 0, varying);
        x.Set(mixture, concentration);
        return x;
    }

    private void Prepare(MixtureParameters x)
    {
        for (var e = 0; e < logEdge.Length; e++)
        {
            for (var k = 0; k < components; k++)
            {
                var z = (logEdge[e] - x.Mu[k]) / x.Sigma[k];
                var at = e * components + k;
                if (z > 0)
                {
                    upper[at] = NormalMass.Upper(z);
                    lower[at] = 1 - upper[at];
                }
                else
                {
                    lower[at] = NormalMass.Lower(z);
                    upper[at] = 1 - lower[at];
                }

                byEdge[at] = 0;
            }
        }

        if (!varying)
        {
            return;
        }

        Array.Clear(byAlpha);
        for (var k = 0; k < components; k++)
        {
            alpha[k] = x.Concentration * x.Pi[k];
            Rising(alpha[k], logRising.AsSpan(k * (largestCount + 1)), harmonic.AsSpan(k * (largestCount + 1)));
        }

        Rising(x.Concentration, logRisingTotal, harmonicTotal);
    }

    private void Rising(double start, Span<double> logs, Span<double> inverses)
    {
        logs[0] = inverses[0] = 0;
        for (var i = 0; i < largestCount; i++)
        {
            var f = Math.Max(start, 1e-300) + i;
            logs[i + 1] = logs[i] + Math.Log(f);
            inverses[i + 1] = inverses[i] + 1 / f;
        }
    }

    /// <summary>Mass of group k between two edges, from the tail that holds fewer digits hostage.</summary>
    private double Mass(int from, int to, int k)
    {
        if (to < 0)
        {
            return 0;
        }

        var high = to * components + k;
        if (from < 0)
        {
            return lower[high];
        }

        var low = from * components + k;
        return Math.Max(0, upper[low] < 0.5 ? upper[low] - upper[high] : lower[high] - lower[low]);
    }

    private double LogProbability(in Line line, MixtureParameters x, bool derivatives, int without = -1)
    {
        var overlapping =
            line.Kind == LineKind.Ends && line.AHigh >= 0 && line.BLow >= 0 && logEdge[line.AHigh] > logEdge[line.BLow];
        for (var g = 0; g < groups; g++)
        {
            A[g] = B[g] = C[g] = D[g] = M[g] = 0;
            gradA[g] = gradB[g] = gradC[g] = gradD[g] = gradM[g] = byAlphaLine[g] = 0;
        }

        for (var k = 0; k < components; k++)
        {
            if (k == without)
            {
                continue;
            }

            var (g, share) = varying ? (k, 1.0) : (0, x.Pi[k]);
            A[g] += share * Mass(line.ALow, line.BHigh, k);
            if (line.Kind != LineKind.OneCell)
            {
                C[g] += share * Mass(line.ALow, line.BLow, k);
            }

            if (line.Kind == LineKind.Ends)
            {
                B[g] += share * Mass(line.AHigh, line.BHigh, k);
                D[g] += overlapping ? 0 : share * Mass(line.AHigh, line.BLow, k);
            }

            if (line.Inside > 0)
            {
                M[g] += share * Mass(line.MostLow, line.MostHigh, k);
            }
        }

        for (var g = 0; g < groups; g++)
        {
            logA[g] = A[g] > 0 ? Math.Log(A[g]) : Nothing;
            logM[g] = M[g] > 0 ? Math.Log(M[g]) : Nothing;
            if (line.Kind != LineKind.OneCell)
            {
                var (left, right) = (1.0, 0.0);
                if (A[g] > 0)
                {
                    // The shares of the two end cells in A, each from the cell's own mass.
                    left =
                        line.Kind == LineKind.LargestOnly
                            ? 1
                            : Math.Min(1, CellShare(line.ALow, line.AHigh, g, x, without));
                    right = Math.Min(1, CellShare(line.BLow, line.BHigh, g, x, without));
                }

                logB[g] = left < 1 ? SpecialFunctions.Log1p(-left) : Nothing;
                logC[g] = right < 1 ? SpecialFunctions.Log1p(-right) : Nothing;
                var both = left < 1 && right < 1 && !overlapping ? left * right / ((1 - left) * (1 - right)) : 1;
                logK[g] = both < 1 ? SpecialFunctions.Log1p(-both) : Nothing;
            }
        }

        var log = Sum(line);
        if (!derivatives || !double.IsFinite(log))
        {
            return log;
        }

        // dP / dPhi_k(edge): each edge bounds two of the four stretches, with opposite signs.
        var w = line.Weight;
        for (var k = 0; k < components; k++)
        {
            var (g, share) = varying ? (k, w) : (0, w * x.Pi[k]);
            Add(line.BHigh, k, share * (gradA[g] - gradB[g]));
            Add(line.ALow, k, share * (gradC[g] - gradA[g]));
            Add(line.AHigh, k, share * (gradB[g] - gradD[g]));
            Add(line.BLow, k, share * (gradD[g] - gradC[g]));
            Add(line.MostHigh, k, share * gradM[g]);
            Add(line.MostLow, k, -share * gradM[g]);
            if (!varying)
            {
                x.ByPi[k] +=
                    w
                    * (
                        gradA[0] * Mass(line.ALow, line.BHigh, k)
                        - gradB[0] * (line.Kind == LineKind.Ends ? Mass(line.AHigh, line.BHigh, k) : 0)
                        - gradC[0] * (line.Kind == LineKind.OneCell ? 0 : Mass(line.ALow, line.BLow, k))
                        + gradD[0] * (line.Kind == LineKind.Ends && !overlapping ? Mass(line.AHigh, line.BLow, k) : 0)
                        + gradM[0] * (line.Inside > 0 ? Mass(line.MostLow, line.MostHigh, k) : 0)
                    );
            }
            else
            {
                byAlpha[k] += w * byAlphaLine[k];
            }
        }

        return log;
    }

    private double CellShare(int from, int to, int g, MixtureParameters x, int without)
    {
        if (varying)
        {
            return Mass(from, to, g) / A[g];
        }

        var sum = 0.0;
        for (var k = 0; k < components; k++)
        {
            sum += k == without ? 0 : x.Pi[k] * Mass(from, to, k);
        }

        return sum / A[0];
    }

    private void Add(int edge, int k, double value)
    {
        if (edge >= 0)
        {
            byEdge[edge * components + k] += value;
        }
    }

    /// <summary>
    /// ln of the sum over compositions; fills grad* with d ln P / dA_g and so on (B and C counted positive) and byAlphaLine.
    /// </summary>
    private double Sum(in Line line)
    {
        // First pass: the exponents and their largest, so that the second adds numbers at most 1.
        var top = double.NegativeInfinity;
        var terms = 0;
        First(inside, line.Inside);
        do
        {
            First(free, line.Free);
            do
            {
                if (terms == exponents.Length)
                {
                    Array.Resize(ref exponents, 2 * terms);
                }

                var exponent = Exponent(line);
                exponents[terms++] = exponent;
                top = Math.Max(top, exponent);
            } while (Next(free));
        } while (Next(inside));
        if (top <= 0.5 * Nothing)
        {
            return double.NegativeInfinity;
        }

        // The first attempt leaves out terms under e^-60 of the largest. Where the likeliest compositions can't show these ends,
        // that is too much: the next one counts every term, and further ones lower the scale.
        for (var attempt = 0; attempt < 5; attempt++)
        {
            var total = 0.0;
            var term = 0;
            for (var g = 0; g < groups; g++)
            {
                gradA[g] = gradB[g] = gradC[g] = gradD[g] = gradM[g] = byAlphaLine[g] = held[g] = 0;
            }

            var highest = double.NegativeInfinity;
            First(inside, line.Inside);
            do
            {
                First(free, line.Free);
                do
                {
                    var exponent = exponents[term++];
                    if (attempt == 0 && exponent - top < -60)
                    {
                        continue;
                    }

                    double u = 0,
                        v = 0,
                        uv = 0,
                        d = 0,
                        shown = 1;
                    if (line.Kind != LineKind.OneCell)
                    {
                        double lu = 0,
                            lv = 0,
                            lk = 0;
                        for (var g = 0; g < groups; g++)
                        {
                            lu += free[g] * logB[g];
                            lv += free[g] * logC[g];
                            lk += free[g] * logK[g];
                        }

                        u = Math.Exp(lu);
                        v = Math.Exp(lv);
                        uv = u * v;
                        var kept = Math.Exp(lk);
                        d = uv * kept;
                        shown =
                            NormalMass.ExpMinusOne(lu, u) * NormalMass.ExpMinusOne(lv, v)
                            + uv * NormalMass.ExpMinusOne(lk, kept);
                    }

                    if (attempt > 0)
                    {
                        highest = shown > 0 ? Math.Max(highest, exponent + Math.Log(shown)) : highest;
                    }

                    var t = Math.Exp(exponent - top);
                    if (t > 0 && double.IsFinite(t))
                    {
                        total += t * Math.Max(shown, 0);
                        for (var g = 0; g < groups; g++)
                        {
                            gradA[g] += t * free[g];
                            gradB[g] += t * u * free[g];
                            gradC[g] += t * v * free[g];
                            gradD[g] += t * d * free[g];
                            gradM[g] += t * shown * inside[g];
                            held[g] += t * Math.Max(shown, 0) * (free[g] + inside[g]);
                            if (varying)
                            {
                                byAlphaLine[g] += t * shown * harmonic[g * (largestCount + 1) + free[g] + inside[g]];
                            }
                        }
                    }
                } while (Next(free));
            } while (Next(inside));

            if (total > (attempt == 0 ? 1e-8 : 1e-280) && double.IsFinite(total))
            {
                for (var g = 0; g < groups; g++)
                {
                    held[g] /= total;
                    gradA[g] = A[g] > 0 ? gradA[g] / (total * A[g]) : 0;
                    gradB[g] = B[g] > 0 ? gradB[g] / (total * B[g]) : 0;
                    gradC[g] = C[g] > 0 ? gradC[g] / (total * C[g]) : 0;
                    gradD[g] = D[g] > 0 ? gradD[g] / (total * D[g]) : 0;
                    gradM[g] = M[g] > 0 ? gradM[g] / (total * M[g]) : 0;
                    byAlphaLine[g] = byAlphaLine[g] / total - harmonicTotal[line.Free + line.Inside];
                }

                return top + Math.Log(total);
            }

            if (attempt > 0)
            {
                if (!double.IsFinite(highest))
                {
                    return double.NegativeInfinity;
                }

                top = highest;
            }
        }

        return double.NegativeInfinity;
    }

    private double Exponent(in Line line)
    {
        var sum = logFactorial[line.Free] + logFactorial[line.Inside];
        if (!varying)
        {
            return line.Free * logA[0] + line.Inside * (line.Inside > 0 ? logM[0] : 0);
        }

        sum -= logRisingTotal[line.Free + line.Inside];
        for (var g = 0; g < groups; g++)
        {
            var (i, j) = (inside[g], free[g]);
            sum +=
                logRising[g * (largestCount + 1) + i + j]
                - logFactorial[i]
                - logFactorial[j]
                + i * logM[g]
                + j * logA[g];
        }

        return sum;
    }

    private static void First(int[] composition, int n)
    {
        Array.Clear(composition);
        composition[0] = n;
    }

    /// <summary>The next composition of the same sum (Nijenhuis and Wilf's NEXCOM); false after the last.</summary>
    private static bool Next(int[] composition)
    {
        var last = composition.Length - 1;
        if (last == 0)
        {
            return false;
        }

        var k = 0;
        while (composition[k] == 0)
        {
            if (++k > last)
            {
                return false;
            }
        }

        if (k == last)
        {
            return false;
        }

        var moved = composition[k];
        composition[k] = 0;
        composition[0] = moved - 1;
        composition[k + 1]++;
        return true;
    }
}
