using System.Text;
using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using Reports.Domain.Reporting.Csv;

namespace Reports.Domain.Tests.Reporting.Csv;

/// <summary>Rows as people and spreadsheets write them, and every fault by line, column and code.</summary>
public sealed class CsvReportsTests
{
    private const string Head = "boat,zone,fishedOn,sailing,anglers,species,kept";
    private const string Good = "grey-petrel,cannery-bank,2026-11-20,1,24,SBF,31";
    private static readonly DateTimeOffset Now = new(2026, 11, 23, 12, 0, 0, TimeSpan.Zero);

    // --- What is accepted -------------------------------------------------------------------------------------------

    [Theory]
    [InlineData(Head + "\r\n" + Good)]
    [InlineData(Head + "\n" + Good + "\n\n,,,,,,\n")]
    [InlineData("\n" + Head + "\r" + Good + "\r")]
    [InlineData("Boat, ZONE ,Fished On,Sailing,Anglers,species,Kept,\n" + Good + ",")]
    [InlineData("boat;zone;fished_on;sailing;anglers;species;kept\ngrey-petrel;cannery-bank;2026-11-20;1;24;SBF;31")]
    [InlineData("boat\tzone\tfishedOn\tanglers\tspecies\tkept\ngrey-petrel\tcannery-bank\t2026-11-20\t24\tSBF\t31")]
    [InlineData(Head + "\n\"Grey Petrel\",Cannery Bank,2026-11-20,1.0, 24\u00a0,southern bluefin,'31")]
    [InlineData(Head + "\nGREY-PETREL,\u00a0cannery bank,2026-11-20 00:00:00,,24,sbf,31.00")]
    [InlineData("kept,species,anglers,fishedOn,zone,boat\n31,SBF,24,2026-11-20,cannery-bank,grey-petrel")]
    public void The_same_report_written_in_many_ways(string csv)
    {
        var report = One(csv);
        Assert.Equal(new ReportKey("grey-petrel", "cannery-bank", new DateOnly(2026, 11, 20), 1), report.Key);
        Assert.Equal(24, report.Anglers);
        Assert.Equal(("SBF", 31), (report.Catch.Single().Species, report.Catch.Single().Kept));
        Assert.Empty(report.Rigs);
    }

    [Fact]
    public void Rows_of_one_report_are_its_lines_of_catch_bait_and_rigs()
    {
        var report = One(
            """
            boat,zone,fishedOn,anglers,species,kept,baitSpecies,lineClass,hookStyle,hookSize,winning,note
            grey-petrel,cannery-bank,2026-11-20,24,SBF,31,PIL,30,circle,#1/0,yes,"two
            lines"
            grey-petrel,cannery-bank,2026-11-20,,SBF,,ANE,40,j,2,no,
            grey-petrel,cannery-bank,2026-11-20,24,YFT,0,,,,,,
            """
        );
        Assert.Equal(["SBF", "YFT"], report.Catch.Select(c => c.Species));
        Assert.Equal(["PIL", "ANE"], report.Bait.Select(b => b.Species));
        Assert.Equal([HookSize.Aught(1), HookSize.Plain(2)], report.Rigs.Select(r => r.Hook!.Size!.Value));
        Assert.Equal([true, false], report.Rigs.Select(r => r.Winning));
        Assert.Equal("two\nlines", report.Note);
    }

    [Theory]
    [InlineData(',', "1250", "1250")]
    [InlineData(',', "\"1,250\"", "1250")]
    [InlineData(',', "\"1,250.5\"", "1250.5")]
    [InlineData(',', "1 250", "1250")]
    [InlineData(',', "1\u202f250.25", "1250.25")]
    [InlineData(',', "18.125", "18.125")]
    [InlineData(';', "18,5", "18.5")]
    [InlineData(';', "18.5", "18.5")]
    [InlineData(';', "1.250,5", "1250.5")]
    [InlineData(';', "1'250,5", "1250.5")]
    [InlineData(';', "1,250.5", "1250.5")]
    [InlineData(';', "0,125", "0.125")]
    public void A_number_by_the_custom_of_the_file(char separator, string cell, string expected)
    {
        var csv =
            "boat,zone,fishedOn,anglers,species,kept,largest\ngrey-petrel,cannery-bank,2026-11-20,24,SBF,2000,".Replace(
                ',',
                separator
            ) + cell;
        Assert.Equal(
            decimal.Parse(expected, System.Globalization.CultureInfo.InvariantCulture),
            One(csv).Catch[0].Largest!.Value.Given
        );
    }

