using System.Globalization;
using System.Text.Json;
using System.Text.Json.Nodes;
using NetTopologySuite.Geometries;
using Reports.Domain.Briefs;
using Reports.Domain.Coast;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;

namespace Reports.Benchmarks.Advice;

/// <summary>Shares of boats' reports by how much they tell of rigs; what is left tells nothing of them.</summary>
/// <param name="Tallies">Rods, hook-ups, fish landed and lost per rig.</param>
/// <param name="Words">Only how many rods fished each rig, in words, and which won.</param>
/// <param name="WinnerOnly">Only the rig that worked best.</param>
/// <param name="Slips">Of the hooks told, those with a lost or an added aught.</param>
internal sealed record TellingMix(double Tallies, double Words, double WinnerOnly, double Slips = 0.015);

/// <summary>
/// Tells a fleet's season as documents of the report contract: rounded, now and then slipped, by some a little embellished, by
/// some not at all.
/// </summary>
internal sealed class Telling
{
    public const string Species = "SBF";
    private const int MostRigLines = 5;
    private const int MostTallied = 16;
    private const double Silent = 0.08;

    /// <summary>After the season's last day: the reader refuses days to come.</summary>
    public static readonly DateTimeOffset Now = new(2026, 12, 1, 0, 0, 0, TimeSpan.Zero);
    private static readonly DateOnly FirstDay = new(2026, 6, 1);

    private readonly Random random;
    private readonly TellingMix mix;
    private readonly double[] embellished;
    private readonly bool[] metric;

    public Telling(SimulatedFleet fleet, TellingMix mix)
    {
        this.mix = mix;
        random = fleet.Stream(4);
        embellished =
        [
            .. Enumerable.Range(0, fleet.Boats).Select(_ => random.Happens(0.25) ? random.Between(1.03, 1.15) : 1),
        ];
        metric = [.. Enumerable.Range(0, fleet.Boats).Select(_ => random.Happens(0.1))];
        Register = new Register(
            Enumerable
                .Range(0, SimulatedFleet.Landings)
                .Select(i => new Landing($"landing-{i}", $"Landing {i}", "UTC")),
            Enumerable
                .Range(0, fleet.Boats)
                .Select(i => new Boat(BoatCode(i), $"Boat {i}", $"landing-{i % SimulatedFleet.Landings}")),
            Enumerable
                .Range(0, SimulatedFleet.Zones)
                .Select(i => new Zone(ZoneCode(i), $"Zone {i}", "{}", Polygon.Empty, [])),
            [
                new Species(Species, "southern bluefin", "Thunnus maccoyii", SpeciesKind.Catch),
                new Species("ALB", "albacore", "Thunnus alalunga", SpeciesKind.Catch),
                new Species("YTC", "yellowtail", "Seriola lalandi", SpeciesKind.Catch),
                new Species("YFT", "yellowfin", "Thunnus albacares", SpeciesKind.Catch),
                new Species("DOL", "dolphinfish", "Coryphaena hippurus", SpeciesKind.Catch),
                new Species("PIL", "sardine", "Sardina pilchardus", SpeciesKind.Bait),
            ]
        );
        foreach (var outcome in fleet.Outcomes)
        {
            // Drawn for each, so that a variant's mix leaves every other draw as it was.
            var teller = random.Next();
            var silent = random.Happens(Silent);
            Trips.Add(
                (
                    ZoneCode(outcome.Day.Zone),
                    new KnownTrip(BoatCode(outcome.Day.Boat), DateOf(outcome.Day.Day), 1, !silent)
                )
            );
            if (!silent)
            {
                Told.Add((outcome.Day, Document(outcome, new Random(teller)).ToJsonString()));
            }
        }

        Reports =
        [
            .. Documents
                .Select(Read)
                .OrderBy(m => m.FishedOn)
                .ThenBy(m => m.Zone, StringComparer.Ordinal)
                .ThenBy(m => m.Boat, StringComparer.Ordinal),
        ];
    }

    public Register Register { get; }

    /// <summary>The season's reports as JSON of the contract, by day and boat.</summary>
    public IEnumerable<string> Documents => Told.Select(t => t.Document);

