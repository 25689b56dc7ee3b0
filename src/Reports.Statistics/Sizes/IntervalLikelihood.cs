using MathNet.Numerics;

namespace Reports.Statistics;

/// <summary>
/// The concave programme behind <see cref="IntervalNpmle"/>: masses p_1..p_m on ordered sets, each distinct observation i
/// covering the sets First_i .. End_i - 1 with weight w_i.
/// </summary>
/// <remarks>
/// <para>
/// <b>Model.</b> Maximise f(p) = sum_i w_i ln P_i - sum_j c_j p_j over p &gt;= 0, P_i = sum of the p_j covered by i. With every
/// c_j = W = sum w this is the likelihood with its constraint sum p = 1 built in; unequal prices c_j give the likelihood
/// under a fixed mass of some sets (their ratio is the Lagrange multiplier).
/// </para>
/// <para>
/// <b>Method.</b> P and the gradient d_j = sum_{i covers j} w_i / P_i come from running sums in O(n + m). A Newton step in
/// the cumulative masses F_k = p_1 + ... + p_k has the Laplacian of a graph as its matrix: node k for F_k, one edge
/// (First_i, End_i) of conductance w_i / P_i^2 for each observation. It is solved by conjugate gradients preconditioned by its
/// own tridiagonal part, so memory stays linear. The step respects p &gt;= 0 by block principal pivoting (Portugal, Judice
/// and Vicente 1994, Math. Comput. 63:625-643), as the constrained Newton method of Wang 2007, J. R. Stat. Soc. B 69:185-198,
/// does by non-negative least squares, and is followed by a line search. Each Newton step follows an EM step, which alone would be too slow near the
/// optimum and can't leave a wrong zero.
/// </para>
/// </remarks>
internal sealed class IntervalLikelihood
{
    private readonly int m;
    private readonly int[] first;
    private readonly int[] end;
    private readonly double[] weight;

    // Work space, so that no iteration allocates.
    private readonly double[] fitted;
    private readonly double[] newFitted;
    private readonly double[] running;
    private readonly double[] slope;
    private readonly double[] trial;
    private readonly double[] step;
    private readonly bool[] held;
    private readonly double[] change;
    private readonly int[] node;

    // Sets that some observation covers alone: never empty.
    private readonly bool[] needed;
    private readonly double[] conductance;
    private readonly int[] from;
    private readonly int[] to;
    private readonly double[] diagonal;
    private readonly double[] neighbour;
    private readonly double[] solution;
    private readonly double[] residual;
    private readonly double[] direction;
    private readonly double[] image;
    private readonly double[] preconditioned;
    private readonly double[] pivot;

    internal IntervalLikelihood(int sets, int[] first, int[] end, double[] weight)
    {
        m = sets;
        (this.first, this.end, this.weight) = (first, end, weight);
        TotalWeight = weight.Sum();
        var n = weight.Length;
        fitted = new double[n];
        newFitted = new double[n];
        conductance = new double[n];
        from = new int[n];
        to = new int[n];
        running = new double[m + 2];
        slope = new double[m];
        trial = new double[m];
        step = new double[m];
        held = new bool[m];
        change = new double[m + 1];
        node = new int[m + 1];
        needed = new bool[m];
        for (var i = 0; i < n; i++)
        {
            needed[first[i]] |= end[i] == first[i] + 1;
        }

        diagonal = new double[m + 2];
        neighbour = new double[m + 2];
        solution = new double[m + 2];
        residual = new double[m + 2];
        direction = new double[m + 2];
        image = new double[m + 2];
        preconditioned = new double[m + 2];
        pivot = new double[m + 2];
    }

    internal double TotalWeight { get; }

    /// <summary>P_i at the last masses evaluated.</summary>
    internal ReadOnlySpan<double> Fitted => fitted;

    /// <summary>d_j at the last masses evaluated.</summary>
    internal ReadOnlySpan<double> Slope => slope;

    internal double LogLikelihood()
    {
        var sum = 0.0;
        for (var i = 0; i < weight.Length; i++)
        {
            sum += weight[i] * Math.Log(fitted[i]);
        }

        return sum;
    }

