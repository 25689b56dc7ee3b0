using Reports.Domain.Reporting;

namespace Reports.Domain.Briefs;

/// <summary>
/// What a reader who packed by a brief would want to be told of when it changes: the rigs of the usual outfits in their order,
/// the size groups, and whether the species is closed. Not the figures, which move with every report.
/// </summary>
public sealed record Advice(
    IReadOnlyList<(Technique Technique, int RungLb, HookStyle HookStyle, int HookStep)> Rigs,
    IReadOnlyList<Grade> Groups,
    bool IsClosed
)
{
    /// <summary>A size group that moves by less than this factor is the same group.</summary>
    private const double SameGroup = 1.25;

    /// <param name="outfits">How many outfits are advised, as far as there are so many.</param>
    public static Advice Of(Brief brief, int outfits) =>
        new(
            brief.OutfitSets.Count == 0
                ? []
                :
                [
                    .. brief
                        .OutfitSets[Math.Min(outfits, brief.OutfitSets.Count) - 1]
                        .Select(o => (o.Technique, o.RungLb, o.HookStyle, o.HookStep)),
                ],
            brief.Size?.Grades ?? [],
            brief.ClosedNotice is not null
        );

    public bool SameAs(Advice other) =>
        IsClosed == other.IsClosed && Rigs.SequenceEqual(other.Rigs) && SameGroups(other);

    public bool SameGroups(Advice other) =>
        Groups.Count == other.Groups.Count
        && Groups
            .Zip(other.Groups)
            .All(pair =>
                Math.Max(pair.First.MedianGrams, pair.Second.MedianGrams)
                < SameGroup * Math.Min(pair.First.MedianGrams, pair.Second.MedianGrams)
            );
}
