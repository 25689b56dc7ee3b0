using System.Text;
using System.Text.Json;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using static Reports.Domain.Tests.Reporting.ReportDocuments;

namespace Reports.Domain.Tests.Reporting;

/// <summary>The contract's rules for one report, each with the pointer and the code of its error.</summary>
public sealed class ReportReaderTests
{
    // 22 November, 20:00 at Corran Quay (ten hours behind) and 16:00 on the 23rd at Old Cannery Dock (ten ahead).
    private static readonly DateTimeOffset Now = new(2026, 11, 23, 6, 0, 0, TimeSpan.Zero);

    // --- What is accepted -------------------------------------------------------------------------------------------

    [Theory]
    [InlineData(Example)]
    [InlineData(Full)]
    [InlineData(Least)]
    public void A_good_report_is_written_back_as_what_reads_back_equal(string document)
    {
        var report = Good(Parse(document));
        var written = Write(report);
        var again = Good(Parse(Encoding.UTF8.GetString(written)), correction: true);
        Assert.Equal(Encoding.UTF8.GetString(written), Encoding.UTF8.GetString(Write(again)));
        Assert.Equal(ReportMeasures.Of(report).ToJson(), ReportMeasures.Of(again).ToJson());
    }

    [Fact]
    public void Everything_in_a_full_report_is_written_back_with_its_value()
    {
        var document = Parse(Full);
        var written = Parse(Encoding.UTF8.GetString(Write(Good(document))));
        Assert.All(
            Places(document),
            place =>
                Assert.Equal(
                    Convert.ToHexString(CanonicalJson.Hash(Scalar(place.Value))),
                    Convert.ToHexString(CanonicalJson.Hash(Scalar(Resolve(written, place.Pointer)!.Value)))
                )
        );

        // Objects and lists are compared by their members, which are places of their own.
        static JsonElement Scalar(JsonElement value) =>
            value.ValueKind switch
            {
                JsonValueKind.Object => Parse("{}"),
                JsonValueKind.Array => Parse($"[{value.GetArrayLength()}]"),
                _ => value,
            };
    }

    [Fact]
    public void The_example_is_read_as_it_says()
    {
        var report = Good(Parse(Example));
        Assert.Equal(new ReportKey("grey-petrel", "cannery-bank", new DateOnly(2026, 11, 20), 1), report.Key);
        Assert.Equal((24, 6.5m, Bite.Picky, 1m), (report.Anglers, report.Hours, report.Bite, report.TripDays));
        var line = Assert.Single(report.Catch);
        Assert.Equal(("SBF", 31, 4, 35), (line.Species, line.Kept, line.Released, line.Fish));
        Assert.Equal((new Weight(18, WeightUnit.Lb), new Weight(42, WeightUnit.Lb)), (line.Smallest, line.Largest));
        Assert.Equal((14, 4), (line.AnglersWithFish, line.TopRod));
        Assert.Equal(new Length(5, LengthUnit.In), Assert.Single(report.Bait).Longest);
        Assert.True(report.BaitIsSingle);
        var rig = Assert.Single(report.Rigs);
        Assert.Equal((Technique.FlyLine, new Weight(30, WeightUnit.Lb)), (rig.Technique, rig.LineClass));
        Assert.Equal(new Leader(LeaderMaterial.Fluorocarbon, new Weight(30, WeightUnit.Lb)), rig.Leader);
        Assert.Equal((HookStyle.Circle, HookSize.Aught(1)), (rig.Hook!.Style, rig.Hook.Size));
        Assert.Equal((9, 14, 12, true), (rig.Rods, rig.Hooked, rig.Landed, rig.Winning));
        Assert.Equal("", report.Note);
    }

    [Fact]
    public void What_is_not_said_has_its_default_or_is_unknown()
    {
        var report = Good(
            With(
                Least,
                ("/catch/0", """{ "species": "SBF", "kept": 3 }"""),
                ("/rigs", """[{ "species": "SBF", "lineClass": 30 }]""")
            )
        );
        Assert.Equal((1, 1, ReportStatus.Final), (report.Sailing, report.DaysCovered, report.Status));
        Assert.Equal(ReportUnits.Default, report.Units);
        Assert.Null(report.TripDays);
        Assert.Null(report.CrewFished);
        Assert.Empty(report.Bait);
        Assert.Null(report.Catch[0].Released);
        Assert.Equal(Technique.FlyLine, report.Rigs[0].Technique);
        Assert.False(report.Rigs[0].Winning);
        Assert.Null(report.Rigs[0].Hook);
    }