    [Theory]
    [InlineData("20/11/2026")]
    [InlineData("20.11.2026")]
    [InlineData("2026-11-20")]
    public void Day_first_dates_where_they_are_declared(string date) =>
        Assert.Equal(
            new DateOnly(2026, 11, 20),
            One($"{Head}\n{Good.Replace("2026-11-20", date, StringComparison.Ordinal)}", dayFirst: true).FishedOn
        );

    [Fact]
    public void A_byte_order_mark_is_no_part_of_the_first_name()
    {
        var bytes = Encoding.UTF8.GetPreamble().Concat(Encoding.UTF8.GetBytes($"{Head}\n{Good}")).ToArray();
        Assert.Null(CsvText.EncodingFault(new MemoryStream(bytes)));
        using var text = new StreamReader(new MemoryStream(bytes));
        Assert.Empty(
            new CsvRecords<ReportKey, CatchReport>(CsvFormats.Reports, text, false, TestCoast.Register, Now)
                .Read()
                .Single()
                .Errors
        );
    }

    // --- What is refused --------------------------------------------------------------------------------------------

    [Fact]
    public void Bytes_of_another_encoding_are_refused_with_their_line()
    {
        var long_ = string.Concat(Enumerable.Repeat(Good + ",é\n", 5000));
        var bytes = Encoding.UTF8.GetBytes(long_).Concat(new byte[] { (byte)'n', 0xE9, (byte)'\n' }).ToArray();
        var fault = CsvText.EncodingFault(new MemoryStream(bytes));
        Assert.Equal((5001, "not-utf8"), (fault!.Line, fault.Code));
        Assert.Equal(1, CsvText.EncodingFault(new MemoryStream([0xC3]))!.Line);
    }

    [Theory]
    [InlineData("", "1 - empty-file")]
    [InlineData("boat,zone,fishedOn,anglers,species,kept,hookSise", "1 hookSise unknown-column")]
    [InlineData("boat,zone,fishedOn,anglers,species,kept,Kept", "1 kept duplicate-column")]
    [InlineData("boat,zone,fishedOn,species,kept", "1 anglers missing-column")]
    [InlineData("boat,zone,fishedOn,anglers,species,\"kept", "1 - unclosed-quote")]
    public void A_header(string csv, string expected) => Assert.Equal([expected], Faults(csv));

    [Fact]
    public void An_unknown_column_is_answered_with_what_was_meant() =>
        Assert.Contains(
            "Did you mean \"hookSize\"?",
            Read(Head + ",hook sise").Single().Errors.Single().Detail,
            StringComparison.Ordinal
        );

