using System.Globalization;
using System.Text.Json.Nodes;
using Reports.Benchmarks.Advice;

namespace Reports.Benchmarks.Claims;

/// <summary>Slips of a desk, put into a report that has none. Null where a report has no place for one.</summary>
internal static class Slips
{
    private const double LbPerKg = 1 / 0.45359237;

    /// <summary>A kind of slip: where a flag must point for it to be caught, and how it is made.</summary>
    /// <param name="Make">Of the report and of the heaviest fish, in lb, that the report's sea could hold.</param>
    public sealed record Kind(string Name, string Pointer, Func<JsonObject, double, Random, JsonObject?> Make);

    public static IReadOnlyList<Kind> All { get; } =
    [
        new("hook 2 for 2/0", "/rigs/", (report, _, _) => Hook(report, "2/0", "2")),
        new("hook 2/0 for 2", "/rigs/", (report, _, _) => Hook(report, "2", "2/0")),
        new("sizes in kg typed as lb", "/catch/0/", (report, _, _) => Sizes(report, "lb", 1 / LbPerKg)),
        new("sizes in lb typed as kg", "/catch/0/", (report, _, _) => Sizes(report, "kg", LbPerKg)),
        new("one digit more", "/catch/0/", (report, _, random) => Largest(report, lb => OneDigitMore(lb, random))),
        new(
            "impossible for species and day",
            "/catch/0/",
            (report, most, random) => Largest(report, _ => Math.Round(most * random.Between(2, 5)))
        ),
    ];

    private static JsonObject? Hook(JsonObject report, string meant, string typed)
    {
        var slipped = (JsonObject)report.DeepClone();
        var hook = (slipped["rigs"] as JsonArray ?? [])
            .Select(r => r!["hook"]!.AsObject())
            .FirstOrDefault(h => (string?)h["size"] == meant);
        if (hook is null)
        {
            return null;
        }

        hook["size"] = typed;
        return slipped;
    }

    private static JsonObject? Sizes(JsonObject report, string unit, double factor)
    {
        if ((string?)report["units"]!["weight"] != unit || report["catch"]![0]!["largest"] is null)
        {
            return null;
        }

        var slipped = (JsonObject)report.DeepClone();
        var line = slipped["catch"]![0]!.AsObject();
        foreach (var field in new[] { "smallest", "largest", "mostFrom", "mostTo" })
        {
            if (line[field] is { } size)
            {
                line[field] = Math.Max(1, Math.Round((double)size * factor));
            }
        }

        return slipped;
    }

    private static JsonObject? Largest(JsonObject report, Func<double, double> typed)
    {
        if (report["catch"]![0]!["largest"] is not { } largest)
        {
            return null;
        }

        var slipped = (JsonObject)report.DeepClone();
        slipped["catch"]![0]!["largest"] =
            (string?)report["units"]!["weight"] == "kg"
                ? Math.Round(typed((double)largest * LbPerKg) / LbPerKg)
                : typed((double)largest);
        return slipped;
    }

    /// <summary>A key that bounced, or a nought at the end.</summary>
    private static double OneDigitMore(double number, Random random)
    {
        var digits = ((int)Math.Round(number)).ToString(CultureInfo.InvariantCulture);
        var at = random.Next(digits.Length);
        return double.Parse(
            random.Happens(0.5) ? digits + "0" : digits.Insert(at, digits[at].ToString()),
            CultureInfo.InvariantCulture
        );
    }
}
