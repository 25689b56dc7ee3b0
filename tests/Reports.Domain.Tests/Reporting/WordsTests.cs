using Reports.Domain.Measures;
using Reports.Domain.Reporting;

namespace Reports.Domain.Tests.Reporting;

/// <summary>The words are the contract: renaming a member of an enumeration must not change them unseen.</summary>
public sealed class WordsTests
{
    [Fact]
    public void The_words_are_those_of_the_contract()
    {
        Assert.Equal(["so-far", "final"], Words.Of<ReportStatus>().Keys);
        Assert.Equal(["counted", "held", "so-far", "retracted"], Words.Of<ReportState>().Keys);
        Assert.Equal(["slow", "picky", "steady", "wide-open"], Words.Of<Bite>().Keys);
        Assert.Equal(["few", "half", "most", "nearly-all"], Words.Of<AnglerShare>().Keys);
        Assert.Equal(["lively", "weak"], Words.Of<BaitCondition>().Keys);
        Assert.Equal(["plenty", "short", "none"], Words.Of<BaitSupply>().Keys);
        Assert.Equal(["fly-line", "sinker", "cast", "drop", "kite", "troll", "other"], Words.Of<Technique>().Keys);
        Assert.Equal(["fluorocarbon", "monofilament", "none", "wire"], Words.Of<LeaderMaterial>().Keys);
        Assert.Equal(["braid", "monofilament"], Words.Of<MainLineMaterial>().Keys);
        Assert.Equal(["circle", "j", "treble", "none"], Words.Of<HookStyle>().Keys);
        Assert.Equal(["light", "regular", "heavy"], Words.Of<HookWire>().Keys);
        Assert.Equal(["few", "some", "most"], Words.Of<RigUse>().Keys);
        Assert.Equal(["lb", "kg"], Words.Of<WeightUnit>().Keys);
        Assert.Equal(["in", "cm"], Words.Of<LengthUnit>().Keys);
        Assert.Equal(["ft", "m", "fathom"], Words.Of<DepthUnit>().Keys);
    }

    [Fact]
    public void A_word_is_read_back_as_its_value() =>
        Assert.All(Words.Of<Technique>(), word => Assert.Equal(word.Key, word.Value.Word()));
}
