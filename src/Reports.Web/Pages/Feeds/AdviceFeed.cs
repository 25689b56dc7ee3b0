using System.Globalization;
using System.Xml.Linq;
using Reports.Domain.Briefs;
using Reports.Domain.Measures;
using Reports.Web.Api.V1;
using Reports.Web.Pages.Briefs;

namespace Reports.Web.Pages.Feeds;

/// <summary>
/// Atom (RFC 4287): an entry for each day whose advice is another than the day before's, by the last brief of each day (today: the
/// one that stands). An entry's address and time are its day's, so that computing again makes neither a new nor a changed one.
/// </summary>
public static class AdviceFeed
{
    /// <summary>Days that a feed looks back.</summary>
    public const int Days = 90;

    private static readonly XNamespace Atom = "http://www.w3.org/2005/Atom";

    /// <param name="days">The last brief of each day, oldest first. The first is only what the second is compared with, unless it is the very first.</param>
    /// <param name="fromTheFirst">Before the first of them there was none.</param>
    /// <param name="site">Where the site answers, without a slash at the end.</param>
    /// <param name="opened">When a day of the coast begins.</param>
    public static XDocument Write(
        IReadOnlyList<BriefView> days,
        bool fromTheFirst,
        string site,
        ReaderUnits units,
        Func<DateOnly, DateTimeOffset> opened
    )
    {
        var view = days[^1];
        var page = site + units.Link(view.Path);
        var entries = days.Index()
            .Select(d =>
                (Day: d.Item, Before: d.Index > 0 ? days[d.Index - 1] : null, IsNews: d.Index > 0 || fromTheFirst)
            )
            .Where(d => d.IsNews && (d.Before is null || !AdviceOf(d.Day).SameAs(AdviceOf(d.Before))))
            .Reverse()
            .ToList();
        return new XDocument(
            new XElement(
                Atom + "feed",
                new XElement(Atom + "id", $"{site}{view.Path}/advice.atom"),
                new XElement(Atom + "title", $"{Name(view)}: changes of advice"),
                new XElement(Atom + "subtitle", "What to bring, told again only when it changes."),
                new XElement(Atom + "updated", Instant(opened((entries.Count > 0 ? entries[0].Day : view).Brief.AsOf))),
                new XElement(Atom + "author", new XElement(Atom + "name", "Railside")),
                Link("self", site + units.Link(view.Path + "/advice.atom")),
                Link("alternate", page),
                entries.Select(e => new XElement(
                    Atom + "entry",
                    new XElement(Atom + "id", $"{site}{view.Path}#advice-{Dates.Text(e.Day.Brief.AsOf)}"),
                    new XElement(Atom + "title", Title(e.Day, units.Weight)),
                    new XElement(Atom + "updated", Instant(opened(e.Day.Brief.AsOf))),
                    Link("alternate", page),
                    new XElement(
                        Atom + "content",
                        new XAttribute("type", "text"),
                        string.Join("\n", Lines(e.Day, e.Before, units.Weight))
                    )
                ))
            )
        );
    }

    private static Advice AdviceOf(BriefView view) => Advice.Of(view.Brief, BriefEndpoints.DefaultOutfits);

    private static string Name(BriefView view) => $"{Say.Capital(view.Species.Name)} on {view.Zone.Name}";

    private static string Title(BriefView view, WeightUnit unit) =>
        AdviceOf(view) switch
        {
            { IsClosed: true } => $"{Say.Capital(view.Species.Name)} is closed",
            { Rigs.Count: 0 } => $"{Name(view)}: no outfit can be advised",
            var advice => $"{Name(view)}: tie on {Rig(advice.Rigs[0], unit)} first",
        };

    private static IEnumerable<string> Lines(BriefView view, BriefView? before, WeightUnit unit)
    {
        var advice = AdviceOf(view);
        yield return Verdict.Of(view.Brief, view.Zone.Name, view.Species.Name, unit);
        yield return "Outfits: " + Outfits(advice, unit);
        yield return "Size groups: " + Groups(advice, unit);
        if (before is not null)
        {
            var old = AdviceOf(before);
            if (!old.Rigs.SequenceEqual(advice.Rigs))
            {
                yield return "Outfits before: " + Outfits(old, unit);
            }

            if (!old.SameGroups(advice))
            {
                yield return "Size groups before: " + Groups(old, unit);
            }
        }
    }

    private static string Outfits(Advice advice, WeightUnit unit) =>
        advice.Rigs.Count == 0 ? "none can be advised" : string.Join("; ", advice.Rigs.Select(r => Rig(r, unit)));

    private static string Groups(Advice advice, WeightUnit unit) =>
        advice.Groups.Count == 0
            ? "too few boats told"
            : string.Join("; ", advice.Groups.Select(g => Say.Weights(g.LowGrams, g.HighGrams, unit)));

    private static string Rig(
        (Domain.Reporting.Technique Technique, int RungLb, Domain.Reporting.HookStyle HookStyle, int HookStep) rig,
        WeightUnit unit
    ) => Say.Rig(rig.Technique, rig.RungLb, rig.HookStyle, rig.HookStep, unit);

    private static XElement Link(string relation, string address) =>
        new(Atom + "link", new XAttribute("rel", relation), new XAttribute("href", address));

    private static string Instant(DateTimeOffset instant) =>
        instant.ToUniversalTime().ToString("yyyy-MM-dd'T'HH:mm:ss'Z'", CultureInfo.InvariantCulture);
}
