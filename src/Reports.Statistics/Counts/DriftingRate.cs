using MathNet.Numerics.Distributions;
using MathNet.Numerics.LinearAlgebra;

namespace Reports.Statistics;

/// <summary>The boats of one group (a zone) on one day.</summary>
/// <param name="Day">Number of the day.</param>
/// <param name="Fish">Their fish, 0 or more.</param>
/// <param name="Effort">Their angler-days, above 0.</param>
/// <param name="SquaredEffort">Sum over boats of the square of each boat's angler-days.</param>
public readonly record struct DayTotal(int Day, double Fish, double Effort, double SquaredEffort);

/// <summary>What is known of the variances without data: normal on the logarithms, the half-life included.</summary>
/// <param name="Between">Centre of the variance between groups, relative to the squared mean.</param>
/// <param name="Drift">Centre of the variance that a group's rate gains in a day.</param>
/// <param name="Day">Centre of the variance of single days.</param>
/// <param name="LogSpread">Standard deviation of each logarithm.</param>
/// <param name="HalfLife">Centre of the half-life, days.</param>
/// <param name="LogHalfLifeSpread">Standard deviation of its logarithm.</param>
public sealed record DriftPrior(
    double Between,
    double Drift,
    double Day,
    double LogSpread,
    double HalfLife,
    double LogHalfLifeSpread
);

/// <summary>Mean and squared coefficient of variation of a coming day's rate; gamma.</summary>
/// <param name="Mean">Fish per angler-day.</param>
/// <param name="Variance">Relative to the squared mean: 1/shape.</param>
/// <param name="Credibility">Weight of the group's own rate, 0 to 1; the rest is the whole's.</param>
public sealed record RateForecast(double Mean, double Variance, double Credibility)
{
    public double Quantile(double p) =>
        Mean <= 0 ? 0
        : Variance <= 0 ? Mean
        : Gamma.InvCDF(1 / Variance, 1 / (Variance * Mean), p);
}

/// <summary>Rates of several groups that drift from day to day, each leaning on the whole as far as its own reports are few or old.</summary>
/// <remarks>
/// <para>Model: a group's rate on day d is m e^(u + x_d + z_d) to second order: u of variance <i>between</i> is the group's own level,
/// x a random walk that gains <i>drift</i> a day, z of variance <i>day</i> is that day's alone. A boat's fish are negative binomial:
/// relative variance 1/a + 1/(k e) beyond the Poisson 1/(m e), e its effort. A group's past is summed with weights
/// 2^(-age/halfLife): R = sum w y / sum w e. With weights v_d = w e / sum w e by day, its error against a day t ahead has the relative variance
/// S = sum w^2 e^2 Var/(sum w e)^2 + day sum v_d^2 + drift (t + sum v_c v_d min(age_c, age_d)).
/// Forecast: mean (1 - B) m + B R, B = between/(between + S); m = sum B R / sum B; relative variance day + B S.</para>
/// <para>Parameters: between, drift, day > 0, no unit; halfLife in days, from a list; a, k > 0.</para>
/// <para>Method: the past is replayed. From every few days as origin each group's total of each of the next seven days is scored by its
/// negative binomial predictive probability; an origin counts as the share that it has of the boat trips it scores, so that each
/// trip counts about once. The sum, with the prior, is maximised over the logarithms by Newton, and over the half-lives by enumeration.
/// The answer is the mean of each variance under the normal approximation in its logarithm; without a past, the prior's mean.</para>
/// <para>Reference: Bühlmann and Straub 1970 for B; exponential discounting of counts, Harvey and Fernandes 1989,
/// JBES 7:407-417 (both from memory). That the variances are found by replaying is this library's own.</para>
/// <para>Accuracy: coverage of simulated groups is measured in DriftingRateTests.</para>
/// </remarks>
public sealed record DriftingRate(double HalfLife, double Between, double Drift, double Day)
{
    /// <summary>Days that are looked back on, today included.</summary>
    private const int Window = 28;

    /// <summary>Days ahead that a replayed forecast is scored on.</summary>
    private const int Ahead = 7;

    /// <summary>Days of the past that must lie before the first origin.</summary>
    private const int RunUp = 7;

    /// <summary>Every third day is an origin: neighbours tell the same.</summary>
    private const int Step = 3;

