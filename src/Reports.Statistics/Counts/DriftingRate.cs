using MathNet.Numerics.Distributions;
using MathNet.Numerics.LinearAlgebra;

namespace Reports.Statistics;

/// <summary>The boats of one group (a zone) on one day.</summary>
/// <param name="Day">Number of the day.</param>
/// <param name="Fish">Their fish, 0 or more.</param>
/// <param name="Effort">Their angler-days, above 0.</param>
/// <param name="SquaredEffort">Sum over boats of the square of each boat's angler-days.</param>
/// <param name="SquaredDays">
/// Sum over anglers of the square of each one's days, their number where all fish a whole day: an angler's luck is one draw for the trip.
/// </param>
public readonly record struct DayTotal(int Day, double Fish, double Effort, double SquaredEffort, double SquaredDays);

/// <summary>What is known of the variances without data: normal on the logarithms, the half-life included.</summary>
/// <param name="Between">Centre of the variance of groups' lasting levels.</param>
/// <param name="Drift">Centre of the variance of a group's passing excursions.</param>
/// <param name="Day">Centre of the variance of single days.</param>
/// <param name="LogSpread">Standard deviation of each logarithm.</param>
/// <param name="HalfLife">Centre of the half-life of an excursion, days.</param>
/// <param name="LogHalfLifeSpread">Standard deviation of its logarithm.</param>
public sealed record DriftPrior(
    double Between,
    double Drift,
    double Day,
    double LogSpread,
    double HalfLife,
    double LogHalfLifeSpread
);

/// <summary>Mean and squared coefficient of variation of a coming day's rate; lognormal.</summary>
/// <param name="Mean">Fish per angler-day.</param>
/// <param name="Variance">Relative to the squared mean.</param>
/// <param name="Credibility">Weight of the group's own rate, 0 to 1; the rest is the whole's.</param>
public sealed record RateForecast(double Mean, double Variance, double Credibility)
{
    public double Quantile(double p) =>
        Mean <= 0 ? 0
        : Variance <= 0 ? Mean
        : Mean / Math.Sqrt(1 + Variance) * Math.Exp(Math.Sqrt(Math.Log(1 + Variance)) * Normal.InvCDF(0, 1, p));
}

/// <summary>The level of all groups together, and how well it is known.</summary>
/// <param name="Mean">Fish per angler-day of an average group.</param>
/// <param name="Variance">Of its logarithm.</param>
public readonly record struct WholeRate(double Mean, double Variance);

