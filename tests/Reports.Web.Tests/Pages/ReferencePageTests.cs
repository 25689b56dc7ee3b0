using AngleSharp.Html.Parser;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Pages;

/// <summary>The API's reference shows the whole document to people, without script.</summary>
public sealed class ReferencePageTests(PostgresServer postgres)
{
    [Fact]
    public async Task Every_operation_and_schema_is_there_with_a_command_and_every_link_leads_somewhere()
    {
        await using var app = await ReportsApp.StartAsync(DatabaseKind.Sqlite, postgres);
        using var http = app.CreateClient();
        var page = await new HtmlParser().ParseDocumentAsync(
            await http.GetStringAsync("/reference", TestContext.Current.CancellationToken),
            TestContext.Current.CancellationToken
        );

        Assert.Equal("API reference - Railside", page.Title);
        Assert.Empty(page.QuerySelectorAll("script"));
        foreach (var operation in ApiDocument.Written.Operations)
        {
            var section = page.GetElementById(operation.Json["operationId"]!.GetValue<string>());
            Assert.NotNull(section);
            Assert.Contains($"{operation.Method} {operation.Path}", section.TextContent, StringComparison.Ordinal);
            var command = section.QuerySelector("details pre")!.TextContent;
            Assert.StartsWith("curl", command, StringComparison.Ordinal);
            Assert.DoesNotContain("{", command.Split("http://")[1], StringComparison.Ordinal);
        }

        var ids = page.All.Select(e => e.Id).Where(i => !string.IsNullOrEmpty(i)).ToList();
        Assert.Distinct(ids);
        Assert.All(
            page.QuerySelectorAll("a[href^='#']").Select(a => a.GetAttribute("href")![1..]),
            target => Assert.Contains(target, ids)
        );
        Assert.Contains("shortest", page.GetElementById("schema-BaitLine")!.TextContent, StringComparison.Ordinal);
    }
}
