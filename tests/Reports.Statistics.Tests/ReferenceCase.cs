using System.Globalization;
using System.Text.Json;

namespace Reports.Statistics.Tests;

/// <summary>
/// One case of a reference file. Every value read is remembered, so that a field of <c>input</c> or <c>expected</c> that
/// no runner looked at fails the test: a new kind of field can't pass by being ignored.
/// </summary>
public sealed class ReferenceCase
{
    private readonly JsonElement tolerance;
    private readonly List<string> failures = [];

    public ReferenceCase(string file, JsonElement element, string method)
    {
        File = file;
        Method = method;
        Id = element.GetProperty("id").GetString()!;
        Title = element.GetProperty("title").GetString()!;
        Variant = element.TryGetProperty("variant", out var variant) ? variant.GetString() : null;
        tolerance = element.GetProperty("tolerance");
        Input = new Node(this, element.GetProperty("input"), "input");
        Expected = new Node(this, element.GetProperty("expected"), "expected");
    }

    public string File { get; }
    public string Method { get; }
    public string Id { get; }
    public string Title { get; }
    public string? Variant { get; }
    public Node Input { get; }
    public Node Expected { get; }

    public override string ToString() => $"{File} {Id}";

    /// <summary>Adds a failure; all of a case's failures are reported together.</summary>
    public void Fail(string message) => failures.Add(message);

    /// <summary>Tolerance by name, else <c>all</c>. A missing one is an error of the case file.</summary>
    public (double Absolute, double Relative) Tolerance(params string[] names)
    {
        foreach (var name in names.Append("all"))
        {
            if (tolerance.TryGetProperty(name, out var t) && t.ValueKind == JsonValueKind.Object)
            {
                return (t.GetProperty("abs").GetDouble(), t.GetProperty("rel").GetDouble());
            }
        }

        throw new InvalidDataException($"{this}: no tolerance named {string.Join(", ", names)}");
    }

    /// <summary>A bare number of the tolerance object, for example <c>kkt_gap_required</c>.</summary>
    public double ToleranceNumber(string name) => tolerance.GetProperty(name).GetDouble();

    /// <summary>Pass when |got - expected| &lt;= abs + rel |expected|, equal infinities, or both NaN.</summary>
    public void Check(string what, double expected, double got, params string[] toleranceNames)
    {
        var (absolute, relative) = Tolerance(toleranceNames);
        var same =
            double.IsNaN(expected) ? double.IsNaN(got)
            : double.IsInfinity(expected) ? got.Equals(expected)
            : Math.Abs(got - expected) <= absolute + relative * Math.Abs(expected);
        if (!same)
        {
            Fail(
                string.Create(
                    CultureInfo.InvariantCulture,
                    $"{what}: expected {expected:R}, got {got:R} (off by {got - expected:E2}, allowed {absolute + relative * Math.Abs(expected):E2})"
                )
            );
        }
    }

    /// <summary>Throws with every failure and every unread field.</summary>
    public void Conclude()
    {
        failures.AddRange(Input.Unread());
        failures.AddRange(Expected.Unread());
        if (failures.Count > 0)
        {
            Assert.Fail($"{this} ({Title})\n" + string.Join("\n", failures));
        }
    }

    /// <summary>A JSON value that knows whether it was looked at.</summary>
    public sealed class Node(ReferenceCase owner, JsonElement element, string path)
    {
        private readonly Dictionary<string, Node> children = [];
        private List<Node>? items;
        private bool read;

        public string Path { get; } = path;
        public JsonValueKind Kind => element.ValueKind;

        public bool Has(string name) => element.TryGetProperty(name, out _);

        public Node this[string name] =>
            children.TryGetValue(name, out var child)
                ? child
                : children[name] = new Node(
                    owner,
                    element.TryGetProperty(name, out var value)
                        ? value
                        : throw new InvalidDataException($"{owner}: {Path}.{name} is missing"),
                    $"{Path}.{name}"
                );

        public IReadOnlyList<Node> Items =>
            items ??= [.. element.EnumerateArray().Select((e, i) => new Node(owner, e, $"{Path}[{i}]"))];

        public IEnumerable<string> Names => element.EnumerateObject().Select(p => p.Name);

        /// <summary>A number, or one of the strings Infinity, -Infinity, NaN.</summary>
        public double Number()
        {
            read = true;
            return element.ValueKind == JsonValueKind.String
                ? element.GetString() switch
                {
                    "Infinity" => double.PositiveInfinity,
                    "-Infinity" => double.NegativeInfinity,
                    "NaN" => double.NaN,
                    var other => throw new InvalidDataException($"{owner}: {Path} is '{other}', not a number"),
                }
                : element.GetDouble();
        }

        public int Whole() => checked((int)Number());

        public bool Bool()
        {
            read = true;
            return element.GetBoolean();
        }

        public string Text()
        {
            read = true;
            return element.GetString()!;
        }

        public double[] Numbers() => [.. Items.Select(i => i.Number())];

        /// <summary>Rows of numbers.</summary>
        public double[][] Matrix() => [.. Items.Select(i => i.Numbers())];

        /// <summary>Compares this number and marks it read.</summary>
        public void Check(double got, params string[] toleranceNames) =>
            owner.Check(Path, Number(), got, toleranceNames);

        /// <summary>Marks the whole subtree read, with the reason why it is not compared.</summary>
        public void NotCompared(string because)
        {
            ArgumentException.ThrowIfNullOrWhiteSpace(because);
            read = true;
        }

        public IEnumerable<string> Unread() =>
            read ? []
            : element.ValueKind == JsonValueKind.Object
                ? element
                    .EnumerateObject()
                    .SelectMany(p =>
                        children.TryGetValue(p.Name, out var c) ? c.Unread() : [$"{Path}.{p.Name} was not read"]
                    )
            : element.ValueKind == JsonValueKind.Array
                ? items is null ? (element.GetArrayLength() == 0 ? [] : [$"{Path} was not read"])
                    : items.SelectMany(i => i.Unread())
            : [$"{Path} was not read"];
    }
}