    /// <summary>
    /// Moves <paramref name="p"/> to the maximum. Returns why it stopped, the Newton iterations used and the gap
    /// max_j d_j / c_j - 1 at the end.
    /// </summary>
    /// <param name="price">c_j &gt; 0.</param>
    /// <param name="emSteps">EM steps before the first Newton step.</param>
    /// <param name="path">If given, gets the log-likelihood after every EM and Newton step (equal prices only).</param>
    internal (StopReason Stopped, int Iterations, double Gap) Maximise(
        double[] p,
        double[] price,
        int emSteps,
        double tolerance,
        int maximumIterations,
        List<double>? path = null
    )
    {
        Evaluate(p, fitted);
        Normalise(p, price);
        path?.Add(LogLikelihood());
        for (var k = 0; k < emSteps; k++)
        {
            EmStep(p, price, path);
        }

        var bestGap = double.PositiveInfinity;
        var sinceBest = 0;
        for (var iteration = 0; ; iteration++)
        {
            EmStep(p, price, path);
            var gap = Gradient(price);
            if (gap <= tolerance)
            {
                return (StopReason.Converged, iteration, Math.Max(gap, 0));
            }

            sinceBest = gap < 0.5 * bestGap ? 0 : sinceBest + 1;
            bestGap = Math.Min(bestGap, gap);
            // Rounding sets a floor under the gap; past it nothing more can be gained.
            if (iteration >= maximumIterations || (sinceBest > 40 && bestGap < 1e-8))
            {
                return (gap < 1e-7 ? StopReason.Converged : StopReason.IterationLimit, iteration, gap);
            }

            if (!NewtonStep(p, price))
            {
                // No uphill step along the Newton arc: give mass to the sets that deserve more, and let EM share it out.
                for (var j = 0; j < m; j++)
                {
                    step[j] = Math.Max(0, slope[j] - price[j]) / (price[j] * price[j]) * TotalWeight;
                }

                Search(p, price);
            }

            Normalise(p, price);
            path?.Add(LogLikelihood());
        }
    }

    /// <summary>P_i for every observation: short stretches summed directly, long ones from running sums.</summary>
    private void Evaluate(double[] p, double[] into)
    {
        var sum = 0.0;
        for (var j = 0; j < m; j++)
        {
            running[j] = sum;
            sum += p[j];
        }

        running[m] = sum;
        // A small difference of running sums has lost its digits; it is then added up instead.
        var tooSmall = 1e-6 * sum;
        for (var i = 0; i < into.Length; i++)
        {
            var (a, b) = (first[i], end[i]);
            var covered = running[b] - running[a];
            if (b - a <= 4 || covered < tooSmall)
            {
                covered = 0;
                for (var j = a; j < b; j++)
                {
                    covered += p[j];
                }
            }

            into[i] = covered;
        }
    }

    /// <summary>Fills d_j and returns max_j d_j / c_j - 1.</summary>
    private double Gradient(double[] price)
    {
        Array.Clear(running, 0, m + 1);
        for (var i = 0; i < weight.Length; i++)
        {
            var ratio = weight[i] / fitted[i];
            running[first[i]] += ratio;
            running[end[i]] -= ratio;
        }

        var (sum, largest) = (0.0, double.NegativeInfinity);
        for (var j = 0; j < m; j++)
        {
            sum += running[j];
            slope[j] = sum;
            largest = Math.Max(largest, sum / price[j]);
        }

        return largest - 1;
    }

    /// <summary>Scales p so that sum c p = W, the best scale there is.</summary>
    private void Normalise(double[] p, double[] price)
    {
        var sum = 0.0;
        for (var j = 0; j < m; j++)
        {
            sum += price[j] * p[j];
        }

        var scale = TotalWeight / sum;
        for (var j = 0; j < m; j++)
        {
            p[j] *= scale;
        }

        for (var i = 0; i < fitted.Length; i++)
        {
            fitted[i] *= scale;
        }
    }