    [Theory]
    [InlineData("""{ "weight": "kg" }""", WeightUnit.Kg, LengthUnit.Cm, DepthUnit.M)]
    [InlineData("""{ "length": "cm" }""", WeightUnit.Kg, LengthUnit.Cm, DepthUnit.M)]
    [InlineData("""{ "weight": "kg", "depth": "ft" }""", WeightUnit.Kg, LengthUnit.Cm, DepthUnit.Ft)]
    [InlineData("""{ "weight": "lb" }""", WeightUnit.Lb, LengthUnit.In, DepthUnit.Ft)]
    [InlineData("""{ "depth": "fathom" }""", WeightUnit.Lb, LengthUnit.In, DepthUnit.Fathom)]
    [InlineData("{}", WeightUnit.Lb, LengthUnit.In, DepthUnit.Ft)]
    public void Weight_and_length_go_together(string json, WeightUnit weight, LengthUnit length, DepthUnit depth) =>
        Assert.Equal(new ReportUnits(weight, length, depth), Good(With(Least, ("/units", json))).Units);

    [Fact]
    public void Measures_are_stored_as_given_and_as_whole_grams_and_millimetres()
    {
        var measures = ReportMeasures.Of(Good(Parse(Full)));
        Assert.Equal((8500, 61200), (measures.Catch[0].SmallestGrams, measures.Catch[0].LargestGrams));
        Assert.Equal((105, 130), (measures.Bait[0].ShortestMm, measures.Bait[0].LongestMm));
        // A 15 kg line is the class that is called thirty; 18 fathoms are 108 ft of 304.8 mm.
        Assert.Equal((15000, 30), (measures.Rigs[0].LineClassGrams, measures.Rigs[0].RungLb));
        Assert.Equal(32918, measures.DepthMm);
        Assert.Equal(measures.ToJson(), ReportMeasures.FromJson(measures.ToJson()).ToJson());
    }

    [Fact]
    public void A_position_becomes_its_zone_and_is_written_nowhere()
    {
        var report = Good(
            With(Least, ("/zone", null), ("/position", """{ "latitude": -40.517, "longitude": 12.345 }"""))
        );
        Assert.Equal("south-trench", report.Zone);
        Assert.Equal(new Position(-40.517m, 12.345m), report.Position);
        var written = Encoding.UTF8.GetString(Write(report));
        Assert.DoesNotContain("position", written, StringComparison.Ordinal);
        Assert.DoesNotContain("40.517", written, StringComparison.Ordinal);
    }

    [Fact]
    public void A_correction_may_carry_what_the_service_added()
    {
        var written = Parse(Encoding.UTF8.GetString(Write(Good(Parse(Full)))));
        Good(written, correction: true);
        Assert.Equal(
            ["/flags unknown-field", "/id unknown-field", "/state unknown-field", "/version unknown-field"],
            Errors(written).Order()
        );
    }

    [Theory]
    // What the rule leaves open.
    [InlineData("/catch/0", """{ "species": "SBF", "kept": 3, "topRod": 5 }""")] // released unknown
    [InlineData("/catch/0", """{ "species": "SBF", "kept": 0, "smallest": 18 }""")] // released unknown
    [InlineData("/catch/0", """{ "species": "SBF", "kept": 0, "released": 2, "smallest": 18, "largest": 18 }""")]
    [InlineData("/catch/0", """{ "species": "SBF", "kept": 0, "released": 0, "anglersWithFish": 0, "topRod": 0 }""")]
    [InlineData("/catch/0", """{ "species": "SBF", "kept": 9, "anglersWithFish": "nearly all" }""")]
    [InlineData("/catch/0", """{ "species": "SBF", "kept": 9, "mostFrom": 18, "mostTo": 30, "largest": 68 }""")]
    [InlineData("/catch/0", """{ "species": "SBF", "kept": 9, "limit": true, "lostHeavy": 40 }""")]
    [InlineData("/bait", "[]")]
    [InlineData("/bait", """{ "species": "PIL" }""")]
    [InlineData("/bait", """[{ "species": "PIL" }, { "species": "ANE" }]""")]
    [InlineData("/rigs", "[]")]
    [InlineData(
        "/rigs",
        """[{"species":"SBF","lineClass":30,"hook":{"style":"circle","size":"1/0"},"winning":true}]"""
    )]
    [InlineData("/rigs", """[{"species":"SBF","lineClass":30,"leader":{"material":"none"}}]""")]
    [InlineData("/rigs", """[{"species":"SBF","lineClass":30,"hooked":4,"landed":2,"pulled":1,"brokenOff":1}]""")]
    [InlineData("/rigs", """[{"species":"SBF","lineClass":30,"landed":2}]""")]
    [InlineData("/signs", "{}")]
    [InlineData("/hours", "24")]
    [InlineData("/tripDays", "0.75")]
    [InlineData("/sailing", "9")]
    [InlineData("/sailing", "1.0")]
    [InlineData("/note", "null")]
    [InlineData("/crewFished", "null")]
    [InlineData("/fishedOn", "\"2026-11-22\"")] // today at the landing
    public void This_is_accepted(string pointer, string json) => Good(With(Least, (pointer, json)));

