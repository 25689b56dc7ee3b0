using System.Globalization;
using System.Net;
using System.Text.Json;
using System.Text.Json.Nodes;
using System.Text.RegularExpressions;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Api;

/// <summary>
/// What the document calls valid, the service takes: random bodies drawn from its schemas are stored, or refused for one of the
/// reasons listed here, each of which is beyond a schema: two fields that contradict one another, a code that the coast lacks.
/// </summary>
public sealed class SchemaBodiesTests(PostgresServer postgres)
{
    private const int Seed = 20261125;
    private const int Many = 100;

    private static readonly (string Code, string Where)[] BeyondSchemas =
    [
        ("unknown-boat", "/boat"),
        ("unknown-boat", "/owner"),
        ("unknown-landing", "/owner"),
        ("unknown-landing", "/landing"),
        ("unknown-landing", "/reach/N/landing"),
        ("unknown-zone", "/zone"),
        ("unknown-time-zone", "/timeZone"),
        ("unknown-species", "/(catch|rigs)/N/species"),
        ("unknown-bait", "/bait(/N)?/species"),
        // One of zone and position; a hook has a size unless its style is none; who a key acts for depends on its scope.
        ("required", "/zone"),
        ("zone-or-position", "/position"),
        ("required", "/rigs/N/hook/size"),
        ("required", "/owner"),
        ("not-applicable", "/owner"),
        ("outside-zones", "/position"),
        ("in-the-future", "/fishedOn"),
        ("too-early", "/fishedOn"),
        // Upper bounds that hang on the units, or on the days covered (a lower one the schema can say: IsBeyond).
        ("mixed-units", "/units/length"),
        ("out-of-range", "/catch/N/(smallest|largest|mostFrom|mostTo)"),
        ("out-of-range", "/rigs/N/(lineClass|leader/test|mainLine/test)"),
        ("out-of-range", "/bait(/N)?/(shortest|longest)"),
        ("out-of-range", "/signs/depth"),
        ("out-of-range", "/hours"),
        // The packet's ways of writing a size are too many for a pattern.
        ("unknown-hook-size", "/rigs/N/hook/size"),
        ("duplicate-species", "/(catch|bait)/N/species"),
        ("species-not-in-catch", "/rigs/N/species"),
        ("range-reversed", "/catch/N/(smallest|mostFrom)"),
        ("range-reversed", "/bait(/N)?/shortest"),
        ("outside-range", "/catch/N/(mostFrom|mostTo)"),
        ("top-rod-over-catch", "/catch/N/topRod"),
        ("no-top-rod", "/catch/N/topRod"),
        ("anglers-with-fish-over-catch", "/catch/N/anglersWithFish"),
        ("anglers-with-fish-over-anglers", "/catch/N/anglersWithFish"),
        ("no-angler-with-fish", "/catch/N/anglersWithFish"),
        ("size-without-fish", "/catch/N/(smallest|largest|mostFrom|mostTo)"),
        ("landed-and-lost-over-hooked", "/rigs/N/(landed|hooked)"),
        ("anglers-over-capacity", "/anglers"),
    ];

    private static readonly (string Operation, string Address)[] Puts =
    [
        ("putLanding", "/api/v1/landings/corran-quay"),
        ("putZone", "/api/v1/zones/cannery-bank"),
        ("putBoat", "/api/v1/boats/brown-skua"),
        ("putSpecies", "/api/v1/species/DOL"),
        ("putDeparture", "/api/v1/departures/grey-petrel/2026-11-28/1"),
        ("putDayBait", "/api/v1/landings/corran-quay/bait/2026-11-20"),
        ("createKey", "/api/v1/keys"),
    ];

