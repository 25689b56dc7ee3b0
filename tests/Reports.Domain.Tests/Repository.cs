using System.Diagnostics;

namespace Reports.Domain.Tests;

/// <summary>The source tree that these tests were built from, for tests of the tree itself.</summary>
internal static class Repository
{
    public static string Root { get; } = Find(AppContext.BaseDirectory);

    /// <summary>Paths, relative to the root and with forward slashes, of every file under version control.</summary>
    public static IReadOnlyList<string> TrackedFiles()
    {
        using var git = Process.Start(
            new ProcessStartInfo("git", "ls-files -z --cached --others --exclude-standard")
            {
                WorkingDirectory = Root,
                RedirectStandardOutput = true,
            }
        )!;
        var files = git.StandardOutput.ReadToEnd().Split('\0', StringSplitOptions.RemoveEmptyEntries);
        git.WaitForExit();
        Assert.Equal(0, git.ExitCode);
        return [.. files.Where(f => File.Exists(Path.Combine(Root, f)))];
    }

    public static string Read(string file) => File.ReadAllText(Path.Combine(Root, file));

    private static string Find(string folder) =>
        File.Exists(Path.Combine(folder, "Reports.sln"))
            ? folder
            : Find(
                Path.GetDirectoryName(Path.TrimEndingDirectorySeparator(folder))
                    ?? throw new DirectoryNotFoundException("Reports.sln is in no folder above the tests.")
            );
}
