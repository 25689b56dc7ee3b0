namespace Reports.Domain.Reporting;

/// <summary>
/// A report with what is stored of it, as far as that is the same whatever version and state it becomes: many can be written at once,
/// before it is known what becomes of each.
/// </summary>
/// <param name="Fields">The report's own members as <see cref="ReportWriter"/> writes them.</param>
/// <param name="Measures"><see cref="ReportMeasures"/> as JSON.</param>
public sealed record WrittenReport(CatchReport Report, string Fields, string Measures)
{
    public static WrittenReport Of(CatchReport report) =>
        new(report, ReportWriter.Fields(report), ReportMeasures.Of(report).ToJson());

    /// <summary>The whole report as a version of it is answered.</summary>
    public string Body(string id, int version, ReportState state, IReadOnlyList<ReportFlag> flags) =>
        ReportWriter.Write(Fields, id, version, state, flags);
}