    // --- What is refused, one fault at a time -----------------------------------------------------------------------

    [Theory]
    // Required.
    [InlineData("/boat", null, "/boat", "required")]
    [InlineData("/boat", "null", "/boat", "required")]
    [InlineData("/boat", "\"\"", "/boat", "required")]
    [InlineData("/zone", null, "/zone", "required")]
    [InlineData("/fishedOn", null, "/fishedOn", "required")]
    [InlineData("/anglers", null, "/anglers", "required")]
    [InlineData("/catch", null, "/catch", "required")]
    [InlineData("/catch", "[]", "/catch", "required")]
    [InlineData("/catch/0/kept", null, "/catch/0/kept", "required")]
    [InlineData("/bait/0/species", null, "/bait/0/species", "required")]
    [InlineData("/rigs/0/lineClass", null, "/rigs/0/lineClass", "required")]
    [InlineData("/rigs/0/leader/material", null, "/rigs/0/leader/material", "required")]
    [InlineData("/rigs/0/mainLine/material", null, "/rigs/0/mainLine/material", "required")]
    [InlineData("/rigs/0/hook/style", null, "/rigs/0/hook/style", "required")]
    [InlineData("/rigs/0/hook/size", null, "/rigs/0/hook/size", "required")]
    // Codes that the coast does not know.
    [InlineData("/boat", "\"grey-petrol\"", "/boat", "unknown-boat")]
    [InlineData("/boat", "\"Grey Petrel\"", "/boat", "unknown-boat")]
    [InlineData("/zone", "\"far-side\"", "/zone", "unknown-zone")]
    [InlineData("/catch/1/species", "\"XXX\"", "/catch/1/species", "unknown-species")]
    [InlineData("/bait/1/species", "\"SBF\"", "/bait/1/species", "unknown-bait")]
    [InlineData("/rigs/1/species", "\"XXX\"", "/rigs/1/species", "unknown-species")]
    // Named twice, or not named where it must be.
    [InlineData("/catch/-", """{ "species": "SBF", "kept": 1 }""", "/catch/2/species", "duplicate-species")]
    [InlineData("/bait/1/species", "\"PIL\"", "/bait/1/species", "duplicate-species")]
    [InlineData("/rigs/1/species", "\"PIL\"", "/rigs/1/species", "species-not-in-catch")]
    // Place.
    [InlineData("/position", """{ "latitude": -40.5, "longitude": 10.5 }""", "/position", "zone-or-position")]
    // Date.
    [InlineData("/fishedOn", "\"20-11-2026\"", "/fishedOn", "not-a-date")]
    [InlineData("/fishedOn", "\"2026-11-31\"", "/fishedOn", "not-a-date")]
    [InlineData("/fishedOn", "\"2026-11-23\"", "/fishedOn", "in-the-future")]
    [InlineData("/fishedOn", "\"0026-11-20\"", "/fishedOn", "too-early")]
    [InlineData("/fishedOn", "\"0001-01-01\"", "/fishedOn", "too-early")]
    // Counts and their bounds.
    [InlineData("/sailing", "0", "/sailing", "out-of-range")]
    [InlineData("/sailing", "10", "/sailing", "out-of-range")]
    [InlineData("/sailing", "1.5", "/sailing", "not-whole")]
    [InlineData("/tripDays", "0", "/tripDays", "out-of-range")]
    [InlineData("/tripDays", "0.3", "/tripDays", "out-of-range")]
    [InlineData("/tripDays", "31", "/tripDays", "out-of-range")]
    [InlineData("/daysCovered", "0", "/daysCovered", "out-of-range")]
    [InlineData("/daysCovered", "31", "/daysCovered", "out-of-range")]
    [InlineData("/anglers", "301", "/anglers", "out-of-range")]
    [InlineData("/anglers", "0", "/anglers", "out-of-range")]
    [InlineData("/anglers", "-1", "/anglers", "negative-count")]
    [InlineData("/hours", "0", "/hours", "out-of-range")]
    [InlineData("/hours", "48.5", "/hours", "out-of-range")]
    [InlineData("/catch/0/kept", "-1", "/catch/0/kept", "negative-count")]
    [InlineData("/catch/0/kept", "1.5", "/catch/0/kept", "not-whole")]
    [InlineData("/catch/0/kept", "100001", "/catch/0/kept", "out-of-range")]
    [InlineData("/catch/0/released", "-1", "/catch/0/released", "negative-count")]
    [InlineData("/catch/0/topRod", "-1", "/catch/0/topRod", "negative-count")]
    [InlineData("/catch/0/lostHeavy", "-1", "/catch/0/lostHeavy", "negative-count")]
    [InlineData("/catch/0/anglersWithFish", "-1", "/catch/0/anglersWithFish", "negative-count")]
    [InlineData("/rigs/0/rods", "301", "/rigs/0/rods", "out-of-range")]
    [InlineData("/rigs/0/hooked", "-1", "/rigs/0/hooked", "negative-count")]
    // Words.
    [InlineData("/status", "\"done\"", "/status", "unknown-word")]
    [InlineData("/bite", "\"wild\"", "/bite", "unknown-word")]
    [InlineData("/units/weight", "\"stone\"", "/units/weight", "unknown-word")]
    [InlineData("/units/length", "\"in\"", "/units/length", "mixed-units")]
    [InlineData("/units/depth", "\"league\"", "/units/depth", "unknown-word")]
    [InlineData("/catch/1/anglersWithFish", "\"many\"", "/catch/1/anglersWithFish", "unknown-word")]
    [InlineData("/bait/0/condition", "\"dead\"", "/bait/0/condition", "unknown-word")]
    [InlineData("/bait/0/supply", "\"some\"", "/bait/0/supply", "unknown-word")]
    [InlineData("/rigs/0/technique", "\"jig\"", "/rigs/0/technique", "unknown-word")]
    [InlineData("/rigs/0/leader/material", "\"steel\"", "/rigs/0/leader/material", "unknown-word")]
    [InlineData("/rigs/0/mainLine/material", "\"fluorocarbon\"", "/rigs/0/mainLine/material", "unknown-word")]
    [InlineData("/rigs/0/hook/style", "\"round\"", "/rigs/0/hook/style", "unknown-word")]
    [InlineData("/rigs/0/hook/wire", "\"thin\"", "/rigs/0/hook/wire", "unknown-word")]
    [InlineData("/rigs/0/use", "\"half\"", "/rigs/0/use", "unknown-word")]
    // Hook sizes.
    [InlineData("/rigs/0/hook/size", "\"0/0\"", "/rigs/0/hook/size", "unknown-hook-size")]
    [InlineData("/rigs/0/hook/size", "\"2/1\"", "/rigs/0/hook/size", "unknown-hook-size")]
    [InlineData("/rigs/0/hook/size", "\"2/O\"", "/rigs/0/hook/size", "unknown-hook-size")]
    // Sizes.
    [InlineData("/catch/0/largest", "0", "/catch/0/largest", "out-of-range")]
    [InlineData("/catch/0/smallest", "0.01", "/catch/0/smallest", "out-of-range")]
    [InlineData("/rigs/0/lineClass", "0.0001", "/rigs/0/lineClass", "out-of-range")]
    [InlineData("/bait/0/shortest", "0.1", "/bait/0/shortest", "out-of-range")]
    [InlineData("/catch/0/largest", "1362", "/catch/0/largest", "out-of-range")]
    [InlineData("/catch/0/largest", "61.2000001", "/catch/0/largest", "too-precise")]
    [InlineData("/catch/0/smallest", "62", "/catch/0/smallest", "range-reversed")]
    [InlineData("/catch/0/smallest", "10", "/catch/0/mostFrom", "outside-range")]
    [InlineData("/catch/0/mostFrom", "21", "/catch/0/mostFrom", "range-reversed")]
    [InlineData("/catch/0/mostFrom", "8", "/catch/0/mostFrom", "outside-range")]
    [InlineData("/catch/0/mostTo", "62", "/catch/0/mostTo", "outside-range")]
    [InlineData("/bait/0/shortest", "13.5", "/bait/0/shortest", "range-reversed")]
    [InlineData("/bait/0/longest", "77", "/bait/0/longest", "out-of-range")]
    [InlineData("/rigs/0/lineClass", "0", "/rigs/0/lineClass", "out-of-range")]
    [InlineData("/rigs/0/lineClass", "181", "/rigs/0/lineClass", "out-of-range")]
    [InlineData("/rigs/0/leader/test", "-3", "/rigs/0/leader/test", "out-of-range")]
    [InlineData("/rigs/0/mainLine/test", "181", "/rigs/0/mainLine/test", "out-of-range")]
    [InlineData("/rigs/0/hook/gapeMm", "151", "/rigs/0/hook/gapeMm", "out-of-range")]
    [InlineData("/rigs/0/weightOz", "201", "/rigs/0/weightOz", "out-of-range")]
    [InlineData("/signs/depth", "0", "/signs/depth", "out-of-range")]
    [InlineData("/signs/depth", "548", "/signs/depth", "out-of-range")] // 1,000 m are 546.8 fathoms
    // Counts against each other.
    [InlineData("/catch/0/topRod", "36", "/catch/0/topRod", "top-rod-over-catch")]
    [InlineData("/catch/0/topRod", "0", "/catch/0/topRod", "no-top-rod")]
    [InlineData("/catch/0/anglersWithFish", "25", "/catch/0/anglersWithFish", "anglers-with-fish-over-anglers")]
    [InlineData("/catch/0/anglersWithFish", "0", "/catch/0/anglersWithFish", "no-angler-with-fish")]
    [InlineData("/catch/1/anglersWithFish", "0", "/catch/1/anglersWithFish", "no-angler-with-fish")]
    [InlineData("/rigs/0/landed", "11", "/rigs/0/landed", "landed-and-lost-over-hooked")]
    [InlineData("/rigs/0/pulled", "3", "/rigs/0/landed", "landed-and-lost-over-hooked")]
    [InlineData("/rigs/0/hooked", "12", "/rigs/0/landed", "landed-and-lost-over-hooked")]
    // Text.
    [InlineData("/note", "\"a\\u0000b\"", "/note", "malformed-text")]
    [InlineData("/note", "\"\\u001b[31m\"", "/note", "malformed-text")]
    public void This_is_refused_by_its_pointer_and_code(string at, string? json, string pointer, string code) =>
        Assert.Equal([$"{pointer} {code}"], Errors(With(Full, (at, json))));

