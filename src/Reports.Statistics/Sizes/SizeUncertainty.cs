using MathNet.Numerics.Distributions;
using MathNet.Numerics.LinearAlgebra;

namespace Reports.Statistics;

/// <summary>
/// Intervals for what a <see cref="RangeFit"/> says (shares, quantiles, size groups), with the day as the unit that varies.
/// </summary>
/// <remarks>
/// <para>
/// <b>Model.</b> Boats of one day fish one sea, so only days are independent. The estimate solves sum_d g_d(theta) = 0, g_d the
/// weighted score of day d; its variance is (G - 1)/G sum_d e_d e_d', e_d = (H - H_d)^-1 g_d: the jackknife that leaves out one
/// day at a time, each refit taken as one Newton step.
/// </para>
/// <para>
/// <b>Parameters.</b> theta: the free coordinates of the fit; H = sum_d H_d: its information, -d2 ln L; G = (sum_d W_d)^2 / sum_d W_d^2:
/// effective days, W_d the weight of a day's lines. No unit.
/// </para>
/// <para>
/// <b>Method.</b> H_d from central differences of the analytic gradient; shares by the delta method on the logit, quantiles on
/// the log, with Student's t on G - 1 degrees of freedom. Coordinates at an edge (a spread on its floor, a share of 0) are
/// held fixed: the interval is then conditional on them.
/// </para>
/// <para>
/// <b>Reference.</b> White 1982, Econometrica 50:1-25; Liang and Zeger 1986, Biometrika 73:13-22; the jackknife form for few
/// clusters (CR3) and t: Cameron and Miller 2015, J. Human Resources 50:317-372, section VI (from memory).
/// </para>
/// <para><b>Accuracy.</b> Coverage by simulation: docs/method/sizes.md.</para>
/// </remarks>
public sealed class SizeUncertainty
{
    private readonly MixtureParameters parameters;
    private readonly double[] point;
    private readonly Matrix<double> covariance;
    private readonly SizeFit fit;

    private SizeUncertainty(
        SizeFit fit,
        MixtureParameters parameters,
        double[] point,
        Matrix<double> covariance,
        double days
    ) =>
        (this.fit, this.parameters, this.point, this.covariance, EffectiveDays) = (
            fit,
            parameters,
            point,
            covariance,
            days
        );

    /// <summary>G: Kish's size of the days' weights.</summary>
    public double EffectiveDays { get; }

    /// <summary>
    /// The uncertainty of a fit, or null where there is none to compute: fewer than two days, or no information in the lines
    /// about some coordinate.
    /// </summary>
    /// <param name="lines">The lines that were fitted, with the weights used.</param>
    /// <param name="days">The day (cluster) of each line.</param>
    public static SizeUncertainty? Of(SizeFit fit, IReadOnlyList<SizeLine> lines, IReadOnlyList<int> days)
    {
        ArgumentNullException.ThrowIfNull(fit);
        ArgumentNullException.ThrowIfNull(days);
        SizeLine.Validate(lines, nameof(lines));
        if (days.Count != lines.Count)
        {
            throw new InvalidSampleException(SampleFault.LengthMismatch, nameof(days), "one day for each line");
        }

        var byDay = lines
            .Zip(days)
            .Where(x => x.First.Weight > 0)
            .GroupBy(x => x.Second)
            .OrderBy(g => g.Key)
            .Select(g => g.Select(x => x.First).ToList())
            .ToList();
        if (byDay.Count < 2)
        {
            return null;
        }

        var K = fit.Mixture.Components;
        var varying = double.IsFinite(fit.Concentration);
        // The floor only shapes the coordinates; half the smallest spread keeps every spread off it.
        var floor = 0.5 * fit.Mixture.SdLog.Min();
        var parameters = new MixtureParameters(K, floor, varying);
        var point = parameters.Point(
            [.. fit.Mixture.Weights],
            [.. fit.Mixture.MeanLog],
            [.. fit.Mixture.SdLog],
            varying ? Math.Log(fit.Concentration) : 0
        );
        var d = point.Length;
        var score = new double[d];
        var (up, down) = (new double[d], new double[d]);
        List<(Vector<double> Score, Matrix<double> Information)> each = [];
        var information = Matrix<double>.Build.Dense(d, d);
        double sum = 0,
            squares = 0;
        foreach (var day in byDay)
        {
            var likelihood = new RangeLikelihood(day, K, varying);
            likelihood.Evaluate(parameters, point, score);
            var own = Matrix<double>.Build.Dense(d, d);
            for (var j = 0; j < d; j++)
            {
                var step = 1e-5 * (1 + Math.Abs(point[j]));
                var moved = (double[])point.Clone();
                moved[j] = point[j] + step;
                likelihood.Evaluate(parameters, moved, up);
                moved[j] = point[j] - step;
                likelihood.Evaluate(parameters, moved, down);
                for (var i = 0; i < d; i++)
                {
                    own[i, j] = (up[i] - down[i]) / (2 * step);
                }
            }

            own = 0.5 * (own + own.Transpose());
            each.Add((Vector<double>.Build.Dense([.. score]), own));
            information += own;
            sum += likelihood.TotalWeight;
            squares += likelihood.TotalWeight * likelihood.TotalWeight;
        }

        // A coordinate without information (a group of no share, a phi that only its edge stopped) is held fixed.
        var kept = Enumerable
            .Range(0, d)
            .Where(j =>
                information[j, j] > 1e-6 * fit.SampleSize
                && !(
                    fit.SpreadAtFloor
                    && j >= 2 * K - 1
                    && j < 3 * K - 1
                    && fit.Mixture.SdLog[j - 2 * K + 1] < 1.001 * fit.Mixture.SdLog.Min()
                )
            )
            .ToArray();
        if (kept.Length == 0)
        {
            return null;
        }

        Matrix<double> Kept(Matrix<double> x) =>
            Matrix<double>.Build.Dense(kept.Length, kept.Length, (i, j) => x[kept[i], kept[j]]);
        bool Definite(Matrix<double> x) => x.Evd(Symmetricity.Symmetric).EigenValues[0].Real > 1e-9 * fit.SampleSize;
        var whole = Kept(information);
        var effective = sum * sum / squares;
        if (!Definite(whole) || !(effective > 1 + 1e-9))
        {
            return null;
        }

        var small = Matrix<double>.Build.Dense(kept.Length, kept.Length);
        foreach (var (dayScore, own) in each)
        {
            // The fit without the day, one Newton step away; a day that alone holds a coordinate up can't be taken out.
            var rest = whole - Kept(own);
            var g = Vector<double>.Build.Dense(kept.Length, i => dayScore[kept[i]]);
            var shift = (Definite(rest) ? rest : whole).Solve(g);
            small += shift.OuterProduct(shift);
        }

        small *= (effective - 1) / effective;
        var full = Matrix<double>.Build.Dense(d, d);
        for (var i = 0; i < kept.Length; i++)
        {
            for (var j = 0; j < kept.Length; j++)
            {
                full[kept[i], kept[j]] = small[i, j];
            }
        }

        return new(fit, parameters, point, full, effective);
    }

