namespace Reports.Domain.Tests;

/// <summary>The source tree that these tests were built from, for tests of the tree itself.</summary>
internal static class Repository
{
    // What tools and runs leave behind (.gitignore names the same). Git itself is not asked: an unpacked archive has none.
    private static readonly HashSet<string> Leavings =
    [
        ".git",
        ".idea",
        ".vs",
        "artifacts",
        "bin",
        "BenchmarkDotNet.Artifacts",
        "data",
        "node_modules",
        "obj",
        "TestResults",
    ];

    public static string Root { get; } = Find(AppContext.BaseDirectory);

    /// <summary>Paths of the source files, relative to the root and with forward slashes.</summary>
    public static IReadOnlyList<string> Files() =>
        [.. Under(Root).Select(f => Path.GetRelativePath(Root, f).Replace('\\', '/')).Order(StringComparer.Ordinal)];

    public static string Read(string file) => File.ReadAllText(Path.Combine(Root, file));

    private static IEnumerable<string> Under(string folder) =>
        Directory
            .EnumerateDirectories(folder)
            .Where(d => !Leavings.Contains(Path.GetFileName(d)))
            .SelectMany(Under)
            .Concat(Directory.EnumerateFiles(folder).Where(f => Path.GetFileName(f) is not (".git" or ".env")));

    private static string Find(string folder) =>
        File.Exists(Path.Combine(folder, "Reports.sln"))
            ? folder
            : Find(
                Path.GetDirectoryName(Path.TrimEndingDirectorySeparator(folder))
                    ?? throw new DirectoryNotFoundException("Reports.sln is in no folder above the tests.")
            );
}