    [Theory]
    [InlineData(
        """{ "species": "SBF", "kept": 2, "released": 1, "anglersWithFish": 4 }""",
        "anglers-with-fish-over-catch"
    )]
    [InlineData("""{ "species": "SBF", "kept": 0, "released": 0, "topRod": 1 }""", "top-rod-over-catch")]
    public void A_short_catch_contradicts(string line, string code) =>
        Assert.EndsWith(code, Assert.Single(Errors(With(Least, ("/catch/0", line)))), StringComparison.Ordinal);

    [Fact]
    public void A_blank_has_no_sizes() =>
        Assert.Equal(
            ["largest", "mostFrom", "mostTo", "smallest"],
            Errors(
                    With(
                        Least,
                        (
                            "/catch/0",
                            """
                            { "species": "SBF", "kept": 0, "released": 0, "smallest": 18, "largest": 42, "mostFrom": 20, "mostTo": 30 }
                            """
                        )
                    )
                )
                .Select(e => e.Replace("/catch/0/", "").Replace(" size-without-fish", ""))
                .Order()
        );

    [Theory]
    [InlineData("mostFrom", "mostTo", "8")]
    [InlineData("mostTo", "mostFrom", "70")]
    public void One_end_of_most_of_them_lies_in_the_range_too(string absent, string field, string value) =>
        Assert.Equal(
            [$"/catch/0/{field} outside-range"],
            Errors(With(Full, ($"/catch/0/{absent}", null), ($"/catch/0/{field}", value)))
        );