    /// <summary>Interval of the share of fish in (from, to]; to may be Infinity.</summary>
    public (double Low, double High) ShareInterval(double from, double to, double level) =>
        Logit(m => m.Share(from, to), level);

    /// <summary>Interval of the mean share of group k.</summary>
    public (double Low, double High) GroupInterval(int k, double level) => Logit(m => m.Weights[k], level);

    /// <summary>Interval of the q quantile.</summary>
    public (double Low, double High) QuantileInterval(double q, double level)
    {
        var (estimate, error) = Delta(m => Math.Log(m.Quantile(q)));
        var t = T(level);
        return (Math.Exp(estimate - t * error), Math.Exp(estimate + t * error));
    }

    /// <summary>
    /// Interval of the chance that a line of some fish holds one over a size; see <see cref="RangeFit.ChanceOver"/>.
    /// </summary>
    public (double Low, double High) ChanceOverInterval(double size, int fish, double level) =>
        Logit(
            m => RangeFit.ChanceOver(size, fish, fit with { Mixture = m, Concentration = parameters.Concentration }),
            level
        );

    private (double Low, double High) Logit(Func<LognormalMixture, double> share, double level)
    {
        var t = T(level);
        static double Inside(double s) => Math.Clamp(s, 1e-12, 1 - 1e-12);
        var (estimate, error) = Delta(m => Inside(share(m)) is var s ? Math.Log(s / (1 - s)) : 0);
        return (1 / (1 + Math.Exp(t * error - estimate)), 1 / (1 + Math.Exp(-t * error - estimate)));
    }

    private double T(double level) =>
        level > 0 && level < 1
            ? StudentT.InvCDF(0, 1, EffectiveDays - 1, (1 + level) / 2)
            : throw new InvalidSampleException(SampleFault.OutOfRange, nameof(level), $"{level}");

    private (double Estimate, double Error) Delta(Func<LognormalMixture, double> f)
    {
        var gradient = Vector<double>.Build.Dense(point.Length);
        for (var j = 0; j < point.Length; j++)
        {
            if (covariance[j, j] > 0)
            {
                var step = 1e-5 * (1 + Math.Abs(point[j]));
                var moved = (double[])point.Clone();
                moved[j] = point[j] + step;
                var above = f(parameters.Mixture(moved));
                moved[j] = point[j] - step;
                gradient[j] = (above - f(parameters.Mixture(moved))) / (2 * step);
            }
        }

        return (f(parameters.Mixture(point)), Math.Sqrt(Math.Max(0, gradient * covariance * gradient)));
    }
}
