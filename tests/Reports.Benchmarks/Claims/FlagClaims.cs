using System.Text.Json;
using System.Text.Json.Nodes;
using Reports.Benchmarks.Advice;
using Reports.Domain.Briefs;
using Reports.Domain.Reporting;

namespace Reports.Benchmarks.Claims;

/// <summary>
/// What the flag rules catch of slips and what they doubt in good reports. Fleets as in the advice's simulation, told without slips,
/// some of the reports of other species of the demo's trade, a few odd but honest; fed in the order of their arrival, with the
/// unnoticed slips of others among what the rules look back on.
/// </summary>
internal static class FlagClaims
{
    private const int FirstScored = 28;

    /// <summary>Of the reports that the coast has seen, those with a slip that nobody mended.</summary>
    private const double SlipsInHistory = 0.03;
    private const double OtherSpecies = 0.5;
    private const double OddFish = 0.02;
    private const double OddHook = 0.01;

    /// <summary>Tellings as usual, no hook slipped: slips are put in here.</summary>
    private static readonly TellingMix Unslipped = new(0.5, 0.25, 0.2, 0);

    private sealed class Count
    {
        public int Injected { get; set; }
        public int Refused { get; set; }
        public int Caught { get; set; }
        public int Held { get; set; }
    }

    public static void Run(int boats, int first, int seeds)
    {
        var slips = Slips.All.ToDictionary(s => s.Name, _ => new Count());
        var (good, flagged, held) = (0, 0, 0);
        var codes = new Dictionary<string, int>(StringComparer.Ordinal);
        foreach (var seed in Enumerable.Range(first, seeds))
        {
            var fleet = new SimulatedFleet(seed, boats);
            var telling = new Telling(fleet, Unslipped);
            var random = fleet.Stream(5);
            var seen = new List<ReportMeasures>();
            var before = new Dictionary<string, ReportMeasures>(StringComparer.Ordinal);
            foreach (var day in telling.Told.GroupBy(t => t.Day.Day))
            {
                seen.RemoveAll(r => r.FishedOn <= Telling.DateOf(day.Key).AddDays(-Windows.Display));
                var profile = CoastProfile.Of([.. seen]);
                foreach (var (boatDay, document) in day)
                {
                    var (report, most) = Retold(fleet, boatDay, document, random);
                    var (honest, doubts) = Doubt(report)!.Value;
                    var wrong = Slips.All.Select(s => (s, Slipped: s.Make(report, most, random))).ToList();
                    if (boatDay.Day >= FirstScored)
                    {
                        good++;
                        flagged += doubts.Count > 0 ? 1 : 0;
                        held += doubts.Any(d => d.Holding) ? 1 : 0;
                        foreach (var code in doubts.Select(d => d.Code).Distinct())
                        {
                            codes[code] = codes.GetValueOrDefault(code) + 1;
                        }

                        foreach (var (slip, slipped) in wrong.Where(w => w.Slipped is not null))
                        {
                            var count = slips[slip.Name];
                            count.Injected++;
                            if (Doubt(slipped!) is not var (_, raised))
                            {
                                count.Refused++;
                                continue;
                            }

                            count.Caught += raised.Any(f =>
                                f.Pointer.StartsWith(slip.Pointer, StringComparison.Ordinal)
                            )
                                ? 1
                                : 0;
                            count.Held += raised.Any(f => f.Holding) ? 1 : 0;
                        }
                    }

                    var stored =
                        random.Happens(SlipsInHistory)
                        && wrong[random.Next(wrong.Count)].Slipped is { } typed
                        && Doubt(typed) is var (mistaken, about)
                        && !about.Any(f => f.Holding)
                            ? mistaken
                            : honest;
                    var measures = ReportMeasures.Of(stored);
                    seen.Add(measures);
                    before[stored.Boat] = measures;
                }

                (CatchReport Report, IReadOnlyList<ReportFlag> Flags)? Doubt(JsonObject document)
                {
                    using var json = JsonDocument.Parse(document.ToJsonString());
                    return ReportReader.Read(json.RootElement, telling.Register, Telling.Now).Value is { } report
                        ? (
                            report,
                            FlagRules.Of(report, telling.Register, profile, [], before.GetValueOrDefault(report.Boat))
                        )
                        : null;
                }
            }
        }

        ClaimsVerb.Print($"{boats} boats, {seeds} seeds from {first}");
        foreach (var (name, c) in slips)
        {
            var let = c.Injected - c.Refused;
            ClaimsVerb.Print(
                $"{name, -32}injected {c.Injected, 6}  refused {c.Refused, 5}  caught {ClaimsVerb.Share(c.Caught, let), -40}held {c.Held}"
            );
        }

        ClaimsVerb.Print($"{"good reports flagged", -32}{ClaimsVerb.Share(flagged, good)}, held {held}");
        foreach (var (code, count) in codes.OrderByDescending(c => c.Value))
        {
            ClaimsVerb.Print($"  {code, -30}{ClaimsVerb.Share(count, good)}");
        }
    }

