using BenchmarkDotNet.Attributes;
using Reports.Statistics;

namespace Reports.Benchmarks;

// Benchmarks return numbers: the harness's generated project sees this assembly's references only.
/// <summary>The size estimators on lines of schools of 32 lb and 205 lb fish, decayed over three half-lives.</summary>
[MemoryDiagnoser]
public class SizesBenchmarks
{
    private SizeLine[] lines = [];
    private List<IntervalObservation> observations = [];
    private int[] days = [];
    private SizeFit fit = null!;

    [Params(200, 2_000, 20_000)]
    public int Lines { get; set; }

    [Params(1, 5)]
    public int Rounding { get; set; }

    [GlobalSetup]
    public void Setup()
    {
        var coast = new SizesCoast(Days: 30, BoatsPerDay: Lines / 30 + 1, Rounding: Rounding);
        (lines, days) = coast.Draw(seed: 1);
        (lines, days) = (lines[..Lines], days[..Lines]);
        observations = SizeLine.Expand(lines, LineTreatment.EndsExact);
        fit = RangeFit.Fit(lines, 2);
    }

    [Benchmark]
    public double Npmle() => IntervalNpmle.Fit(observations).Gap;

    [Benchmark]
    public double PooledRanges() => RangeFit.FitPooled(lines, 2).Summary.LogLikelihood;

    [Benchmark]
    public double HierarchicalRanges() => RangeFit.Fit(lines, 2).Summary.LogLikelihood;

    [Benchmark]
    public double Intervals() => SizeUncertainty.Of(fit, lines, days)?.EffectiveDays ?? 0;
}

/// <summary>The hierarchical fit at the size of a busy zone's window.</summary>
[MemoryDiagnoser]
public class HierarchicalBenchmarks
{
    private SizeLine[] lines = [];

    [GlobalSetup]
    public void Setup() => lines = new SizesCoast(Days: 28, BoatsPerDay: 15, Rounding: 5).Draw(seed: 1).Lines[..400];

    [Benchmark]
    public double TwoGroups() => RangeFit.Fit(lines, 2).Concentration;

    [Benchmark]
    public double OneToThreeGroups() => RangeFit.Choose(lines, 3).Best.Bic;
}

/// <summary>
/// A sea whose share of heavy fish drifts from day to day, boats that fish one school each, crews that round.
/// </summary>
/// <param name="Heavy">Mean share of heavy fish.</param>
/// <param name="DayConcentration">phi of the days' shares round the mean; Infinity: every day alike.</param>
/// <param name="BoatConcentration">phi of the boats' shares round their day's.</param>
/// <param name="HalfLifeDays">Of the weights; Infinity: all 1.</param>
internal sealed record SizesCoast(
    int Days,
    int BoatsPerDay,
    double Rounding = 5,
    double Heavy = 0.25,
    double DayConcentration = 6,
    double BoatConcentration = 1.2,
    double HalfLifeDays = 10
)
{
    /// <summary>The true share over a weight.</summary>
    public double ShareOver(double weight) => Truth.ShareOver(weight);

    private LognormalMixture Truth => new([1 - Heavy, Heavy], [Math.Log(32), Math.Log(205)], [0.25, 0.12]);

    public (SizeLine[] Lines, int[] Days) Draw(int seed)
    {
        var random = new MathNet.Numerics.Random.Xoshiro256StarStar(seed);
        double Beta(double mean, double phi) =>
            double.IsInfinity(phi)
                ? mean
                : MathNet.Numerics.Distributions.Beta.Sample(
                    random,
                    Math.Max(mean * phi, 1e-3),
                    Math.Max((1 - mean) * phi, 1e-3)
                );
        List<SizeLine> lines = [];
        List<int> days = [];
        for (var day = 0; day < Days; day++)
        {
            var today = Beta(Heavy, DayConcentration);
            for (var boat = 0; boat < BoatsPerDay; boat++)
            {
                var school = Beta(today, BoatConcentration);
                var n =
                    1
                    + MathNet.Numerics.Distributions.Poisson.Sample(
                        random,
                        MathNet.Numerics.Distributions.Gamma.Sample(random, 2, 2 / 7.0)
                    );
                var (smallest, largest) = (double.PositiveInfinity, 0.0);
                for (var i = 0; i < n; i++)
                {
                    var z = MathNet.Numerics.Distributions.Normal.Sample(random, 0, 1);
                    var x = random.NextDouble() < school ? 205 * Math.Exp(0.12 * z) : 32 * Math.Exp(0.25 * z);
                    (smallest, largest) = (Math.Min(smallest, x), Math.Max(largest, x));
                }

                double Quoted(double x) => Math.Max(Rounding, Rounding * Math.Round(x / Rounding));
                var weight = Math.Pow(2, -day / HalfLifeDays);
                lines.Add(new(n, Quoted(smallest), Quoted(largest), weight, Rounding));
                days.Add(day);
            }
        }

        return ([.. lines], [.. days]);
    }
}
