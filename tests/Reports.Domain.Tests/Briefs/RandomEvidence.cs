using CsCheck;
using Reports.Domain.Briefs;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;

namespace Reports.Domain.Tests.Briefs;

/// <summary>Evidence of any kind that passes the rules of a report: sparse, contradictory, stale, huge. Made from a seed.</summary>
internal static class RandomEvidence
{
    private static readonly string[] Zones = ["cannery-bank", "inner-shelf", "south-trench"];
    private static readonly string[] Species = ["SBF", "ALB"];

    public static readonly Gen<Evidence> Any = Gen.Int[0, int.MaxValue - 1].Select(Of);

    public static Evidence Of(int seed)
    {
        var random = new Random(seed);
        var boats = random.Next(1, 8);
        var sizeless = random.Next(4) == 0;
        var rigless = random.Next(4) == 0;
        var reports = Enumerable
            .Range(0, random.Next(0, random.Next(4) == 0 ? 90 : 25))
            .Select(_ => Report(random, boats, sizeless, rigless))
            .DistinctBy(r => (r.Boat, r.Zone, r.FishedOn, r.Sailing))
            .ToList();
        var trips = Enumerable
            .Range(0, random.Next(0, 20))
            .Select(_ => new KnownTrip($"boat-{random.Next(boats)}", Fleet.Today.AddDays(-random.Next(0, 28)), 1))
            .Distinct()
            .ToList();
        return new(Zones[0], "SBF", Fleet.Today, reports, trips, random.Next(12) == 0 ? "Closed until March." : null);
    }

    private static ReportMeasures Report(Random random, int boats, bool sizeless, bool rigless)
    {
        bool Chance(double p) => random.NextDouble() < p;
        var anglers = random.Next(1, 40);
        var kept =
            Chance(0.25) ? 0
            : Chance(0.03) ? random.Next(1000, 100_000)
            : random.Next(1, 60);
        int? released = Chance(0.5) ? random.Next(0, 20) : null;
        var fish = kept + (released ?? 0);
        var sized = !sizeless && Chance(0.85) && (fish > 0 || (released is null && Chance(0.1)));
        var grams = Enumerable
            .Range(0, 4)
            .Select(_ => Fleet.Lb(Math.Round(Math.Exp(random.NextDouble() * 5), random.Next(2)) + 0.5))
            .Order()
            .ToArray();
        // One fish has one size, mostly; some crews quote two ends all the same.
        var (smallest, largest) = fish == 1 && Chance(0.7) ? (grams[0], grams[0]) : (grams[0], grams[3]);
        return new ReportMeasures
        {
            Boat = $"boat-{random.Next(boats)}",
            Zone = Zones[random.Next(3) * random.Next(2)],
            FishedOn = Fleet.Today.AddDays(3 - random.Next(0, Chance(0.3) ? 110 : 20)),
            Sailing = random.Next(1, 3),
            DaysCovered = Chance(0.1) ? random.Next(2, 6) : 1,
            Anglers = anglers,
            GivenIn = Chance(0.3) ? WeightUnit.Kg : WeightUnit.Lb,
            Catch =
            [
                new CatchMeasure
                {
                    Species = Species[Chance(0.9) ? 0 : 1],
                    Kept = kept,
                    Released = released,
                    SmallestGrams = sized && Chance(0.8) ? smallest : null,
                    LargestGrams = sized && Chance(0.9) ? largest : null,
                    MostFromGrams = sized && fish > 1 && Chance(0.2) ? grams[1] : null,
                    MostToGrams = sized && fish > 1 && Chance(0.2) ? grams[2] : null,
                    AnglersWithFish = Chance(0.3) ? Math.Min(anglers, random.Next(0, fish + 1)) : null,
                    AnglersWithFishWord = null,
                    Limit = Chance(0.1),
                },
            ],
            Bait = Chance(0.4) ? [Fleet.Bait(3 + random.Next(4), 7 + random.Next(4), Chance(0.5) ? "PIL" : "ANE")] : [],
            Rigs = rigless || Chance(0.4) ? [] : [.. Enumerable.Range(0, random.Next(1, 4)).Select(_ => Rig(random))],
            SurfaceFish = Chance(0.4) ? Chance(0.5) : null,
            DepthMm = Chance(0.3) ? random.Next(1000, 90_000) : null,
            Birds = Chance(0.3) ? Chance(0.5) : null,
        };
    }

    private static RigMeasure Rig(Random random)
    {
        var hooked = random.Next(0, 20);
        var tallied = random.Next(2) == 0;
        var style = (HookStyle?)random.Next(0, 5);
        return Fleet.Rig(
            LineClass.Ladder[random.Next(LineClass.Ladder.Count)],
            style == (HookStyle)4 ? null : style,
            style is HookStyle.Circle or HookStyle.J && random.Next(5) > 0 ? random.Next(-3, 4) : null,
            random.Next(3) == 0,
            tallied ? random.Next(0, 12) : null,
            tallied ? hooked : null,
            tallied ? random.Next(0, hooked + 1) : null,
            (Technique)random.Next(0, 3),
            random.Next(2) == 0 ? (LeaderMaterial)random.Next(0, 4) : null
        );
    }
}
