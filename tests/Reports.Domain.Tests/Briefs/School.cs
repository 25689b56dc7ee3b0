using Reports.Domain.Briefs;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;

namespace Reports.Domain.Tests.Briefs;

/// <summary>
/// A simulated season whose truth is known: each boat trip finds schools of one grade each (some trips two), fish are lognormal
/// within a grade, catches negative binomial between anglers and gamma between boat trips. Own model, seeded.
/// </summary>
/// <param name="halfDays">Every other boat fishes half days, and lands half as many.</param>
internal sealed class School(int seed, double heavyTrips = 0.25, double perAngler = 1.4, bool halfDays = false)
{
    private readonly Random random = new(seed);

    /// <summary>Every fish landed, with the day it was.</summary>
    public List<(int DaysAgo, double Lb)> Landed { get; } = [];

    public List<(int DaysAgo, int Anglers, int WithFish, int Fish)> Trips { get; } = [];

    public Fleet Season(int days, int boats, bool tellAnglers = true, bool rigs = true)
    {
        var fleet = new Fleet();
        for (var day = days - 1; day >= 0; day--)
        {
            var sea = Math.Exp(0.4 * Normal() - 0.08);
            for (var boat = 0; boat < boats; boat++)
            {
                if (random.NextDouble() < 0.35)
                {
                    continue;
                }

                var length = halfDays && boat % 2 == 0 ? 0.5m : 1;
                Trip(fleet, $"boat-{(char)('a' + boat)}", day, sea, length, tellAnglers, rigs);
            }
        }

        return fleet;
    }

    private void Trip(Fleet fleet, string boat, int day, double sea, decimal length, bool tellAnglers, bool rigs)
    {
        var anglers = random.Next(10, 31);
        var mean = perAngler * sea * (double)length * Gamma(2) / 2;
        var catches = Enumerable.Range(0, anglers).Select(_ => Poisson(mean * Gamma(0.8) / 0.8)).ToList();
        var fish = catches.Sum();
        // The share of heavy fish on a trip: mostly none or all, now and then a mixture.
        var heavy = random.NextDouble() < heavyTrips ? (random.NextDouble() < 0.5 ? 1 : random.NextDouble()) : 0;
        var sizes = Enumerable
            .Range(0, fish)
            .Select(_ => random.NextDouble() < heavy ? 140 * Math.Exp(0.2 * Normal()) : 27 * Math.Exp(0.25 * Normal()))
            .Select(x => Math.Round(x))
            .ToList();
        Landed.AddRange(sizes.Select(s => (day, s)));
        Trips.Add((day, anglers, catches.Count(c => c > 0), fish));
        var heaviest = sizes.DefaultIfEmpty(0).Max();
        var winner =
            heaviest > 100 ? 80
            : random.NextDouble() < 0.6 ? 30
            : 40;
        fleet.Trip(
            boat,
            day,
            fish,
            0,
            sizes.Count > 0 ? sizes.Min() : null,
            sizes.Count > 0 ? heaviest : null,
            anglers: anglers,
            tripDays: length,
            withFish: tellAnglers ? catches.Count(c => c > 0) : null,
            rigs: rigs && fish > 0
                ?
                [
                    Fleet.Rig(30, winning: winner == 30, rods: anglers / 2, hooked: fish, landed: fish / 2),
                    Fleet.Rig(40, step: 2, winning: winner == 40, rods: anglers / 3, hooked: 8, landed: 7),
                    Fleet.Rig(80, step: 5, winning: winner == 80, rods: 2, hooked: 2, landed: 1),
                ]
                : null,
            bait: [Fleet.Bait(4, 5)],
            surface: random.NextDouble() < 0.6,
            depthFt: random.Next(60, 140),
            birds: random.NextDouble() < 0.2
        );
    }

    private double Normal() =>
        Math.Sqrt(-2 * Math.Log(1 - random.NextDouble())) * Math.Cos(2 * Math.PI * random.NextDouble());

    /// <summary>Gamma of scale one, by the sum-free method of Marsaglia and Tsang 2000 (shape under one by its power trick).</summary>
    private double Gamma(double shape)
    {
        if (shape < 1)
        {
            return Gamma(shape + 1) * Math.Pow(1 - random.NextDouble(), 1 / shape);
        }

        var (d, c) = (shape - 1.0 / 3, 1 / Math.Sqrt(9 * shape - 3));
        while (true)
        {
            var x = Normal();
            var v = Math.Pow(1 + c * x, 3);
            if (v > 0 && Math.Log(1 - random.NextDouble()) < 0.5 * x * x + d - d * v + d * Math.Log(v))
            {
                return d * v;
            }
        }
    }

    private int Poisson(double mean)
    {
        var (limit, count, product) = (Math.Exp(-mean), 0, 1.0);
        while ((product *= random.NextDouble()) > limit)
        {
            count++;
        }

        return count;
    }
}
