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
}

/// <summary>The verb and its own words; everything that starts with a dash goes to the configuration (--urls).</summary>
public sealed record CommandLine(Verb Verb, string[] Words, string[] Options)
{
    public const string Usage = """
        Usage: Reports.Web [VERB] [--urls URL]
          (none)                       web pages, API and jobs in one process
          web                          web pages and API only (PostgreSQL, with a worker beside it)
          worker                       jobs only (PostgreSQL)
          migrate                      bring the database to this version, then end
          key create NAME SCOPE [CODE] make an API key and show it once; SCOPE: admin, landing CODE, boat CODE, shop
          key list                     list the keys
          key revoke ID                revoke a key
        """;

    /// <summary>Parses the arguments; null when they are not understood.</summary>
    public static CommandLine? Parse(string[] args)
    {
        var words = args.TakeWhile(a => !a.StartsWith('-')).ToList();
        var options = args.Skip(words.Count).ToArray();
        if (words.Count == 0)
        {
            return new(Verb.All, [], options);
        }

        var verb = words[0] switch
        {
            "web" => Verb.Web,
            "worker" => Verb.Worker,
            "migrate" => Verb.Migrate,
            "key" => Verb.Key,
            _ => (Verb?)null,
        };
        var rest = words.Skip(1).ToArray();
        return verb is { } known && (known == Verb.Key || rest.Length == 0) ? new(known, rest, options) : null;
    }
}
