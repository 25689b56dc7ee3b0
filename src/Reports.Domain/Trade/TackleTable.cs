using Reports.Domain.Measures;
using Reports.Domain.Reporting;

namespace Reports.Domain.Trade;

/// <summary>
/// What line is for what fish, and what goes with it. Common practice, no source; figures from memory of the trade. A custom to
/// show beside the count of reports, never an answer where reports speak.
/// </summary>
public static class TackleTable
{
    /// <summary>From this weight on the leader must above all stand chafing, and no line under 25 lb is advised.</summary>
    public const int HeavyFishLb = 100;
    public const int HeavyFishFloorLb = 25;

    /// <summary>Lightest line advised otherwise; 15 only where half the fish are under 15 lb.</summary>
    public const int FloorLb = 20;
    public const int SmallFishFloorLb = 15;
    public const int SmallFishLb = 15;

    /// <summary>Drag at the strike as a share of the weakest part.</summary>
    public const double DragLow = 0.25;
    public const double DragHigh = 0.33;

    // Rung in lb: fish in lb. The table starts at 15 ("under 15"); 12 and the lowest bounds are continued from it.
    private static readonly Dictionary<int, (int Low, int High)> Fish = new()
    {
        [12] = (3, 12),
        [15] = (4, 15),
        [20] = (8, 20),
        [25] = (10, 25),
        [30] = (15, 35),
        [40] = (25, 60),
        [50] = (40, 80),
        [60] = (50, 100),
        [80] = (80, 150),
        [100] = (120, 200),
        [130] = (200, 400),
    };

    /// <summary>Fish that a line is meant for, in grams.</summary>
    public static (int Low, int High) FishGrams(int rungLb)
    {
        var (low, high) = Fish[rungLb];
        return (Grams(low), Grams(high));
    }

    /// <summary>The rung whose range has the weight nearest its middle (in log); the heaviest above the table.</summary>
    public static int RungFor(int fishGrams) =>
        LineClass.Ladder.MinBy(rung =>
        {
            var (low, high) = FishGrams(rung);
            return Math.Round(Math.Abs(Math.Log(Math.Max(1, fishGrams) / Math.Sqrt((double)low * high))), 12);
        });

    /// <summary>The line is meant for fish of this weight, or heavier ones.</summary>
    public static bool Holds(int rungLb, int fishGrams) => FishGrams(rungLb).High >= fishGrams;

    /// <summary>
    /// Fluorocarbon, which fish see least; from the rungs meant for fish over about 100 lb on, monofilament: thick and soft, it
    /// stands chafing and long fights, and fish that heavy shy less.
    /// </summary>
    public static LeaderMaterial Leader(int rungLb)
    {
        var (low, high) = Fish[rungLb];
        return (low + high) / 2 >= HeavyFishLb ? LeaderMaterial.Monofilament : LeaderMaterial.Fluorocarbon;
    }

    /// <summary>Light wire only with light drag: heavy drag straightens it.</summary>
    public static HookWire Wire(int rungLb) =>
        rungLb switch
        {
            <= 25 => HookWire.Light,
            <= 50 => HookWire.Regular,
            _ => HookWire.Heavy,
        };

    /// <summary>Drag at the strike, grams, where the weakest part is rated at this.</summary>
    public static (int Low, int High) DragGrams(int testLb) => (Grams(testLb * DragLow), Grams(testLb * DragHigh));

    /// <summary>Whole grams of a weight in lb.</summary>
    public static int Grams(double lb) => new Weight((decimal)lb, WeightUnit.Lb).Grams;
}
