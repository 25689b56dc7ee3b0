using System.Text;
using System.Text.Json;
using Reports.Domain.Reporting;

namespace Reports.Domain.Tests.Reporting;

public sealed class CanonicalJsonTests
{
    [Theory]
    [InlineData("""{"a":1,"b":2}""", """{ "b": 2, "a": 1 }""")]
    [InlineData("""{"a":{"x":1,"y":[1,2]}}""", """{"a":{"y":[1, 2],"x":1}}""")]
    [InlineData("[1]", "[1.0]")]
    [InlineData("[1]", "[1e0]")]
    [InlineData("[1]", "[0.1E+1]")]
    [InlineData("[100]", "[1e2]")]
    [InlineData("[0]", "[-0]")]
    [InlineData("[0]", "[0.00]")]
    [InlineData("[0.25]", "[25e-2]")]
    [InlineData("""["A"]""", """["\u0041"]""")]
    [InlineData("""["a/b"]""", """["a\/b"]""")]
    [InlineData("""["é"]""", """["\u00e9"]""")]
    [InlineData("""{"é":1}""", """{"\u00E9":1}""")]
    [InlineData("""["\ud83d\ude00"]""", """["😀"]""")]
    public void What_means_the_same_has_one_hash(string one, string other) => Assert.Equal(Hash(one), Hash(other));

    [Theory]
    [InlineData("[1]", """["1"]""")]
    [InlineData("[1]", "[true]")]
    [InlineData("[0]", "[false]")]
    [InlineData("[null]", "[]")]
    [InlineData("[null]", """["null"]""")]
    [InlineData("""{"a":null}""", "{}")]
    [InlineData("[1,2]", "[2,1]")]
    [InlineData("[[1],2]", "[[1,2]]")]
    [InlineData("[1]", "[-1]")]
    [InlineData("[1]", "[1.000001]")]
    [InlineData("[1e40]", "[1e41]")]
    [InlineData("""{"a":1}""", """{"A":1}""")]
    [InlineData("""["é"]""", """["e\u0301"]""")]
    [InlineData("""["\ud800"]""", """["\ud801"]""")]
    [InlineData("""{"\ud800":1}""", """{"\ud801":1}""")]
    [InlineData("""["a\u0000"]""", """["a"]""")]
    public void What_means_something_else_has_another(string one, string other) =>
        Assert.NotEqual(Hash(one), Hash(other));

    [Fact]
    public void Bytes_that_are_no_text_still_have_a_hash()
    {
        byte[] Broken(byte wrong) => [(byte)'[', (byte)'"', wrong, (byte)'"', (byte)']'];
        Assert.NotEqual(Hash(Broken(0xFE)), Hash(Broken(0xFF)));
    }

    private static string Hash(string json) => Hash(Encoding.UTF8.GetBytes(json));

    private static string Hash(byte[] json)
    {
        using var document = JsonDocument.Parse(json);
        return Convert.ToHexString(CanonicalJson.Hash(document.RootElement));
    }
}
