using System.Globalization;
using Reports.Domain.Measures;

namespace Reports.Domain.Briefs;

/// <summary>
/// A brief in one or two sentences, as one would say it over a counter. Every number is one of the brief's, rounded: chances in
/// natural frequencies, sizes as a range that holds half the fish or more.
/// </summary>
public static class Verdict
{
    /// <summary>Heavy fish are worth a word when one boat trip in ten landed one.</summary>
    private const double WorthAWord = 0.1;

    /// <summary>Boats that stopped at their limit, when it was this share of the trips.</summary>
    private const double ManyLimits = 0.3;

    public static string Of(Brief brief, string zoneName, string speciesName, WeightUnit unit)
    {
        if (brief.ClosedNotice is { } notice)
        {
            return $"{zoneName}: {speciesName} is closed, so no tackle is advised. {notice}".TrimEnd();
        }

        if (brief.CatchRate is not { } rate)
        {
            return brief.Evidence.Reports == 0
                ? $"No boat has reported {speciesName} in the last four weeks, so there is nothing to go on."
                : $"Too few boats have reported {speciesName} in the last four weeks to say anything: it takes three.";
        }

        var first =
            rate.PerAngler.Mean <= 0
                ? $"nobody got {One(speciesName)} on {Trips(brief.Evidence.Reports)}"
                : Chance(rate, speciesName) + SizePhrase(brief.Size, unit);
        return string.Join(
            " ",
            new[] { Opening(brief, rate, zoneName, first), More(brief, rate, unit) }.OfType<string>()
        );
    }

    /// <summary>
    /// The heaviest round weight well above the common sizes that one boat trip in ten landed; null where there is none. It may want
    /// tackle of its own.
    /// </summary>
    public static OverWeight? Heavy(SizePicture size, WeightUnit unit)
    {
        var common = Weight.FromGrams(size.Quantiles.P75, unit);
        return (unit == WeightUnit.Lb ? size.Lb : size.Kg).Over.LastOrDefault(o =>
            o.BoatDays.Mean >= WorthAWord && o.Weight >= 1.5 * common
        );
    }

    private static string Opening(Brief brief, CatchRate rate, string zone, string first)
    {
        if (brief.Evidence.Pooled)
        {
            return $"Too few boats on {zone} to call; this leans on the whole coast: {first}.";
        }

        if (brief.Evidence.Strength is Strength.None or Strength.Thin)
        {
            return rate.PerAngler.Mean <= 0
                ? $"Little to go on at {zone}: {first}."
                : $"Only {Trips(brief.Evidence.Reports)} to go on at {zone}, so take it lightly: {first}.";
        }

        if (rate.PerAngler.Mean <= 0)
        {
            return $"Blank on {zone}: {first}.";
        }

        return rate.AtLeastOne?.Mean switch
        {
            >= 0.5 => $"{zone} is worth the trip: {first}.",
            < 0.4 when brief.Signs?.Surface >= 0.6 => $"Plenty showing on {zone}, but {Only(first)}.",
            < 0.2 => $"Slow on {zone}: {first}.",
            _ => $"On {zone} {first}.",
        };
    }

    /// <summary>"only 3 in 10" reads better than "only about 3 in 10"; "fewer than" needs no only.</summary>
    private static string Only(string first) =>
        first.StartsWith("about ", StringComparison.Ordinal) ? "only " + first["about ".Length..] : first;

    private static string Chance(CatchRate rate, string species)
    {
        if (rate.AtLeastOne is not { } odds)
        {
            var mean = Math.Round(rate.PerAngler.Mean, 1, MidpointRounding.AwayFromZero);
            return mean < 0.1
                ? "fewer than one fish for ten anglers"
                : string.Create(CultureInfo.InvariantCulture, $"about {mean:0.#} {species} for each angler");
        }

        return $"{InTen(odds.Mean, "anglers")} land {One(species)}";
    }

    /// <summary>"about 6 in 10 anglers"; at the ends fewer than 1 and more than 9.</summary>
    private static string InTen(double share, string of) =>
        share < 0.05 ? $"fewer than 1 in 10 {of}"
        : share > 0.95 ? $"more than 9 in 10 {of}"
        : string.Create(
            CultureInfo.InvariantCulture,
            $"about {Math.Clamp((int)Math.Round(share * 10, MidpointRounding.AwayFromZero), 1, 9)} in 10 {of}"
        );

    private static string SizePhrase(SizePicture? size, WeightUnit unit)
    {
        if (size is null)
        {
            return "";
        }

        var low = Weight.FromGrams(size.Quantiles.P25, unit);
        var high = Weight.FromGrams(size.Quantiles.P75, unit);
        // A gram of rounding must not widen the range by a step.
        var step = high > 20 ? 5 : 1;
        var from = Math.Floor((low + 0.01) / step) * step;
        var to = Math.Max(Math.Ceiling((high - 0.01) / step) * step, from);
        var name = unit.ToString().ToLowerInvariant();
        return from.Equals(to)
            ? string.Create(CultureInfo.InvariantCulture, $", mostly about {to:0} {name}")
            : string.Create(CultureInfo.InvariantCulture, $", mostly {from:0} to {to:0} {name}");
    }

    /// <summary>Heavy fish, limits, where catches are heading; null when there is nothing to add.</summary>
    private static string? More(Brief brief, CatchRate rate, WeightUnit unit)
    {
        var parts = new List<string>();
        if (brief.Size is { } size && rate.PerAngler.Mean > 0 && Heavy(size, unit) is { } heavy)
        {
            parts.Add(
                string.Create(
                    CultureInfo.InvariantCulture,
                    $"{InTen(heavy.BoatDays.Mean, "boat trips")} landed one of {heavy.Weight} {unit.ToString().ToLowerInvariant()} or more"
                )
            );
        }

        if (rate.StoppedAtLimit >= ManyLimits)
        {
            parts.Add($"{InTen(rate.StoppedAtLimit, "boat trips")} stopped at their limit");
        }

        if (rate.Trend is Trend.Up or Trend.Down)
        {
            parts.Add($"catches are {(rate.Trend == Trend.Up ? "up" : "down")} on the week before");
        }

        return parts.Count switch
        {
            0 => null,
            1 => Capital(parts[0]) + ".",
            // Each is a sentence of its own, so a comma stands before the "and".
            _ => Capital(string.Join(", ", parts.SkipLast(1)) + ", and " + parts[^1]) + ".",
        };
    }

    private static string Trips(int number) =>
        number == 1 ? "1 boat trip" : string.Create(CultureInfo.InvariantCulture, $"{number} boat trips");

    private static string One(string species) =>
        species.Length > 0 && "aeiouAEIOU".Contains(species[0], StringComparison.Ordinal)
            ? $"an {species}"
            : $"a {species}";

    private static string Capital(string text) => char.ToUpperInvariant(text[0]) + text[1..];
}
