using BenchmarkDotNet.Attributes;
using Reports.Statistics;

namespace Reports.Benchmarks;

/// <summary>
/// Cost of the estimators of rates and choices at the sizes of a busy coast: 40 rigs, 120 boat-days with tallies, 400
/// reports that name only the best rig.
/// </summary>
[MemoryDiagnoser]
public class RatesBenchmarks
{
    private readonly double[] successes = new double[40];
    private readonly double[] trials = new double[40];
    private readonly double[][] shares = new double[40][];
    private readonly TwoByTwo[] tables = new TwoByTwo[120];
    private BinomialRows rows = null!;
    private readonly string[] boats = new string[360];
    private readonly Contest[] contests = new Contest[400];
    private readonly ChoiceStratum[] days = new ChoiceStratum[120];
    private readonly GaussianPrior weak = GaussianPrior.Ridge(2, 0.1);

    [GlobalSetup]
    public void Draw()
    {
        var random = new Random(1);
        for (var i = 0; i < successes.Length; i++)
        {
            trials[i] = random.Next(1, 60);
            successes[i] = random.Next(0, (int)trials[i] + 1);
            shares[i] = [random.Next(12), random.Next(9), random.Next(5), 1 + random.Next(3)];
        }

        for (var i = 0; i < tables.Length; i++)
        {
            tables[i] = new(random.Next(9), random.Next(9), random.Next(9), random.Next(9));
        }

        var (x, y, n) = (new double[360][], new double[360], new double[360]);
        for (var i = 0; i < x.Length; i++)
        {
            x[i] = [random.NextDouble() * 4 - 2, random.Next(2)];
            n[i] = random.Next(1, 20);
            y[i] = random.Next(0, (int)n[i] + 1);
            boats[i] = $"boat {i / 9}";
        }

        rows = new BinomialRows(x, y, n);
        for (var i = 0; i < contests.Length; i++)
        {
            int[] fished = [.. Enumerable.Range(0, 12).OrderBy(_ => random.Next()).Take(random.Next(2, 6))];
            contests[i] = new Contest(fished, fished[0], Math.Pow(2, -i / 100.0));
        }

        double[] classes = [15, 20, 25, 30, 40, 50];
        for (var d = 0; d < days.Length; d++)
        {
            random.Shuffle(classes);
            var features = classes[..random.Next(2, 6)]
                .Select(c => new[] { Math.Log(c / 30), random.Next(-2, 3) })
                .ToArray();
            days[d] = new ChoiceStratum(
                features,
                [.. features.Select(f => (double)random.Next(0, (int)(12 * Math.Exp(-0.8 * f[0]))))],
                [.. features.Select(_ => Math.Log(random.Next(1, 8)))]
            );
        }
    }

    [Benchmark]
    public RateInterval Wilson() => Proportion.Wilson(37, 61);

    [Benchmark]
    public RateInterval Jeffreys() => Proportion.Jeffreys(37, 61);

    [Benchmark]
    public BetaBinomialFit BetaBinomialPlain() => BetaBinomial.Fit(successes, trials);

    [Benchmark]
    public BetaBinomialFit BetaBinomialPrior() => BetaBinomial.FitWithPrior(successes, trials);

    [Benchmark]
    public RateInterval[] BetaBinomialIntegrated() => BetaBinomial.Rates(successes, trials);

    [Benchmark]
    public DirichletFit Dirichlet() => DirichletMultinomial.Fit(shares);

    [Benchmark]
    public MantelHaenszelResult Tables() => MantelHaenszel.Compare(tables);

    [Benchmark]
    public CoefficientFit Ridge() => Logistic.Ridge(rows, 1);

    [Benchmark]
    public CoefficientFit Firth() => Logistic.Firth(rows);

    [Benchmark]
    public RandomInterceptFit Boats() => RandomIntercept.Fit(rows, boats);

    [Benchmark]
    public WorthFit Worths() => Worth.Luce(12, contests, 1);

    [Benchmark]
    public CoefficientFit Choice() => ConditionalLogit.Fit(days, weak);

    [Benchmark]
    public RandomSlopeFit Slopes() =>
        RandomSlopeChoice.Fit(days, 0, weak, SpreadPrior.HalfNormal(1), SpreadPrior.HalfNormal(0.5));
}