/// <summary>Rates of several groups that drift from day to day, each leaning on the whole as far as its own reports are few or old.</summary>
/// <remarks>
/// <para>Model: ln rate of a group on day d is ln m - (between + drift)/2 + u + x_d; u ~ N(0, between) is the group's lasting level, x a
/// stationary Gauss-Markov process of variance <i>drift</i> with correlation 2^(-lag/halfLife). A day's fish of its boats are negative
/// binomial with mean e exp(ln rate), e the effort, and relative variance beyond Poisson (1 + day)(1 + 1/a sum e_b^2/e^2 + 1/(k e)) - 1.
/// So m is the mean of the groups' rates, and a forecast is lognormal: mean exp(f + q/2), relative variance e^q (1 + day) - 1.</para>
/// <para>Parameters: between, drift, day > 0, of logarithms or relative, no unit; halfLife in days, from a list; a, k > 0.</para>
/// <para>Method: a Kalman filter whose update is the posterior mode of ln rate under that day's count (Newton).
/// ln m and the logarithms of the variances maximise the product of the days' negative binomial predictive probabilities times
/// the prior (m: flat), by Newton; half-lives by enumeration. The answer is the mean of each variance under the normal
/// approximation in its logarithm; without a past, the prior's mean.</para>
/// <para>Reference: Fahrmeir and Tutz 2001, Multivariate Statistical Modelling Based on Generalized Linear Models, ch. 8, for the
/// filter; West, Harrison and Migon 1985, JASA 80:73-83, for counts (both from memory).</para>
/// <para>Accuracy: coverage of simulated groups is measured in DriftingRateTests.</para>
/// </remarks>
public sealed record DriftingRate(double HalfLife, double Between, double Drift, double Day)
{
    /// <summary>Fits the variances and the half-life to the groups' past.</summary>
    /// <param name="groups">By day, ascending, one item for a day.</param>
    /// <param name="boatVariance">1/a.</param>
    /// <param name="k">Between the anglers of a boat.</param>
    public static DriftingRate Fit(
        IReadOnlyList<IReadOnlyList<DayTotal>> groups,
        double boatVariance,
        double k,
        IReadOnlyList<double> halfLives,
        DriftPrior prior
    )
    {
        var (fish, effort) = (groups.Sum(g => g.Sum(d => d.Fish)), groups.Sum(g => g.Sum(d => d.Effort)));
        var plain = effort > 0 ? Math.Max(fish, 0.5) / effort : 1;
        double[] centre = [Math.Log(prior.Between), Math.Log(prior.Drift), Math.Log(prior.Day)];
        double Score(double halfLife, double[] at)
        {
            var z = Math.Log(halfLife / prior.HalfLife) / prior.LogHalfLifeSpread;
            var penalty = z * z;
            for (var i = 0; i < centre.Length; i++)
            {
                var d = (at[i] - centre[i]) / prior.LogSpread;
                penalty += d * d;
            }

            var rate = new DriftingRate(halfLife, Math.Exp(at[0]), Math.Exp(at[1]), Math.Exp(at[2]));
            return rate.LogLikelihood(groups, new WholeRate(plain * Math.Exp(at[3]), 0), boatVariance, k) - penalty / 2;
        }

        // The half-life hardly moves the variances, nor they it: in turns until it stays.
        double[] start = [.. centre, 0];
        var best = Best(start);
        NumericMaximum top;
        for (var turn = 1; ; turn++)
        {
            top = NumericMaximum.Find(p => Score(best, p), start, centre.Min() - 8, centre.Max() + 8);
            var next = Best(top.At);
            if (next == best || turn == 3)
            {
                break;
            }

            (best, start) = (next, top.At);
        }

        // The mean of a variance, not its likeliest value, is what a forecast's spread is made of: exp(mode + variance/2).
        var information = -top.Hessian;
        var covariance =
            information.Evd(Symmetricity.Symmetric).EigenValues.Real().Minimum() > 1e-9 ? information.Inverse() : null;
        double Mean(int i)
        {
            var spread = prior.LogSpread * prior.LogSpread;
            return Math.Exp(top.At[i] + 0.5 * Math.Min(spread, covariance?[i, i] ?? spread));
        }

        return new DriftingRate(best, Mean(0), Mean(1), Mean(2));

        double Best(double[] p) => halfLives.MaxBy(h => Score(h, p));
    }

    /// <summary>The mean of all groups over their past and how well it is known, by its likelihood; 0 where nothing was caught.</summary>
    public WholeRate Whole(IReadOnlyList<IReadOnlyList<DayTotal>> groups, double boatVariance, double k)
    {
        var (fish, effort) = (groups.Sum(g => g.Sum(d => d.Fish)), groups.Sum(g => g.Sum(d => d.Effort)));
        if (fish <= 0)
        {
            return new WholeRate(0, 0);
        }

        var plain = fish / effort;
        var top = NumericMaximum.Find(
            p => LogLikelihood(groups, new WholeRate(plain * Math.Exp(p[0]), 0), boatVariance, k),
            [0],
            -4,
            4
        );
        // One group at least stands behind it: a flatter top is the edge of what was searched.
        var widest = Between + Drift + 1;
        return new WholeRate(
            plain * Math.Exp(top.At[0]),
            -top.Hessian[0, 0] > 1 / widest ? -1 / top.Hessian[0, 0] : widest
        );
    }