    /// <summary>Fits the variances and the half-life to the groups' past up to <paramref name="today"/>.</summary>
    /// <param name="groups">By day, ascending, one item for a day.</param>
    /// <param name="boatVariance">1/a.</param>
    /// <param name="k">Between the anglers of a boat.</param>
    public static DriftingRate Fit(
        IReadOnlyList<IReadOnlyList<DayTotal>> groups,
        int today,
        double boatVariance,
        double k,
        IReadOnlyList<double> halfLives,
        DriftPrior prior
    )
    {
        double[] centre = [Math.Log(prior.Between), Math.Log(prior.Drift), Math.Log(prior.Day)];
        var replays = halfLives.Select(h => new Replay(groups, today, boatVariance, k, h)).ToList();
        double Score(Replay replay, double[] at)
        {
            var z = Math.Log(replay.HalfLife / prior.HalfLife) / prior.LogHalfLifeSpread;
            var penalty = z * z;
            for (var i = 0; i < at.Length; i++)
            {
                var d = (at[i] - centre[i]) / prior.LogSpread;
                penalty += d * d;
            }

            return replay.LogScore(new DriftingRate(replay.HalfLife, Math.Exp(at[0]), Math.Exp(at[1]), Math.Exp(at[2])))
                - penalty / 2;
        }

        // The half-life hardly moves the variances, nor they it: in turns until it stays.
        var best = Best(centre);
        NumericMaximum top;
        for (var turn = 1; ; turn++)
        {
            top = NumericMaximum.Find(p => Score(best, p), centre, centre.Min() - 8, centre.Max() + 8);
            var next = Best(top.At);
            if (next == best || turn == 3)
            {
                break;
            }

            best = next;
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

        return new DriftingRate(best.HalfLife, Mean(0), Mean(1), Mean(2));

        Replay Best(double[] p) => replays.MaxBy(r => Score(r, p))!;
    }

    /// <summary>The whole's mean today; 0 where nothing was caught.</summary>
    public double Mean(IReadOnlyList<IReadOnlyList<DayTotal>> groups, int today, double boatVariance, double k)
    {
        var past = groups.Select(g => GroupPast.Of(g, today, HalfLife)).OfType<GroupPast>().ToList();
        if (past.Count == 0)
        {
            return 0;
        }

        var shares = Shares(past, boatVariance, k);
        return past.Select((p, i) => shares[i] * p.Rate).Sum() / shares.Sum();
    }

    /// <summary>A group's rate on a coming day.</summary>
    /// <param name="group">By day, ascending; empty leans on the whole alone.</param>
    /// <param name="whole">The mean of all groups.</param>
    /// <param name="ahead">Days from today.</param>
    public RateForecast Forecast(
        IReadOnlyList<DayTotal> group,
        int today,
        double whole,
        double boatVariance,
        double k,
        double ahead
    ) => Forecast(GroupPast.Of(group, today, HalfLife), whole, boatVariance, k, ahead);

    private RateForecast Forecast(GroupPast? past, double whole, double boatVariance, double k, double ahead)
    {
        if (past is null)
        {
            return new RateForecast(whole, Day + Between, 0);
        }

        var error = Error(past, whole > 0 ? whole : past.Floor, boatVariance, k, ahead);
        var credibility = Between / (Between + error);
        return new RateForecast(
            (1 - credibility) * whole + credibility * past.Rate,
            Day + credibility * error,
            credibility
        );
    }

    private double Error(GroupPast past, double mean, double boatVariance, double k, double ahead) =>
        past.Boats * boatVariance
        + past.Anglers * (1 / mean + 1 / k)
        + Day * past.Days
        + Drift * (ahead + past.MeanAge);

    /// <summary>Each group's share in the mean of the whole, before they are brought to a sum of one.</summary>
    private double[] Shares(IReadOnlyList<GroupPast> past, double boatVariance, double k)
    {
        var (fish, effort) = (0.0, 0.0);
        foreach (var p in past)
        {
            fish += p.Rate * p.Effort;
            effort += p.Effort;
        }

        var plain = Math.Max(fish, 0.5) / effort;
        return [.. past.Select(p => Between / (Between + Error(p, plain, boatVariance, k, 0)))];
    }

    /// <summary>A group's weighted past as seen from one day.</summary>
    /// <param name="Boats">sum w^2 e^2 over (sum w e)^2, by boats.</param>
    /// <param name="Anglers">sum w^2 e over (sum w e)^2.</param>
    /// <param name="Days">sum of squared shares of the days.</param>
    /// <param name="MeanAge">sum over pairs of days of both shares times the smaller age.</param>
    private sealed record GroupPast(
        double Rate,
        double Effort,
        double Boats,
        double Anglers,
        double Days,
        double MeanAge
    )
    {
        /// <summary>Half a fish, where there was none.</summary>
        public double Floor => Math.Max(Rate, 0.5 / Effort);

        public static GroupPast? Of(IReadOnlyList<DayTotal> days, int today, double halfLife)
        {
            double fish = 0,
                effort = 0,
                boats = 0,
                anglers = 0,
                squares = 0,
                age = 0;
            // Oldest first: what came before is older, so this day's age is the smaller of each pair with it.
            foreach (var day in days)
            {
                var a = today - day.Day;
                if (a is < 0 or >= Window)
                {
                    continue;
                }

                var w = Math.Pow(2, -a / halfLife);
                var share = w * day.Effort;
                age += a * share * (share + 2 * effort);
                fish += w * day.Fish;
                effort += share;
                squares += share * share;
                boats += w * w * day.SquaredEffort;
                anglers += w * w * day.Effort;
            }

            var whole = effort * effort;
            return whole > 0
                ? new GroupPast(fish / effort, effort, boats / whole, anglers / whole, squares / whole, age / whole)
                : null;
        }
    }

    /// <summary>The past as a row of forecasts and what came.</summary>
    private sealed class Replay
    {
        private readonly List<(List<GroupPast> Past, List<(int Group, int Ahead, DayTotal Came)> Coming)> origins = [];
        private readonly double boatVariance;
        private readonly double k;

        public Replay(
            IReadOnlyList<IReadOnlyList<DayTotal>> groups,
            int today,
            double boatVariance,
            double k,
            double halfLife
        )
        {
            (HalfLife, this.boatVariance, this.k) = (halfLife, boatVariance, k);
            var first = groups.Where(g => g.Count > 0).Select(g => g[0].Day).DefaultIfEmpty(today).Min();
            for (var origin = today - 1; origin >= first + RunUp; origin -= Step)
            {
                var (past, coming) = (new List<GroupPast>(), new List<(int, int, DayTotal)>());
                foreach (var group in groups)
                {
                    var before = GroupPast.Of(group, origin, halfLife);
                    if (before is not null)
                    {
                        past.Add(before);
                    }

                    coming.AddRange(
                        group
                            .Where(d => d.Day > origin && d.Day <= Math.Min(today, origin + Ahead))
                            .Select(d => (before is null ? -1 : past.Count - 1, d.Day - origin, d))
                    );
                }

                if (past.Count > 0 && coming.Count > 0)
                {
                    origins.Add((past, coming));
                }
            }
        }

        public double HalfLife { get; }

        public double LogScore(DriftingRate rate)
        {
            var score = new CompensatedSum();
            foreach (var (past, coming) in origins)
            {
                var shares = rate.Shares(past, boatVariance, k);
                double sum = 0,
                    weights = 0;
                for (var i = 0; i < shares.Length; i++)
                {
                    sum += shares[i] * past[i].Rate;
                    weights += shares[i];
                }

                var least = past.Min(p => p.Floor);
                foreach (var (group, ahead, came) in coming)
                {
                    // Without the group itself, or groups would look more alike than they are.
                    var own = group < 0 || past.Count == 1 ? 0 : shares[group];
                    var whole = own == 0 ? sum / weights : (sum - own * past[group].Rate) / (weights - own);
                    var forecast = rate.Forecast(group < 0 ? null : past[group], whole, boatVariance, k, ahead);
                    var mean = Math.Max(forecast.Mean, 0.1 * least) * came.Effort;
                    var spread =
                        came.SquaredEffort / (came.Effort * came.Effort) * boatVariance + 1 / (k * came.Effort);
                    score.Add(
                        Saddlepoint.LogNegativeBinomial(
                            Math.Round(came.Fish),
                            mean,
                            1 / ((1 + forecast.Variance) * (1 + spread) - 1)
                        )
                    );
                }
            }

            return score.Value * Step / Ahead;
        }
    }
}