    [Theory]
    [InlineData(DatabaseKind.Sqlite, Many)]
    [InlineData(DatabaseKind.Postgres, 40)]
    public async Task Bodies_that_the_document_calls_valid_are_taken_or_refused_for_what_no_schema_says(
        DatabaseKind database,
        int each
    )
    {
        await using var app = await ReportsApp.StartAsync(database, postgres);
        var fleet = await Fleet.SetUpCoastAsync(app);
        var random = new Random(Seed);
        var bodies = new SchemaBodies(ApiDocument.Written, random, p => Known(random, p));
        var standing = (await fleet.SubmitReportAsync(ReportBody.Short(Fleet.Petrel)));
        var seen = new HashSet<(string Code, string Where)>();
        var wrong = new List<string>();
        var taken = new Dictionary<string, int>();

        foreach (var (operation, address) in Puts)
        {
            await TryAsync(operation, each, address);
        }

        await TryAsync("createReport", 4 * each, "/api/v1/reports?replace=true");
        await TryAsync("createReports", each, "/api/v1/reports/batch");
        await TryAsync("correctReport", each, $"/api/v1/reports/{standing.Text("id")}");

        Assert.True(wrong.Count == 0, $"{wrong.Count}:\n{string.Join('\n', wrong.Distinct().Take(60))}");
        if (each >= Many)
        {
            // A reason that never comes up would excuse what nobody looked at.
            Assert.All(BeyondSchemas, b => Assert.True(seen.Any(r => Is(b, r)), $"{b} never came up"));
        }

        // A test of nothing but refusals would say nothing.
        Assert.All(taken, t => Assert.True(t.Value >= each / 3, $"of {t.Key} only {t.Value} were taken"));

        async Task TryAsync(string name, int times, string address)
        {
            var operation = ApiDocument.Written.Operations.Single(o =>
                o.Json["operationId"]!.GetValue<string>() == name
            );
            taken[name] = 0;
            var drawn = Enumerable.Range(0, times).Select(_ => Draw(name, operation)).ToList();
            var answers = new JsonObject[times];
            var statuses = new int[times];

            // Drawn in order, so that they are the same every time; sent together, so that they share the database's waits.
            await Parallel.ForEachAsync(
                Enumerable.Range(0, times),
                new ParallelOptions
                {
                    MaxDegreeOfParallelism = name == "correctReport" ? 1 : 8,
                    CancellationToken = TestContext.Current.CancellationToken,
                },
                async (i, _) =>
                {
                    using var answer = await fleet.SendAsync(
                        new HttpMethod(operation.Method),
                        address,
                        fleet.Admin,
                        drawn[i].ToJsonString(),
                        ("Idempotency-Key", Guid.NewGuid().ToString()),
                        ("If-Match", "*")
                    );
                    statuses[i] = (int)answer.StatusCode;
                    answers[i] = await answer.JsonAsync();
                }
            );
            foreach (var (body, status, answer) in drawn.Zip(statuses, answers))
            {
                if (answer["results"] is JsonArray results)
                {
                    foreach (var (report, result) in Reports(body).Zip(results.Select(r => r!.AsObject())))
                    {
                        Judge(name, report, result.Number("status"), result);
                    }
                }
                else
                {
                    Judge(name, body, status, answer);
                }
            }
        }

        JsonObject Draw(string name, ApiDocument.Operation operation)
        {
            var schema = operation.RequestContent!["schema"]!;
            var body = bodies.Draw(schema).AsObject();
            foreach (var report in Reports(body).Where(_ => random.Next(3) > 0))
            {
                Settle(report);
            }

            if (name == "correctReport")
            {
                // It moves no report to another boat, day or sailing.
                foreach (var member in new[] { "boat", "zone", "fishedOn", "sailing" })
                {
                    body[member] = standing[member]!.DeepClone();
                }

                body.Remove("position");
            }

            Assert.Empty(ApiDocument.Written.Faults(schema, body));
            return body;
        }

        void Judge(string name, JsonObject body, int status, JsonObject answer)
        {
            if (status is 200 or 201)
            {
                taken[name]++;
                return;
            }

            var errors = answer["errors"]?.AsArray().Select(e => e!.AsObject()).ToList() ?? [];
            if (status != (int)HttpStatusCode.BadRequest || errors.Count == 0)
            {
                wrong.Add($"{name}: {status} {answer.ToJsonString()} for {body.ToJsonString()}");
            }

            seen.UnionWith(errors.Select(Reason));
            wrong.AddRange(
                errors
                    .Where(e => !IsBeyond(e, body))
                    .Select(e => $"{name}: {e.ToJsonString()} for {body.ToJsonString()}")
            );
        }
    }

    /// <summary>The reports of a body: its own, or those of a batch.</summary>
    private static List<JsonObject> Reports(JsonObject body) =>
        body.ContainsKey("catch") ? [body]
        : body["reports"] is JsonArray batch ? [.. batch.Select(r => r!["report"]!.AsObject())]
        : [];

