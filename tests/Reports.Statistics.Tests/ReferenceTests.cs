using System.Reflection;
using System.Text.Json;

namespace Reports.Statistics.Tests;

/// <summary>
/// Marks the static method <c>void Run(ReferenceCase)</c> that checks the cases of one <c>method</c>. Files are found in the
/// reference folder by what they hold, never by name: a further file of the same form is tested without a line of code.
/// </summary>
[AttributeUsage(AttributeTargets.Method)]
public sealed class ReferenceMethodAttribute(string method) : Attribute
{
    public string Method { get; } = method;
}

public sealed class ReferenceTests
{
    private static readonly Dictionary<string, Action<ReferenceCase>> Runners = typeof(ReferenceTests)
        .Assembly.GetTypes()
        .SelectMany(t => t.GetMethods(BindingFlags.Static | BindingFlags.Public | BindingFlags.NonPublic))
        .Select(m => (Run: m, Attribute: m.GetCustomAttribute<ReferenceMethodAttribute>()))
        .Where(m => m.Attribute is not null)
        .ToDictionary(m => m.Attribute!.Method, m => m.Run.CreateDelegate<Action<ReferenceCase>>());

    private static string Folder => Path.Combine(AppContext.BaseDirectory, "reference");

    public static TheoryData<string, string> Cases()
    {
        var data = new TheoryData<string, string>();
        foreach (var (file, root) in Files())
        {
            foreach (var one in root.GetProperty("cases").EnumerateArray())
            {
                data.Add(file, one.GetProperty("id").GetString()!);
            }
        }

        return data;
    }

    [Theory]
    [MemberData(nameof(Cases))]
    public void Case_agrees_with_its_source(string file, string id)
    {
        var root = JsonDocument.Parse(File.ReadAllBytes(Path.Combine(Folder, file))).RootElement;
        var method = root.GetProperty("method").GetString()!;
        var element = root.GetProperty("cases").EnumerateArray().Single(c => c.GetProperty("id").GetString() == id);
        Assert.True(Runners.TryGetValue(method, out var run), $"{file}: no estimator for method '{method}'");
        var one = new ReferenceCase(file, element, method);
        run(one);
        one.Conclude();
    }

    [Fact]
    public void The_folder_holds_cases() => Assert.True(Files().Count() >= 19, $"too few files in {Folder}");

    private static IEnumerable<(string File, JsonElement Root)> Files() =>
        Directory
            .EnumerateFiles(Folder, "*.json")
            .Order(StringComparer.Ordinal)
            .Select(f => (Path.GetFileName(f), JsonDocument.Parse(File.ReadAllBytes(f)).RootElement));
}
