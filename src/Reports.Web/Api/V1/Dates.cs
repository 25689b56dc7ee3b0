using System.Globalization;

namespace Reports.Web.Api.V1;

/// <summary>Dates in addresses and queries: ISO 8601, year-month-day, nothing else.</summary>
public static class Dates
{
    public static bool TryParse(string text, out DateOnly date) =>
        DateOnly.TryParseExact(text, "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.None, out date);

    public static string Text(DateOnly date) => date.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
}