    [Fact]
    public void Without_landed_the_losses_alone_contradict_the_hooked() =>
        Assert.Equal(
            ["/rigs/0/hooked landed-and-lost-over-hooked"],
            Errors(With(Full, ("/rigs/0/landed", null), ("/rigs/0/hooked", "3")))
        );

    [Theory]
    [InlineData("""{ "latitude": 5, "longitude": 5 }""", "/position outside-zones")]
    [InlineData("""{ "latitude": 91, "longitude": 5 }""", "/position/latitude out-of-range")]
    [InlineData("""{ "latitude": -40.5, "longitude": -181 }""", "/position/longitude out-of-range")]
    [InlineData("""{ "latitude": -40.5 }""", "/position/longitude required")]
    [InlineData("""{ "longitude": 10.5 }""", "/position/latitude required")]
    [InlineData("""{ "latitude": -40.5, "longitude": 10.5, "depth": 3 }""", "/position/depth unknown-field")]
    [InlineData("\"cannery bank\"", "/position wrong-type")]
    public void A_position_that_gives_no_zone_is_refused(string position, string error) =>
        Assert.Equal([error], Errors(With(Least, ("/zone", null), ("/position", position))));

    // The same instant is the 22nd at one landing and the 23rd at the other; an hour before four is still the day before.
    [Theory]
    [InlineData("grey-petrel", "2026-11-22", "2026-11-23T06:00:00Z", true)]
    [InlineData("grey-petrel", "2026-11-23", "2026-11-23T06:00:00Z", false)]
    [InlineData("grey-petrel", "2026-11-23", "2026-11-23T13:59:59Z", false)] // 03:59:59 at the landing
    [InlineData("grey-petrel", "2026-11-23", "2026-11-23T14:00:00Z", true)] // 04:00 at the landing
    [InlineData("ardent-tern", "2026-11-23", "2026-11-23T06:00:00Z", true)]
    [InlineData("ardent-tern", "2026-11-24", "2026-11-23T06:00:00Z", false)]
    public void The_future_is_told_by_the_landings_day(string boat, string day, string now, bool accepted)
    {
        var reading = ReportReader.Read(
            With(Least, ("/boat", $"\"{boat}\""), ("/fishedOn", $"\"{day}\"")),
            TestCoast.Register,
            DateTimeOffset.Parse(now, System.Globalization.CultureInfo.InvariantCulture)
        );
        Assert.Equal(accepted ? [] : ["in-the-future"], reading.Errors.Select(e => e.Code));
    }

