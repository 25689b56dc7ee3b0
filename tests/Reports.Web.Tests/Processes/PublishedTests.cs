using System.Diagnostics;
using System.Net;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Processes;

/// <summary>What is installed is not the build's output but what is published from it.</summary>
public sealed class PublishedTests
{
    [Fact]
    public async Task ThePublishedServiceAnswersWithItsFiles()
    {
        var ct = TestContext.Current.CancellationToken;
        var folder = Directory.CreateTempSubdirectory("reports-").FullName;
        var (program, data) = (Path.Combine(folder, "program"), Path.Combine(folder, "data"));
        try
        {
            // The build that these tests run on: bin/Release/net10.0.
            var built = Directory.GetParent(AppContext.BaseDirectory.TrimEnd(Path.DirectorySeparatorChar))!.Name;
            await PublishAsync(built, program, ct);
            var (process, address) = await ReportsProcess.ServeFromAsync(
                program,
                new() { ["Reports__DataPath"] = data, ["Reports__AdminKey"] = ReportsApp.AdminKey }
            );
            await using var service = process;
            using var http = new HttpClient { BaseAddress = address };
            foreach (var path in new[] { "/", "/icon.svg", "/openapi/v1.json", "/health/ready" })
            {
                using var answer = await http.GetAsync(new Uri(path, UriKind.Relative), ct);
                Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
            }
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    private static async Task PublishAsync(string configuration, string to, CancellationToken ct)
    {
        using var publish = Process.Start(
            new ProcessStartInfo(
                "dotnet",
                ["publish", "src/Reports.Web", "--configuration", configuration, "--no-build", "--output", to]
            )
            {
                WorkingDirectory = Repository.Root,
                RedirectStandardOutput = true,
            }
        )!;
        var said = await publish.StandardOutput.ReadToEndAsync(ct);
        await publish.WaitForExitAsync(ct);
        Assert.True(publish.ExitCode == 0, said);
    }
}