    /// <summary>The same with what each tells of.</summary>
    public List<(BoatDay Day, string Document)> Told { get; } = [];
    public IReadOnlyList<ReportMeasures> Reports { get; }
    private List<(string Zone, KnownTrip Trip)> Trips { get; } = [];

    public static DateOnly DateOf(int day) => FirstDay.AddDays(day);

    private static string BoatCode(int boat) => $"boat-{boat}";

    public static string ZoneCode(int zone) => $"zone-{zone}";

    /// <summary>What the store would hand over as of a day.</summary>
    public Evidence Evidence(int asOfDay, int zone)
    {
        var asOf = DateOf(asOfDay);
        return new Evidence(
            ZoneCode(zone),
            Species,
            asOf,
            [.. Reports.Where(r => r.FishedOn <= asOf && r.FishedOn > asOf.AddDays(-Windows.Mechanics))],
            [
                .. Trips
                    .Where(t => t.Zone == ZoneCode(zone))
                    .Select(t => t.Trip)
                    .Where(t => t.Date <= asOf && t.Date > asOf.AddDays(-Windows.Display)),
            ],
            null
        );
    }

    private ReportMeasures Read(string document)
    {
        using var json = JsonDocument.Parse(document);
        var reading = ReportReader.Read(json.RootElement, Register, Now);
        return reading.Value is { } report
            ? ReportMeasures.Of(report)
            : throw new InvalidOperationException(
                $"{document} is refused: {string.Join("; ", reading.Errors.Select(e => $"{e.Pointer} {e.Detail}"))}"
            );
    }

    private JsonObject Document(Outcome outcome, Random teller)
    {
        var day = outcome.Day;
        var kg = metric[day.Boat];
        var document = new JsonObject
        {
            ["boat"] = BoatCode(day.Boat),
            ["zone"] = ZoneCode(day.Zone),
            ["fishedOn"] = DateOf(day.Day).ToString("yyyy-MM-dd", CultureInfo.InvariantCulture),
            ["tripDays"] = 1,
            ["anglers"] = day.Anglers,
            ["units"] = new JsonObject { ["weight"] = kg ? "kg" : "lb", ["length"] = kg ? "cm" : "in" },
            ["catch"] = new JsonArray(Catch(outcome, kg, teller)),
        };
        if (teller.Happens(0.8))
        {
            document["hours"] = day.Hours;
        }

        if (teller.Happens(0.85))
        {
            document["bite"] = Word(outcome, teller);
        }

        if (teller.Happens(0.85))
        {
            // A tank full of bait is of one length, give or take.
            var (from, to) = (day.BaitMm - teller.Between(6, 20), day.BaitMm + teller.Between(6, 20));
            double Told(double mm) => kg ? Math.Round(mm / 10) : Math.Round(mm / 25.4 * 2) / 2;
            document["bait"] = new JsonObject
            {
                ["species"] = "PIL",
                ["shortest"] = Told(from),
                ["longest"] = Told(to),
            };
        }

        if (Rigs(outcome, kg, teller) is { Count: > 0 } rigs)
        {
            document["rigs"] = rigs;
        }

        return document;
    }

    private JsonObject Catch(Outcome outcome, bool kg, Random teller)
    {
        var fish = Embellished(outcome.Fish, outcome.Day.Boat);
        var line = new JsonObject { ["species"] = Species, ["kept"] = fish };
        var (sizes, word, top, released) = (
            teller.Happens(0.88),
            teller.NextDouble(),
            teller.Happens(0.4),
            teller.Happens(0.8)
        );
        if (released || fish == 0)
        {
            var back =
                fish == 0 ? 0
                : teller.Happens(0.2) ? Math.Min(fish - 1, teller.Next(1, 4))
                : 0;
            line["kept"] = fish - back;
            line["released"] = back;
        }

        if (outcome.StoppedAtLimit)
        {
            line["limit"] = true;
        }

        if (fish == 0)
        {
            return line;
        }

        var withFish = outcome.PerAngler.Count(n => n > 0);
        if (word < 0.5)
        {
            line["anglersWithFish"] = withFish;
        }
        else if (word < 0.75)
        {
            line["anglersWithFish"] = ((double)withFish / outcome.Day.Anglers) switch
            {
                < 0.35 => "few",
                < 0.62 => "half",
                < 0.85 => "most",
                _ => "nearly-all",
            };
        }

        if (top)
        {
            line["topRod"] = outcome.PerAngler.Max();
        }

        if (sizes)
        {
            var sorted = outcome.WeightsLb.Order().ToList();
            double Told(double lb) =>
                kg ? Math.Max(1, Math.Round(lb * 0.45359237))
                : lb > 30 || teller.Happens(0.3) ? Math.Max(5, Math.Round(lb / 5) * 5)
                : Math.Round(lb);
            var smallest = Told(sorted[0]);
            var largest = sorted.Count == 1 ? smallest : Math.Max(smallest, Told(sorted[^1]));
            (line["smallest"], line["largest"]) = (smallest, largest);
            if (sorted.Count >= 8 && teller.Happens(0.2))
            {
                var from = Math.Clamp(Told(sorted[(int)(0.05 * sorted.Count)]), smallest, largest);
                (line["mostFrom"], line["mostTo"]) = (
                    from,
                    Math.Clamp(Told(sorted[(int)(0.95 * sorted.Count)]), from, largest)
                );
            }

            if (outcome.LostHeavy > 0 && teller.Happens(0.5))
            {
                line["lostHeavy"] = outcome.LostHeavy;
            }
        }

        return line;
    }