    /// <summary>Makes the fields of a report agree with one another, so that each is tried in reports that are taken.</summary>
    private static void Settle(JsonObject report)
    {
        report.Remove(report.ContainsKey("zone") ? "position" : "zone");
        if (!report.ContainsKey("position"))
        {
            report["zone"] ??= Fleet.Bank;
        }

        if (report["units"] is JsonObject units && units.ContainsKey("weight"))
        {
            units.Remove("length");
        }

        var anglers = report["anglers"]!.GetValue<int>();
        var lines = report["catch"]!.AsArray();
        foreach (var twin in lines.GroupBy(l => l!["species"]!.ToString()).SelectMany(g => g.Skip(1)).ToList())
        {
            lines.Remove(twin);
        }

        foreach (var line in lines.Select(l => l!.AsObject()))
        {
            var kept = Math.Max(1, line["kept"]!.GetValue<int>());
            line["kept"] = kept;
            Sort(line, 1361, "smallest", "mostFrom", "mostTo", "largest");
            Clamp(line, "topRod", 1, kept);
            Clamp(line, "anglersWithFish", 1, Math.Min(kept, anglers));
        }

        if (report["bait"] is JsonArray kinds)
        {
            report["bait"] = kinds.FirstOrDefault()?.DeepClone() ?? new JsonArray();
        }

        if (report["bait"] is JsonObject bait)
        {
            Sort(bait, 30, "shortest", "longest");
        }

        foreach (var rig in report["rigs"]?.AsArray().Select(r => r!.AsObject()) ?? [])
        {
            rig["species"] = lines[0]!["species"]!.DeepClone();
            rig.Remove("hooked");
            if (rig["hook"] is JsonObject hook)
            {
                hook["size"] ??= "2/0";
            }

            // kg allow less than lb.
            foreach (var tested in new[] { rig, rig["leader"] as JsonObject, rig["mainLine"] as JsonObject })
            {
                Sort(tested ?? [], 180, "lineClass");
                Sort(tested ?? [], 180, "test");
            }
        }

        Sort(report, 24, "hours");
        Sort(report["signs"] as JsonObject ?? [], 547, "depth");
    }

    /// <summary>Puts the numbers that are there into this order, none above the most.</summary>
    private static void Sort(JsonObject owner, decimal most, params string[] names)
    {
        var there = names.Where(owner.ContainsKey).ToList();
        var numbers = there.Select(n => Math.Min(most, owner[n]!.GetValue<decimal>())).Order().ToList();
        foreach (var (name, number) in there.Zip(numbers))
        {
            owner[name] = number;
        }
    }

    private static void Clamp(JsonObject owner, string name, int least, int most)
    {
        if (owner[name]?.GetValueKind() == JsonValueKind.Number)
        {
            owner[name] = Math.Clamp(owner[name]!.GetValue<int>(), least, most);
        }
    }

    private static bool IsBeyond(JsonObject error, JsonNode body) =>
        BeyondSchemas.Any(b => Is(b, Reason(error)))
        && (error.Text("code") != "out-of-range" || Refused(body, error.Text("pointer")) > 1);

    /// <summary>Code and place of an error, the numbers of lines left out.</summary>
    private static (string Code, string Where) Reason(JsonObject error) =>
        (error.Text("code"), Numberless(error["pointer"]?.GetValue<string>() ?? "no pointer"));

    private static bool Is((string Code, string Where) listed, (string Code, string Where) reason) =>
        listed.Code == reason.Code && Regex.IsMatch(reason.Where, $"^{listed.Where}$", RegexOptions.CultureInvariant);

    private static decimal Refused(JsonNode body, string pointer) =>
        pointer.Split('/')[1..].Aggregate((JsonNode?)body, Step)!.GetValue<decimal>();

    private static JsonNode? Step(JsonNode? here, string step) =>
        here switch
        {
            JsonObject members => members[step],
            JsonArray list => list[int.Parse(step, CultureInfo.InvariantCulture)],
            _ => null,
        };

    private static string Numberless(string pointer) => Regex.Replace(pointer, "/[0-9]+", "/N");

    /// <summary>What the coast has, nine times in ten.</summary>
    private static JsonNode? Known(Random random, string pointer)
    {
        JsonNode Pick(params JsonNode[] choices) => choices[random.Next(choices.Length)];
        var place = Regex.Replace(Numberless(pointer), "^/reports/N/report", "");
        return place switch
        {
            "/area" => Fleet.Zone("", 170.5m)["area"]!.DeepClone(),
            _ when random.Next(10) == 0 => null,
            "/timeZone" => Pick("UTC", "Pacific/Auckland", "America/St_Johns"),
            "/rigs/N/hook/size" => Pick("2/0", "1", "#4", "size 6", "12-0"),
            "/boat" => Pick(Fleet.Petrel, Fleet.Tern, "little-auk", "pied-shag"),
            "/zone" => Pick(Fleet.Bank, Fleet.Shelf, Fleet.Edge),
            "/landing" or "/reach/N/landing" => Pick(Fleet.Quay, Fleet.Dock),
            "/owner" => Pick(Fleet.Quay, Fleet.Petrel),
            "/catch/N/species" or "/rigs/N/species" => Pick("SBF", "ALB", "YTC"),
            "/bait/species" or "/bait/N/species" => Pick("PIL", "ANE"),
            "/position" => new JsonObject { ["latitude"] = -44.75m, ["longitude"] = 170.25m + (random.Next(3) / 2m) },
            _ => null,
        };
    }
}
