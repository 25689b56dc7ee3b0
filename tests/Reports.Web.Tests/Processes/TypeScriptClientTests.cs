using System.Diagnostics;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Processes;

/// <summary>
/// The document is enough for a stranger: a client in another language, its types generated from the document, its program at most
/// 60 lines, is type-checked and does the whole job against a running service.
/// </summary>
public sealed class TypeScriptClientTests
{
    private static readonly string Folder = Path.Combine(Repository.Root, "tests", "client");

    [Fact]
    public async Task A_client_made_from_the_document_alone_does_the_whole_job()
    {
        if (!await HasNodeAsync())
        {
            Assert.False(Environment.GetEnvironmentVariable("CI") == "true", "CI must have Node.js with npm");
            Assert.Skip("needs Node.js with npm");
        }

        Assert.InRange(File.ReadAllLines(Path.Combine(Folder, "client.ts")).Length, 1, 60);
        await RunAsync("npm", "ci", "--no-audit", "--no-fund");
        await RunAsync("npx", "openapi-typescript", "../../src/Reports.Web/Api/V1/openapi.json", "-o", "api.d.ts");
        await RunAsync("npx", "tsc", "-p", ".");

        var data = Directory.CreateTempSubdirectory("reports-").FullName;
        try
        {
            var (process, address) = await ReportsProcess.ServeAsync(
                new()
                {
                    ["Reports__DataPath"] = data,
                    ["Reports__AdminKey"] = ReportsApp.AdminKey,
                    ["Reports__TimeZone"] = "UTC",
                }
            );
            await using var service = process;
            using var http = new HttpClient { BaseAddress = address };
            var fleet = new Fleet(http);
            await fleet.PutCoastAsync();
            var day = DateOnly.FromDateTime(DateTime.UtcNow.AddDays(-2));
            // Older ones of the same boat, so that the client's list of one a page has pages to follow.
            await fleet.SubmitReportAsync(ReportBody.Short(Fleet.Petrel, day.AddDays(-1)));
            await fleet.SubmitReportAsync(ReportBody.Short(Fleet.Petrel, day.AddDays(-2)));
            var said = await RunAsync(
                "node",
                "out/client.js",
                address.ToString().TrimEnd('/'),
                ReportsApp.AdminKey,
                Fleet.Petrel,
                Fleet.Bank,
                ReportBody.Day(day)
            );
            Assert.Equal(
                [
                    "created counted version 1, repeated 200",
                    "refused /anglers",
                    "corrected to 32 version 2",
                    "listed 3",
                    "brief none, missing true",
                ],
                said.Split('\n', StringSplitOptions.RemoveEmptyEntries)
            );
        }
        finally
        {
            Directory.Delete(data, recursive: true);
        }
    }

    private static async Task<bool> HasNodeAsync()
    {
        try
        {
            await RunAsync("npm", "--version");
            return true;
        }
        catch (System.ComponentModel.Win32Exception)
        {
            return false;
        }
    }

    private static async Task<string> RunAsync(string program, params string[] words)
    {
        using var process = Process.Start(
            new ProcessStartInfo(program, words)
            {
                WorkingDirectory = Folder,
                RedirectStandardOutput = true,
                RedirectStandardError = true,
            }
        )!;
        var output = process.StandardOutput.ReadToEndAsync();
        var errors = process.StandardError.ReadToEndAsync();
        await process.WaitForExitAsync();
        Assert.True(process.ExitCode == 0, $"{program} {string.Join(' ', words)}: {await output}{await errors}");
        return await output;
    }
}
