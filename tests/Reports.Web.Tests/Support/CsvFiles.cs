using System.Net;
using System.Net.Http.Headers;
using System.Text;
using System.Text.Json.Nodes;

namespace Reports.Web.Tests.Support;

/// <summary>CSV files as a client sends them, and what it reads out of the answer.</summary>
public static class CsvFiles
{
    /// <summary>A file of rows that all have the columns of the first.</summary>
    public static byte[] Csv(IEnumerable<Dictionary<string, string>> rows)
    {
        var text = new StringBuilder();
        foreach (var row in rows)
        {
            if (text.Length == 0)
            {
                text.AppendJoin(',', row.Keys).Append("\r\n");
            }

            text.AppendJoin(',', row.Values).Append("\r\n");
        }

        return Encoding.UTF8.GetBytes(text.ToString());
    }

    public static Task<HttpResponseMessage> SendAsync(Fleet fleet, string path, byte[] csv, string? key = null)
    {
        var content = new ByteArrayContent(csv);
        content.Headers.ContentType = new MediaTypeHeaderValue("text/csv");
        return fleet.SendAsync(HttpMethod.Post, path, key ?? fleet.Admin, content);
    }

    /// <summary>Sends a file that must be taken.</summary>
    public static async Task<JsonObject> ImportAsync(
        Fleet fleet,
        string path,
        byte[] csv,
        string query = "",
        string? key = null
    )
    {
        using var answer = await SendAsync(fleet, path + query, csv, key);
        await answer.ShouldBeAsync(HttpStatusCode.OK);
        return await answer.JsonAsync();
    }

    public static (int Stored, int Unchanged, int Errors) Counts(JsonObject answer) =>
        (answer.Number("stored"), answer.Number("unchanged"), answer.Number("errorCount"));

    /// <summary>Line, column and code of each error.</summary>
    public static IEnumerable<string> Errors(JsonObject answer) =>
        answer["errors"]!.AsArray().Select(e => $"{e!["line"]} {e["column"] ?? "-"} {e["code"]}");
}
