using System.Text;
using System.Text.Json;
using Reports.Domain.Reporting;
using static Reports.Domain.Tests.Reporting.ReportDocuments;

namespace Reports.Domain.Tests.Reporting;

/// <summary>When two reports say the same, and when not.</summary>
public sealed class ReportContentTests
{
    private static readonly DateTimeOffset Now = new(2026, 11, 23, 6, 0, 0, TimeSpan.Zero);

    [Theory]
    [InlineData("/note", "\"\"")]
    [InlineData("/note", "\" \"")]
    [InlineData("/signs", "{}")]
    [InlineData("/sailing", "1")]
    [InlineData("/anglers", "24.0")]
    public void Nothing_however_it_is_written_is_the_same(string pointer, string json) =>
        Assert.Equal(Hash(Parse(Least)), Hash(With(Least, (pointer, json))));

    [Fact]
    public void One_bait_is_the_same_as_a_list_of_one() =>
        Assert.Equal(
            Hash(With(Least, ("/bait", """{ "species": "PIL" }"""))),
            Hash(With(Least, ("/bait", """[{ "species": "PIL" }]""")))
        );

    [Fact]
    public void What_the_service_adds_does_not_count()
    {
        var report = Read(Parse(Full))!;
        var flag = new ReportFlag("/catch/0/largest", "over-record", "", "", "", true);
        Assert.Equal(
            ReportContent.Hash(ReportWriter.Write(report, "a", 1, ReportState.Counted, [])),
            ReportContent.Hash(ReportWriter.Write(report, "b", 7, ReportState.Held, [flag]))
        );
    }

    [Fact]
    public void Whatever_field_is_taken_out_the_report_says_something_else()
    {
        var whole = Hash(Parse(Full));
        var told = 0;
        foreach (var (pointer, _) in Places(Parse(Full)).Where(p => !char.IsDigit(p.Pointer[^1])))
        {
            if (Read(With(Full, (pointer, null))) is { } less && Write(less) != Write(Read(Parse(Full))!))
            {
                Assert.NotEqual(whole, ReportContent.Hash(Encoding.UTF8.GetBytes(Write(less))));
                told++;
            }
        }

        Assert.True(told > 30, $"only {told} fields");
    }

    private static byte[] Hash(JsonElement document) =>
        ReportContent.Hash(Encoding.UTF8.GetBytes(Write(Read(document)!)));

    private static CatchReport? Read(JsonElement document) =>
        ReportReader.Read(document, TestCoast.Register, Now).Value;

    private static string Write(CatchReport report) =>
        Encoding.UTF8.GetString(ReportWriter.Write(report, "", 0, ReportState.Counted, []));
}
