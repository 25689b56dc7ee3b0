using BenchmarkDotNet.Attributes;
using Reports.Statistics;

namespace Reports.Benchmarks;

/// <summary>What the counts of one zone and species cost: a month of boats, a season of forecasts, one stocking line.</summary>
[MemoryDiagnoser]
public class CountsBenchmarks
{
    private readonly BoatSummary[] boats = new BoatSummary[40];
    private readonly int[] single = new int[400];
    private readonly double[][] rows = new double[200][];
    private readonly int[] counts = new int[200];
    private readonly double[] effort = new double[200];
    private readonly double[] first = new double[180];
    private readonly double[] second = new double[180];
    private readonly CountDistribution demand = new(60, 3);
    private readonly CountDistribution forecast = new(4, 0.8);
    private CatchRateFit? fit;

    /// <summary>Seeded: every run measures the same boats.</summary>
    [GlobalSetup]
    public void Setup()
    {
        var random = new Random(20261125);
        int Draw(double mean, double k)
        {
            // A quantile at a uniform number is a draw.
            return new CountDistribution(mean, k).Quantile(random.NextDouble());
        }

        for (var i = 0; i < boats.Length; i++)
        {
            var today = 0.2 + 3 * random.NextDouble() * random.NextDouble();
            var anglers = new int[10 + random.Next(25)];
            for (var j = 0; j < anglers.Length; j++)
            {
                anglers[j] = Draw(today, 0.9);
            }

            boats[i] = new BoatSummary(
                anglers.Length,
                anglers.Sum(),
                anglers.Count(x => x == 0),
                anglers.Max(),
                Weight: Math.Pow(0.95, i)
            );
        }

        for (var i = 0; i < single.Length; i++)
        {
            single[i] = Draw(1.5, 0.8);
        }

        for (var i = 0; i < counts.Length; i++)
        {
            rows[i] = [random.Next(2), random.NextDouble(), i / 200.0];
            effort[i] = 5 + random.Next(30);
            counts[i] = Draw(effort[i] * Math.Exp(-0.5 + 0.4 * rows[i][0]), 2);
        }

        for (var i = 0; i < first.Length; i++)
        {
            first[i] = random.NextDouble();
            second[i] = first[i] + 0.1 * random.NextDouble();
        }

        fit = CatchRate.Fit(boats);
    }

    [Benchmark]
    public NegativeBinomialFit Negative_binomial_400_anglers() => NegativeBinomial.Fit(single);

    [Benchmark]
    public BoatCatchFit Boat_summaries_40() => BoatCatch.Fit(boats);

    [Benchmark]
    public CatchRateFit Catch_rate_40_boats() => CatchRate.Fit(boats);

    [Benchmark]
    public double[] Predictive_20_fish() => fit!.Predictive(20);

    [Benchmark]
    public CountRegressionFit Regression_200_trips() => CountRegression.FitNegativeBinomial(rows, counts, effort);

    [Benchmark]
    public OrderUpTo Order_up_to_week() => OrderUpTo.ForServiceLevel(demand, 0.95, 7);

    [Benchmark]
    public double Crps_of_a_count() => DistributionScore.Crps(forecast, 7);

    [Benchmark]
    public PairedBootstrap Bootstrap_180_days() => PairedBootstrap.Compare(first, second, seed: 1);

    [Benchmark]
    public RateRatio Rate_ratio() => RateRatio.Test(120, 300, 90, 310);
}