    [Theory]
    [InlineData("/catch", ReportReader.MostCatchLines)]
    [InlineData("/rigs", ReportReader.MostRigLines)]
    [InlineData("/bait", BaitReader.MostKinds)]
    public void A_list_has_an_end(string list, int most) =>
        Assert.Contains(
            $"{list} too-many",
            Errors(With(Full, (list, "[" + string.Join(",", Enumerable.Repeat("{}", most + 1)) + "]")))
        );

    [Fact]
    public void A_note_has_an_end()
    {
        Good(With(Least, ("/note", $"\"{new string('a', ReportReader.MostNoteLength)}\"")));
        Assert.Equal(
            ["/note too-long"],
            Errors(With(Least, ("/note", $"\"{new string('a', ReportReader.MostNoteLength + 1)}\"")))
        );
    }

    [Theory]
    [InlineData("[]")]
    [InlineData("null")]
    [InlineData("\"report\"")]
    [InlineData("7")]
    public void A_document_that_is_no_object_is_refused_whole(string json) =>
        Assert.Equal([" wrong-type"], Errors(Parse(json)));

    [Fact]
    public void Only_these_fields_are_required()
    {
        var members = Places(Parse(Full)).Select(p => p.Pointer).Where(p => !char.IsAsciiDigit(p[^1]));
        Assert.Equal(
            [
                "/anglers",
                "/bait/0/species",
                "/bait/1/species",
                "/boat",
                "/catch",
                "/catch/0/kept",
                "/catch/0/species",
                "/catch/1/kept",
                "/catch/1/species",
                "/fishedOn",
                "/rigs/0/hook/size",
                "/rigs/0/hook/style",
                "/rigs/0/leader/material",
                "/rigs/0/lineClass",
                "/rigs/0/mainLine/material",
                "/rigs/0/species",
                "/rigs/1/hook/style",
                "/rigs/1/lineClass",
                "/rigs/1/species",
                "/zone",
            ],
            members.Where(p => Errors(With(Full, (p, null))).Contains($"{p} required")).Order(StringComparer.Ordinal)
        );
        // Absent or null is the same.
        Assert.All(members, p => Assert.Equal(Errors(With(Full, (p, null))), Errors(With(Full, (p, "null")))));
    }

    // --- Several faults at once -------------------------------------------------------------------------------------

    [Fact]
    public void All_faults_are_named_at_once()
    {
        var errors = Errors(
            With(
                Full,
                ("/boat", null),
                ("/zone", "7"),
                ("/fishedOn", "\"tomorrow\""),
                ("/anglers", "-4"),
                ("/color", "\"blue\""),
                ("/catch/0/kept", "-1"),
                ("/catch/1/wheight", "3"),
                ("/bait/0/shortest", "20"),
                ("/rigs/0/hook/size", "\"2/1\""),
                ("/rigs/1/species", "\"PIL\""),
                ("/signs/depth", "\"deep\"")
            )
        );
        Assert.Equal(
            [
                "/anglers negative-count",
                "/bait/0/shortest range-reversed",
                "/boat required",
                "/catch/0/kept negative-count",
                "/catch/1/wheight unknown-field",
                "/color unknown-field",
                "/fishedOn not-a-date",
                "/rigs/0/hook/size unknown-hook-size",
                "/rigs/1/species species-not-in-catch",
                "/signs/depth wrong-type",
                "/zone wrong-type",
            ],
            errors.Order(StringComparer.Ordinal)
        );
    }