    [Theory]
    [InlineData("kept", "-3", "negative-count")]
    [InlineData("kept", "abc", "not-a-number")]
    [InlineData("kept", "2.5", "not-whole")]
    [InlineData("kept", "", "required")]
    [InlineData("kept", "#REF!", "spreadsheet-error")]
    [InlineData("anglers", "#N/A", "spreadsheet-error")]
    [InlineData("anglers", "400", "out-of-range")]
    [InlineData("largest", "\"6,5\"", "not-a-number")]
    [InlineData("largest", "18 lb", "not-a-number")]
    [InlineData("fishedOn", "20/11/2026", "not-a-date")]
    [InlineData("fishedOn", "11/20/2026", "not-a-date")]
    [InlineData("fishedOn", "2026-02-30", "not-a-date")]
    [InlineData("fishedOn", "46346", "not-a-date")]
    [InlineData("fishedOn", "2027-01-01", "in-the-future")]
    [InlineData("boat", "grey-petrl", "unknown-boat")]
    [InlineData("zone", "nowhere", "unknown-zone")]
    [InlineData("sailing", "12", "out-of-range")]
    [InlineData("species", "XYZ", "unknown-species")]
    [InlineData("weighed", "maybe", "not-a-flag")]
    [InlineData("status", "done", "unknown-word")]
    [InlineData("anglersWithFish", "loads", "unknown-word")]
    [InlineData("baitSpecies", "SBF", "unknown-bait")]
    [InlineData("hookStyle", "", "required")]
    [InlineData("hookSize", "2/O", "unknown-hook-size")]
    [InlineData("hookSize", "Feb-00", "mangled-hook-size")]
    [InlineData("hookSize", "2-Jan", "mangled-hook-size")]
    [InlineData("hookSize", "01-Feb", "mangled-hook-size")]
    [InlineData("hookSize", "Feb 2000", "mangled-hook-size")]
    [InlineData("hookSize", "01/02/1900", "mangled-hook-size")]
    [InlineData("hookSize", "1900-01-02", "mangled-hook-size")]
    [InlineData("hookSize", "2.0", "mangled-hook-size")]
    [InlineData("hookSize", "36557", "mangled-hook-size")]
    [InlineData("hookSize", "#DIV/0!", "spreadsheet-error")]
    [InlineData("lengthUnit", "cm", "mixed-units")]
    [InlineData("depth", "-1", "out-of-range")]
    [InlineData("leaderMaterial", "", "required")]
    [InlineData("lineClass", "", "required")]
    [InlineData("landed", "20", "landed-and-lost-over-hooked")]
    public void A_cell(string column, string cell, string code)
    {
        var cells = new Dictionary<string, string>
        {
            ["boat"] = "grey-petrel",
            ["zone"] = "cannery-bank",
            ["fishedOn"] = "2026-11-20",
            ["sailing"] = "1",
            ["status"] = "final",
            ["anglers"] = "24",
            ["weightUnit"] = "lb",
            ["lengthUnit"] = "in",
            ["depth"] = "110",
            ["species"] = "SBF",
            ["kept"] = "31",
            ["smallest"] = "18",
            ["largest"] = "42",
            ["weighed"] = "TRUE",
            ["anglersWithFish"] = "14",
            ["baitSpecies"] = "PIL",
            ["lineClass"] = "30",
            ["leaderMaterial"] = "fluorocarbon",
            ["leaderTest"] = "30",
            ["hookStyle"] = "circle",
            ["hookSize"] = "#2/0",
            ["hooked"] = "14",
            ["landed"] = "12",
        };
        string Csv() => string.Join(',', cells.Keys) + "\n" + string.Join(',', cells.Values) + "\n";
        Assert.Empty(Faults(Csv()));
        cells[column] = cell;
        Assert.Equal([$"2 {column} {code}"], Faults(Csv()));
    }

    [Theory]
    [InlineData(Good + ",x", "2 - ragged-row")]
    [InlineData("grey-petrel,cannery-bank,2026-11-20,1,24,SBF", "2 - ragged-row")]
    [InlineData("grey-petrel,cannery-bank,2026-11-20,1,24,SBF,\"31", "2 kept unclosed-quote")]
    [InlineData("grey-petrel,cannery-bank,2026-11-20,1,24,\"SBF\"x,31", "2 species malformed-quotes")]
    [InlineData(Good + "\n" + "grey-petrel,cannery-bank,2026-11-20,1,20,YFT,1", "3 anglers contradicts")]
    [InlineData(Good + "\n" + Good, "3 species duplicate-species")]
    public void A_row(string rows, string expected) => Assert.Equal([expected], Faults($"{Head}\n{rows}"));

    [Theory]
    [InlineData("1.250")]
    [InlineData("1,250")]
    public void A_number_that_may_be_two_is_refused(string cell) =>
        Assert.Equal(
            ["2 kept ambiguous-number"],
            Faults($"boat;zone;fishedOn;anglers;species;kept\ngrey-petrel;cannery-bank;2026-11-20;24;SBF;{cell}")
        );