    /// <summary>
    /// The report as it may be of another species, with a second row now and then, and now and then odd but honest; and the heaviest
    /// fish in lb that its sea held.
    /// </summary>
    private static (JsonObject Report, double Most) Retold(
        SimulatedFleet fleet,
        BoatDay day,
        string document,
        Random random
    )
    {
        var report = JsonNode.Parse(document)!.AsObject();
        var line = report["catch"]![0]!.AsObject();
        var metric = (string?)report["units"]!["weight"] == "kg";
        var most = fleet.Schools(day.Day, day.Zone).Where(s => s.Share > 0.01).Max(s => Heaviest(s.School));
        if (random.Happens(OtherSpecies))
        {
            var (code, schools) = Trade[random.Next(Trade.Length)];
            most = schools.Max(Heaviest);
            line["species"] = code;
            foreach (var rig in report["rigs"] as JsonArray ?? [])
            {
                rig!["species"] = code;
            }

            if (line["largest"] is not null)
            {
                var fish = (int)line["kept"]! + ((int?)line["released"] ?? 0);
                Size(line, Met(schools, random), fish, metric, random);
            }
        }

        if (random.Happens(0.25))
        {
            var (code, schools) = Trade[random.Next(Trade.Length)];
            if ((string?)line["species"] != code)
            {
                var second = new JsonObject
                {
                    ["species"] = code,
                    ["kept"] = random.Next(1, 6),
                    ["released"] = 0,
                };
                Size(second, Met(schools, random), (int)second["kept"]!, metric, random);
                report["catch"]!.AsArray().Add((JsonNode)second);
            }
        }

        if (line["largest"] is { } largest && (int)line["kept"]! > 1 && random.Happens(OddFish))
        {
            // One fish of another age than its school.
            line["largest"] = Math.Round((double)largest * random.Between(1.4, 1.9));
        }

        if (report["rigs"] is JsonArray rigs && random.Happens(OddHook))
        {
            var hook = rigs[random.Next(rigs.Count)]!["hook"]!.AsObject();
            var step = Reports.Domain.Measures.HookSize.TryParse((string?)hook["size"], out var size) ? size.Step : 0;
            hook["size"] = Reports
                .Domain.Measures.HookSize.FromStep(step + (random.Happens(0.5) ? 1 : -1) * random.Next(2, 4))
                .ToString();
        }

        return (report, most);
    }

    /// <summary>Grades of the demo's trade: the first thrice as often as the second.</summary>
    private static readonly (string Species, School[] Schools)[] Trade =
    [
        ("ALB", [new(18, 0.25)]),
        ("YTC", [new(12, 0.25), new(36, 0.2)]),
        ("YFT", [new(20, 0.25), new(80, 0.22)]),
        ("DOL", [new(10, 0.35)]),
    ];

    private static double Heaviest(School school) => school.MedianLb * Math.Exp(4 * school.LogSpread);

    private static School Met(School[] schools, Random random) => schools[random.Happens(0.75) ? 0 : ^1];

    private static void Size(JsonObject line, School school, int fish, bool metric, Random random)
    {
        var median = school.MedianLb * Math.Exp(random.Noise(0.06));
        var weights = Enumerable
            .Range(0, fish)
            .Select(_ => median * Math.Exp(random.Noise(school.LogSpread)))
            .Order()
            .ToList();
        double Told(double lb) =>
            metric ? Math.Max(1, Math.Round(lb * 0.45359237))
            : lb > 30 ? Math.Round(lb / 5) * 5
            : Math.Max(1, Math.Round(lb));
        line.Remove("mostFrom");
        line.Remove("mostTo");
        (line["smallest"], line["largest"]) = (Told(weights[0]), Told(weights[^1]));
    }
}
