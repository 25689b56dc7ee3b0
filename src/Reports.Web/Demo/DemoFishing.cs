using Reports.Domain.Reporting;

namespace Reports.Web.Demo;

/// <summary>What became of a fish that was hooked.</summary>
internal enum Fate
{
    Landed,
    BrokenOff,
    Pulled,
    Straightened,
}

/// <summary>A rig and how many of the boat's rods fished it.</summary>
internal sealed record FishedRig(Technique Technique, int LineLb, HookStyle Style, int Step, int Rods);

/// <param name="Angler">From 0.</param>
/// <param name="Rig">Index into <see cref="Haul.Rigs"/>.</param>
/// <param name="Heavy">Of the species' second grade.</param>
internal sealed record HookUp(int Angler, int Rig, double WeightLb, bool Heavy, Fate Fate);

/// <summary>What one boat did with one species in one zone on one sailing, told in full.</summary>
/// <param name="Slope">The boat trip's own slope of the bite in ln line class.</param>
/// <param name="Limited">The boat stopped at its limit.</param>
internal sealed record Haul(
    DemoGround Ground,
    int Anglers,
    double Slope,
    IReadOnlyList<FishedRig> Rigs,
    IReadOnlyList<HookUp> HookUps,
    bool MetHeavy,
    bool Limited
)
{
    public IEnumerable<HookUp> Landed => HookUps.Where(h => h.Fate == Fate.Landed);
}

/// <summary>The mechanics of a boat trip's fishing. Pure: the draws are handed in.</summary>
internal static class DemoFishing
{
    /// <summary>Shares of boat trips that stop on 1, 2, 3 schools.</summary>
    public static readonly double[] SchoolCounts = [0.7, 0.25, 0.05];

    /// <summary>Shape of the gamma of a boat trip's luck, mean 1.</summary>
    public const double LuckShape = 1.5;

    /// <summary>Shape of the gamma of an angler's skill, mean 1: the k of the negative binomial of hook-ups per angler.</summary>
    public const double AnglerShape = 0.9;

    /// <summary>Spread of the slope between boat trips of one zone and day.</summary>
    public const double SlopeSpread = 0.35;

    /// <summary>Curvature of ln hook-ups in ln(line class / 30 lb).</summary>
    public const double Curvature = -0.35;

    /// <summary>Spread of the bell of the bite in hook steps.</summary>
    public const double BellSteps = 2;

    /// <summary>Bite of a jig dropped deep, whatever its line.</summary>
    public const double DropBite = 0.5;

    /// <summary>Nobody lands every fish.</summary>
    public const double HoldCeiling = 0.97;

    private static readonly int[] Sold = [-7, -5, -3, -1, 0, 1, 2, 3, 4, 5, 6, 7];

    private static readonly int[] Lines = [20, 25, 30, 40, 50, 60, 80];

    /// <summary>Hook step that suits a bait: 0 (circle) at 5 in, and 7.7 steps per e-fold; a j hook one step smaller.</summary>
    public static double BestStep(HookStyle style, double baitInches) =>
        (style == HookStyle.J ? -1 : 0) + 7.7 * Math.Log(baitInches / 5);

    /// <summary>Hook-ups of a rig relative to the reference rig.</summary>
    public static double Bite(
        Technique technique,
        int lineLb,
        HookStyle style,
        int step,
        double slope,
        double baitInches
    )
    {
        if (technique == Technique.Drop)
        {
            return DropBite;
        }

        var x = Math.Log(lineLb / 30.0);
        var d = (step - BestStep(style, baitInches)) / BellSteps;
        return Math.Exp(slope * x + Curvature * x * x - d * d / 2);
    }

    /// <summary>
    /// Chance of landing a hooked fish: 0.97 logistic(2 - 1.2 u - 0.9 u^2 + 0.2 [circle] - 0.35 e), u = ln(weight / line class),
    /// e the steps by which the hook is too small for the line, max(0, 4 ln(line class / 30 lb) - 1.5 - step).
    /// </summary>
    public static double Hold(double weightLb, int lineLb, HookStyle style, int step)
    {
        var u = Math.Log(weightLb / lineLb);
        var logit =
            2 - 1.2 * u - 0.9 * u * u + (style == HookStyle.Circle ? 0.2 : 0) - 0.35 * StepsTooSmall(lineLb, step);
        return HoldCeiling * Logistic(logit);
    }