    [Fact]
    public void Day_first_never_takes_the_month_first() =>
        Assert.Equal(
            ["2 fishedOn not-a-date"],
            Faults($"{Head}\n{Good.Replace("2026-11-20", "11/20/2026", StringComparison.Ordinal)}", dayFirst: true)
        );

    [Fact]
    public void Rows_of_one_report_that_lie_apart_spoil_both_places()
    {
        const string other = "ardent-tern,cannery-bank,2026-11-20,1,24,SBF,31";
        var reports = Read($"{Head}\n{Good}\n{other}\n{Good}");
        Assert.Equal(["4 - rows-apart"], Faults(reports));
        Assert.Equal([0], reports[2].Spoils);
    }

    [Theory]
    [InlineData("grey-petrl,cannery-bank,2026-11-20,1,,YFT,1")]
    [InlineData(",,,,,YFT,1")]
    [InlineData("and the rest of a note")]
    public void A_report_beside_a_row_that_may_be_its_own_is_not_whole(string row)
    {
        var reports = Read($"{Head}\n{Good}\n{row}\nardent-tern,south-trench,2026-11-19,2,24,SBF,31\n");
        Assert.Contains("2 - unsure-rows", Faults(reports));
        Assert.Contains(0, reports[1].Spoils);
        Assert.Equal(row[0] == 'g', reports[2].Value is not null);
    }

    [Fact]
    public void A_row_that_breaks_off_before_its_sailing_may_be_of_any()
    {
        var second = Good.Replace(",1,24,", ",2,24,", StringComparison.Ordinal);
        var reports = Read($"{Head}\n{second}\ngrey-petrel,cannery-bank,2026-11-20\n");
        Assert.Equal(["3 - ragged-row", "2 - unsure-rows"], Faults(reports));
        Assert.Equal([0], reports[1].Spoils);
    }

    [Fact]
    public void A_filled_cell_under_no_name_is_refused() =>
        Assert.Equal(["2 - unnamed-column"], Faults($"{Head},\n{Good},x"));

    // --- The documentation ------------------------------------------------------------------------------------------

    public static TheoryData<string, CsvFormat> Tables =>
        new()
        {
            { "## Columns of reports", CsvFormats.Reports },
            { "## Columns of departures", CsvFormats.Departures },
            { "## Columns of the day's bait", CsvFormats.Bait },
        };

    [Theory]
    [MemberData(nameof(Tables))]
    public void The_tables_of_columns_in_the_docs_are_the_tables_in_the_code(string title, CsvFormat format)
    {
        var table = Repository
            .Read("docs/csv.md")
            .Split(title + "\n")[1]
            .Split("\n## ")[0]
            .Split('\n')
            .Where(l => l.StartsWith("| `", StringComparison.Ordinal));
        Assert.Equal(
            format.Columns.Select(c => $"| `{c.Name}` | {c.Meaning} | {c.Unit} | {c.Accepted} | {Needed(c.Need)} |"),
            table
        );
    }

    [Fact]
    public void Every_field_of_the_contract_but_the_position_has_a_column()
    {
        var fields = ReportDocuments
            .Places(ReportDocuments.Parse(ReportDocuments.Full))
            .Where(p =>
                p.Value.ValueKind is not (System.Text.Json.JsonValueKind.Object or System.Text.Json.JsonValueKind.Array)
            )
            .Select(p => System.Text.RegularExpressions.Regex.Replace(p.Pointer, "/[0-9]+", ""))
            .ToHashSet();
        Assert.Equal(
            fields.Order(StringComparer.Ordinal),
            CsvFormats
                .Reports.Columns.SelectMany(c =>
                    c.Part switch
                    {
                        Part.Whole => new[] { "/" + c.Field },
                        Part.Species => ["/catch/" + c.Field, "/rigs/" + c.Field],
                        Part.Catch => ["/catch/" + c.Field],
                        Part.Bait => ["/bait/" + c.Field],
                        _ => ["/rigs/" + c.Field],
                    }
                )
                .Order(StringComparer.Ordinal)
        );
    }