    /// <summary>p_j := p_j d_j / c_j, which never lowers f.</summary>
    private void EmStep(double[] p, double[] price, List<double>? path)
    {
        Gradient(price);
        for (var j = 0; j < m; j++)
        {
            p[j] *= slope[j] / price[j];
        }

        Evaluate(p, fitted);
        path?.Add(LogLikelihood());
    }

    /// <summary>
    /// The Newton step under p &gt;= 0: the maximum of the quadratic model, by block principal pivoting (sets that go below zero
    /// are held there, held sets that would gain are freed, all at once; one at a time where that cycles).
    /// </summary>
    private bool NewtonStep(double[] p, double[] price)
    {
        for (var j = 0; j < m; j++)
        {
            held[j] = p[j] <= 0 && slope[j] < price[j];
            step[j] = held[j] ? -p[j] : 0;
        }

        var fewest = int.MaxValue;
        var patience = 3;
        for (var round = 0; round < 30 + 2 * m; round++)
        {
            SolveFree(price);
            for (var j = 0; j < m; j++)
            {
                if (!held[j])
                {
                    step[j] = solution[node[j] + 1] - solution[node[j]];
                }
            }

            ModelSlope();
            var (wrong, last) = (0, -1);
            for (var j = 0; j < m; j++)
            {
                if (IsWrong(j, p, price))
                {
                    wrong++;
                    last = j;
                }
            }

            if (wrong == 0)
            {
                break;
            }

            if (wrong < fewest)
            {
                (fewest, patience) = (wrong, 3);
            }
            else
            {
                patience--;
            }

            for (var j = patience >= 0 ? 0 : last; j < m; j++)
            {
                if (IsWrong(j, p, price))
                {
                    held[j] = !held[j];
                    step[j] = held[j] ? Floor(j, p) : 0;
                }
            }
        }

        for (var j = 0; j < m; j++)
        {
            step[j] = Math.Max(step[j], -p[j]);
        }

        return Search(p, price);
    }

    private double Floor(int j, double[] p) => needed[j] ? -0.9 * p[j] : -p[j];

    private bool IsWrong(int j, double[] p, double[] price) =>
        held[j] ? change[j] > price[j] * (1 + 1e-12) : step[j] < Floor(j, p) - 1e-15;

    /// <summary>The gradient of the quadratic model after the step, in <see cref="change"/>.</summary>
    private void ModelSlope()
    {
        running[0] = 0;
        for (var j = 0; j < m; j++)
        {
            running[j + 1] = running[j] + step[j];
        }

        Array.Clear(change, 0, m + 1);
        for (var i = 0; i < weight.Length; i++)
        {
            var after = weight[i] / fitted[i] * (1 - (running[end[i]] - running[first[i]]) / fitted[i]);
            change[first[i]] += after;
            change[end[i]] -= after;
        }

        for (var j = 1; j < m; j++)
        {
            change[j] += change[j - 1];
        }
    }

    /// <summary>The Newton step of the sets not held, given the steps of those that are.</summary>
    private void SolveFree(double[] price)
    {
        var free = 0;
        running[0] = 0;
        for (var j = 0; j < m; j++)
        {
            node[j] = free;
            free += held[j] ? 0 : 1;
            running[j + 1] = running[j] + (held[j] ? step[j] : 0);
        }

        node[m] = free;
        for (var k = 0; k <= free; k++)
        {
            diagonal[k] = neighbour[k] = residual[k] = 0;
        }

        Array.Clear(change, 0, m + 1);
        var edges = 0;
        for (var i = 0; i < weight.Length; i++)
        {
            var ratio = weight[i] / fitted[i];
            // The gradient as it will be once the held sets have moved.
            var after = ratio * (1 - (running[end[i]] - running[first[i]]) / fitted[i]);
            change[first[i]] += after;
            change[end[i]] -= after;
            var (u, v) = (node[first[i]], node[end[i]]);
            if (u != v)
            {
                var g = ratio / fitted[i];
                (from[edges], to[edges], conductance[edges]) = (u, v, g);
                edges++;
                diagonal[u] += g;
                diagonal[v] += g;
                neighbour[u] += v == u + 1 ? g : 0;
            }
        }

        // The gradient in F: difference of the gradients of the two masses that meet there.
        var sum = 0.0;
        for (var j = 0; j < m; j++)
        {
            sum += change[j];
            if (!held[j])
            {
                residual[node[j] + 1] += sum - price[j];
                residual[node[j]] -= sum - price[j];
            }
        }

        residual[0] = 0;
        Solve(free, edges);
    }