    /// <summary>A group's rate on a coming day.</summary>
    /// <param name="group">By day, ascending, up to <paramref name="today"/>; empty leans on the whole alone.</param>
    /// <param name="whole">The mean of all groups.</param>
    /// <param name="ahead">Days from today.</param>
    public RateForecast Forecast(
        IReadOnlyList<DayTotal> group,
        int today,
        WholeRate whole,
        double boatVariance,
        double k,
        double ahead
    )
    {
        if (whole.Mean <= 0)
        {
            return new RateForecast(0, 0, 0);
        }

        var state = State.Of(this, whole);
        foreach (var day in group)
        {
            state.MoveTo(day.Day, this);
            state.See(day, Extra(day, boatVariance, k));
        }

        state.MoveTo(today + ahead, this);
        var before = whole.Variance + Between + Drift;
        return new RateForecast(
            Math.Exp(state.Mean + state.Variance / 2),
            Math.Exp(state.Variance) * (1 + Day) - 1,
            Math.Clamp(1 - state.Variance / before, 0, 1)
        );
    }

    /// <summary>ln of the product of the predictive probabilities of the groups' days, each after those before it.</summary>
    public double LogLikelihood(
        IReadOnlyList<IReadOnlyList<DayTotal>> groups,
        WholeRate whole,
        double boatVariance,
        double k
    )
    {
        var sum = new CompensatedSum();
        foreach (var group in groups)
        {
            var state = State.Of(this, whole);
            foreach (var day in group)
            {
                state.MoveTo(day.Day, this);
                var extra = Extra(day, boatVariance, k);
                sum.Add(
                    Saddlepoint.LogNegativeBinomial(
                        Math.Round(day.Fish),
                        day.Effort * Math.Exp(state.Mean + state.Variance / 2),
                        1 / (Math.Exp(state.Variance) * (1 + extra) - 1)
                    )
                );
                state.See(day, extra);
            }
        }

        return sum.Value;
    }

    /// <summary>A day's relative variance beyond Poisson, given its group's ln rate.</summary>
    private double Extra(DayTotal day, double boatVariance, double k) =>
        (1 + Day) * (1 + (boatVariance * day.SquaredEffort + day.SquaredDays / k) / (day.Effort * day.Effort)) - 1;

    /// <summary>What is known of a group's level (whole, lasting difference) and of its excursion: jointly normal.</summary>
    private struct State
    {
        private double level;
        private double excursion;
        private double levelVariance;
        private double excursionVariance;
        private double covariance;
        private double day;

        public readonly double Mean => level + excursion;
        public readonly double Variance => levelVariance + excursionVariance + 2 * covariance;

        public static State Of(DriftingRate rate, WholeRate whole) =>
            new()
            {
                level = Math.Log(whole.Mean) - (rate.Between + rate.Drift + whole.Variance) / 2,
                levelVariance = rate.Between + whole.Variance,
                excursionVariance = rate.Drift,
                day = double.NegativeInfinity,
            };

        /// <summary>An excursion fades, and others begin.</summary>
        public void MoveTo(double next, DriftingRate rate)
        {
            var left = Math.Pow(2, -(next - day) / rate.HalfLife);
            excursion *= left;
            covariance *= left;
            excursionVariance = left * left * excursionVariance + (1 - left * left) * rate.Drift;
            day = next;
        }

        public void See(DayTotal came, double extra)
        {
            var (mean, variance) = (Mean, Variance);
            // The log-probability is concave in ln rate, so Newton with short steps finds its top.
            var (at, information) = (mean, 0.0);
            for (var round = 0; round < 30; round++)
            {
                var mu = came.Effort * Math.Exp(at);
                var wide = 1 + extra * mu;
                information = mu * (1 + extra * came.Fish) / (wide * wide);
                var step = ((came.Fish - mu) / wide - (at - mean) / variance) / (information + 1 / variance);
                at += Math.Clamp(step, -1, 1);
                if (Math.Abs(step) < 1e-9)
                {
                    break;
                }
            }

            // The count counts as a measurement of ln rate with variance 1/information whose answer is the mode.
            var gain = 1 / (variance + 1 / information);
            var (ofLevel, ofExcursion) = (levelVariance + covariance, excursionVariance + covariance);
            level += ofLevel * (at - mean) / variance;
            excursion += ofExcursion * (at - mean) / variance;
            levelVariance -= gain * ofLevel * ofLevel;
            excursionVariance -= gain * ofExcursion * ofExcursion;
            covariance -= gain * ofLevel * ofExcursion;
        }
    }
}
