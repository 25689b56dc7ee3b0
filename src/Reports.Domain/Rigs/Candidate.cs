using Reports.Domain.Reporting;

namespace Reports.Domain.Rigs;

/// <summary>A rig that may be advised.</summary>
internal readonly record struct Candidate(Technique Technique, int RungLb, HookStyle Style, int Step)
{
    public RigFeatures Features(BaitAsk? bait) =>
        bait is { } ask
            ? RigFeatures.Of(RungLb, Technique, Style, Step, ask)
            : RigFeatures.Of(RungLb, Technique, null, null, default);
}
