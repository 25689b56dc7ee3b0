using Reports.Storage;
using Reports.Web.Jobs;

namespace Reports.Web.Api.V1;

/// <summary>Tells, after a report's commit, those who hold something that it makes old.</summary>
public sealed class Published(BriefQueue queue, PastBriefs past)
{
    public void Changed(StoreOutcome outcome)
    {
        if (outcome is StoreOutcome.Stored stored)
        {
            past.DropFrom(stored.Version.FishedOn);
            queue.Touched(stored.TouchedSpecies);
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
