namespace Reports.Domain.Briefs;

/// <summary>The reasons that gather while a brief is made. Pointers are into the brief's JSON as the API answers it.</summary>
internal sealed class Missing
{
    private readonly List<MissingPart> parts = [];

    public IReadOnlyList<MissingPart> Parts => parts;

    public void Add(string pointer, string code, string detail) => parts.Add(new(pointer, code, detail));

    /// <summary>Withheld by the rule of three.</summary>
    public void TooFewBoats(string pointer, string what) =>
        Add(pointer, "too-few-boats", $"Fewer than three boats {what}, so it is not shown.");
}
