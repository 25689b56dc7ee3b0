using System.Diagnostics;
using System.Text;
using System.Text.RegularExpressions;
using Reports.Web.Tests.Support;

namespace Reports.Web.Tests.Processes;

/// <summary>What README and the tutorial tell a newcomer to type is typed here, word for word, against an empty service.</summary>
public sealed partial class TutorialTests
{
    [Fact]
    public async Task The_tutorial_of_the_api_runs_as_it_stands()
    {
        var output = await RunAsync("docs/api.md");
        Assert.Equal(1, Count(output, "HTTP/1.1 201 Created"));
        Assert.Contains("\"pointer\":\"/catch/0/colour\"", output, StringComparison.Ordinal);
        Assert.Contains("Did you mean \\\"grey-petrel\\\"?", output, StringComparison.Ordinal);
        Assert.Contains("\"kept\":32", output, StringComparison.Ordinal);
        Assert.Contains("\"index\":1,\"status\":201", output, StringComparison.Ordinal);
        Assert.Contains("\"evidence\":{\"reports\":3,\"boats\":3,\"fish\":51", output, StringComparison.Ordinal);
        Assert.Contains("\"stored\":2,\"unchanged\":0", output, StringComparison.Ordinal);
        Assert.Contains(",1,1,full-day,,,cannery-bank,planned", output, StringComparison.Ordinal);
        Assert.Contains("\"unit\":\"kg\"", output, StringComparison.Ordinal);
        Assert.Contains("\"zones\":[\"cannery-bank\"],\"zonePlanned\":false", output, StringComparison.Ordinal);
        Assert.Matches("\"briefVersion\":[1-9]", output);
    }

    [Fact]
    public async Task The_quick_start_runs_as_it_stands()
    {
        var output = await RunAsync("README.md");
        Assert.Equal(3, Count(output, "\"state\":\"counted\""));
        Assert.Contains("\"evidence\":{\"reports\":3,\"boats\":3", output, StringComparison.Ordinal);
        Assert.Contains("\"outfits\":[{\"order\":1", output, StringComparison.Ordinal);
    }

    private static async Task<string> RunAsync(string document)
    {
        using var folder = new TempFolder();
        var (process, address) = await ReportsProcess.ServeAsync(
            new()
            {
                ["Reports__DataPath"] = folder.Path,
                ["Reports__AdminKey"] = ReportsApp.AdminKey,
                ["Reports__TimeZone"] = "UTC",
            }
        );
        await using var service = process;
        var text = await File.ReadAllTextAsync(Path.Combine(Repository.Root, document));

        // The service runs already, on a port of its own: the block that starts one is left out, and the address is ours.
        var blocks = Blocks()
            .Matches(text)
            .Select(m => m.Groups[1].Value)
            .Where(b => !b.Contains("dotnet run", StringComparison.Ordinal));
        var script = new StringBuilder("set -e\n").AppendJoin('\n', blocks).ToString();
        script = script.Replace("http://127.0.0.1:5080", address.ToString().TrimEnd('/'), StringComparison.Ordinal);
        using var bash = Process.Start(
            new ProcessStartInfo("bash", ["-c", script])
            {
                RedirectStandardOutput = true,
                RedirectStandardError = true,
                Environment = { ["Reports__AdminKey"] = ReportsApp.AdminKey },
            }
        )!;
        var output = bash.StandardOutput.ReadToEndAsync();
        var errors = bash.StandardError.ReadToEndAsync();
        await bash.WaitForExitAsync(TestContext.Current.CancellationToken);
        Assert.True(bash.ExitCode == 0, $"{document}: exit code {bash.ExitCode}\n{await output}\n{await errors}");
        return await output;
    }

    private static int Count(string text, string part) => Regex.Count(text, Regex.Escape(part));

    [GeneratedRegex("^```bash\n(.*?)^```", RegexOptions.Singleline | RegexOptions.Multiline)]
    private static partial Regex Blocks();

    private sealed class TempFolder : IDisposable
    {
        public string Path { get; } = Directory.CreateTempSubdirectory("reports-").FullName;

        public void Dispose() => Directory.Delete(Path, recursive: true);
    }
}
