namespace Reports.Domain.Reporting.Csv;

/// <summary>
/// The apostrophe that keeps a spreadsheet from running a cell as a formula (OWASP, "CSV Injection": cells that begin with
/// = + - @, a tab or a line break, or their full-width forms; blanks before them are skipped by some programs). A text that
/// begins with an apostrophe gets one too, so that taking it off again always gives the text back.
/// </summary>
public static class FormulaGuard
{
    public static string Put(string text) => Needs(text) ? "'" + text : text;

    public static string Take(string text) => text is ['\'', ..] && Needs(text[1..]) ? text[1..] : text;

    private static bool Needs(string text) =>
        text.Length > 0
        && (
            text[0] is '\t' or '\r' or '\n'
            || text.FirstOrDefault(c => !char.IsWhiteSpace(c))
                is '='
                    or '+'
                    or '-'
                    or '@'
                    or '\''
                    or '\uFF1D'
                    or '\uFF0B'
                    or '\uFF0D'
                    or '\uFF20'
        );
}
