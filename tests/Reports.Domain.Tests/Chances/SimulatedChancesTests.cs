using Reports.Domain.Briefs;
using Reports.Domain.Chances;
using Reports.Domain.Tests.Briefs;

namespace Reports.Domain.Tests.Chances;

/// <summary>
/// Chances against the truth of simulated seasons in which every other boat fishes half days (own model, see <see cref="School"/>:
/// boats gamma of shape 2, anglers k 0.8, a sea that is drawn anew each day; seeds fixed).
/// </summary>
public sealed class SimulatedChancesTests(ITestOutputHelper output)
{
    private const int Seasons = 60;
    private const double Mean = 1.4;

    private static readonly IReadOnlyList<(CatchRate Rate, double Sea)> Told = Tell();

    [Theory]
    [InlineData(0.5)]
    [InlineData(1)]
    [InlineData(2)]
    public void OddsAreThoseOfAComingTripOfItsLength(double days)
    {
        var (oneHeld, twoHeld, rateHeld) = (0, 0, 0);
        var (one, two, oneTrue, twoTrue, rate, rateTrue) = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0);
        foreach (var (brief, sea) in Told)
        {
            var chances = TripChances.Of(brief, days, limit: 2);
            var fish = Mean * sea * days;
            var none = Math.Exp(Statistics.CatchRate.LogMarginal(new(1, 0), fish, 2, 0.8));
            var single = Math.Exp(Statistics.CatchRate.LogMarginal(new(1, 1), fish, 2, 0.8));
            (one, oneTrue) = (one + chances.AtLeastOne!.Mean / Seasons, oneTrue + (1 - none) / Seasons);
            (two, twoTrue) = (two + chances.AtLeastLimit!.Mean / Seasons, twoTrue + (1 - none - single) / Seasons);
            (rate, rateTrue) = (rate + chances.PerAngler.Mean / Seasons, rateTrue + fish / Seasons);
            oneHeld += Holds(chances.AtLeastOne, 1 - none);
            twoHeld += Holds(chances.AtLeastLimit, 1 - none - single);
            rateHeld += chances.PerAngler.Low <= fish && fish <= chances.PerAngler.High ? 1 : 0;
        }

        output.WriteLine(
            $"{days} days: at least one {one:f3}, true {oneTrue:f3}; two {two:f3}, true {twoTrue:f3}; fish {rate:f2}, true {rateTrue:f2}; "
                + $"of {Seasons} intervals held {oneHeld}, {twoHeld}, {rateHeld}"
        );
        Assert.InRange(one, oneTrue - 0.03, oneTrue + 0.03);
        Assert.InRange(two, twoTrue - 0.03, twoTrue + 0.03);
        Assert.InRange(rate / rateTrue, 0.9, 1.1);
        // 60 draws of .8 lie within 39 and 56 with probability .99 (binomial).
        Assert.InRange(oneHeld, 39, 56);
        Assert.InRange(twoHeld, 39, 56);
        Assert.InRange(rateHeld, 39, 56);
    }

    private static int Holds(Share said, double truth) => said.Low <= truth && truth <= said.High ? 1 : 0;

    private static List<(CatchRate, double)> Tell()
    {
        var random = new Random(17);
        return
        [
            .. Enumerable
                .Range(1, Seasons)
                .Select(seed =>
                {
                    // The sea of the coming day, drawn apart from the reports.
                    var normal =
                        Math.Sqrt(-2 * Math.Log(1 - random.NextDouble())) * Math.Cos(2 * Math.PI * random.NextDouble());
                    var season = new School(seed, perAngler: Mean, halfDays: true).Season(28, 5, rigs: false);
                    return (season.Brief().CatchRate!, Math.Exp(0.4 * normal - 0.08));
                }),
        ];
    }
}
