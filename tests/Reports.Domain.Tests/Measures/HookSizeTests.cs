using Reports.Domain.Measures;

namespace Reports.Domain.Tests.Measures;

public sealed class HookSizeTests
{
    private static IEnumerable<HookSize> All =>
        Enumerable
            .Range(1 - HookSize.LargestPlain, HookSize.LargestPlain + HookSize.LargestAught)
            .Select(HookSize.FromStep);

    [Theory]
    // The order of the trade: ... 3, 2, 1, 1/0, 2/0, 3/0 ...; step(n) = 1 - n, step(n/0) = n.
    [InlineData("8", -7)]
    [InlineData("2", -1)]
    [InlineData("1", 0)]
    [InlineData("1/0", 1)]
    [InlineData("2/0", 2)]
    [InlineData("10/0", 10)]
    [InlineData("32", -31)]
    [InlineData("27/0", 27)]
    // Other ways to write them.
    [InlineData("2-0", 2)]
    [InlineData(" 2 / 0 ", 2)]
    [InlineData("#2", -1)]
    [InlineData("# 2/0", 2)]
    [InlineData("size 2", -1)]
    [InlineData("Size 2/0", 2)]
    [InlineData("No. 4", -3)]
    [InlineData("no 4", -3)]
    // A 20 is read as a 20: whether 2/0 was meant is a question to ask, not a guess to make.
    [InlineData("20", -19)]
    public void A_packet_number_is_read(string text, int step)
    {
        Assert.True(HookSize.TryParse(text, out var size));
        Assert.Equal(step, size.Step);
    }

    [Theory]
    [InlineData(null)]
    [InlineData("")]
    [InlineData(" ")]
    [InlineData("0")]
    [InlineData("0/0")]
    [InlineData("2/1")]
    [InlineData("2/O")]
    [InlineData("2/o")]
    [InlineData("2/")]
    [InlineData("/0")]
    [InlineData("2/00")]
    [InlineData("-2")]
    [InlineData("+2")]
    [InlineData("2.0")]
    [InlineData("1e1")]
    [InlineData("33")]
    [InlineData("28/0")]
    [InlineData("999999999999")]
    [InlineData("2/0 circle")]
    [InlineData("two")]
    [InlineData("٢")]
    [InlineData("２/０")]
    public void Anything_else_is_refused(string? text)
    {
        Assert.False(HookSize.TryParse(text, out var size));
        Assert.Equal(default, size);
    }

    [Fact]
    public void What_is_written_reads_back_as_the_same_size() =>
        Assert.All(
            All,
            size =>
            {
                Assert.True(HookSize.TryParse(size.ToString(), out var read));
                Assert.Equal(size, read);
                Assert.Equal(size, size.IsAught ? HookSize.Aught(size.Number) : HookSize.Plain(size.Number));
            }
        );

    [Fact]
    public void Without_an_aught_a_larger_number_is_smaller_and_with_one_larger()
    {
        Assert.True(HookSize.Plain(4) < HookSize.Plain(2));
        Assert.True(HookSize.Plain(1) < HookSize.Aught(1));
        Assert.True(HookSize.Aught(1) < HookSize.Aught(2));
        Assert.True(HookSize.Aught(2) > HookSize.Plain(2));
        Assert.True(HookSize.Aught(2) >= HookSize.Aught(2) && HookSize.Aught(2) <= HookSize.Aught(2));
        Assert.Equal(
            ["4", "3", "2", "1", "1/0", "2/0", "3/0"],
            new[] { "2/0", "1", "4", "3/0", "2", "1/0", "3" }.Select(Read).Order().Select(s => s.ToString())
        );
    }

    [Fact]
    public void Neighbours_are_one_step_apart_across_the_aught() =>
        Assert.All(All.Zip(All.Skip(1)), pair => Assert.Equal(1, pair.Second.Step - pair.First.Step));

    [Theory]
    [InlineData(0)]
    [InlineData(-1)]
    [InlineData(33)]
    [InlineData(int.MaxValue)]
    [InlineData(int.MinValue)]
    public void A_plain_size_out_of_range_cannot_be_made(int number) =>
        Assert.Throws<ArgumentOutOfRangeException>(() => HookSize.Plain(number));

    [Theory]
    [InlineData(0)]
    [InlineData(28)]
    [InlineData(int.MinValue)]
    public void An_aught_out_of_range_cannot_be_made(int number) =>
        Assert.Throws<ArgumentOutOfRangeException>(() => HookSize.Aught(number));

    [Theory]
    [InlineData(-32)]
    [InlineData(28)]
    [InlineData(int.MinValue)]
    [InlineData(int.MaxValue)]
    public void A_step_out_of_range_cannot_be_made(int step) =>
        Assert.Throws<ArgumentOutOfRangeException>(() => HookSize.FromStep(step));

    private static HookSize Read(string text) =>
        HookSize.TryParse(text, out var size) ? size : throw new FormatException(text);

    [Theory]
    [InlineData("2/0", "2")]
    [InlineData("2", "2/0")]
    [InlineData("20", "2/0")]
    [InlineData("30", "3/0")]
    [InlineData("29", null)]
    public void ALostOrAddedAughtMeantAnotherHook(string told, string? meant)
    {
        Assert.True(HookSize.TryParse(told, out var size));
        Assert.Equal(meant, size.AughtSlip?.ToString());
    }
}
