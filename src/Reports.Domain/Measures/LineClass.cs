namespace Reports.Domain.Measures;

/// <summary>
/// The rated strength at the hook end, as a rung of the ladder that the trade speaks in. IGFA classes
/// (1, 2, 3, 4, 6, 8, 10, 15, 24, 37, 60 kg) go by their US names (2, 4, 6, 8, 12, 16, 20, 30, 50, 80, 130 lb: table from a page
/// reproducing the IGFA rules); the shelf also sells 15, 25, 40, 60 and 100 lb (common practice, no source). A 15 kg line is
/// called a thirty although 15 kg is 33 lb.
/// </summary>
public static class LineClass
{
    /// <summary>Rungs in lb, ascending (common practice, no source).</summary>
    public static readonly IReadOnlyList<int> Ladder = [12, 15, 20, 25, 30, 40, 50, 60, 80, 100, 130];

    /// <summary>Strongest line or leader test accepted, in lb.</summary>
    public const int StrongestLb = 400;

    private static readonly Dictionary<decimal, int> UsNameOfKgClass = new()
    {
        [1] = 2,
        [2] = 4,
        [3] = 6,
        [4] = 8,
        [6] = 12,
        [8] = 16,
        [10] = 20,
        [15] = 30,
        [24] = 50,
        [37] = 80,
        [60] = 130,
    };

    /// <summary>The rung, in lb, that a given line class counts as: US name of a kg class, else the nearest rung in log.</summary>
    public static int Rung(Weight test) =>
        NearestRung(
            test.Unit == WeightUnit.Kg && UsNameOfKgClass.TryGetValue(test.Given, out var name)
                ? name
                : Weight.FromGrams(test.Grams, WeightUnit.Lb)
        );

    /// <summary>Nearest rung in log to a strength in lb; of two equally near the lighter.</summary>
    public static int NearestRung(double lb) => Ladder.MinBy(rung => Math.Round(Math.Abs(Math.Log(rung / lb)), 12));

    /// <summary>Place of a rung on <see cref="Ladder"/>, from 0.</summary>
    /// <exception cref="ArgumentOutOfRangeException">Not a rung.</exception>
    public static int Index(int rung)
    {
        for (var i = 0; i < Ladder.Count; i++)
        {
            if (Ladder[i] == rung)
            {
                return i;
            }
        }

        throw new ArgumentOutOfRangeException(nameof(rung), rung, "not a rung of the ladder");
    }

    /// <summary>The next rung down, or null at the bottom.</summary>
    public static int? Below(int rung) => Ladder.Where(r => r < rung).Select(r => (int?)r).Max();

    /// <summary>The next rung up, or null at the top.</summary>
    public static int? Above(int rung) => Ladder.Where(r => r > rung).Select(r => (int?)r).Min();

    /// <summary>
    /// What the rung is called on a metric shelf: the IGFA kg class where there is one, else the label's lb in whole kg.
    /// </summary>
    public static int Kg(int rung) =>
        UsNameOfKgClass.Where(c => c.Value == rung).Select(c => (int?)c.Key).FirstOrDefault()
        ?? (int)Math.Round(rung * 0.45359237, MidpointRounding.AwayFromZero);
}