    private static string Needed(Need need) =>
        need switch
        {
            Need.EveryRow => "on every row",
            Need.EveryReport => "in every report",
            Need.CatchOrRig => "with a catch or a rig",
            Need.Catch => "in a catch line",
            Need.Bait => "with bait",
            Need.Rig => "with a rig",
            _ => "",
        };

    // --- Size -------------------------------------------------------------------------------------------------------

    /// <summary>A hundred thousand rows are 13 MB of text; the keys of their reports alone are kept.</summary>
    [Fact]
    public void A_long_file_is_read_in_bounded_memory()
    {
        var before = GC.GetTotalMemory(forceFullCollection: true);
        var (count, most) = (0, 0L);
        foreach (
            var report in new CsvRecords<ReportKey, CatchReport>(
                CsvFormats.Reports,
                new LongFile(100_000),
                false,
                TestCoast.Register,
                Now
            ).Read()
        )
        {
            Assert.Empty(report.Errors);
            if (++count % 10_000 == 0)
            {
                most = Math.Max(most, GC.GetTotalMemory(forceFullCollection: true) - before);
            }
        }

        Assert.Equal(100_000, count);
        Assert.InRange(most, 0, 32 * 1024 * 1024);
    }

    /// <summary>A file that is made while it is read.</summary>
    private sealed class LongFile(int rows) : TextReader
    {
        private string pending = CsvExport.Header(CsvFormats.Reports);
        private int made;
        private int at;

        public override int Read(char[] buffer, int index, int count) => Read(buffer.AsSpan(index, count));

        public override int Read(Span<char> buffer)
        {
            if (at == pending.Length)
            {
                if (made == rows)
                {
                    return 0;
                }

                // 9 sailings a day of 2 boats in 2 zones, back in time.
                var day = new DateOnly(2026, 11, 20).AddDays(-(made / 36));
                var (boat, zone, sailing) = (made % 2, made / 2 % 2, (made / 4 % 9) + 1);
                var start =
                    $"{(boat == 0 ? "grey-petrel" : "ardent-tern")},{(zone == 0 ? "cannery-bank" : "south-trench")},{day:yyyy-MM-dd},{sailing},,,,24,";
                pending =
                    start
                    + string.Concat(
                        CsvFormats
                            .Reports.Columns.Skip(8)
                            .Select(
                                (c, i) => Value(c.Name) + (i == CsvFormats.Reports.Columns.Count - 9 ? "\r\n" : ",")
                            )
                    );
                (at, made) = (0, made + 1);
            }

            var taken = Math.Min(buffer.Length, pending.Length - at);
            pending.AsSpan(at, taken).CopyTo(buffer);
            at += taken;
            return taken;
        }

        public override int ReadBlock(Span<char> buffer)
        {
            var all = 0;
            for (int read; all < buffer.Length && (read = Read(buffer[all..])) > 0; )
            {
                all += read;
            }

            return all;
        }

        private string Value(string column) =>
            column switch
            {
                "species" => "SBF",
                "kept" => (made % 50).ToString(System.Globalization.CultureInfo.InvariantCulture),
                "lineClass" => "30",
                "hookStyle" => "circle",
                "hookSize" => "#2/0",
                "rods" => "9",
                "note" => "a note of middling length as crews write them",
                _ => "",
            };
    }

    private static CatchReport One(string csv, bool dayFirst = false)
    {
        var read = Assert.Single(Read(csv, dayFirst));
        Assert.True(read.Errors.Count == 0, string.Join("\n", read.Errors));
        return read.Value!;
    }

    private static IEnumerable<string> Faults(string csv, bool dayFirst = false) => Faults(Read(csv, dayFirst));

    private static IEnumerable<string> Faults(IEnumerable<CsvRecord<ReportKey, CatchReport>> reports) =>
        reports.SelectMany(r => r.Errors).Select(e => $"{e.Line} {e.Column ?? "-"} {e.Code}");

    private static List<CsvRecord<ReportKey, CatchReport>> Read(string csv, bool dayFirst = false) =>
        [
            .. new CsvRecords<ReportKey, CatchReport>(
                CsvFormats.Reports,
                new StringReader(csv),
                dayFirst,
                TestCoast.Register,
                Now
            ).Read(),
        ];
}
