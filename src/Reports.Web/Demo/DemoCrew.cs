using System.Globalization;
using System.Text.Encodings.Web;
using System.Text.Json;
using System.Text.Json.Nodes;
using Reports.Domain.Coast;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;

namespace Reports.Web.Demo;

/// <summary>
/// What a crew tells of a haul: a document of the report contract, with the gaps, the rounding and the rare slips of people who
/// are busy with something else.
/// </summary>
internal sealed class DemoCrew
{
    private const double SlipShare = 0.01;
    private const double SoFarShare = 1.0 / 250;

    private static readonly JsonSerializerOptions Plain = new()
    {
        Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping,
    };

    private static readonly string[] Notes =
    [
        "Clear water, light wind.",
        "Best in the last two hours.",
        "Current ran hard until noon.",
        "Fish came up twice and went down again.",
        "Slow start, better after the tide turned.",
        "Long drifts, short bites.",
        "Swell from the south-west.",
    ];

    private readonly FleetBoat boat;
    private readonly Draws draws;
    private readonly bool metric;

    private DemoCrew(FleetBoat boat, Draws draws)
    {
        this.boat = boat;
        this.draws = draws;
        metric = IsMetric(boat);
    }

    /// <summary>Boats that work in kg and cm.</summary>
    private static bool IsMetric(FleetBoat boat) => boat.Index % 7 == 3;

    private bool CountsRigs => boat.Index % 3 == 0;

    private bool CountsAnglers => boat.Index % 3 != 1;

    /// <summary>Rounds what is judged by eye to the nearest five above 30 lb, where others say the pound.</summary>
    private bool RoundsToFive => boat.Index % 2 == 0;

    private bool MeasuresGape => boat.Index % 8 == 2;

    /// <summary>The reports of one sailing, one per zone, in the order of the zones fished.</summary>
    public static IEnumerable<DemoReport> Reports(Trip trip, DemoTruth truth)
    {
        for (var stop = 0; stop < trip.Zones.Count; stop++)
        {
            var zone = trip.Zones[stop];
            var key = (trip.FishedOn.DayNumber, trip.Boat.Index, trip.Sailing, stop);
            var fishing = new Draws("fishing", key.DayNumber, key.Index, key.Sailing, stop);
            var telling = new Draws("telling", key.DayNumber, key.Index, key.Sailing, stop);
            var crew = new DemoCrew(trip.Boat, telling);
            yield return crew.Tell(trip, zone, stop, truth, fishing);
        }
    }

    private DemoReport Tell(Trip trip, string zone, int stop, DemoTruth truth, Draws fishing)
    {
        // A second zone takes a third of the time.
        var time =
            trip.Zones.Count == 1 ? 1
            : stop == 0 ? 2.0 / 3
            : 1.0 / 3;
        var bait = truth.Bait(boat.Boat.Landing);
        var hauls = Hauls(trip, zone, time, truth, bait, fishing);
        var uuid = draws.Uuid();
        var soFar = draws.Chance(SoFarShare);
        var document = Document(trip, zone, time, hauls, bait, soFar);
        var slip = draws.Chance(SlipShare) ? Slip(document) : null;
        return new DemoReport(
            boat.Boat.Code,
            zone,
            trip.FishedOn,
            trip.Sailing,
            uuid,
            ReceivedAt(trip, stop, soFar),
            document.ToJsonString(Plain),
            soFar,
            slip
        );
    }

    private List<Haul> Hauls(Trip trip, string zone, double time, DemoTruth truth, DemoBait bait, Draws fishing)
    {
        var grounds = truth.Grounds.Where(g => g.Zone == zone).ToList();
        var hauls = new List<Haul>();
        foreach (var ground in grounds)
        {
            if (fishing.Chance(ground.Target))
            {
                hauls.Add(
                    DemoFishing.Fish(
                        fishing,
                        ground,
                        bait.MedianInches,
                        trip.Anglers,
                        DemoCoast.Effort(boat.TripDays) * time,
                        boat.Skill,
                        DemoCoast.LimitPerAnglerDay * trip.DaysFished
                    )
                );
            }
        }

        return hauls;
    }

    private JsonObject Document(Trip trip, string zone, double time, List<Haul> hauls, DemoBait bait, bool soFar)
    {
        var document = new JsonObject
        {
            ["boat"] = boat.Boat.Code,
            ["zone"] = zone,
            ["fishedOn"] = trip.FishedOn.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture),
        };
        if (trip.Sailing > 1 || draws.Chance(0.5))
        {
            document["sailing"] = trip.Sailing;
        }

