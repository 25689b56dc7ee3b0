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
            Math.Log(lengthMm / 150)
        );
}

/// <summary>
/// ln of a rig's bite against a thirty with the table's hook: s (x + bend x²) + b'z, x = ln(line / 30 lb), s the slope of the
/// trip, z the hook's distance from the table and its square (the bell), the style, the technique. Bait techniques only.
/// </summary>
internal sealed class Bite(double[] coefficients)
{
    private const int Curvature = 0;
    private const int Off = 1;
    private const int OffSquared = 2;
    private const int J = 3;
    private const int JOff = 4;
    private const int OffByLength = 5;
    private const int Sinker = 6;
    public const int Columns = 7;

    /// <summary>Steps from the table's centre beyond which the bell says no more.</summary>
    private const double FarthestOff = 6;

    private const double BellPrecision = 1 / (RigPriors.HookBellSteps * RigPriors.HookBellSteps);

    public static GaussianPrior Prior { get; } =
        new(
            [0, 0, -BellPrecision / 2, 0, 0, 0, RigPriors.SinkerMean],
            [
                Precision(RigPriors.CurvatureSpread),
                Precision(RigPriors.HookCentreSpread * BellPrecision),
                Precision(RigPriors.HookBellSpread),
                Precision(RigPriors.StyleSpread),
                Precision(RigPriors.HookCentreSpread * BellPrecision),
                Precision(RigPriors.HookMoveSpread * BellPrecision),
                Precision(RigPriors.SinkerSpread),
            ]
        );

    public static bool IsBait(Technique technique) => technique is Technique.FlyLine or Technique.Sinker;

    /// <summary>What a slope acts on.</summary>
    public static double Lean(int rungLb)
    {
        var x = Math.Log(rungLb / RigPriors.ReferenceLb);
        return x + RigPriors.Bend * x * x;
    }

    public static double[] Features(int rungLb, Technique technique, HookStyle? style, int? step, BaitAsk bait)
    {
        var x = Math.Log(rungLb / RigPriors.ReferenceLb);
        var hooked = style is HookStyle.Circle or HookStyle.J && step is not null;
        var off = hooked ? Math.Clamp(step!.Value - bait.CentreStep, -FarthestOff, FarthestOff) : 0;
        var j = style is HookStyle.J ? 1.0 : 0;
        var z = new double[Columns];
        z[Curvature] = x * x;
        z[Off] = off;
        z[OffSquared] = off * off;
        z[J] = j;
        z[JOff] = j * off;
        z[OffByLength] = off * bait.LogLength;
        z[Sinker] = technique is Technique.Sinker ? 1 : 0;
        return z;
    }

    public double Log(double slope, int rungLb, double[] features)
    {
        var log = slope * Lean(rungLb);
        for (var k = 0; k < Columns; k++)
        {
            // A bell has a top, whatever a draw of its coefficients says.
            log += (k == OffSquared ? Math.Min(coefficients[k], -0.02) : coefficients[k]) * features[k];
        }

        return log;
    }

    /// <summary>The same without the slope: what the boats' moods leave alone.</summary>
    public double Rest(double[] features) => Log(0, (int)RigPriors.ReferenceLb, features);

    private static double Precision(double spread) => 1 / (spread * spread);
}
