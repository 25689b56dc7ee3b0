using System.Globalization;
using System.Text.RegularExpressions;

namespace Reports.Domain.Measures;

/// <summary>
/// A hook's packet number. Without an aught a larger number is a smaller hook; with an aught (n/0) a larger number is a
/// larger hook: ... 4, 3, 2, 1, 1/0, 2/0, 3/0 ... Makers do not agree on sizes, so steps compare within one style only and
/// numbers are never converted between styles (general angling references agree; no standard exists).
/// </summary>
public readonly partial record struct HookSize : IComparable<HookSize>
{
    /// <summary>Largest plain number accepted: beyond it no packet is sold for this fishing.</summary>
    public const int LargestPlain = 32;

    /// <summary>Largest aught accepted, 27/0.</summary>
    public const int LargestAught = 27;

    /// <summary>What a message says is accepted.</summary>
    public const string Accepted =
        "the packet's number as text: a plain size such as \"2\" (1 to 32) or an aught such as \"2/0\" (1/0 to 27/0)";

    private HookSize(int step) => Step = step;

    /// <summary>Order of size within a style: step(n) = 1 - n, step(n/0) = n. So 2 is -1, 1 is 0, 1/0 is 1.</summary>
    public int Step { get; }

    public bool IsAught => Step > 0;

    /// <summary>The number before the slash, or the plain number.</summary>
    public int Number => IsAught ? Step : 1 - Step;

    /// <summary>What was meant if the aught was lost or added: 2 for 2/0, 2/0 for 2, 2/0 for 20. Null when there is no such hook.</summary>
    public HookSize? AughtSlip =>
        IsAught ? (Number <= LargestPlain ? Plain(Number) : null)
        : Number >= 10 && Number % 10 == 0 ? Aught(Number / 10)
        : Number <= LargestAught ? Aught(Number)
        : null;

    public static HookSize Plain(int number) =>
        number is >= 1 and <= LargestPlain
            ? new HookSize(1 - number)
            : throw new ArgumentOutOfRangeException(nameof(number), number, Accepted);

    public static HookSize Aught(int number) =>
        number is >= 1 and <= LargestAught
            ? new HookSize(number)
            : throw new ArgumentOutOfRangeException(nameof(number), number, Accepted);

    public static HookSize FromStep(int step) => step > 0 ? Aught(step) : Plain(1 - step);

    /// <summary>
    /// Reads "2/0", "2-0", "2", "#2", "No. 2", "size 2". Refuses 0/0, 2/1, a letter O for the nought, and sizes out of
    /// range.
    /// </summary>
    public static bool TryParse(string? text, out HookSize size)
    {
        size = default;
        var match = Form().Match(text ?? "");
        if (!match.Success)
        {
            return false;
        }

        var number = int.Parse(match.Groups["n"].Value, CultureInfo.InvariantCulture);
        var aught = match.Groups["aught"].Success;
        if (number < 1 || number > (aught ? LargestAught : LargestPlain))
        {
            return false;
        }

        size = aught ? Aught(number) : Plain(number);
        return true;
    }

    public int CompareTo(HookSize other) => Step.CompareTo(other.Step);

    public static bool operator <(HookSize a, HookSize b) => a.Step < b.Step;

    public static bool operator >(HookSize a, HookSize b) => a.Step > b.Step;

    public static bool operator <=(HookSize a, HookSize b) => a.Step <= b.Step;

    public static bool operator >=(HookSize a, HookSize b) => a.Step >= b.Step;

    /// <summary>The usual writing, "2/0" or "2".</summary>
    public override string ToString() =>
        IsAught
            ? string.Create(CultureInfo.InvariantCulture, $"{Number}/0")
            : Number.ToString(CultureInfo.InvariantCulture);

    [GeneratedRegex(
        @"^\s*(?:(?:size|no\.?|\#)\s*)?(?<n>[0-9]{1,3})(?<aught>\s*[/-]\s*0)?\s*$",
        RegexOptions.IgnoreCase | RegexOptions.CultureInvariant
    )]
    private static partial Regex Form();
}
