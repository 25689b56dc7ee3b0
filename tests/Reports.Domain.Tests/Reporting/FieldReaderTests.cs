using System.Text;
using System.Text.Json;
using Reports.Domain.Reporting;

namespace Reports.Domain.Tests.Reporting;

public sealed class FieldReaderTests
{
    private readonly List<FieldError> errors = [];

    [Theory]
    [InlineData("[]", "a list")]
    [InlineData("null", "null")]
    [InlineData("\"x\"", "text")]
    [InlineData("1", "a number")]
    [InlineData("true", "true or false")]
    public void Only_an_object_opens(string json, string kind)
    {
        Assert.Null(FieldReader.Open(Json(json), "/x", errors));
        var error = Assert.Single(errors);
        Assert.Equal(("/x", "wrong-type"), (error.Pointer, error.Code));
        Assert.Contains(kind, error.Detail, StringComparison.Ordinal);
    }

    [Fact]
    public void A_field_of_another_name_is_refused_and_the_nearest_named()
    {
        var reader = Open("""{"kept":1,"keptt":2,"zzzzzzzz":3}""");
        Assert.Equal(1, reader.Count("kept", 9));
        reader.RefuseUnknown();
        Assert.Equal(["/keptt unknown-field", "/zzzzzzzz unknown-field"], Found);
        Assert.Contains("Did you mean \"kept\"?", errors[0].Detail, StringComparison.Ordinal);
        Assert.Contains("Known: kept.", errors[1].Detail, StringComparison.Ordinal);
    }

    [Fact]
    public void An_ignored_field_is_not_refused()
    {
        var reader = Open("""{"id":"x"}""");
        reader.Ignore("id");
        reader.RefuseUnknown();
        Assert.Empty(errors);
    }

    [Fact]
    public void A_name_is_escaped_in_its_pointer()
    {
        Open("""{"a/b~c":1}""").RefuseUnknown();
        Assert.Equal(["/a~1b~0c unknown-field"], Found);
    }

    [Fact]
    public void A_field_given_twice_is_refused()
    {
        Assert.Equal(1, Open("""{"a":1,"a":2}""").Whole("a", 0, 9));
        Assert.Equal(["/a duplicate-field"], Found);
    }

    [Theory]
    [InlineData("""{"\ud800":1}""")]
    [InlineData("""{"\udc00x":1,"a":2}""")]
    public void A_name_that_is_no_text_is_refused_where_it_stands(string json)
    {
        Open(json);
        Assert.Equal([" malformed-field"], Found);
    }

    [Fact]
    public void Bytes_that_are_no_text_are_refused_as_name_and_as_value()
    {
        var json = Encoding.Latin1.GetBytes("{\"\xff\":1,\"note\":\"\xfe\"}");
        Open(JsonDocument.Parse(json).RootElement).Text("note", 9);
        Assert.Equal([" malformed-field", "/note malformed-text"], Found);
    }

    [Fact]
    public void Null_is_absent()
    {
        var reader = Open("""{"a":null}""");
        Assert.False(reader.Has("a"));
        Assert.Null(reader.Whole("a", 0, 1));
        Assert.Null(reader.Text("a", 1));
        Assert.Null(reader.Flag("a"));
        Assert.Null(reader.Object("a"));
        Assert.Empty(reader.Objects("a", 1));
        Assert.Empty(errors);
        Assert.Null(reader.Whole("a", 0, 1, required: true));
        Assert.Equal(["/a required"], Found);
    }

    [Theory]
    [InlineData("1", 1)]
    [InlineData("1.0", 1)]
    [InlineData("1e1", 10)]
    [InlineData("0", 0)]
    [InlineData("10", 10)]
    public void A_whole_number_may_be_written_in_any_form(string json, int expected)
    {
        Assert.Equal(expected, Of(json).Whole("a", 0, 10));
        Assert.Empty(errors);
    }

    [Theory]
    [InlineData("1.5", "not-whole")]
    [InlineData("1e400", "not-whole")]
    [InlineData("11", "out-of-range")]
    [InlineData("1e20", "out-of-range")]
    [InlineData("-1", "negative-count")]
    [InlineData("\"1\"", "wrong-type")]
    [InlineData("true", "wrong-type")]
    public void A_count_is_a_whole_number_that_is_not_negative(string json, string code)
    {
        Assert.Null(Of(json).Count("a", 10));
        Assert.Equal([$"/a {code}"], Found);
    }

    [Theory]
    [InlineData("0.000001", null)]
    [InlineData("10", null)]
    [InlineData("10.0000000", null)]
    [InlineData("0", "out-of-range")]
    [InlineData("10.000001", "out-of-range")]
    [InlineData("-1", "out-of-range")]
    [InlineData("1e99", "out-of-range")]
    [InlineData("0.0000001", "too-precise")]
    [InlineData("[]", "wrong-type")]
    public void A_number_lies_above_its_lower_and_up_to_its_upper_bound(string json, string? code)
    {
        var number = Of(json).Number("a", 0, 10, "lb");
        Assert.Equal(code is null, number is not null);
        Assert.Equal(code is null ? [] : [$"/a {code}"], Found);
    }

