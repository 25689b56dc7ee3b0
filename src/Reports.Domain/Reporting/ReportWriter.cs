using System.Buffers;
using System.Globalization;
using System.Text;
using System.Text.Encodings.Web;
using System.Text.Json;
using System.Text.Json.Nodes;
using Reports.Domain.Measures;

namespace Reports.Domain.Reporting;

/// <summary>A doubt raised on a report: where, why in plain words, what was seen and what was expected.</summary>
/// <param name="Pointer">RFC 6901 pointer into the report.</param>
/// <param name="Code">For software, kebab-case.</param>
/// <param name="Holding">Out of the statistics until confirmed; otherwise advisory.</param>
public sealed record ReportFlag(string Pointer, string Code, string Reason, string Seen, string Expected, bool Holding);

/// <summary>
/// Writes a report in the contract's shape, numbers as they were given, with what the service adds. What it writes,
/// <see cref="ReportReader"/> reads back to an equal report (the private position aside).
/// </summary>
public static class ReportWriter
{
    private static readonly JsonSerializerOptions Relaxed = new()
    {
        Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping,
    };
    private static readonly JsonWriterOptions Options = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    /// <summary>One buffer per thread, written anew for each text.</summary>
    [ThreadStatic]
    private static ArrayBufferWriter<byte>? scratch;

    /// <summary>UTF-8 JSON without insignificant space: the bytes that are stored, answered and replayed.</summary>
    public static byte[] Write(
        CatchReport report,
        string id,
        int version,
        ReportState state,
        IReadOnlyList<ReportFlag> flags
    ) => Encoding.UTF8.GetBytes(Write(Fields(report), id, version, state, flags));

    /// <summary>The members of the written report that do not depend on the service, without the braces round them.</summary>
    public static string Fields(CatchReport report) =>
        Text(json =>
        {
            json.WriteStartObject();
            Fields(json, report);
            json.WriteEndObject();
        })[1..^1];

    /// <summary>The report of these members with what the service adds.</summary>
    public static string Write(
        string fields,
        string id,
        int version,
        ReportState state,
        IReadOnlyList<ReportFlag> flags
    ) =>
        string.Create(
            CultureInfo.InvariantCulture,
            $$"""{"id":"{{id}}","version":{{version}},"state":"{{state.Word()}}",{{fields}},"flags":{{Flags(flags)}}}"""
        );

    private static string Flags(IReadOnlyList<ReportFlag> flags) =>
        flags.Count == 0
            ? "[]"
            : Text(json =>
            {
                json.WriteStartArray();
                foreach (var flag in flags)
                {
                    json.WriteStartObject();
                    json.WriteString("pointer", flag.Pointer);
                    json.WriteString("code", flag.Code);
                    json.WriteString("reason", flag.Reason);
                    json.WriteString("seen", flag.Seen);
                    json.WriteString("expected", flag.Expected);
                    json.WriteBoolean("holding", flag.Holding);
                    json.WriteEndObject();
                }

                json.WriteEndArray();
            });

    private static string Text(Action<Utf8JsonWriter> write)
    {
        var buffer = scratch ??= new(4096);
        buffer.ResetWrittenCount();
        using (var json = new Utf8JsonWriter(buffer, Options))
        {
            write(json);
        }

        return Encoding.UTF8.GetString(buffer.WrittenSpan);
    }

    /// <summary>The same report as a later version with another state; every other byte stays.</summary>
    public static string Restate(string body, int version, ReportState state)
    {
        var report = JsonNode.Parse(body)!.AsObject();
        report["version"] = version;
        report["state"] = state.Word();
        return report.ToJsonString(Relaxed);
    }

    private static void Fields(Utf8JsonWriter json, CatchReport report)
    {
        json.WriteString("boat", report.Boat);
        json.WriteString("zone", report.Zone);
        json.WriteString("fishedOn", report.FishedOn.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture));
        json.WriteNumber("sailing", report.Sailing);
        Number(json, "tripDays", report.TripDays);
        json.WriteNumber("daysCovered", report.DaysCovered);
        json.WriteString("status", report.Status.Word());
        json.WriteNumber("anglers", report.Anglers);
        Flag(json, "crewFished", report.CrewFished);
        Number(json, "hours", report.Hours);
        Word(json, "bite", report.Bite);
        json.WriteStartObject("units");
        json.WriteString("weight", report.Units.Weight.Word());
        json.WriteString("length", report.Units.Length.Word());
        json.WriteString("depth", report.Units.Depth.Word());
        json.WriteEndObject();
        json.WriteStartArray("catch");
        foreach (var line in report.Catch)
        {
            Line(json, line);
        }

