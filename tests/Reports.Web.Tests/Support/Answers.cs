using System.Net;
using System.Text.Json.Nodes;

namespace Reports.Web.Tests.Support;

/// <summary>What a client reads out of an answer.</summary>
public static class Answers
{
    public static Task<string> TextAsync(this HttpResponseMessage answer) => answer.Content.ReadAsStringAsync();

    public static Task<byte[]> BytesAsync(this HttpResponseMessage answer) => answer.Content.ReadAsByteArrayAsync();

    public static async Task<JsonObject> JsonAsync(this HttpResponseMessage answer) =>
        JsonNode.Parse(await answer.Content.ReadAsStringAsync())!.AsObject();

    /// <summary>Fails, showing the body, unless the status is one of those expected.</summary>
    public static async Task ShouldBeAsync(this HttpResponseMessage answer, params HttpStatusCode[] expected)
    {
        if (!expected.Contains(answer.StatusCode))
        {
            Assert.Fail(
                $"{answer.RequestMessage?.Method} {answer.RequestMessage?.RequestUri}: {(int)answer.StatusCode}, expected {string.Join(" or ", expected.Select(s => (int)s))}: {await answer.Content.ReadAsStringAsync()}"
            );
        }
    }

    /// <summary>The problem (RFC 9457) of a refusal: its status, media type and members are what they must be.</summary>
    public static async Task<JsonObject> ProblemAsync(this HttpResponseMessage answer, HttpStatusCode expected)
    {
        await answer.ShouldBeAsync(expected);
        Assert.Equal("application/problem+json", answer.Content.Headers.ContentType?.MediaType);
        var problem = await answer.JsonAsync();
        Assert.Equal((int)expected, problem["status"]!.GetValue<int>());
        Assert.NotEmpty(problem["title"]!.GetValue<string>());
        Assert.NotEmpty(problem["type"]!.GetValue<string>());
        return problem;
    }

    /// <summary>The pointers of a refusal's wrong fields, sorted.</summary>
    public static IReadOnlyList<string> Pointers(this JsonObject problem) =>
        [.. problem["errors"]!.AsArray().Select(e => e!["pointer"]!.GetValue<string>()).Order(StringComparer.Ordinal)];

    /// <summary>The codes of a refusal's errors, in order.</summary>
    public static IReadOnlyList<string> Codes(this JsonObject problem) =>
        [.. problem["errors"]!.AsArray().Select(e => e!["code"]!.GetValue<string>())];

    public static string Text(this JsonObject json, string name) => json[name]!.GetValue<string>();

    public static int Number(this JsonObject json, string name) => json[name]!.GetValue<int>();
}
