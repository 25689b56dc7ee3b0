using System.Globalization;
using Reports.Domain.Briefs;

namespace Reports.Web.Pages.Shared.Charts;

/// <summary>
/// What anglers of a coming trip may land, as a quantile dot plot: dot i of n stands at the (i + 1/2)/n quantile, so each dot is an
/// equally likely angler (M. Kay et al. 2016, "When (ish) is my bus?", CHI). Dots of a column stand a few abreast, none of them on
/// another. Few dots on a phone, more on a wide page.
/// </summary>
public static class FishChart
{
    public const int FewDots = 20;
    public const int ManyDots = 50;
    public const double Width = 320;
    public const double Left = 4;
    public const double ColumnWidth = 39;
    private const int MostColumns = 8;
    private const double Top = 6;

    /// <summary>Fish of each of n equally likely anglers, ascending.</summary>
    public static IReadOnlyList<int> Anglers(FishPerAngler angler, int dots)
    {
        var fish = new List<int>(dots);
        var below = angler.Probability(0);
        for (var x = 0; fish.Count < dots; below += angler.Probability(++x))
        {
            while (fish.Count < dots && ((fish.Count + 0.5) / dots <= below || x == FishPerAngler.MostFish))
            {
                fish.Add(x);
            }
        }

        return fish;
    }

    /// <summary>What the columns hold, both ends included: none by itself, then equal steps.</summary>
    public static IReadOnlyList<(int From, int To)> Columns(int most)
    {
        var step = 1;
        while (step * (MostColumns - 1) < most)
        {
            step = step.ToString(CultureInfo.InvariantCulture)[0] == '2' ? step / 2 * 5 : step * 2;
        }

        return [(0, 0), .. Enumerable.Range(0, (most + step - 1) / step).Select(i => ((i * step) + 1, (i + 1) * step))];
    }

    /// <param name="trip">Which the angler is on: "a trip of a day".</param>
    public static Chart Draw(FishPerAngler angler, string trip, string period, string csvHref)
    {
        var (few, many) = (Anglers(angler, FewDots), Anglers(angler, ManyDots));
        var columns = Columns(many[^1]);
        // To the four decimals that the brief's own odds are stored with, or the two could be rounded apart.
        var finding = Finding(many, Math.Round(angler.AtLeast(1), 4, MidpointRounding.AwayFromZero));
        return new Chart(
            finding,
            $"Fish of one angler on {trip}; each dot is one of {FewDots} equally likely anglers ({ManyDots} where the page is wide); {period}.",
            Dots("fish-few", finding, few, columns, abreast: 2, pitch: 12),
            ["Fish", $"Of {FewDots} anglers", $"Of {ManyDots} anglers"],
            [
                .. columns.Select(c =>
                    (IReadOnlyList<string>)
                        [
                            Name(c),
                            In(few, c).ToString(CultureInfo.InvariantCulture),
                            In(many, c).ToString(CultureInfo.InvariantCulture),
                        ]
                ),
            ],
            csvHref
        )
        {
            Wide = Dots("fish-many", finding, many, columns, abreast: 3, pitch: 9),
        };
    }

    /// <summary>Anglers of a column.</summary>
    public static int In(IReadOnlyList<int> anglers, (int From, int To) column) =>
        anglers.Count(f => f >= column.From && f <= column.To);

    /// <summary>The middle angler and the luckiest tenth; where most land none, how many those are, as said beside it.</summary>
    /// <param name="anglers">Fish of equally likely anglers, ascending.</param>
    /// <param name="atLeastOne">The odds as the brief has them.</param>
    public static string Finding(IReadOnlyList<int> anglers, double atLeastOne)
    {
        var middle = anglers[(anglers.Count / 2) - 1];
        var lucky = anglers[anglers.Count - (anglers.Count / 10)];
        var most =
            middle == 0
                ? $"{Say.Capital(Say.OthersInTen(atLeastOne))} anglers land none"
                : $"Half of the anglers land {middle} or fewer";
        return lucky == 0 ? most
            : lucky == middle ? $"Half of the anglers land {middle} or more"
            : $"{most}, one in ten lands {lucky} or more";
    }

    private static Svg Dots(
        string id,
        string finding,
        IReadOnlyList<int> anglers,
        IReadOnlyList<(int From, int To)> columns,
        int abreast,
        double pitch
    )
    {
        var rows = columns.Max(c => (In(anglers, c) + abreast - 1) / abreast);
        var foot = Top + (rows * pitch);
        var svg = new Svg(
            id,
            Width,
            foot + 22,
            $"{finding}.",
            $"{anglers.Count} dots, one for each of {anglers.Count} equally likely anglers, in columns by how many fish the angler lands; hollow dots land none."
        );
        foreach (var (column, c) in columns.Select((c, i) => (c, i)))
        {
            var middle = Left + ((c + 0.5) * ColumnWidth);
            var count = In(anglers, column);
            for (var i = 0; i < count; i++)
            {
                // The last row may be short: it stands in the middle too.
                var row = i / abreast;
                var inRow = Math.Min(abreast, count - (row * abreast));
                svg.Circle(
                    middle + (((i % abreast) - ((inRow - 1) / 2.0)) * pitch),
                    foot - ((row + 0.5) * pitch),
                    (pitch / 2) - 1.5,
                    column.To == 0 ? "angler-blank" : "angler-fish"
                );
            }

            svg.Text(middle, foot + 16, Name(column), Anchor.Middle);
        }

        return svg.Line(Left, foot + 1, Left + (columns.Count * ColumnWidth), foot + 1, "axis");
    }

    private static string Name((int From, int To) column) =>
        column.To == 0 ? "none"
        : column.From == column.To ? column.From.ToString(CultureInfo.InvariantCulture)
        : string.Create(CultureInfo.InvariantCulture, $"{column.From}\u2013{column.To}");
}