    [Fact]
    public void An_inclusive_lower_bound_belongs_to_the_range()
    {
        Assert.Equal(-90, Of("-90").Number("a", -90, 90, "degrees north", inclusive: true));
        Assert.Empty(errors);
    }

    [Theory]
    [InlineData("\"wide-open\"", Bite.WideOpen)]
    [InlineData("\" Wide Open \"", Bite.WideOpen)]
    [InlineData("\"SLOW\"", Bite.Slow)]
    public void A_word_is_forgiven_its_case_and_its_space(string json, Bite expected)
    {
        Assert.Equal(expected, Of(json).Word("a", Words.Of<Bite>()));
        Assert.Empty(errors);
    }

    [Theory]
    [InlineData("\"wild\"", "unknown-word")]
    [InlineData("\"\"", "unknown-word")]
    [InlineData("\"\\ud800\"", "unknown-word")]
    [InlineData("3", "wrong-type")]
    public void Another_word_is_refused_with_the_accepted_ones(string json, string code)
    {
        Assert.Null(Of(json).Word("a", Words.Of<Bite>()));
        Assert.Equal([$"/a {code}"], Found);
        if (code == "unknown-word")
        {
            Assert.Contains("slow, picky, steady, wide-open", errors[0].Detail, StringComparison.Ordinal);
        }
    }

    [Theory]
    [InlineData("\"2026-02-28\"", null)]
    [InlineData("\"2024-02-29\"", null)]
    [InlineData("\"2026-02-29\"", "not-a-date")]
    [InlineData("\"2026-2-8\"", "not-a-date")]
    [InlineData("\"20260228\"", "not-a-date")]
    [InlineData("\"2026-02-28T00:00:00Z\"", "not-a-date")]
    [InlineData("\" 2026-02-28\"", "not-a-date")]
    [InlineData("\"28.02.2026\"", "not-a-date")]
    [InlineData("20260228", "wrong-type")]
    public void A_date_is_year_month_day(string json, string? code)
    {
        Assert.Equal(code is null, Of(json).Date("a") is not null);
        Assert.Equal(code is null ? [] : [$"/a {code}"], Found);
    }

    [Theory]
    [InlineData("\"abc\"", null)]
    [InlineData("\"a\\nb\"", null)]
    [InlineData("\"\"", null)]
    [InlineData("\"abcd\"", "too-long")]
    [InlineData("\"a\\u0000\"", "malformed-text")]
    [InlineData("\"a\\u0007\"", "malformed-text")]
    [InlineData("\"\\udfff\"", "malformed-text")]
    [InlineData("1", "wrong-type")]
    public void A_text_has_a_length_and_no_control_characters(string json, string? code)
    {
        Assert.Equal(code is null, Of(json).Text("a", 3) is not null);
        Assert.Equal(code is null ? [] : [$"/a {code}"], Found);
    }

    [Fact]
    public void A_required_text_is_not_blank()
    {
        Assert.Null(Of("\"  \"").Text("a", 9, required: true));
        Assert.Equal(["/a required"], Found);
    }

    [Theory]
    [InlineData("1")]
    [InlineData("\"true\"")]
    [InlineData("{}")]
    public void A_flag_is_true_or_false(string json)
    {
        Assert.Null(Of(json).Flag("a"));
        Assert.Equal(["/a wrong-type"], Found);
    }

    [Fact]
    public void Entries_of_a_list_have_their_own_pointers_and_the_wrong_ones_are_left_out()
    {
        var entries = Of("""[{"k":1},2,{"k":"x"}]""").Objects("a", 3);
        Assert.Equal(["/a/0", "/a/2"], entries.Select(e => e.Pointer));
        Assert.Null(entries[1].Whole("k", 0, 9));
        Assert.Equal(["/a/1 wrong-type", "/a/2/k wrong-type"], Found);
    }

    [Theory]
    [InlineData("[]", "required")]
    [InlineData("[{},{},{}]", "too-many")]
    [InlineData("{}", "wrong-type")]
    public void A_list_has_bounds(string json, string code)
    {
        Assert.Empty(Of(json).Objects("a", 2, required: true));
        Assert.Equal([$"/a {code}"], Found);
    }

    private IEnumerable<string> Found => errors.Select(e => $"{e.Pointer} {e.Code}");

    private FieldReader Of(string json) => Open($$"""{"a":{{json}}}""");

    private FieldReader Open(string json) => Open(Json(json));

    private FieldReader Open(JsonElement json) => FieldReader.Open(json, "", errors)!;

    private static JsonElement Json(string json) => JsonDocument.Parse(json).RootElement;
}