    /// <summary>The crew's word: the mood as they see it, and a bad day is slow.</summary>
    private static string Word(Outcome outcome, Random teller)
    {
        var mood = outcome.Day.Mood + teller.Noise(0.5);
        return outcome.Fish < 0.25 * outcome.Day.Anglers ? "slow"
            : mood < -1.7 ? "picky"
            : mood < -0.7 ? "steady"
            : "wide-open";
    }

    private JsonArray Rigs(Outcome outcome, bool kg, Random teller)
    {
        var kind = teller.NextDouble();
        var (tallies, words) = (kind < mix.Tallies, kind < mix.Tallies + mix.Words);
        var rods = outcome.Rigs.Values.Sum(t => t.Rods);
        // What one rod fished for a spell nobody counts.
        var told = outcome
            .Rigs.Where(r => r.Value.Rods > 0.5 || r.Key == outcome.Winner)
            .OrderByDescending(r => r.Key == outcome.Winner)
            .ThenByDescending(r => r.Value.Rods)
            .ThenBy(r => r.Key.RungLb)
            .ThenBy(r => r.Key.Step)
            .ThenBy(r => r.Key.Technique)
            .Take(
                tallies ? MostTallied
                : words ? MostRigLines
                : kind < mix.Tallies + mix.Words + mix.WinnerOnly && outcome.Winner is not null ? 1
                : 0
            );
        var lines = new JsonArray();
        foreach (var (rig, tally) in told)
        {
            var line = Line(rig, kg, teller);
            if (rig == outcome.Winner)
            {
                line["winning"] = true;
            }

            if (tallies)
            {
                line["rods"] = Math.Max(1, (int)Math.Round(tally.Rods));
                var landed = Embellished(tally.Landed, outcome.Day.Boat);
                line["hooked"] = tally.Hooked + landed - tally.Landed;
                line["landed"] = landed;
                line["brokenOff"] = tally.BrokenOff;
            }
            else if (words)
            {
                line["use"] = (tally.Rods / rods) switch
                {
                    > 0.4 => "most",
                    > 0.15 => "some",
                    _ => "few",
                };
            }

            lines.Add((JsonNode)line);
        }

        return lines;
    }

    private JsonObject Line(Rig rig, bool kg, Random teller)
    {
        var size = HookSize.FromStep(rig.Step);
        // The commonest slip: a lost or an added aught.
        if (teller.Happens(mix.Slips) && size.Number <= 9)
        {
            size = size.IsAught ? HookSize.Plain(size.Number) : HookSize.Aught(size.Number);
        }

        var line = new JsonObject
        {
            ["species"] = Species,
            ["lineClass"] = kg ? LineClass.Kg(rig.RungLb) : rig.RungLb,
            ["hook"] = new JsonObject { ["style"] = rig.Style.Word(), ["size"] = size.ToString() },
        };
        if (rig.Technique != Technique.FlyLine)
        {
            line["technique"] = rig.Technique.Word();
        }

        return line;
    }

    private int Embellished(int fish, int boat) => (int)Math.Round(fish * embellished[boat]);
}
