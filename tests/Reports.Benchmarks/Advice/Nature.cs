using MathNet.Numerics.Distributions;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;

namespace Reports.Benchmarks.Advice;

/// <summary>What an angler fishes with. Hook size is a step within its style.</summary>
internal readonly record struct Rig(Technique Technique, int RungLb, HookStyle Style, int Step)
{
    /// <summary>Every rig that the oracle may choose from: fly-lined, for a sinker next to never bites better here.</summary>
    public static IReadOnlyList<Rig> All { get; } =
    [
        .. from technique in new[] { Technique.FlyLine, Technique.Sinker }
        from rung in LineClass.Ladder.Where(r => r >= 15)
        from style in new[] { HookStyle.Circle, HookStyle.J }
        from step in Enumerable.Range(-4, 10)
        select new Rig(Technique.FlyLine, rung, style, step),
    ];
}

/// <summary>
/// How fish bite and hold in a simulated sea. On purpose of no model's form: the bite saturates (Hill) instead of following a
/// power of the line, a hook too large hurts more than one too small, fish are held by a Weibull or (odd seeds) a Gompertz
/// curve, never a logistic. The curves' parameters differ from seed to seed, so that nothing can be tuned to one sea.
/// </summary>
internal sealed class Nature
{
    private const int Nodes = 6;
    private static readonly double[] Quantiles =
    [
        .. Enumerable.Range(0, Nodes).Select(i => Normal.InvCDF(0, 1, (i + 0.5) / Nodes)),
    ];

    private readonly bool gompertz;
    private readonly double steepest;
    private readonly double tooLarge;
    private readonly double tooSmall;
    private readonly double anyHook;
    private readonly double offset;
    private readonly double jOffset;
    private readonly double jBite;
    private readonly double ceiling;
    private readonly double scale;
    private readonly double shape;

    public Nature(int seed, Random random)
    {
        gompertz = seed % 2 != 0;
        steepest = random.Between(3, 4.5);
        tooLarge = random.Between(1.3, 2);
        tooSmall = random.Between(1.8, 3);
        anyHook = random.Between(0.15, 0.35);
        offset = random.Between(-0.8, 0.8);
        jOffset = random.Between(0.5, 1.5);
        jBite = random.Between(0.9, 1.15);
        ceiling = random.Between(0.88, 0.96);
        scale = random.Between(2.3, 3.3);
        shape = random.Between(1.2, 1.8);
    }

    /// <summary>
    /// Bite against a thirty with the right hook. <paramref name="mood"/> is the slope of ln bite in ln line at 30 lb; lighter
    /// line gains less and less, heavier line loses more and more.
    /// </summary>
    public double Bite(Rig rig, double mood, double baitMm, double sinker)
    {
        var shy = Math.Clamp(-mood / steepest, 0.01, 0.95);
        var odds = shy / (1 - shy);
        var line = (1 + odds) / (1 + odds * Math.Pow(rig.RungLb / 30.0, steepest));
        var off = rig.Step - RightStep(rig.Style, baitMm);
        var z = off / (off > 0 ? tooLarge : tooSmall);
        return line
            * (anyHook + (1 - anyHook) * Math.Exp(-z * z / 2))
            * (rig.Style == HookStyle.J ? jBite : 1)
            * (rig.Technique == Technique.FlyLine ? 1 : sinker);
    }

    /// <summary>Curved in the bait's length, where custom is a row of straight pieces.</summary>
    private double RightStep(HookStyle style, double baitMm) =>
        -4 + 8.5 * Math.Pow(Math.Max(0, baitMm - 90) / 150, 0.8) + offset + (style == HookStyle.J ? jOffset : 0);

    /// <summary>Chance to land a hooked fish.</summary>
    public double Held(Rig rig, double weightLb)
    {
        var ratio = weightLb / rig.RungLb;
        var line = gompertz
            ? Math.Exp(-0.34 * (Math.Exp(0.53 * 2.7 / scale * ratio) - 1))
            : Math.Exp(-Math.Pow(ratio / scale, shape));
        // A small hook tears out of, or opens on, a heavy fish.
        var lacking = Math.Max(0, 2.2 * Math.Log(weightLb / 30) - rig.Step);
        return ceiling * line * Math.Max(0.4, 1 - 0.06 * lacking) * (rig.Style == HookStyle.J ? 0.94 : 1);
    }

    /// <summary>Held, over the sizes of a school.</summary>
    public double Held(Rig rig, School school) =>
        Quantiles.Average(z => Held(rig, school.MedianLb * Math.Exp(school.LogSpread * z)));
}

/// <summary>A school is of one grade: lognormal weights round its median.</summary>
internal readonly record struct School(double MedianLb, double LogSpread)
{
    public static School operator *(School school, double factor) =>
        school with
        {
            MedianLb = school.MedianLb * factor,
        };
}

internal static class Chance
{
    public static double Between(this Random random, double from, double to) =>
        from + (to - from) * random.NextDouble();

    public static bool Happens(this Random random, double probability) => random.NextDouble() < probability;

    public static double Noise(this Random random, double spread) => Normal.Sample(random, 0, spread);

    /// <summary>Gamma of mean 1.</summary>
    public static double Luck(this Random random, double shape) => Gamma.Sample(random, shape, shape);

    public static int Pick(this Random random, IReadOnlyList<double> weights)
    {
        var left = random.NextDouble() * weights.Sum();
        for (var i = 0; i < weights.Count - 1; i++)
        {
            left -= weights[i];
            if (left < 0)
            {
                return i;
            }
        }

        return weights.Count - 1;
    }

    /// <summary>A stationary AR(1) of mean 0.</summary>
    public static double[] Drift(this Random random, int days, double spread, double memoryDays)
    {
        var rho = Math.Exp(-1 / memoryDays);
        var x = new double[days];
        x[0] = random.Noise(spread);
        for (var day = 1; day < days; day++)
        {
            x[day] = rho * x[day - 1] + random.Noise(spread * Math.Sqrt(1 - rho * rho));
        }

        return x;
    }
}
