using Reports.Domain.Measures;
using Reports.Domain.Reporting;
using Reports.Domain.Tests.Briefs;

namespace Reports.Domain.Tests.Reporting;

/// <summary>
/// What is doubted and what is not, on a coast whose boats told of fish of 18 to 45 lb and fished 2 to 1/0 with five-inch bait. Rates of
/// catching and of false questions are measured by simulation (docs/method/flags.md); here are the plain cases, common practice,
/// no source.
/// </summary>
public sealed class FlagRulesTests
{
    private static readonly DateTimeOffset Now = new(2026, 11, 23, 12, 0, 0, TimeSpan.Zero);

    /// <summary>Three boats a day for four weeks up to the day before.</summary>
    private static readonly CoastProfile Coast = CoastProfile.Of(Month().Reports);

    private static Fleet Month()
    {
        var random = new Random(11);
        var fleet = new Fleet();
        for (var day = 4; day < 32; day++)
        {
            foreach (var boat in new[] { "grey-petrel", "ardent-tern", "little-auk" })
            {
                fleet.Trip(
                    boat,
                    day,
                    random.Next(20, 45),
                    0,
                    random.Next(17, 22),
                    random.Next(38, 46),
                    rigs:
                    [
                        Fleet.Rig(step: random.Next(-1, 2)),
                        Fleet.Rig(25, step: random.Next(-1, 2)),
                        Fleet.Rig(60, HookStyle.J, 5, technique: Technique.Drop),
                    ],
                    bait: [Fleet.Bait(4.5, 5.5)]
                );
            }
        }

        return fleet;
    }

    private static IReadOnlyList<ReportFlag> Flags(
        CoastProfile profile,
        params (string Pointer, string? Json)[] changes
    )
    {
        var report = ReportReader.Read(ReportDocuments.With(ReportDocuments.Example, changes), TestCoast.Register, Now);
        Assert.Empty(report.Errors);
        return FlagRules.Of(report.Value!, TestCoast.Register, profile, [], null);
    }

    private static (string, string)[] Codes(params (string Pointer, string? Json)[] changes) =>
        [.. Flags(Coast, changes).Select(f => (f.Pointer, f.Code))];

    [Fact]
    public void AGoodReportRaisesNone() => Assert.Empty(Flags(Coast));

    [Theory]
    [InlineData("13", "29")] // Smaller fish of a school, and one somewhat larger.
    [InlineData("20", "72")] // One odd fish, well below twice the usual largest.
    public void AnHonestOddDayRaisesNone(string smallest, string largest) =>
        Assert.Empty(Codes(("/catch/0/smallest", smallest), ("/catch/0/largest", largest)));

    [Fact]
    public void KilogramsTypedAsPoundsAreAsked()
    {
        // 18 to 42 lb are 8 to 19 kg (1 lb = 0.45359237 kg).
        var flag = Assert.Single(Flags(Coast, ("/catch/0/smallest", "8"), ("/catch/0/largest", "19")));
        Assert.Equal(("/catch/0/largest", "other-unit"), (flag.Pointer, flag.Code));
        Assert.Contains(
            "8 to 19 would be usual for southern bluefin here in kg",
            flag.Reason,
            StringComparison.Ordinal
        );
        Assert.False(flag.Holding);
    }

    [Theory]
    [InlineData("200")]
    [InlineData("280")]
    public void ALargestThatNoBoatNearbyHasTheLikeOfIsAsked(string largest) =>
        Assert.Equal([("/catch/0/largest", "far-outside")], Codes(("/catch/0/largest", largest)));

    [Theory]
    [InlineData("310")] // One digit more than the example's 31.
    [InlineData("250")] // 10.6 of an angler, where the best of 84 boat trips had 2.2.
    [InlineData("1114")]
    public void AsManyFishAsNoBoatHadTheLikeOfAreAsked(string kept)
    {
        var flag = Assert.Single(Flags(Coast, ("/catch/0/kept", kept)), f => f.Pointer == "/catch/0/kept");
        Assert.Equal(("far-outside", false), (flag.Code, flag.Holding));
        // Of 20 to 44 fish on 20 anglers, evenly drawn, the middle eight in ten are 22.4 to 41.6: on the example's 24 anglers 27 to 50, give or take the draw.
        Assert.Matches("^2[4-9] to 4[5-9] lately, where there were any$", flag.Expected);
    }

    [Fact]
    public void ASlipThatNobodyMendedDoesNotVouchForTheNext()
    {
        var profile = CoastProfile.Of(Month().Trip("storm-skua", 5, 1114, 0, 20, 40).Reports);
        Assert.Contains(Flags(profile, ("/catch/0/kept", "1114")), f => f.Pointer == "/catch/0/kept");
    }

    [Fact]
    public void ABetterDayThanTheBestIsNotAsked() =>
        // 2.8 of an angler.
        Assert.Empty(Codes(("/catch/0/kept", "62")));

