using System.Text.Json.Nodes;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;

namespace Reports.Domain.Tests.Reporting.Csv;

/// <summary>Documents that the reader accepts, drawn over every field; the same seed draws the same one.</summary>
internal sealed class RandomReports(int seed)
{
    private static readonly string[] Pieces =
    [
        "grey light",
        "\"worth it\"",
        ", then",
        "\n",
        "\r\n",
        "\r",
        ";",
        "\t",
        "=1+1",
        "+",
        "-2",
        "@sum",
        "'",
        "''",
        " ",
        "\u00a0",
        "é",
        "😀",
        "\uFF1D",
        "#N/A",
        "TRUE",
        "2/0",
    ];

    private readonly Random random = new(seed);

    public JsonObject Next()
    {
        var metric = Maybe();
        var report = new JsonObject
        {
            ["boat"] = Maybe() ? "grey-petrel" : "ardent-tern",
            ["zone"] = Maybe() ? "cannery-bank" : "south-trench",
            ["fishedOn"] = new DateOnly(2026, 1, 1)
                .AddDays(random.Next(300))
                .ToString("O", System.Globalization.CultureInfo.InvariantCulture),
            ["sailing"] = random.Next(1, 10),
            ["anglers"] = 300,
            ["catch"] = Array(random.Next(1, 3), i => Catch(i == 0 ? "SBF" : "YFT")),
        };
        Add(report, "tripDays", () => random.Next(1, 121) / 4m);
        Add(report, "daysCovered", () => random.Next(1, 31));
        Add(report, "status", () => Word<ReportStatus>());
        Add(report, "crewFished", () => Maybe());
        Add(report, "hours", () => Decimal(24));
        Add(report, "bite", () => Word<Bite>());
        Add(
            report,
            "note",
            () => string.Concat(Enumerable.Range(0, random.Next(6)).Select(_ => Pieces[random.Next(Pieces.Length)]))
        );
        if (metric || Maybe())
        {
            report["units"] = new JsonObject { ["weight"] = metric ? "kg" : "lb", ["depth"] = Word<DepthUnit>() };
        }

        Add(report, "signs", Signs);
        Add(report, "bait", () => Maybe() ? Bait("PIL") : Array(random.Next(0, 3), i => Bait(i == 0 ? "ANE" : "PIL")));
        var fished = report["catch"]!.AsArray().Select(c => c!["species"]!.GetValue<string>()).ToList();
        Add(report, "rigs", () => Array(random.Next(5), _ => Rig(fished[random.Next(fished.Count)])));
        return report;
    }

    private JsonObject Catch(string species)
    {
        var sizes = Enumerable.Range(0, 4).Select(_ => Decimal(400)).Order().ToArray();
        var line = new JsonObject { ["species"] = species, ["kept"] = random.Next(1000, 2000) };
        Add(line, "released", () => random.Next(50));
        foreach (var (name, i) in new[] { ("smallest", 0), ("mostFrom", 1), ("mostTo", 2), ("largest", 3) })
        {
            Add(line, name, () => sizes[i]);
        }

        Add(line, "weighed", () => Maybe());
        Add(line, "limit", () => Maybe());
        Add(line, "anglersWithFish", () => Maybe() ? random.Next(1, 300) : Word<AnglerShare>());
        Add(line, "topRod", () => random.Next(1, 100));
        Add(line, "lostHeavy", () => random.Next(9));
        return line;
    }

    private JsonObject Bait(string species)
    {
        var lengths = new[] { Decimal(29), Decimal(29) }.Order().ToArray();
        var bait = new JsonObject { ["species"] = species };
        Add(bait, "shortest", () => lengths[0] + 0.2m);
        Add(bait, "longest", () => lengths[1] + 0.2m);
        Add(bait, "condition", () => Word<BaitCondition>());
        Add(bait, "supply", () => Word<BaitSupply>());
        return bait;
    }

    private JsonObject Rig(string species)
    {
        var rig = new JsonObject { ["species"] = species, ["lineClass"] = Decimal(130) };
        Add(rig, "technique", () => Word<Technique>());
        Add(rig, "leader", () => Material<LeaderMaterial>());
        Add(rig, "mainLine", () => Material<MainLineMaterial>());
        Add(
            rig,
            "hook",
            () =>
            {
                var hook = new JsonObject
                {
                    ["style"] = Word<HookStyle>(),
                    ["size"] = HookSize.FromStep(random.Next(-31, 28)).ToString(),
                };
                Add(hook, "gapeMm", () => Decimal(40));
                Add(hook, "wire", () => Word<HookWire>());
                Add(hook, "ringed", () => Maybe());
                return hook;
            }
        );
        Add(rig, "use", () => Word<RigUse>());
        Add(rig, "rods", () => random.Next(300));
        Add(rig, "hooked", () => random.Next(1000, 2000));
        foreach (var name in new[] { "landed", "brokenOff", "pulled", "straightened" })
        {
            Add(rig, name, () => random.Next(250));
        }

        Add(rig, "weightOz", () => Decimal(20));
        Add(rig, "winning", () => Maybe());
        return rig;
    }

    private JsonObject Signs()
    {
        var signs = new JsonObject();
        Add(signs, "surface", () => Maybe());
        Add(signs, "depth", () => Decimal(500));
        Add(signs, "birds", () => Maybe());
        return signs;
    }

    private JsonObject Material<T>()
        where T : struct, Enum
    {
        var line = new JsonObject { ["material"] = Word<T>() };
        Add(line, "test", () => Decimal(130));
        return line;
    }

    private bool Maybe() => random.Next(2) == 0;

    private string Word<T>()
        where T : struct, Enum => Words.Of<T>().Keys.ElementAt(random.Next(Words.Of<T>().Count));

    // 0.02 upwards, with up to six decimals.
    private decimal Decimal(int most)
    {
        var scale = (decimal)Math.Pow(10, random.Next(7));
        return 0.02m + (Math.Floor(random.Next(most) * scale * (decimal)random.NextDouble()) / scale);
    }

    private void Add(JsonObject owner, string name, Func<JsonNode?> value)
    {
        if (Maybe())
        {
            owner[name] = value();
        }
    }

    private static JsonArray Array(int count, Func<int, JsonNode> item) =>
        new([.. Enumerable.Range(0, count).Select(item)]);
}
