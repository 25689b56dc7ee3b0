using System.Globalization;
using Reports.Statistics;

namespace Reports.Benchmarks.Claims;

/// <summary>
/// What briefs claim, and what flags doubt, where the truth is known: <c>claims ranks 300 6</c>, <c>claims flags 4</c>.
/// </summary>
internal static class ClaimsVerb
{
    public static int Run(string[] args)
    {
        switch (args)
        {
            case ["ranks", .. var rest]:
                RankClaims.Run(Number(rest, 0, 300), Number(rest, 1, 4));
                return 0;
            case ["flags", .. var rest]:
                // A small fleet's season is short of reports, so it has more of them.
                FlagClaims.Run(6, Number(rest, 1, 301), 4 * Number(rest, 0, 4));
                FlagClaims.Run(24, Number(rest, 1, 301), Number(rest, 0, 4));
                return 0;
            default:
                Print($"claims ranks [replicates] [seeds] | claims flags [seeds] [first seed]");
                return 1;
        }
    }

    /// <summary>A rate in % with its 95 % Wilson interval.</summary>
    public static string Share(int count, int of) =>
        of == 0 ? "none"
        : Proportion.Wilson(count, of) is var rate
            ? Text($"{100 * rate.Estimate:0.0} % ({100 * rate.Low:0.0} to {100 * rate.High:0.0}) of {of}")
        : "";

    public static string Text(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);

    public static void Print(FormattableString text) => Console.WriteLine(Text(text));

    private static int Number(string[] args, int index, int otherwise) =>
        index < args.Length ? int.Parse(args[index], CultureInfo.InvariantCulture) : otherwise;
}
