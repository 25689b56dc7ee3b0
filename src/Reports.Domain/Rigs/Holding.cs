using Reports.Domain.Measures;
using Reports.Statistics;

namespace Reports.Domain.Rigs;

/// <summary>What one rig landed of what it hooked on a trip that met fish of these weights (shares by cell of the grid).</summary>
internal readonly record struct HoldingTally(
    int RungLb,
    int? HookStep,
    bool J,
    double[] Met,
    double Landed,
    double Hooked
);

/// <summary>
/// Chance to land a hooked fish, by its weight against the line and the hook. Coefficients as
/// <see cref="RigPriors.Holding"/>: steepness, level, bend for strong fish, cost of a small hook, logit of the ceiling, what a J hook
/// adds to that.
/// </summary>
internal sealed class Holding
{
    /// <summary>Hooks outside of these hold like the nearest within.</summary>
    private const int SmallestStep = -6;
    private const int LargestStep = 8;
    private const int Coefficients = 6;
    private const int Columns = LargestStep - SmallestStep + 2;

    private readonly double[] at;
    private readonly double[]?[] rows = new double[]?[2 * LineClass.Ladder.Count * Columns];

    public Holding(double[] at) => this.at = at;

    /// <summary>Chance to land by cell of the grid. No hook step told: a hook that goes with the fish.</summary>
    public double[] Chances(int rungLb, int? step, bool j)
    {
        var column = step is { } s ? Math.Clamp(s, SmallestStep, LargestStep) - SmallestStep : Columns - 1;
        var index = (2 * LineClass.Index(rungLb) + (j ? 1 : 0)) * Columns + column;
        if (rows[index] is { } known)
        {
            return known;
        }

        var row = new double[SizeGrid.Count];
        var ceiling = Ceiling(at, j);
        for (var cell = 0; cell < row.Length; cell++)
        {
            row[cell] = ceiling * BelowCeiling(at, Features(rungLb, step, cell));
        }

        return rows[index] = row;
    }

    /// <summary>Chance to land a fish of a trip that met these shares.</summary>
    public double Mean(int rungLb, int? step, bool j, double[] met)
    {
        var chances = Chances(rungLb, step, j);
        var mean = 0.0;
        for (var cell = 0; cell < chances.Length; cell++)
        {
            mean += met[cell] * chances[cell];
        }

        return mean;
    }

    /// <summary>
    /// The mode of the coefficients and their covariance, by Fisher scoring: landed of hooked is binomial with the chance averaged
    /// over the sizes met, because the weights of lost fish are unseen; a tally of n counts as n / (1 + (n - 1) rho).
    /// </summary>
    public static CoefficientFit Fit(IReadOnlyList<HoldingTally> tallies)
    {
        var prior = RigPriors.Holding;
        var point = prior.Mean.ToArray();
        var value = LogPosterior(tallies, point, null, null);
        var (gradient, information) = (new double[Coefficients], new double[Coefficients * Coefficients]);
        var iterations = 0;
        var converged = false;
        while (!converged && iterations < 25)
        {
            iterations++;
            LogPosterior(tallies, point, gradient, information);
            var step = SymmetricSolver.Solve(information, gradient);
            var scale = 1.0;
            double next;
            double[] trial;
            do
            {
                trial = [.. point.Select((x, k) => x + scale * step[k])];
                next = LogPosterior(tallies, trial, null, null);
                scale /= 2;
            } while (next < value - 1e-12 && scale > 1e-4);
            converged = next - value < 1e-7 * (1 + Math.Abs(value));
            if (next >= value)
            {
                (point, value) = (trial, next);
            }
        }

        LogPosterior(tallies, point, gradient, information);
        return new CoefficientFit(
            point,
            SymmetricSolver.Inverse(information, Coefficients),
            new FitSummary(converged ? StopReason.Converged : StopReason.IterationLimit, iterations, value),
            value
        );
    }

    private static double LogPosterior(
        IReadOnlyList<HoldingTally> tallies,
        double[] at,
        double[]? gradient,
        double[]? information
    )
    {
        var prior = RigPriors.Holding;
        var log = 0.0;
        Span<double> slope = stackalloc double[Coefficients];
        for (var k = 0; k < Coefficients; k++)
        {
            log -= 0.5 * prior.Precision[k] * (at[k] - prior.Mean[k]) * (at[k] - prior.Mean[k]);
        }

        if (gradient is not null && information is not null)
        {
            Array.Clear(information);
            for (var k = 0; k < Coefficients; k++)
            {
                gradient[k] = -prior.Precision[k] * (at[k] - prior.Mean[k]);
                information[k * Coefficients + k] = prior.Precision[k];
            }
        }

        foreach (var tally in tallies)
        {
            var worth = 1 / (1 + (tally.Hooked - 1) * RigPriors.HoldingCorrelation);
            var mean = 0.0;
            var ceiling = Ceiling(at, tally.J);
            slope.Clear();
            for (var j = 0; j < SizeGrid.Count; j++)
            {
                if (tally.Met[j] < 1e-6)
                {
                    continue;
                }

                var features = Features(tally.RungLb, tally.HookStep, j);
                var below = BelowCeiling(at, features);
                mean += tally.Met[j] * ceiling * below;
                if (gradient is not null)
                {
                    var inner = tally.Met[j] * ceiling * below * (1 - below);
                    slope[0] += inner * features.Steep;
                    slope[1] += inner;
                    slope[2] += inner * features.Bend;
                    slope[3] += inner * features.Lack;
                }
            }

            slope[4] = mean * (1 - ceiling);
            slope[5] = tally.J ? slope[4] : 0;

            mean = Math.Clamp(mean, 1e-6, 1 - 1e-6);
            log += worth * (tally.Landed * Math.Log(mean) + (tally.Hooked - tally.Landed) * Math.Log(1 - mean));
            if (gradient is null || information is null)
            {
                continue;
            }

            var residual = worth * (tally.Landed - tally.Hooked * mean) / (mean * (1 - mean));
            var precision = worth * tally.Hooked / (mean * (1 - mean));
            for (var k = 0; k < Coefficients; k++)
            {
                gradient[k] += residual * slope[k];
                for (var l = 0; l < Coefficients; l++)
                {
                    information[k * Coefficients + l] += precision * slope[k] * slope[l];
                }
            }
        }

        return log;
    }

    private static (double Steep, double Bend, double Lack) Features(int rungLb, int? step, int cell)
    {
        var ratio = SizeGrid.LogLb[cell] - Math.Log(rungLb);
        var above = Math.Max(0, ratio);
        return (-ratio, above * above, step is { } s ? -Math.Max(0, NeededStep(SizeGrid.LogLb[cell]) - s) : 0);
    }

    /// <summary>
    /// The smallest hook that custom ties on for such fish: the rows of the trade's table, 1 to 2/0 for fish of 30 lb and 4/0 to
    /// 7/0 for those of 100 lb, less their spread.
    /// </summary>
    private static double NeededStep(double logLb) => 3.3 * (logLb - Math.Log(30)) - 1;

    private static double BelowCeiling(double[] at, (double Steep, double Bend, double Lack) f) =>
        1 / (1 + Math.Exp(-(at[0] * f.Steep + at[1] + Math.Min(0, at[2]) * f.Bend + Math.Max(0, at[3]) * f.Lack)));

    private static double Ceiling(double[] at, bool j) => 1 / (1 + Math.Exp(-at[4] - (j ? at[5] : 0)));
}
