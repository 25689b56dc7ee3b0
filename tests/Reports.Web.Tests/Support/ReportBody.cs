using System.Globalization;
using System.Text.Json.Nodes;

namespace Reports.Web.Tests.Support;

/// <summary>Reports as clients write them.</summary>
public static class ReportBody
{
    /// <summary>The shortest report: the required fields only.</summary>
    public static JsonObject Short(
        string boat,
        DateOnly? fishedOn = null,
        string zone = Fleet.Bank,
        string species = "SBF",
        int kept = 5,
        int sailing = 1
    ) =>
        new()
        {
            ["boat"] = boat,
            ["zone"] = zone,
            ["fishedOn"] = Day(fishedOn ?? Fleet.Today),
            ["sailing"] = sailing,
            ["anglers"] = 20,
            ["catch"] = new JsonArray(new JsonObject { ["species"] = species, ["kept"] = kept }),
        };

    /// <summary>A report with every field of the contract in it.</summary>
    public static JsonObject Full(string boat, DateOnly? fishedOn = null) =>
        JsonNode
            .Parse(
                $$"""
                {
                  "boat": "{{boat}}", "zone": "{{Fleet.Bank}}", "fishedOn": "{{Day(
                    fishedOn ?? Fleet.Today
                )}}", "sailing": 1,
                  "tripDays": 1.5, "daysCovered": 1, "status": "final", "anglers": 24, "crewFished": false, "hours": 6.5,
                  "bite": "picky", "units": { "weight": "lb", "length": "in", "depth": "ft" },
                  "catch": [
                    { "species": "SBF", "kept": 31, "released": 4, "smallest": 18, "largest": 42.5, "mostFrom": 20,
                      "mostTo": 35, "weighed": true, "limit": false, "anglersWithFish": 14, "topRod": 4, "lostHeavy": 2 },
                    { "species": "ALB", "kept": 0, "released": 0 },
                    { "species": "YTC", "kept": 6, "anglersWithFish": "few" }
                  ],
                  "bait": { "species": "PIL", "shortest": 4, "longest": 5.25, "condition": "lively", "supply": "plenty" },
                  "rigs": [
                    { "species": "SBF", "technique": "fly-line", "lineClass": 30,
                      "leader": { "material": "fluorocarbon", "test": 30 }, "mainLine": { "material": "braid", "test": 65 },
                      "hook": { "style": "circle", "size": "1/0", "gapeMm": 11.5, "wire": "regular", "ringed": true },
                      "use": "most", "rods": 9, "hooked": 14, "landed": 10, "brokenOff": 1, "pulled": 2, "straightened": 1,
                      "winning": true },
                    { "species": "SBF", "technique": "sinker", "lineClass": 40, "hook": { "style": "j", "size": "2" },
                      "weightOz": 6, "rods": 3 }
                  ],
                  "signs": { "surface": true, "depth": 110, "birds": false },
                  "note": "Grey light, then a long wait \u2013 \"worth it\" \ud83d\udc1f"
                }
                """
            )!
            .AsObject();

    public static string Day(DateOnly day) => day.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
}
