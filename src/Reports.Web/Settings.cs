using System.Globalization;
using Npgsql;
using Reports.Web.Demo;

namespace Reports.Web;

/// <summary>
/// The settings of a process, read from the environment (or any other configuration source) and checked once, at start. All faults
/// are told together.
/// </summary>
public sealed record Settings
{
    public const int LeastAdminKeyLength = 32;

    /// <summary>Requests a minute per client when nothing is set: far above honest use, below a runaway loop.</summary>
    public const int DefaultRateLimit = 12_000;

    /// <summary>Seconds that a slow client is borne with when nothing is set.</summary>
    public const int DefaultClientTimeout = 10;

    /// <summary>The server looks once a second; it takes no grace that is not longer.</summary>
    public const int LeastClientTimeout = 2;

    private static readonly string[] Known = ["DataPath", "Demo", "AdminKey", "TimeZone", "RateLimit", "ClientTimeout"];

    /// <summary>Connection string of PostgreSQL; null for the embedded database.</summary>
    public string? Postgres { get; init; }
    public required string DataPath { get; init; }
    public required bool Demo { get; init; }
    public string? AdminKey { get; init; }

    /// <summary>The coast as a whole: its day decides as of when a brief is computed.</summary>
    public required TimeZoneInfo TimeZone { get; init; }

    /// <summary>Requests a minute per client; null for no limit.</summary>
    public int? RateLimit { get; init; }

    /// <summary>
    /// How long a client may take to send its headers, and how long its body, or its taking of the answer, may be slower than
    /// <see cref="Limits.LeastBytesPerSecond"/>.
    /// </summary>
    public TimeSpan ClientTimeout { get; init; } = TimeSpan.FromSeconds(DefaultClientTimeout);

    /// <summary>The embedded database's file: demo data lives in one of its own.</summary>
    public string SqliteFile => Path.Combine(DataPath, Demo ? "demo.db" : "reports.db");

    /// <summary>Reads the settings, or lists what is wrong with them.</summary>
    public static (Settings? Settings, IReadOnlyList<string> Faults) Read(IConfiguration configuration)
    {
        var faults = new List<string>();
        var section = configuration.GetSection("Reports");
        foreach (
            var child in section.GetChildren().Where(c => !Known.Contains(c.Key, StringComparer.OrdinalIgnoreCase))
        )
        {
            faults.Add(
                $"Reports__{child.Key} is not a setting. Known: {string.Join(", ", Known.Select(k => "Reports__" + k))}."
            );
        }

        var postgres = Blank(configuration.GetConnectionString("Reports"));
        var adminKey = Blank(section["AdminKey"]);
        if (adminKey?.Length < LeastAdminKeyLength)
        {
            faults.Add(
                $"Reports__AdminKey must have at least {LeastAdminKeyLength} characters; it has {adminKey.Length}."
            );
        }

        var demo = postgres is null && adminKey is null;
        if (Blank(section["Demo"]) is { } demoText && !bool.TryParse(demoText, out demo))
        {
            faults.Add($"Reports__Demo must be true or false, not \"{demoText}\".");
        }

        var zoneName = Blank(section["TimeZone"]) ?? (demo ? DemoWorld.TimeZoneId : "UTC");
        if (!TimeZoneInfo.TryFindSystemTimeZoneById(zoneName, out var zone))
        {
            faults.Add(
                $"Reports__TimeZone must be an IANA time zone such as \"Pacific/Auckland\", not \"{zoneName}\"."
            );
        }

        int? rateLimit = DefaultRateLimit;
        if (Blank(section["RateLimit"]) is { } rateText)
        {
            rateLimit =
                string.Equals(rateText, "off", StringComparison.OrdinalIgnoreCase) ? null
                : int.TryParse(rateText, NumberStyles.None, CultureInfo.InvariantCulture, out var rate) && rate > 0
                    ? rate
                : -1;
            if (rateLimit == -1)
            {
                faults.Add(
                    $"Reports__RateLimit must be a whole number of requests a minute, or off; not \"{rateText}\"."
                );
            }
        }

        var clientTimeout = DefaultClientTimeout;
        if (
            Blank(section["ClientTimeout"]) is { } timeoutText
            && (
                !int.TryParse(timeoutText, NumberStyles.None, CultureInfo.InvariantCulture, out clientTimeout)
                || clientTimeout is < LeastClientTimeout or > 3600
            )
        )
        {
            faults.Add(
                $"Reports__ClientTimeout must be a whole number of seconds from {LeastClientTimeout} to 3600, not \"{timeoutText}\"."
            );
        }

        if (postgres is not null && Postgresql(postgres, demo) is (var connection, var fault))
        {
            postgres = connection;
            if (fault is not null)
            {
                faults.Add(fault);
            }
        }

        var settings = new Settings
        {
            Postgres = postgres,
            DataPath = Path.GetFullPath(Blank(section["DataPath"]) ?? DefaultDataPath()),
            Demo = demo,
            AdminKey = adminKey,
            TimeZone = zone ?? TimeZoneInfo.Utc,
            RateLimit = rateLimit,
            ClientTimeout = TimeSpan.FromSeconds(clientTimeout),
        };
        return faults.Count > 0 ? (null, faults) : (settings, faults);
    }

    // The demo coast is never mixed with real reports: on PostgreSQL it has a database of its own beside the named one.
    private static (string Connection, string? Fault) Postgresql(string connectionString, bool demo)
    {
        try
        {
            var builder = new NpgsqlConnectionStringBuilder(connectionString);
            if (string.IsNullOrEmpty(builder.Host) || string.IsNullOrEmpty(builder.Database))
            {
                return (connectionString, "ConnectionStrings__Reports must name at least Host and Database.");
            }

            if (demo)
            {
                builder.Database += "_demo";
            }

            return (builder.ToString(), null);
        }
        catch (Exception e) when (e is ArgumentException or FormatException)
        {
            return (connectionString, $"ConnectionStrings__Reports is not a PostgreSQL connection string: {e.Message}");
        }
    }

    private static string DefaultDataPath()
    {
        for (var folder = new DirectoryInfo(AppContext.BaseDirectory); folder is not null; folder = folder.Parent)
        {
            if (File.Exists(Path.Combine(folder.FullName, "Reports.sln")))
            {
                return Path.Combine(folder.FullName, "data");
            }
        }

        return Path.Combine(AppContext.BaseDirectory, "data");
    }

    private static string? Blank(string? text) => string.IsNullOrWhiteSpace(text) ? null : text.Trim();
}
