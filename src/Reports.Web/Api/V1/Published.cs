using Reports.Storage;
using Reports.Web.Jobs;

namespace Reports.Web.Api.V1;

/// <summary>Tells, after a report's commit, those who hold something that it makes old.</summary>
public sealed class Published(BriefQueue queue, PastBriefs past)
{
    public void Changed(StoreOutcome outcome) => Changed([outcome]);

    public void Changed(IEnumerable<StoreOutcome?> outcomes)
    {
        var stored = outcomes.OfType<StoreOutcome.Stored>().ToList();
        if (stored.Count > 0)
        {
            past.DropFrom(stored.Min(s => s.Version.FishedOn));
            queue.Touched(stored.SelectMany(s => s.TouchedSpecies).Distinct());
        }
    }

    public void Changed(Imported imported)
    {
        if (imported.Earliest is { } day)
        {
            past.DropFrom(day);
            queue.Touched(imported.TouchedSpecies);
        }
    }
}
