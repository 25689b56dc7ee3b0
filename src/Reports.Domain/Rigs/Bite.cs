using Reports.Domain.Reporting;
using Reports.Domain.Trade;
using Reports.Statistics;

namespace Reports.Domain.Rigs;

/// <summary>What the bait of a trip asks of a hook.</summary>
/// <param name="CentreStep">The trade's step for it.</param>
/// <param name="LogLength">ln of its length over 150 mm.</param>
internal readonly record struct BaitAsk(double CentreStep, double LogLength)
{
    public static BaitAsk Of(string? species, double lengthMm) =>
        new(
            species is not null && BaitTable.HasOwnRow(species)
                ? BaitTable.CentreStep(species, (int)Math.Round(lengthMm))
                : HookForBait.CentreStep(lengthMm),
            Math.Log(lengthMm / RigPriors.UsualBaitMm)
        );

    /// <summary>The same where lengths about a usual one are compared: the rows of some kinds are too few to tell them apart.</summary>
    public static BaitAsk Of(string? species, double lengthMm, double usualMm) =>
        species is not null && BaitTable.HasOwnRow(species)
            ? Of(species, usualMm).Longer(Math.Log(lengthMm / usualMm))
            : Of(species, lengthMm);

    /// <summary>Of bait longer by this in ln: about four steps of hook to a doubling (trade's table).</summary>
    public BaitAsk Longer(double log) => new(CentreStep + StepsByLog * log, LogLength + log);

    private const double StepsByLog = 6;
}

/// <summary>What the bite sees of a rig on a trip. <paramref name="Off"/>: steps from the table's hook; null without a hook told.</summary>
internal readonly record struct RigFeatures(double X, bool Sinker, bool J, double? Off, double LogLength)
{
    public static RigFeatures Of(int rungLb, Technique technique, HookStyle? style, int? step, BaitAsk bait) =>
        new(
            Math.Log(rungLb / RigPriors.ReferenceLb),
            technique is Technique.Sinker,
            style is HookStyle.J,
            style is HookStyle.Circle or HookStyle.J && step is { } s ? s - bait.CentreStep : null,
            bait.LogLength
        );
}

/// <summary>
/// ln of a rig's bite against a thirty with the right hook: s (x + bend x²) + c x² + hook + j + sinker, x = ln(line / 30 lb), s the
/// slope of the trip; hook = ln(any + (1 - any) exp(-k z²/2)), z the steps from the right hook, which lies off the table by
/// an amount of its own, differs for J hooks and moves with the bait's length. Bait techniques only.
/// </summary>
internal sealed class Bite(double[] at)
{
    private const int Curvature = 0;
    private const int Centre = 1;
    private const int CentreJ = 2;
    private const int ByLength = 3;
    private const int LogPrecision = 4;
    private const int J = 5;
    private const int Sinker = 6;
    public const int Columns = 7;

    public static GaussianPrior Prior { get; } =
        new(
            [0, 0, 0, 0, -2 * Math.Log(RigPriors.HookBellSteps), 0, RigPriors.SinkerMean],
            [
                Precision(RigPriors.CurvatureSpread),
                Precision(RigPriors.HookCentreSpread),
                Precision(RigPriors.HookCentreSpread),
                Precision(RigPriors.HookMoveSpread),
                Precision(RigPriors.HookBellSpread),
                Precision(RigPriors.StyleSpread),
                Precision(RigPriors.SinkerSpread),
            ]
        );

    public static bool IsBait(Technique technique) => technique is Technique.FlyLine or Technique.Sinker;

    /// <summary>What a slope acts on.</summary>
    public static double Lean(double x) => x + RigPriors.Bend * x * x;

    public static double Lean(int rungLb) => Lean(Math.Log(rungLb / RigPriors.ReferenceLb));

    public double Log(double slope, RigFeatures rig) => slope * Lean(rig.X) + Rest(rig);

    /// <summary>The same without the slope: what the boats' moods leave alone.</summary>
    public double Rest(RigFeatures rig)
    {
        var log = at[Curvature] * rig.X * rig.X + (rig.J ? at[J] : 0) + (rig.Sinker ? at[Sinker] : 0);
        if (rig.Off is { } off)
        {
            var z = off - Middle(rig);
            log += Math.Log(
                RigPriors.AnyHook + (1 - RigPriors.AnyHook) * Math.Exp(-Math.Exp(at[LogPrecision]) * z * z / 2)
            );
        }

        return log;
    }

    /// <summary>Derivatives of <see cref="Rest"/> by the coefficients.</summary>
    public double[] Gradient(RigFeatures rig)
    {
        var g = new double[Columns];
        g[Curvature] = rig.X * rig.X;
        g[J] = rig.J ? 1 : 0;
        g[Sinker] = rig.Sinker ? 1 : 0;
        if (rig.Off is { } off)
        {
            var z = off - Middle(rig);
            var k = Math.Exp(at[LogPrecision]);
            var bell = (1 - RigPriors.AnyHook) * Math.Exp(-k * z * z / 2);
            bell /= RigPriors.AnyHook + bell;
            g[Centre] = bell * k * z;
            g[CentreJ] = rig.J ? g[Centre] : 0;
            g[ByLength] = g[Centre] * rig.LogLength;
            g[LogPrecision] = -bell * k * z * z / 2;
        }

        return g;
    }

    private double Middle(RigFeatures rig) => at[Centre] + (rig.J ? at[CentreJ] : 0) + at[ByLength] * rig.LogLength;

    private static double Precision(double spread) => 1 / (spread * spread);
}
