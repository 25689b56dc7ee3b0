namespace Reports.Domain.Briefs;

public static class BriefMaker
{
    public static Brief Make(Evidence evidence) =>
        new()
        {
            Zone = evidence.Zone,
            Species = evidence.Species,
            AsOf = evidence.AsOf,
            Evidence = new(evidence.Reports.Count, 0, 0, 0, 0, null, Strength.None, false, null),
        };
}