        if (draws.Chance(0.9))
        {
            document["tripDays"] = boat.TripDays;
        }

        if (trip.DaysFished > 1)
        {
            document["daysCovered"] = trip.DaysFished;
        }

        if (soFar)
        {
            document["status"] = ReportStatus.SoFar.Word();
        }
        else if (draws.Chance(0.3))
        {
            document["status"] = ReportStatus.Final.Word();
        }

        document["anglers"] = trip.Anglers;
        if (draws.Chance(0.1))
        {
            document["crewFished"] = draws.Chance(0.5);
        }

        if (draws.Chance(0.7))
        {
            document["hours"] = Hours(trip, time);
        }

        if (draws.Chance(0.75))
        {
            document["bite"] = BiteWord(hauls[0]).Word();
        }

        if (metric)
        {
            document["units"] = new JsonObject { ["weight"] = "kg", ["length"] = "cm" };
        }
        else if (draws.Chance(0.3))
        {
            document["units"] = new JsonObject { ["weight"] = "lb", ["length"] = "in" };
        }

        document["catch"] = new JsonArray([.. hauls.Select(h => (JsonNode)CatchLine(h))]);
        if (draws.Chance(0.25))
        {
            document["bait"] = Bait(bait);
        }

        JsonNode[] rigs = [.. hauls.SelectMany((h, i) => i == 0 || draws.Chance(0.3) ? RigLines(h) : [])];
        if (rigs.Length > 0)
        {
            document["rigs"] = new JsonArray(rigs);
        }

        if (draws.Chance(0.35))
        {
            document["signs"] = Signs();
        }

        if (draws.Chance(0.12))
        {
            document["note"] = Notes[draws.Below(Notes.Length)];
        }

