using System.Buffers;
using System.Text;

namespace Reports.Domain.Reporting.Csv;

/// <summary>One row as it was written: the line on which it begins and its cells, unquoted and otherwise untouched.</summary>
/// <param name="Fault">What is wrong with the row as CSV, and in which cell.</param>
public sealed record CsvRow(int Line, IReadOnlyList<string> Cells, CsvFault? Fault)
{
    public bool IsBlank => Fault is null && Cells.All(string.IsNullOrWhiteSpace);
}

public sealed record CsvFault(int Cell, string Code, string Detail);

/// <summary>
/// RFC 4180 text, read row by row in bounded memory. Beyond the RFC it takes a semicolon or a tab for the comma (whichever the
/// header holds most of) and LF or CR for CRLF. A quote inside a cell that does not begin with one is text.
/// </summary>
public sealed class CsvText
{
    /// <summary>Longest cell: what a spreadsheet's own cell can hold. A longer one is a quote that was never closed.</summary>
    public const int MostCellLength = 32_767;

    private const int MostCells = 1000;

    private readonly TextReader text;
    private readonly char[] buffer = new char[32 * 1024];
    private readonly StringBuilder cell = new();
    private int at;
    private int filled;
    private int line = 1;
    private bool ended;

    public CsvText(TextReader text)
    {
        this.text = text;
        filled = text.ReadBlock(buffer);
        Separator = SeparatorOf(buffer.AsSpan(0, filled));
    }

    public char Separator { get; }

    /// <summary>The next row; null at the end of the text, or where it can't be read any further.</summary>
    public CsvRow? Next()
    {
        if (ended || Peek() < 0)
        {
            return null;
        }

        var begins = line;
        var cells = new List<string>();
        CsvFault? fault = null;
        while (true)
        {
            var wrong = ReadCell();
            fault ??= wrong is var (code, detail) ? new CsvFault(cells.Count, code, detail) : null;
            cells.Add(cell.ToString());
            if (ended || Peek() != Separator)
            {
                break;
            }

            at++;
            if (cells.Count == MostCells)
            {
                ended = true;
                fault ??= new CsvFault(0, "ragged-row", $"has more than {MostCells} cells.");
                break;
            }
        }

        TakeLineBreak();
        return new(begins, cells, fault);
    }

    /// <summary>The line on which bytes stop being UTF-8, or null when all of them are.</summary>
    public static int? FirstLineNotUtf8(Stream stream)
    {
        var bytes = new byte[64 * 1024];
        var (held, line) = (0, 1);
        while (true)
        {
            var read = stream.Read(bytes, held, bytes.Length - held);
            var rest = bytes.AsSpan(0, held + read);
            while (!rest.IsEmpty)
            {
                var status = Rune.DecodeFromUtf8(rest, out var rune, out var length);
                if (status == OperationStatus.NeedMoreData && read > 0)
                {
                    break;
                }

                if (status != OperationStatus.Done)
                {
                    return line;
                }

                line += rune.Value == '\n' ? 1 : 0;
                rest = rest[length..];
            }

            if (read == 0)
            {
                return null;
            }

            held = rest.Length;
            rest.CopyTo(bytes);
        }
    }

    private static char SeparatorOf(ReadOnlySpan<char> start)
    {
        var (commas, semicolons, tabs, quoted) = (0, 0, 0, false);
        foreach (var c in start)
        {
            quoted ^= c == '"';
            if (quoted)
            {
                continue;
            }

            if (c is '\n' or '\r')
            {
                break;
            }

            commas += c == ',' ? 1 : 0;
            semicolons += c == ';' ? 1 : 0;
            tabs += c == '\t' ? 1 : 0;
        }

        return semicolons > commas && semicolons >= tabs ? ';'
            : tabs > commas ? '\t'
            : ',';
    }

    /// <summary>Reads one cell up to its separator or line break; what is wrong with it, if anything.</summary>
    private (string Code, string Detail)? ReadCell()
    {
        cell.Clear();
        (string, string)? fault = null;
        if (Peek() == '"')
        {
            var opened = line;
            at++;
            while (true)
            {
                var c = Take();
                if (c < 0 || cell.Length > MostCellLength)
                {
                    ended = true;
                    return (
                        "unclosed-quote",
                        $"the quote that opens on line {opened} is not closed; what follows can't be told into rows."
                    );
                }

                if (c != '"')
                {
                    cell.Append((char)c);
                }
                else if (Peek() == '"')
                {
                    at++;
                    cell.Append('"');
                }
                else
                {
                    break;
                }
            }

            if (Peek() is >= 0 and not ('\r' or '\n') and var after && after != Separator)
            {
                fault = ("malformed-quotes", "has text behind its closing quote; double the quotes inside a cell.");
            }
        }

        while (Peek() is >= 0 and not ('\r' or '\n') and var c && c != Separator)
        {
            cell.Append((char)c);
            at++;
            if (cell.Length > MostCellLength)
            {
                ended = true;
                return ("too-long", $"has more than {MostCellLength} characters; this may be no CSV file.");
            }
        }

        return fault;
    }

    private void TakeLineBreak()
    {
        if (Peek() is '\r' or '\n')
        {
            var c = Take();
            if (c == '\r' && Peek() == '\n')
            {
                Take();
            }
        }
    }

    private int Peek()
    {
        if (at == filled)
        {
            (at, filled) = (0, text.ReadBlock(buffer));
        }

        return at < filled ? buffer[at] : -1;
    }

    /// <summary>Takes a character and counts the line that it ends: LF does, and CR where no LF follows.</summary>
    private int Take()
    {
        var c = Peek();
        if (c >= 0)
        {
            at++;
            line += c == '\n' || (c == '\r' && Peek() != '\n') ? 1 : 0;
        }

        return c;
    }
}