    /// <summary>Goes along <see cref="step"/> by the longest halved length that gains enough.</summary>
    private bool Search(double[] p, double[] price)
    {
        for (var t = 1.0; t > 1e-9; t *= 0.5)
        {
            var predicted = 0.0;
            var cost = 0.0;
            for (var j = 0; j < m; j++)
            {
                trial[j] = Math.Max(0, p[j] + t * step[j]);
                var moved = trial[j] - p[j];
                predicted += (slope[j] - price[j]) * moved;
                cost += price[j] * moved;
            }

            Evaluate(trial, newFitted);
            var gain = -cost;
            for (var i = 0; i < weight.Length && gain > double.NegativeInfinity; i++)
            {
                var ratio = newFitted[i] / fitted[i] - 1;
                gain = ratio > -1 ? gain + weight[i] * SpecialFunctions.Log1p(ratio) : double.NegativeInfinity;
            }

            if (predicted > 0 && gain >= 1e-4 * predicted)
            {
                Array.Copy(trial, p, m);
                Array.Copy(newFitted, fitted, fitted.Length);
                return true;
            }
        }

        return false;
    }

    /// <summary>Conjugate gradients on the grounded Laplacian, preconditioned by its tridiagonal part.</summary>
    private void Solve(int k, int edges)
    {
        // Factor the tridiagonal preconditioner over nodes 1..k.
        for (var i = 1; i <= k; i++)
        {
            var d = diagonal[i] * (1 + 1e-12) + 1e-300;
            if (i > 1)
            {
                var off = neighbour[i - 1];
                d -= off * off / pivot[i - 1];
            }

            pivot[i] = Math.Max(d, 1e-14 * diagonal[i] + 1e-300);
        }

        double norm0 = 0,
            rho = 0;
        Precondition(k);
        for (var i = 1; i <= k; i++)
        {
            solution[i] = 0;
            direction[i] = preconditioned[i];
            rho += residual[i] * preconditioned[i];
        }

        solution[0] = direction[0] = 0;
        norm0 = rho;
        for (var iteration = 0; iteration < 2 * k + 20 && rho > 1e-18 * norm0 && rho > 0; iteration++)
        {
            for (var i = 1; i <= k; i++)
            {
                image[i] = diagonal[i] * direction[i];
            }

            for (var e = 0; e < edges; e++)
            {
                var (u, v, g) = (from[e], to[e], conductance[e]);
                image[v] -= g * direction[u];
                if (u > 0)
                {
                    image[u] -= g * direction[v];
                }
            }

            var curvature = 0.0;
            for (var i = 1; i <= k; i++)
            {
                curvature += direction[i] * image[i];
            }

            if (!(curvature > 0))
            {
                break;
            }

            var length = rho / curvature;
            for (var i = 1; i <= k; i++)
            {
                solution[i] += length * direction[i];
                residual[i] -= length * image[i];
            }

            Precondition(k);
            var next = 0.0;
            for (var i = 1; i <= k; i++)
            {
                next += residual[i] * preconditioned[i];
            }

            var beta = next / rho;
            rho = next;
            for (var i = 1; i <= k; i++)
            {
                direction[i] = preconditioned[i] + beta * direction[i];
            }
        }
    }

    private void Precondition(int k)
    {
        for (var i = 1; i <= k; i++)
        {
            preconditioned[i] = residual[i] + (i > 1 ? neighbour[i - 1] * preconditioned[i - 1] / pivot[i - 1] : 0);
        }

        for (var i = k; i >= 1; i--)
        {
            preconditioned[i] = (preconditioned[i] + (i < k ? neighbour[i] * preconditioned[i + 1] : 0)) / pivot[i];
        }
    }
}