        return document;
    }

    private double Hours(Trip trip, double time)
    {
        var full = boat.TripDays switch
        {
            <= 0.5m => 4,
            <= 0.75m => 5,
            <= 1 => 6.5,
            _ => 9,
        };
        var hours = full * trip.DaysFished * time * draws.Uniform(0.85, 1.15);
        return Math.Max(0.5, Math.Round(hours * 2) / 2);
    }

    private Bite BiteWord(Haul haul)
    {
        // The word follows the boat's own slope, with the crew's noise; few fish are called slow whatever they do.
        var slope = haul.Slope + 0.3 * draws.Normal();
        return haul.HookUps.Count < 0.25 * haul.Anglers ? Bite.Slow
            : slope < -1.15 ? Bite.Picky
            : slope < -0.6 ? Bite.Steady
            : Bite.WideOpen;
    }

    private JsonObject CatchLine(Haul haul)
    {
        var weights = haul.Landed.Select(h => h.WeightLb).Order().ToList();
        var fish = weights.Count;
        var released = haul.Landed.Count(h => draws.Chance(h.Heavy ? 0.03 : 0.08));
        var line = new JsonObject { ["species"] = haul.Ground.Species, ["kept"] = fish - released };
        if (fish == 0 || draws.Chance(0.75))
        {
            line["released"] = released;
        }

        if (fish > 0)
        {
            if (draws.Chance(0.85))
            {
                Sizes(line, weights);
            }

            AnglersWithFish(line, haul);
            if (haul.Limited)
            {
                line["limit"] = true;
            }
        }

        var lostHeavy = haul.HookUps.Count(h => h.Heavy && h.Fate != Fate.Landed);
        if (lostHeavy > 0 && draws.Chance(0.6))
        {
            line["lostHeavy"] = lostHeavy;
        }

        return line;
    }

    private void Sizes(JsonObject line, List<double> weights)
    {
        var weighed = draws.Chance(weights[^1] > 60 ? 0.6 : 0.15);
        var largest = weighed ? Math.Round(Given(weights[^1]), 1) : ByEye(weights[^1]);
        var smallest = Math.Min(ByEye(weights[0]), largest);
        line["smallest"] = smallest;
        line["largest"] = largest;
        if (weights.Count >= 8 && draws.Chance(0.3))
        {
            double At(double share) => weights[(int)Math.Round(share * (weights.Count - 1))];
            line["mostFrom"] = Math.Clamp(ByEye(At(0.05)), smallest, largest);
            line["mostTo"] = Math.Clamp(ByEye(At(0.95)), smallest, largest);
        }

        if (weighed)
        {
            line["weighed"] = true;
        }
    }

    private void AnglersWithFish(JsonObject line, Haul haul)
    {
        var landed = haul.Landed.GroupBy(h => h.Angler).Select(g => g.Count()).ToList();
        if (CountsAnglers && draws.Chance(0.6))
        {
            line["anglersWithFish"] = landed.Count;
            line["topRod"] = landed.Max();
        }
        else if (draws.Chance(0.25))
        {
            var share = (double)landed.Count / haul.Anglers;
            line["anglersWithFish"] = (
                share >= 0.8 ? AnglerShare.NearlyAll
                : share >= 0.55 ? AnglerShare.Most
                : share >= 0.35 ? AnglerShare.Half
                : AnglerShare.Few
            ).Word();
        }
    }

    private IEnumerable<JsonNode> RigLines(Haul haul)
    {
        var landed = haul.Rigs.Select((_, i) => haul.Landed.Count(h => h.Rig == i)).ToList();
        var winner = landed.Max() > 0 ? landed.IndexOf(landed.Max()) : -1;
        if (draws.Chance(CountsRigs ? 0.6 : 0.1))
        {
            return haul.Rigs.Select(
                (r, i) =>
                {
                    var line = RigLine(haul, r);
                    line["rods"] = r.Rods;
                    line["hooked"] = haul.HookUps.Count(h => h.Rig == i);
                    line["landed"] = landed[i];
                    foreach (var (name, fate) in Losses)
                    {
                        if (haul.HookUps.Count(h => h.Rig == i && h.Fate == fate) is > 0 and var lost)
                        {
                            line[name] = lost;
                        }
                    }

                    return Winning(line, i == winner);
                }
            );
        }

        if (draws.Chance(0.15))
        {
            return haul.Rigs.Select(
                (r, i) =>
                {
                    var line = RigLine(haul, r);
                    var share = (double)r.Rods / haul.Anglers;
                    line["use"] = (
                        share > 0.5 ? RigUse.Most
                        : share > 0.2 ? RigUse.Some
                        : RigUse.Few
                    ).Word();
                    return Winning(line, i == winner);
                }
            );
        }

        return winner >= 0 && draws.Chance(0.55) ? [Winning(RigLine(haul, haul.Rigs[winner]), true)] : [];
    }

    private static readonly (string Name, Fate Fate)[] Losses =
    [
        ("brokenOff", Fate.BrokenOff),
        ("pulled", Fate.Pulled),
        ("straightened", Fate.Straightened),
    ];

    private static JsonObject Winning(JsonObject line, bool winning)
    {
        if (winning)
        {
            line["winning"] = true;
        }

        return line;
    }

    private JsonObject RigLine(Haul haul, FishedRig rig)
    {
        var line = new JsonObject { ["species"] = haul.Ground.Species };
        if (rig.Technique != Technique.FlyLine || draws.Chance(0.3))
        {
            line["technique"] = rig.Technique.Word();
        }

        var test = metric ? LineClass.Kg(rig.LineLb) : rig.LineLb;
        line["lineClass"] = test;
        if (draws.Chance(0.6))
        {
            line["leader"] = new JsonObject { ["material"] = LeaderMaterial.Fluorocarbon.Word(), ["test"] = test };
        }

        if (rig.LineLb >= 40 && draws.Chance(0.4))
        {
            var braid = LineClass.Above(rig.LineLb) ?? rig.LineLb;
            line["mainLine"] = new JsonObject
            {
                ["material"] = MainLineMaterial.Braid.Word(),
                ["test"] = metric ? LineClass.Kg(braid) : braid,
            };
        }

        var hook = new JsonObject { ["style"] = rig.Style.Word(), ["size"] = HookSize.FromStep(rig.Step).ToString() };
        if (MeasuresGape)
        {
            // Invented, like the rest: no published table of gape by packet number is known.
            hook["gapeMm"] = Math.Round(8.5 * Math.Exp(0.12 * rig.Step) * (rig.Style == HookStyle.J ? 1.1 : 1), 1);
        }

        if (draws.Chance(0.3))
        {
            hook["wire"] = (
                rig.LineLb >= 60 ? HookWire.Heavy
                : rig.LineLb <= 20 ? HookWire.Light
                : HookWire.Regular
            ).Word();
        }

        line["hook"] = hook;
        if (rig.Technique is Technique.Sinker or Technique.Drop)
        {
            line["weightOz"] = rig.Technique == Technique.Sinker ? 1 + draws.Below(6) : 6 + 2 * draws.Below(3);
        }

        return line;
    }

    private JsonNode Bait(DemoBait bait)
    {
        var landings = BaitLine(bait);
        if (boat.Kind is not (TripKind.Overnight or TripKind.MultiDay) || !draws.Chance(0.3))
        {
            return landings;
        }

        // Far boats carry mackerel too. It is told only: the model fishes the landing's bait.
        return new JsonArray(
            landings,
            new JsonObject
            {
                ["species"] = "MAS",
                ["shortest"] = Long(7),
                ["longest"] = Long(9),
            }
        );
    }

    private JsonObject BaitLine(DemoBait bait)
    {
        var line = new JsonObject
        {
            ["species"] = bait.Species,
            ["shortest"] = Long(bait.ShortestInches),
            ["longest"] = Long(bait.LongestInches),
        };
        if (draws.Chance(0.4))
        {
            line["condition"] = (draws.Chance(0.8) ? BaitCondition.Lively : BaitCondition.Weak).Word();
        }

        if (draws.Chance(0.3))
        {
            line["supply"] = (draws.Chance(0.8) ? BaitSupply.Plenty : BaitSupply.Short).Word();
        }

        return line;
    }

    private JsonObject Signs()
    {
        var surface = draws.Chance(0.55);
        var feet = 10 * (6 + draws.Below(15));
        return new JsonObject
        {
            ["surface"] = surface,
            ["depth"] = metric ? Math.Round(feet * 0.3048) : feet,
            ["birds"] = draws.Chance(0.2),
        };
    }

    /// <summary>
    /// Changes a document as a tired hand would, so that it is still accepted and worth a doubt. Null when the report has
    /// nothing to get wrong in the way drawn.
    /// </summary>
    private DemoSlip? Slip(JsonObject document)
    {
        var lines = document["catch"]!.AsArray().Select(l => l!.AsObject()).ToList();
        var sized = lines.Where(l => l.ContainsKey("largest")).ToList();
        var aughts = document["rigs"] is JsonArray rigs
            ? rigs.Select(r => r!["hook"]!.AsObject())
                .Where(h => ((string)h["size"]!).EndsWith("/0", StringComparison.Ordinal))
                .ToList()
            : [];
        var slip = (DemoSlip)
            draws.Pick([aughts.Count > 0 ? 2 : 0, sized.Count > 0 ? 1 : 0, sized.Count > 0 ? 1 : 0, 0.6]);
        switch (slip)
        {
            case DemoSlip.LostAught:
                var hook = aughts[0];
                hook["size"] = ((string)hook["size"]!)[..^2];
                break;
            case DemoSlip.OtherUnit:
                OtherUnit(document, sized);
                break;
            case DemoSlip.WildSize:
                var line = sized[0];
                line["largest"] = Math.Min(Math.Round((double)line["largest"]! * 10), metric ? 1300 : 2900);
                break;
            default:
                // A nought too many.
                if ((int)lines[0]["kept"]! == 0)
                {
                    return null;
                }

                lines[0]["kept"] = (int)lines[0]["kept"]! * 10;
                break;
        }

        return slip;
    }

    private void OtherUnit(JsonObject document, List<JsonObject> sized)
    {
        if (metric)
        {
            // Kilograms sent as if they were pounds.
            document.Remove("units");
            return;
        }

        foreach (var line in sized)
        {
            foreach (var name in new[] { "smallest", "mostFrom", "mostTo", "largest" }.Where(line.ContainsKey))
            {
                line[name] = Math.Max(1, Math.Round((double)line[name]! * 0.45359237));
            }
        }
    }

    /// <summary>In the unit of the boat.</summary>
    private double Given(double lb) => metric ? lb * 0.45359237 : lb;

    /// <summary>A weight as it is judged by eye: monotone, so that ranges keep their order.</summary>
    private double ByEye(double lb)
    {
        var given = Given(lb);
        return RoundsToFive && given >= 30 ? 5 * Math.Round(given / 5) : Math.Max(1, Math.Round(given));
    }

    /// <summary>A bait length to the half inch, or to the centimetre.</summary>
    private double Long(double inches) => metric ? Math.Round(inches * 2.54) : Math.Round(inches * 2) / 2;

    private DateTimeOffset ReceivedAt(Trip trip, int stop, bool soFar)
    {
        var hour =
            soFar ? draws.Uniform(10, 14)
            : draws.Chance(0.05) ? draws.Uniform(23, 25)
            : boat.Kind == TripKind.HalfDay ? (trip.Sailing == 1 ? draws.Uniform(12, 14.5) : draws.Uniform(17.5, 20))
            : draws.Uniform(16.5, 22);
        var local = trip.FishedOn.ToDateTime(TimeOnly.MinValue).AddMinutes(Math.Floor(hour * 60) + 2 * stop);
        return new DateTimeOffset(TimeZoneInfo.ConvertTimeToUtc(local, DemoCoast.Clock), TimeSpan.Zero);
    }
}
