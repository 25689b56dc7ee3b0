using System.Globalization;
using Reports.Domain.Chances;
using Reports.Domain.Coast;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;

namespace Reports.Web.Api.V1;

/// <summary>Which trips somebody asks about, for which fish: read from an address, by the same rules for programs and for the page.</summary>
/// <param name="Landing">Null for every landing.</param>
/// <param name="Zone">Null for every zone.</param>
/// <param name="TripDays">Null for trips of every length.</param>
/// <param name="Days">How many days from <paramref name="From"/> on.</param>
/// <param name="Limit">Fish that the reader asks about.</param>
public sealed record ChancesQuery(
    Species Species,
    Landing? Landing,
    Zone? Zone,
    decimal? TripDays,
    DateOnly From,
    int Days,
    int Limit,
    WeightUnit Weight
)
{
    public const int UsualDays = 7;
    public const int MostDays = 14;
    public const int UsualLimit = 2;

    /// <summary>From how far ahead a window may begin.</summary>
    public const int MostAhead = 60;

    private const decimal MostTripDays = 30;

    public DateOnly To => From.AddDays(Days - 1);

    /// <summary>The query, or every parameter that is wrong; a pointer is a parameter's name.</summary>
    /// <param name="usual">The species where none is named; null to insist on one.</param>
    public static Reading<ChancesQuery> Read(IQueryCollection query, Register register, DateOnly today, Species? usual)
    {
        var faults = new List<FieldError>();
        string Text(string name) => query[name].ToString();
        T? Known<T>(string name, IReadOnlyDictionary<string, T> known)
            where T : class
        {
            if (Text(name) is not { Length: > 0 } code || known.TryGetValue(code, out var found))
            {
                return Text(name).Length == 0 ? null : known[Text(name)];
            }

            faults.Add(new(name, $"unknown-{name}", $"{name} must be {Choice(known.Keys)}."));
            return null;
        }

        int Whole(string name, int usually, int most)
        {
            if (Text(name) is not { Length: > 0 } text)
            {
                return usually;
            }

            if (
                int.TryParse(text, NumberStyles.None, CultureInfo.InvariantCulture, out var told)
                && told >= 1
                && told <= most
            )
            {
                return told;
            }

            faults.Add(new(name, "out-of-range", $"{name} must be a whole number from 1 to {most}."));
            return usually;
        }

        var caught = register
            .Species.Values.Where(s => s.Kind == SpeciesKind.Catch)
            .ToDictionary(s => s.Code, StringComparer.Ordinal);
        var species = Known("species", caught) ?? (Text("species").Length == 0 ? usual : null);
        if (species is null && Text("species").Length == 0)
        {
            faults.Add(new("species", "required", $"species must be {Choice(caught.Keys)}."));
        }

        var landing = Known("landing", register.Landings);
        var zone = Known("zone", register.Zones);
        decimal? tripDays = null;
        if (Text("tripDays") is { Length: > 0 } length)
        {
            if (
                decimal.TryParse(length, NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out var told)
                && told is > 0 and <= MostTripDays
                && told * 4 == decimal.Truncate(told * 4)
            )
            {
                tripDays = told / 1.0000000000m;
            }
            else
            {
                faults.Add(
                    new(
                        "tripDays",
                        "out-of-range",
                        "tripDays must be a length in quarter days: 0.25, 0.5, 0.75, 1, 1.5, 2 ... up to 30."
                    )
                );
            }
        }

        var from = today;
        if (Text("from") is { Length: > 0 } date)
        {
            if (!Dates.TryParse(date, out from))
            {
                faults.Add(new("from", "not-a-date", "from must be an ISO 8601 date, such as 2026-11-20."));
            }
            else if (from < today || from > today.AddDays(MostAhead))
            {
                faults.Add(
                    new(
                        "from",
                        "out-of-range",
                        $"from must be a day from {Dates.Text(today)} (the coast's today) to {Dates.Text(today.AddDays(MostAhead))}."
                    )
                );
            }
        }

        var days = Whole("days", UsualDays, MostDays);
        var limit = Whole("limit", UsualLimit, TripChances.MostLimit);
        var weight = WeightUnit.Lb;
        if (Text("weight") is { Length: > 0 } unit && !Words.Of<WeightUnit>().TryGetValue(unit, out weight))
        {
            faults.Add(new("weight", "unknown-word", "weight must be lb or kg."));
        }

        return faults.Count > 0 || species is null
            ? new(null, faults)
            : new(new(species, landing, zone, tripDays, from, days, limit, weight), []);
    }

    /// <summary>"one of ALB, SBF", cut where it would be long.</summary>
    private static string Choice(IEnumerable<string> codes)
    {
        const int most = 20;
        var known = codes.Order(StringComparer.Ordinal).ToList();
        return known.Count == 0
            ? "a code of the register, which has none yet"
            : $"one of {string.Join(", ", known.Take(most))}{(known.Count > most ? ", ..." : "")}";
    }
}