    [Fact]
    public void A_field_that_is_wrong_in_two_ways_is_named_once() =>
        // More than the catch, and more than the boat's anglers.
        Assert.Equal(
            ["/catch/0/anglersWithFish anglers-with-fish-over-anglers"],
            Errors(With(Full, ("/catch/0/anglersWithFish", "99")))
        );

    [Fact]
    public void Nothing_is_returned_with_an_error() => Assert.Null(Read(With(Full, ("/catch/0/kept", "-1"))).Value);

    [Theory]
    [InlineData("")]
    [InlineData("/units")]
    [InlineData("/catch/0")]
    [InlineData("/catch/1")]
    [InlineData("/bait/0")]
    [InlineData("/rigs/0")]
    [InlineData("/rigs/0/leader")]
    [InlineData("/rigs/0/mainLine")]
    [InlineData("/rigs/0/hook")]
    [InlineData("/signs")]
    public void An_unknown_field_is_refused_by_name_at_every_level(string owner) =>
        Assert.Equal([$"{owner}/surprise unknown-field"], Errors(With(Full, ($"{owner}/surprise", "1"))));

    [Theory]
    [InlineData("")]
    [InlineData("/units")]
    [InlineData("/catch/0")]
    [InlineData("/bait/0")]
    [InlineData("/rigs/0")]
    [InlineData("/rigs/0/hook")]
    [InlineData("/signs")]
    public void A_field_given_twice_is_refused_at_every_level(string owner)
    {
        // The first field of the owner again, by text: a parsed document would hold it once.
        var first = Resolve(Parse(Full), owner)!.Value.EnumerateObject().First();
        var whole = Parse(Full).GetRawText();
        var at = Resolve(Parse(Full), owner)!.Value.GetRawText();
        var twice = "{" + $"\"{first.Name}\":{first.Value.GetRawText()}," + at[1..];
        Assert.Equal(
            [$"{owner}/{first.Name} duplicate-field"],
            Errors(Parse(owner.Length == 0 ? twice : whole.Replace(at, twice, StringComparison.Ordinal)))
        );
    }

    // --- Every field against every wrong JSON type ------------------------------------------------------------------

    private static readonly Dictionary<string, string> OneOfEachType = new()
    {
        ["text"] = "\"\\u2603\"",
        ["number"] = "7.5",
        ["flag"] = "true",
        ["list"] = "[[]]",
        ["object"] = """{ "\u2603": 1 }""",
    };

    public static TheoryData<string, string> WrongTypes()
    {
        var data = new TheoryData<string, string>();
        foreach (var (pointer, value) in Places(Parse(Full)))
        {
            var right = value.ValueKind switch
            {
                JsonValueKind.String => "text",
                JsonValueKind.Number => "number",
                JsonValueKind.Array => "list",
                JsonValueKind.Object => "object",
                _ => "flag",
            };
            foreach (var wrong in OneOfEachType.Keys.Where(t => t != right))
            {
                data.Add(pointer, wrong);
            }
        }

        return data;
    }

    [Theory]
    [MemberData(nameof(WrongTypes))]
    public void A_wrong_JSON_type_is_refused_where_it_stands(string pointer, string type)
    {
        var errors = Read(With(Full, (pointer, OneOfEachType[type]))).Errors;
        Assert.Contains(
            errors,
            e => e.Pointer == pointer || e.Pointer.StartsWith(pointer + "/", StringComparison.Ordinal)
        );
    }

    // --- Any document at all ----------------------------------------------------------------------------------------

