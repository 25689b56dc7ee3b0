namespace Reports.Web;

/// <summary>What the process is started to do.</summary>
public enum Verb
{
    /// <summary>Web and jobs in one process.</summary>
    All,
    Web,
    Worker,
    Migrate,
    Key,
    Import,
}

/// <summary>
/// The verb, its own words and switches; everything else that starts with a dash goes to the configuration (--urls).
/// </summary>
public sealed record CommandLine(Verb Verb, string[] Words, IReadOnlySet<string> Switches, string[] Options)
{
    public const string DayFirst = "--day-first";
    public const string GoodRows = "--good-rows";
    public const string DryRun = "--dry-run";
    public const string Replace = "--replace";

    /// <summary>What an import brings, when it is not reports.</summary>
    public const string Departures = "departures";
    public const string Bait = "bait";

    private static readonly string[] ImportSwitches = [DayFirst, GoodRows, DryRun, Replace];

    public const string Usage = """
        Usage: Reports.Web [VERB] [--urls URL]
          (none)                       web pages, API and jobs in one process
          web                          web pages and API only (PostgreSQL, with a worker beside it)
          worker                       jobs only (PostgreSQL)
          migrate                      bring the database to this version, then end
          key create NAME SCOPE [CODE] make an API key and show it once; SCOPE: admin, landing CODE, boat CODE, shop
          key list                     list the keys
          key revoke ID                revoke a key
          import FILE.csv              store the reports of a CSV file (docs/csv.md), all or none of them
          import departures FILE.csv   the same for departures
          import bait FILE.csv         the same for the landings' bait of the day
            --dry-run                  only say what would be stored, and every error
            --good-rows                store what has no errors, leave out the others
            --replace                  reports only: a changed one becomes the next version of the one that stands
            --day-first                take dates such as 20/11/2026, the day first
        """;

    /// <summary>Parses the arguments; null when they are not understood.</summary>
    public static CommandLine? Parse(string[] args)
    {
        var words = args.TakeWhile(a => !a.StartsWith('-')).ToList();
        var options = args.Skip(words.Count).ToArray();
        if (words.Count == 0)
        {
            return new(Verb.All, [], new HashSet<string>(), options);
        }

        var verb = words[0] switch
        {
            "web" => Verb.Web,
            "worker" => Verb.Worker,
            "migrate" => Verb.Migrate,
            "key" => Verb.Key,
            "import" => Verb.Import,
            _ => (Verb?)null,
        };
        var rest = words.Skip(1).ToArray();
        return verb switch
        {
            Verb.Import => Import(rest, options),
            { } known when known == Verb.Key || rest.Length == 0 => new(known, rest, new HashSet<string>(), options),
            _ => null,
        };
    }

    // A mistyped switch must not become a setting that nobody reads: a setting has a colon or an equals sign.
    private static CommandLine? Import(string[] words, string[] options)
    {
        var isReports = words.Length == 1;
        string[] switches = isReports ? ImportSwitches : [.. ImportSwitches.Except([Replace])];
        var unknown = options.Where(o => o.StartsWith('-') && !switches.Contains(o));
        return (isReports || words is [Departures or Bait, _]) && unknown.All(o => o.Contains(':') || o.Contains('='))
            ? new(
                Verb.Import,
                words,
                options.Intersect(ImportSwitches).ToHashSet(),
                [.. options.Where(o => !ImportSwitches.Contains(o))]
            )
            : null;
    }
}
