using System.Text.RegularExpressions;

namespace Reports.Domain.Tests;

/// <summary>What must hold of the whole tree, whoever adds to it.</summary>
public sealed partial class RepositoryTests
{
    [Fact]
    public void No_file_names_a_place_on_somebodys_machine() =>
        Assert.Empty(
            from file in Repository.Files()
            let text = Repository.Read(file)
            where !text.Contains('\0', StringComparison.Ordinal) // pictures and fonts
            from line in text.Split('\n').Select((text, index) => (text, number: index + 1))
            where MachinePath().IsMatch(line.text)
            select $"{file}:{line.number}: {line.text.Trim()}"
        );

    [Theory]
    [InlineData("log to " + "/home" + "/ann/log", true)]
    [InlineData("\"" + "/root" + "/.cache\"", true)]
    [InlineData("cd " + "/work" + "/main", true)]
    [InlineData("dir=" + "/tmp" + "/x", true)]
    [InlineData(@"C:\" + @"Users\ann", true)]
    [InlineData("/usr/bin/chromium", false)]
    [InlineData("/var/lib/reports", false)]
    [InlineData("GET /zones/home/SBF", false)]
    [InlineData("${TMPDIR:-/tmp}", false)]
    public void The_scan_tells_a_machines_path_from_another(string text, bool isMachinePath) =>
        Assert.Equal(isMachinePath, MachinePath().IsMatch(text));

    [Fact]
    public void The_tree_is_found() =>
        Assert.Superset(new HashSet<string> { ".ci/run", "README.md", "tests/run.sh" }, Repository.Files().ToHashSet());

    [Fact]
    public void No_test_is_skipped_by_its_source() =>
        Assert.Empty(
            from file in Repository.Files()
            where
                file.StartsWith("tests/", StringComparison.Ordinal)
                && file.EndsWith(".cs", StringComparison.Ordinal)
                && SkippedTest().IsMatch(Repository.Read(file))
            select file
        );

    [GeneratedRegex(@"(?<![\w.}])/(home|root|Users|work|tmp)/\S|[A-Z]:\\Users\\")]
    private static partial Regex MachinePath();

    // A test may skip itself where the machine lacks something (Assert.Skip...); the build server then fails the run.
    [GeneratedRegex(@"\[(Fact|Theory|InlineData)\([^\]]*\bSkip\s*=")]
    private static partial Regex SkippedTest();
}