    [Fact]
    public void Any_damage_is_answered_with_errors_that_point_into_the_document()
    {
        var random = new Random(20261120);
        var accepted = 0;
        for (var i = 0; i < 3000; i++)
        {
            var text = System.Text.Json.Nodes.JsonNode.Parse(Full)!.ToJsonString();
            for (var n = random.Next(1, 4); n > 0; n--)
            {
                text = Damaged(text, random);
            }

            var document = Parse(text);
            var reading = Read(document);
            CanonicalJson.Hash(document);
            Assert.Equal(reading.Errors.Count == 0, reading.IsGood);
            Assert.Equal(reading.Errors.Count, reading.Errors.Select(e => e.Pointer).Distinct().Count());
            Assert.All(
                reading.Errors,
                error =>
                {
                    Assert.NotEmpty(error.Code);
                    Assert.NotEmpty(error.Detail);
                    // It resolves, or it names a missing member of something that does.
                    var owner = error.Pointer.Length == 0 ? "" : error.Pointer[..error.Pointer.LastIndexOf('/')];
                    Assert.True(
                        Resolve(document, error.Pointer) is not null
                            || Resolve(document, owner) is { ValueKind: JsonValueKind.Object },
                        $"{error.Pointer} ({error.Code}) points nowhere in {text}"
                    );
                }
            );
            if (reading.Value is { } report)
            {
                accepted++;
                var written = Write(report);
                Assert.Equal(written, Write(Good(Parse(Encoding.UTF8.GetString(written)), correction: true)));
                Assert.Equal(
                    ReportMeasures.Of(report).ToJson(),
                    ReportMeasures.FromJson(ReportMeasures.Of(report).ToJson()).ToJson()
                );
            }
        }

        // Damage of both kinds: some that does not matter, most that does.
        Assert.InRange(accepted, 40, 2000);
    }

    private static readonly string[] Values =
    [
        "null",
        "true",
        "false",
        "0",
        "-0",
        "-1",
        "1",
        "1.5",
        "24",
        "1e400",
        "-1e400",
        "1e-400",
        "1e28",
        "2147483648",
        "79228162514264337593543950336",
        "0.0000000000000000000000000001",
        "\"\"",
        "\" \"",
        "\"SBF\"",
        "\"PIL\"",
        "\"2/0\"",
        "\"none\"",
        "\"NaN\"",
        "\"\\ud800\"",
        "\"\\u0000\"",
        "\"2026-11-20\"",
        "\"9999-12-31\"",
        "\"0001-01-01\"",
        "[]",
        "{}",
        "[null]",
        "[{}]",
        "[[]]",
        "{\"species\":\"SBF\"}",
        "{\"\\ud800\":1}",
        "{\"a/b~\":1}",
        "{\"\":1}",
        "[1,[2,[3,[4]]]]",
    ];

    private static readonly string[] Names =
    [
        "species",
        "kept",
        "units",
        "surprise",
        "a/b~",
        "",
        "\\ud800",
        "\\u0000",
        "\\n",
    ];

    // One random change of the text: a value replaced, or a member or entry added in front, whose name may be taken already.
    // By text, since a parsed document can hold neither a name twice nor a broken one.
    private static string Damaged(string text, Random random)
    {
        var spans = ValueSpans(text);
        var (start, length) = spans[random.Next(spans.Count)];
        var old = text.Substring(start, length);
        var value = Values[random.Next(Values.Length)];
        var separator = old.Length > 2 ? "," : "";
        var changed = (old[0], random.Next(3)) switch
        {
            ('{', 0) => "{\"" + Names[random.Next(Names.Length)] + "\":" + value + separator + old[1..],
            ('[', 0) => "[" + value + separator + old[1..],
            _ => value,
        };
        return text[..start] + changed + text[(start + length)..];
    }

    // Start and length of every value of an ASCII text, the document itself aside.
    private static List<(int Start, int Length)> ValueSpans(string text)
    {
        var spans = new List<(int, int)>();
        var open = new Stack<int>();
        var reader = new Utf8JsonReader(Encoding.ASCII.GetBytes(text));
        while (reader.Read())
        {
            switch (reader.TokenType)
            {
                case JsonTokenType.PropertyName:
                    break;
                case JsonTokenType.StartObject or JsonTokenType.StartArray:
                    open.Push((int)reader.TokenStartIndex);
                    break;
                case JsonTokenType.EndObject or JsonTokenType.EndArray:
                    var start = open.Pop();
                    spans.Add((start, (int)reader.BytesConsumed - start));
                    break;
                default:
                    spans.Add(((int)reader.TokenStartIndex, (int)(reader.BytesConsumed - reader.TokenStartIndex)));
                    break;
            }
        }

        return spans;
    }

    // --- Words of these tests ---------------------------------------------------------------------------------------

    private static Reading<CatchReport> Read(JsonElement document, bool correction = false) =>
        ReportReader.Read(document, TestCoast.Register, Now, correction);

    private static List<string> Errors(JsonElement document) =>
        [.. Read(document).Errors.Select(e => $"{e.Pointer} {e.Code}")];

    private static CatchReport Good(JsonElement document, bool correction = false)
    {
        var reading = Read(document, correction);
        Assert.Empty(reading.Errors);
        return reading.Value!;
    }

    private static byte[] Write(CatchReport report) => ReportWriter.Write(report, "r1", 3, ReportState.Counted, []);
}