    public static Haul Fish(
        Draws draws,
        DemoGround ground,
        double baitInches,
        int anglers,
        double effort,
        double boat,
        int limitPerAngler
    )
    {
        var slope = ground.Slope + SlopeSpread * draws.Normal();
        var schools = Schools(draws, ground);
        var mean = ground.Rate * effort * boat * draws.Gamma(LuckShape) * schools.Sum(s => s.Bites);
        var (rigs, rigOf) = Rigs(draws, ground, baitInches, anglers);
        var bites = rigs.Select(r => Bite(r.Technique, r.LineLb, r.Style, r.Step, slope, baitInches)).ToArray();
        var schoolBites = schools.Select(s => s.Bites).ToArray();

        var bitten = new List<int>();
        for (var angler = 0; angler < anglers; angler++)
        {
            var hooked = draws.Poisson(mean * draws.Gamma(AnglerShape) * bites[rigOf[angler]]);
            bitten.AddRange(Enumerable.Repeat(angler, hooked));
        }

        // In the order of the day, because a boat at its limit stops.
        draws.Shuffle(bitten);
        var limit = limitPerAngler * anglers;
        var hookUps = new List<HookUp>();
        var landed = 0;
        foreach (var angler in bitten)
        {
            if (landed == limit)
            {
                break;
            }

            var heavy = schools[draws.Pick(schoolBites)].Heavy;
            var grade = ground.Grades[heavy ? 1 : 0];
            var weight = grade.MedianLb * Math.Exp(grade.Sigma * draws.Normal());
            var fate = Fight(draws, weight, rigs[rigOf[angler]]);
            hookUps.Add(new HookUp(angler, rigOf[angler], weight, heavy, fate));
            landed += fate == Fate.Landed ? 1 : 0;
        }

        return new Haul(ground, anglers, slope, rigs, hookUps, schools.Any(s => s.Heavy), landed == limit);
    }

    // The boat's time is split over its schools uniformly at random (a Dirichlet of ones).
    private static List<(bool Heavy, double Bites)> Schools(Draws draws, DemoGround ground)
    {
        var count = 1 + draws.Pick(SchoolCounts);
        var time = Enumerable.Range(0, count).Select(_ => -Math.Log(draws.Uniform())).ToArray();
        return
        [
            .. time.Select(share =>
            {
                var heavy = draws.Chance(ground.HeavySchools);
                return (heavy, share / time.Sum() * ground.Grades[heavy ? 1 : 0].Bites);
            }),
        ];
    }

    private static (IReadOnlyList<FishedRig> Rigs, int[] RigOf) Rigs(
        Draws draws,
        DemoGround ground,
        double baitInches,
        int anglers
    )
    {
        var heavyAbout = ground.Grades.Count > 1 && ground.Grades[1].MedianLb >= 60 && ground.HeavySchools > 0.08;
        var popularity = Lines.Select(l => Popularity(l, heavyAbout)).ToArray();
        var tied = new List<FishedRig>();
        var weights = new List<double>();
        for (var tries = 3 + draws.Below(4); tries > 0; tries--)
        {
            var line = Lines[draws.Pick(popularity)];
            var roll = draws.Uniform();
            var rig =
                roll < 0.06 && heavyAbout
                    ? new FishedRig(Technique.Drop, Math.Max(line, 50), HookStyle.J, 5, 0)
                    : Baited(draws, roll < 0.2 ? Technique.Sinker : Technique.FlyLine, line, baitInches);
            if (!tied.Contains(rig))
            {
                tied.Add(rig);
                weights.Add(draws.Gamma(1) + 0.2);
            }
        }

        var rods = new int[tied.Count];
        var picks = new int[anglers];
        for (var angler = 0; angler < anglers; angler++)
        {
            picks[angler] = draws.Pick(weights);
            rods[picks[angler]]++;
        }

        // A rig that nobody fished is not a rig of the day.
        var fished = Enumerable.Range(0, tied.Count).Where(i => rods[i] > 0).ToList();
        return ([.. fished.Select(i => tied[i] with { Rods = rods[i] })], [.. picks.Select(p => fished.IndexOf(p))]);
    }

    private static FishedRig Baited(Draws draws, Technique technique, int line, double baitInches)
    {
        var style = draws.Chance(0.75) ? HookStyle.Circle : HookStyle.J;
        var step = BestStep(style, baitInches) + (line >= 50 ? 1 : 0) + 1.1 * draws.Normal();
        return new FishedRig(technique, line, style, SoldStep(step), 0);
    }

    /// <summary>Nearest size that shops stock: 8, 6, 4, 2, 1, 1/0 ... 7/0.</summary>
    private static int SoldStep(double step) => Sold.MinBy(s => Math.Abs(s - step));

    private static double Popularity(int line, bool heavyAbout)
    {
        var school = Bell(Math.Log(line / 30.0) / 0.4);
        return heavyAbout ? school + 0.5 * Bell(Math.Log(line / 68.0) / 0.25) : school;
    }

    private static Fate Fight(Draws draws, double weightLb, FishedRig rig)
    {
        if (draws.Chance(Hold(weightLb, rig.LineLb, rig.Style, rig.Step)))
        {
            return Fate.Landed;
        }

        if (draws.Chance(Logistic(-0.3 + 0.9 * Math.Log(weightLb / rig.LineLb))))
        {
            return Fate.BrokenOff;
        }

        return draws.Chance(StepsTooSmall(rig.LineLb, rig.Step) > 0 ? 0.4 : 0.08) ? Fate.Straightened : Fate.Pulled;
    }

    private static double StepsTooSmall(int lineLb, int step) => Math.Max(0, 4 * Math.Log(lineLb / 30.0) - 1.5 - step);

    private static double Bell(double z) => Math.Exp(-z * z / 2);

    private static double Logistic(double x) => 1 / (1 + Math.Exp(-x));
}