        json.WriteEndArray();
        if (report.Bait.Count > 0)
        {
            json.WritePropertyName("bait");
            Bait(json, report.Bait, report.BaitIsSingle);
        }

        if (report.Rigs.Count > 0)
        {
            json.WriteStartArray("rigs");
            foreach (var rig in report.Rigs)
            {
                Rig(json, rig);
            }

            json.WriteEndArray();
        }

        if (report.Signs is { } signs)
        {
            json.WriteStartObject("signs");
            Flag(json, "surface", signs.Surface);
            Number(json, "depth", signs.Depth?.Given);
            Flag(json, "birds", signs.Birds);
            json.WriteEndObject();
        }

        if (report.Note is not null)
        {
            json.WriteString("note", report.Note);
        }
    }

    private static void Line(Utf8JsonWriter json, CatchLine line)
    {
        json.WriteStartObject();
        json.WriteString("species", line.Species);
        json.WriteNumber("kept", line.Kept);
        Number(json, "released", line.Released);
        Number(json, "smallest", line.Smallest?.Given);
        Number(json, "largest", line.Largest?.Given);
        Number(json, "mostFrom", line.MostFrom?.Given);
        Number(json, "mostTo", line.MostTo?.Given);
        Flag(json, "weighed", line.Weighed);
        Flag(json, "limit", line.Limit);
        Number(json, "anglersWithFish", line.AnglersWithFish);
        Word(json, "anglersWithFish", line.AnglersWithFishWord);
        Number(json, "topRod", line.TopRod);
        Number(json, "lostHeavy", line.LostHeavy);
        json.WriteEndObject();
    }

    /// <summary>Bait as one object or a list.</summary>
    public static void Bait(Utf8JsonWriter json, IReadOnlyList<BaitLine> bait, bool single)
    {
        var list = !single || bait.Count != 1;
        if (list)
        {
            json.WriteStartArray();
        }

        foreach (var line in bait)
        {
            json.WriteStartObject();
            json.WriteString("species", line.Species);
            Number(json, "shortest", line.Shortest?.Given);
            Number(json, "longest", line.Longest?.Given);
            Word(json, "condition", line.Condition);
            Word(json, "supply", line.Supply);
            json.WriteEndObject();
        }

        if (list)
        {
            json.WriteEndArray();
        }
    }

    private static void Rig(Utf8JsonWriter json, RigLine rig)
    {
        json.WriteStartObject();
        json.WriteString("species", rig.Species);
        json.WriteString("technique", rig.Technique.Word());
        json.WriteNumber("lineClass", rig.LineClass.Given);
        if (rig.Leader is { } leader)
        {
            json.WriteStartObject("leader");
            json.WriteString("material", leader.Material.Word());
            Number(json, "test", leader.Test?.Given);
            json.WriteEndObject();
        }

        if (rig.MainLine is { } line)
        {
            json.WriteStartObject("mainLine");
            json.WriteString("material", line.Material.Word());
            Number(json, "test", line.Test?.Given);
            json.WriteEndObject();
        }

        if (rig.Hook is { } hook)
        {
            json.WriteStartObject("hook");
            json.WriteString("style", hook.Style.Word());
            if (hook.Size is { } size)
            {
                json.WriteString("size", size.ToString());
            }

            Number(json, "gapeMm", hook.GapeMm);
            Word(json, "wire", hook.Wire);
            Flag(json, "ringed", hook.Ringed);
            json.WriteEndObject();
        }

        Word(json, "use", rig.Use);
        Number(json, "rods", rig.Rods);
        Number(json, "hooked", rig.Hooked);
        Number(json, "landed", rig.Landed);
        Number(json, "brokenOff", rig.BrokenOff);
        Number(json, "pulled", rig.Pulled);
        Number(json, "straightened", rig.Straightened);
        Number(json, "weightOz", rig.WeightOz);
        json.WriteBoolean("winning", rig.Winning);
        json.WriteEndObject();
    }

    private static void Number(Utf8JsonWriter json, string name, decimal? value)
    {
        if (value is { } number)
        {
            json.WriteNumber(name, number);
        }
    }

    private static void Flag(Utf8JsonWriter json, string name, bool? value)
    {
        if (value is { } flag)
        {
            json.WriteBoolean(name, flag);
        }
    }

    private static void Word<T>(Utf8JsonWriter json, string name, T? value)
        where T : struct, Enum
    {
        if (value is { } word)
        {
            json.WriteString(name, word.Word());
        }
    }
}
