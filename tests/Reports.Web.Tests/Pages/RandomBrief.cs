using Reports.Domain.Briefs;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Pages;

/// <summary>
/// Briefs of every kind that a brief may be, from a seed: sure and unsure, blank and plenty, of one fish or of three size groups. Only
/// what every brief promises holds of them: middles lie within their ranges, shares sum to one, the odds are those of the law kept
/// with them.
/// </summary>
internal static class RandomBrief
{
    public static Brief Of(int seed)
    {
        var random = new Random(seed);
        bool Chance(double p) => random.NextDouble() < p;
        var pooled = Chance(0.15);
        var strength = pooled ? Strength.Thin : (Strength)random.Next(1, 4);
        var reports = Chance(0.15) ? 1 : random.Next(1, 200);
        var boats = Math.Min(reports, random.Next(3, 12));
        var known = reports + random.Next(0, 20);
        return new Brief
        {
            Zone = Fleet.Bank,
            Species = "SBF",
            AsOf = Fleet.Today,
            Evidence = new(
                reports,
                boats,
                random.Next(0, 900),
                reports * 0.7,
                reports * 0.5,
                Fleet.Today.AddDays(-random.Next(0, 20)),
                strength,
                pooled,
                pooled || Chance(0.3) ? null : new(known, reports)
            ),
            Size = Chance(0.8) ? Sizes(random) : null,
            Signs = Chance(0.5) ? new(Chance(0.5) ? random.NextDouble() : null, null, null, Hooking.Nose) : null,
            Rigs = [.. Enumerable.Range(0, random.Next(0, 6)).Select(_ => Rig(random))],
            CatchRate = Chance(0.95) ? Rate(random) : null,
            Days =
            [
                .. Enumerable
                    .Range(0, 28)
                    .Select(i => new DayMark(Fleet.Today.AddDays(i - 27), Chance(0.6) ? random.Next(3, 9) : null, null))
                    .Select(d => d.Boats is null ? d : d with { PerAngler = random.NextDouble() * 3 }),
            ],
            ClosedNotice = Chance(0.03) ? "Closed by the invented authority." : null,
        };
    }

    private static CatchRate Rate(Random random)
    {
        var blank = random.Next(20) == 0;
        var angler = new FishPerAngler(
            blank ? 0 : Four(Math.Exp((random.NextDouble() * 6) - 4)),
            Math.Exp((random.NextDouble() * 4) - 1),
            Math.Exp((random.NextDouble() * 4) - 2)
        );
        var trend = random.Next(4);
        return new CatchRate(
            new(
                angler.Mean,
                Four(angler.Mean * random.NextDouble()),
                Four(angler.Mean + (random.NextDouble() * (angler.Mean + 0.2)))
            ),
            random.Next(5) == 0 ? null : Around(random, Four(angler.AtLeast(1))),
            trend == 3 ? null : (Trend)trend,
            null,
            null,
            random.Next(3) == 0 ? Four(random.NextDouble()) : 0
        )
        {
            Angler = angler,
        };
    }

    private static SizePicture Sizes(Random random)
    {
        var grams = Enumerable
            .Range(0, 5)
            .Select(_ => (int)(Math.Exp(random.NextDouble() * 5) * 454))
            .Order()
            .ToArray();
        SizeTable Table(WeightUnit unit, int[] weights)
        {
            var shares = weights.Select(_ => Four(random.NextDouble())).OrderDescending().ToList();
            var bars = Enumerable.Range(0, random.Next(1, 12)).Select(_ => random.NextDouble()).ToList();
            return new(
                [
                    .. weights.Zip(
                        shares,
                        (w, s) => new OverWeight(w, Around(random, s), Around(random, Four(Math.Sqrt(s))))
                    ),
                ],
                [.. bars.Select((b, i) => new SizeBar(i * 5, (i + 1) * 5, b / bars.Sum()))]
            );
        }

        return new(
            (SizeOf)random.Next(2),
            new(grams[0], grams[1], grams[2], grams[3], grams[4]),
            [new(1, grams[0], grams[4], grams[2], 1)],
            Table(WeightUnit.Lb, [20, 50, 100]),
            Table(WeightUnit.Kg, [10, 25, 50])
        );
    }

    private static RigRecord Rig(Random random) =>
        new(
            (Technique)random.Next(0, 3),
            LineClass.Ladder[random.Next(LineClass.Ladder.Count)],
            HookStyle.Circle,
            random.Next(-4, 6),
            random.Next(3, 60),
            random.Next(4) == 0 ? null : Around(random, Four(random.NextDouble())),
            null,
            random.Next(4) == 0 ? null : Around(random, Four(random.NextDouble()))
        );

    private static Share Around(Random random, double mean) =>
        new(mean, Four(mean * random.NextDouble()), Four(mean + ((1 - mean) * random.NextDouble())));

    /// <summary>Figures are stored with four decimals.</summary>
    private static double Four(double value) => Math.Round(value, 4, MidpointRounding.AwayFromZero);
}
