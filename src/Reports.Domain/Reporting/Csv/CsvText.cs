using System.Buffers;
using System.Text;
using CsvHelper;

namespace Reports.Domain.Reporting.Csv;

/// <summary>One row as it was written: the line on which it begins and its cells, unquoted and otherwise untouched.</summary>
/// <param name="Fault">What is wrong with the row as CSV, and in which cell.</param>
public sealed record CsvRow(int Line, IReadOnlyList<string> Cells, CsvFault? Fault)
{
    public bool IsBlank => Fault is null && Cells.All(string.IsNullOrWhiteSpace);
}

public sealed record CsvFault(int Cell, string Code, string Detail);

/// <summary>
/// RFC 4180 text, read row by row in bounded memory. Beyond the RFC it takes a semicolon or a tab for the comma (as the first lines
/// show) and LF or CR for CRLF. A quote inside a cell that does not begin with one is text.
/// </summary>
public sealed class CsvText : IDisposable
{
    /// <summary>Longest cell: what a spreadsheet's own cell can hold. A longer one is a quote that was never closed.</summary>
    public const int MostCellLength = 32_767;

    private const int MostCells = 1000;
    private const int MostRowBytes = 256 * 1024;

    private readonly CsvReader reader;
    private CsvMalformedRecord? malformed;
    private bool ended;

    public CsvText(TextReader text) =>
        reader = CsvReader.Create(
            text,
            new CsvReaderOptions
            {
                HasHeader = false,
                SkipEmptyLines = false,
                DetectSeparatorHint = true,
                TrackLineNumbers = true,
                MaxRecordSize = MostRowBytes,
                OnMalformedRecord = record => malformed = record,
            }
        );

    public char Separator => reader.Separator;

    /// <summary>The next row; null at the end of the text, or where it can't be read any further.</summary>
    public CsvRow? Next()
    {
        malformed = null;
        try
        {
            if (ended || !reader.Read())
            {
                return null;
            }
        }
        catch (CsvFormatException e)
        {
            // The row outgrew the buffer: its quote was never closed, or this is no CSV file.
            ended = true;
            return new((int)e.LineNumber, [], Unclosed(0, e.LineNumber));
        }

        var line = (int)reader.LineNumber;
        var cells = reader.Current.ToArray();
        return new(line, cells, Fault(line, cells));
    }

    public void Dispose() => reader.Dispose();

    /// <summary>Why bytes can't be read as text at all; null when they are UTF-8, with or without a byte-order mark.</summary>
    public static CsvError? EncodingFault(Stream bytes) =>
        FirstLineNotUtf8(bytes) is { } line
            ? new(
                line,
                null,
                "not-utf8",
                "The file is not UTF-8 from here on; it is probably in a spreadsheet's old encoding (Windows-1252). Save it as CSV UTF-8."
            )
            : null;

    /// <summary>The line on which bytes stop being UTF-8, or null when all of them are.</summary>
    private static int? FirstLineNotUtf8(Stream stream)
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

    private CsvFault? Fault(int line, string[] cells)
    {
        if (cells.Length > MostCells)
        {
            ended = true;
            return new(0, "ragged-row", $"has more than {MostCells} cells.");
        }

        if (malformed?.Reason == CsvMalformedReason.UnterminatedQuote)
        {
            ended = true;
            return Unclosed(cells.Length - 1, line);
        }

        if (malformed is { Reason: CsvMalformedReason.TextAfterClosingQuote } quotes)
        {
            return new(
                CellAt(quotes.ByteOffset, cells.Length),
                "malformed-quotes",
                "has text behind its closing quote; double the quotes inside a cell."
            );
        }

        var tooLong = Array.FindIndex(cells, c => c.Length > MostCellLength);
        return tooLong < 0
            ? null
            : new(tooLong, "too-long", $"has more than {MostCellLength} characters; this may be no CSV file.");
    }

    private static CsvFault Unclosed(int cell, long line) =>
        new(
            cell,
            "unclosed-quote",
            $"a quote in the row that begins on line {line} is not closed; what follows can't be told into rows."
        );

    /// <summary>The cell that holds a byte of the input.</summary>
    private int CellAt(long offset, int cells)
    {
        var end = reader.ByteOffset;
        for (var i = 0; i < cells; i++)
        {
            end += reader.GetRawSpan(i).Length + 1;
            if (offset < end)
            {
                return i;
            }
        }

        return cells - 1;
    }
}
