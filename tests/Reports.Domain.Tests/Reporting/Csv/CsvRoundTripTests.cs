using System.Text;
using System.Text.Json;
using Reports.Domain.Reporting;
using Reports.Domain.Reporting.Csv;

namespace Reports.Domain.Tests.Reporting.Csv;

/// <summary>What is exported reads back as the same reports, whatever a report holds.</summary>
public sealed class CsvRoundTripTests
{
    private static readonly DateTimeOffset Now = new(2026, 11, 23, 12, 0, 0, TimeSpan.Zero);

    [Theory]
    [InlineData(ReportDocuments.Example)]
    [InlineData(ReportDocuments.Full)]
    [InlineData(ReportDocuments.Least)]
    public void A_report_survives_export_and_import(string document) => Survives(document);

    /// <summary>Two thousand reports, seeds 0 to 1999.</summary>
    [Fact]
    public void Random_reports_survive_export_and_import()
    {
        for (var seed = 0; seed < 2000; seed++)
        {
            Survives(new RandomReports(seed).Next().ToJsonString());
        }
    }

    [Theory]
    [InlineData("=1+1")]
    [InlineData(" \t=cmd")]
    [InlineData("'quoted'")]
    [InlineData("''")]
    [InlineData("'")]
    [InlineData("-2 \"to\" 3,\r\nand\r more\n")]
    [InlineData("@home")]
    [InlineData("#REF!")]
    [InlineData("＝1")]
    public void A_note_survives_and_no_spreadsheet_runs_it(string note)
    {
        var document = ReportDocuments.With(ReportDocuments.Least, ("/note", JsonSerializer.Serialize(note)));
        var rows = Survives(document.GetRawText());
        Assert.DoesNotMatch("(^|,)\"?[\\s]*[=+\\-@＝＋－＠]", rows);
    }

    [Fact]
    public void A_spreadsheet_in_a_land_of_decimal_commas_writes_back_the_same_report()
    {
        var written = Write(ReportDocuments.Parse(ReportDocuments.Full));
        var rows = CsvExport.Rows(CsvFormats.Reports, Encoding.UTF8.GetString(written));
        var text = new CsvText(new StringReader(CsvExport.Header(CsvFormats.Reports) + rows));
        var semicolons = new StringBuilder();
        while (text.Next() is { } row)
        {
            semicolons.AppendJoin(
                ';',
                row.Cells.Select(c =>
                    decimal.TryParse(c, System.Globalization.CultureInfo.InvariantCulture, out _)
                        ? c.Replace('.', ',')
                        : $"\"{c.Replace("\"", "\"\"", StringComparison.Ordinal)}\""
                )
            );
            semicolons.Append("\r\n");
        }

        var read = Assert.Single(Read(semicolons.ToString()));
        Assert.Empty(read.Errors);
        Assert.Equal(ReportContent.Hash(written), ReportContent.Hash(Write(read.Value!)));
    }

    private static string Survives(string document)
    {
        var written = Write(ReportDocuments.Parse(document));
        var rows = CsvExport.Rows(CsvFormats.Reports, Encoding.UTF8.GetString(written));
        var read = Assert.Single(Read(CsvExport.Header(CsvFormats.Reports) + rows));
        Assert.True(read.Errors.Count == 0, $"{string.Join("\n", read.Errors)}\n{document}\n{rows}");
        Assert.True(
            ReportContent.Hash(written).SequenceEqual(ReportContent.Hash(Write(read.Value!))),
            $"{Encoding.UTF8.GetString(written)}\n{Encoding.UTF8.GetString(Write(read.Value!))}\n{rows}"
        );
        return rows;
    }

    private static List<CsvRecord<ReportKey, CatchReport>> Read(string csv) =>
        [
            .. new CsvRecords<ReportKey, CatchReport>(
                CsvFormats.Reports,
                new StringReader(csv),
                dayFirst: false,
                TestCoast.Register,
                Now
            ).Read(),
        ];

    private static byte[] Write(JsonElement document)
    {
        var reading = ReportReader.Read(document, TestCoast.Register, Now);
        Assert.True(reading.IsGood, $"{string.Join("\n", reading.Errors)}\n{document}");
        return Write(reading.Value!);
    }

    private static byte[] Write(CatchReport report) => ReportWriter.Write(report, "x", 1, ReportState.Counted, []);
}
