using System.Reflection;
using System.Text.Json;
using System.Text.RegularExpressions;
using Reports.Domain.Reporting;
using Reports.Statistics;

namespace Reports.Domain.Tests;

/// <summary>
/// The rooms keep their promises: no web and no database in Domain and Statistics, and nothing ambient either (clock, chance,
/// environment), so that the same reports give the same answers.
/// </summary>
public sealed partial class ArchitectureTests
{
    private static readonly string[] Outside =
    [
        "Microsoft.AspNetCore",
        "Microsoft.EntityFrameworkCore",
        "Microsoft.Data.Sqlite",
        "Microsoft.Extensions",
        "Npgsql",
        "Hangfire",
        "SQLitePCL",
        "System.Data",
        "System.Net.Http",
        "System.Net.Sockets",
    ];

    /// <summary>
    /// The CSV parser also offers its rows as a data reader and so names the base library's abstract data types; Domain uses its
    /// parser only, and what stands behind it is not followed.
    /// </summary>
    private const string Parser = "CsvHelper";

    public static TheoryData<string> PureRooms => ["Reports.Statistics", "Reports.Domain"];

    [Theory]
    [MemberData(nameof(PureRooms))]
    public void A_pure_room_reaches_no_web_and_no_database(string room)
    {
        var reached = Reached(Assembly.Load(room));
        Assert.Contains("System.Runtime", reached);
        Assert.DoesNotContain(reached, name => Outside.Any(o => IsOrIsUnder(name, o)));
    }

    [Fact]
    public void Statistics_stands_on_the_base_library_and_one_numerics_package()
    {
        var reached = Reached(typeof(StopReason).Assembly);
        Assert.Empty(
            reached.Where(n => !IsBaseLibrary(n) && n is not "MathNet.Numerics" and not "Reports.Statistics").Order()
        );
    }

    [Fact]
    public void Domain_knows_Statistics_and_no_other_room()
    {
        var rooms = Reached(typeof(CatchReport).Assembly)
            .Where(n => n.StartsWith("Reports.", StringComparison.Ordinal));
        Assert.Subset(new HashSet<string> { "Reports.Domain", "Reports.Statistics" }, rooms.ToHashSet());
    }

    // A package that is referenced and not yet used is invisible to reflection; the lock file shows it.
    [Theory]
    [InlineData("Reports.Statistics", "MathNet.Numerics")]
    [InlineData(
        "Reports.Domain",
        "CsvHelper MathNet.Numerics NetTopologySuite NetTopologySuite.Features NetTopologySuite.IO.GeoJSON4STJ reports.statistics"
    )]
    public void A_pure_room_restores_only_the_packages_it_is_allowed(string room, string allowed)
    {
        using var lockFile = JsonDocument.Parse(Repository.Read($"src/{room}/packages.lock.json"));
        var packages = lockFile
            .RootElement.GetProperty("dependencies")
            .EnumerateObject()
            .SelectMany(framework => framework.Value.EnumerateObject().Select(package => package.Name))
            .ToHashSet(StringComparer.OrdinalIgnoreCase);
        Assert.NotEmpty(packages);
        Assert.Subset(allowed.Split(' ').ToHashSet(StringComparer.OrdinalIgnoreCase), packages);
    }

    [Theory]
    [MemberData(nameof(PureRooms))]
    public void A_pure_room_asks_nothing_ambient(string room)
    {
        var sources = Repository
            .Files()
            .Where(f =>
                f.StartsWith($"src/{room}/", StringComparison.Ordinal) && f.EndsWith(".cs", StringComparison.Ordinal)
            )
            .ToList();
        Assert.NotEmpty(sources);
        Assert.Empty(
            from file in sources
            from line in Repository.Read(file).Split('\n').Select((text, index) => (text, number: index + 1))
            where Ambient().IsMatch(Comment().Replace(line.text, ""))
            select $"{file}:{line.number}: {line.text.Trim()}"
        );
    }

    [Theory]
    [InlineData("var now = DateTime.Now;")]
    [InlineData("DateTime.UtcNow.AddDays(1)")]
    [InlineData("DateTimeOffset.UtcNow")]
    [InlineData("TimeProvider.System")]
    [InlineData("TimeZoneInfo.Local")]
    [InlineData("Random.Shared.Next()")]
    [InlineData("var r = new Random();")]
    [InlineData("Random r = new();")]
    [InlineData("Guid.NewGuid()")]
    [InlineData("Environment.GetEnvironmentVariable(\"X\")")]
    public void The_scan_sees_what_is_ambient(string code) => Assert.Matches(Ambient(), code);

    [Theory]
    [InlineData("var r = new Random(seed);")]
    [InlineData("DateTimeOffset now")]
    [InlineData("Environment.NewLine")]
    public void The_scan_passes_what_is_handed_in(string code) => Assert.DoesNotMatch(Ambient(), code);

    // Every assembly that can be reached by references. The base library is named and not entered: its facades reach
    // everything.
    private static HashSet<string> Reached(Assembly start)
    {
        var reached = new HashSet<string>(StringComparer.Ordinal);
        var open = new Queue<Assembly>([start]);
        while (open.TryDequeue(out var assembly))
        {
            foreach (var reference in assembly.GetReferencedAssemblies())
            {
                if (reached.Add(reference.Name!) && !IsBaseLibrary(reference.Name!) && reference.Name != Parser)
                {
                    open.Enqueue(Assembly.Load(reference));
                }
            }
        }

        return reached;
    }

    private static bool IsBaseLibrary(string name) =>
        name is "mscorlib" or "netstandard" or "System" or "Microsoft.CSharp"
        || name.StartsWith("System.", StringComparison.Ordinal)
        || name.StartsWith("Microsoft.Win32", StringComparison.Ordinal);

    private static bool IsOrIsUnder(string name, string family) =>
        name == family || name.StartsWith(family + ".", StringComparison.Ordinal);

    [GeneratedRegex(
        @"\bDateTime\.(Now|UtcNow|Today)\b|\bDateTimeOffset\.(Now|UtcNow)\b|\bTimeProvider\.System\b|\bTimeZoneInfo\.Local\b"
            + @"|\bRandom\.Shared\b|\bnew Random\(\s*\)|\bRandom \w+ = new\(\s*\)|\bGuid\.(NewGuid|CreateVersion7)\b|\bEnvironment\.(Get|Tick|Machine|User|Current)"
    )]
    private static partial Regex Ambient();

    [GeneratedRegex(@"//.*$")]
    private static partial Regex Comment();
}