    [Fact]
    public void AFishBeyondEveryRecordIsHeldWhateverTheCoastHasSeen()
    {
        // 1.1 times 167.5 kg are 406 lb (Records).
        foreach (var profile in new[] { Coast, CoastProfile.Empty })
        {
            var flag = Assert.Single(Flags(profile, ("/catch/0/largest", "420")), f => f.Holding);
            Assert.Equal("over-record", flag.Code);
        }

        Assert.DoesNotContain(Flags(CoastProfile.Empty, ("/catch/0/largest", "400")), f => f.Holding);
    }

    [Fact]
    public void ACoastThatToldLittleAsksNothingOfSizes() =>
        Assert.Empty(Flags(CoastProfile.Empty, ("/catch/0/smallest", "8"), ("/catch/0/largest", "19")));

    [Theory]
    [InlineData("4/0", "4")]
    [InlineData("3/0", "3")]
    public void AnAughtTooManyIsAskedWithTheSizeMeant(string typed, string meant)
    {
        var flag = Assert.Single(Flags(Coast, ("/rigs/0/hook/size", $"\"{typed}\"")));
        Assert.Equal(("/rigs/0/hook/size", "aught-slip", meant), (flag.Pointer, flag.Code, flag.Expected));
    }

    [Fact]
    public void TheHooksBesideTellASlipThatTheBaitDoesNot()
    {
        const string rig =
            """{ "species": "SBF", "lineClass": 25, "hook": { "style": "circle", "size": "1" }, "rods": 3 }""";
        // A 2/0 alone is one size above the usual; beside 2s a boat trip seldom has it.
        const string two =
            """{ "species": "SBF", "lineClass": 40, "hook": { "style": "circle", "size": "2" }, "rods": 3 }""";
        Assert.Contains(
            ("/rigs/0/hook/size", "aught-slip"),
            Codes(("/rigs/0/hook/size", "\"2/0\""), ("/rigs/-", two), ("/rigs/-", two))
        );
        Assert.Empty(Codes(("/rigs/0/hook/size", "\"2/0\"")));
        Assert.Empty(Codes(("/rigs/-", rig), ("/rigs/-", two)));
    }

    [Fact]
    public void TheHookOfALureIsNoBaitHook() =>
        Assert.Empty(
            Codes(
                (
                    "/rigs/-",
                    """{ "species": "SBF", "technique": "drop", "lineClass": 60, "hook": { "style": "j", "size": "5/0" } }"""
                )
            )
        );

    [Fact]
    public void OneFishByEyeAndOnTheScaleIsOneFish()
    {
        (string, string?)[] one =
        [
            ("/catch/0/kept", "1"),
            ("/catch/0/released", "0"),
            ("/catch/0/anglersWithFish", "1"),
            ("/catch/0/topRod", "1"),
            ("/rigs", null),
        ];
        Assert.Empty(Codes([.. one, ("/catch/0/smallest", "30"), ("/catch/0/largest", "31.4")]));
        Assert.Contains(
            ("/catch/0/smallest", "one-fish-two-sizes"),
            Codes([.. one, ("/catch/0/smallest", "25"), ("/catch/0/largest", "38")])
        );
    }

    [Theory]
    [InlineData("155", true)] // A digit twice.
    [InlineData("42", false)] // That of a released fish, as likely as not.
    public void OneFishKeptWithTwoSizesIsAskedWhereNoReleasedFishExplainsIt(string largest, bool asked) =>
        Assert.Equal(
            asked,
            Codes(
                    ("/catch/0/kept", "1"),
                    ("/catch/0/released", null),
                    ("/catch/0/anglersWithFish", null),
                    ("/catch/0/topRod", null),
                    ("/rigs", null),
                    ("/catch/0/largest", largest)
                )
                .Contains(("/catch/0/smallest", "one-fish-two-sizes"))
        );

    [Theory]
    [InlineData(22, 55, true)] // 5 and 7 landed by 22 of 24 anglers; a digit twice.
    [InlineData(22, 25, false)] // With four released 29: twice as many and five more.
    [InlineData(10, 55, false)] // Half of the anglers fished something else.
    public void ACatchThatNearlyAllRodsTogetherDidNotLandIsAsked(int rods, int kept, bool asked)
    {
        string Rig(int line, int landed) =>
            $$"""{ "species": "SBF", "lineClass": {{line}}, "hook": { "style": "circle", "size": "1" }, "rods": {{rods / 2}}, "landed": {{landed}} }""";
        var codes = Codes(("/catch/0/kept", $"{kept}"), ("/rigs", $"[{Rig(25, 5)}, {Rig(30, 7)}]"));
        Assert.Equal(asked, codes.Contains(("/catch/0/kept", "catch-over-landed")));
    }
}
