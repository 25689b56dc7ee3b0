using System.Diagnostics;
using Reports.Domain.Briefs;
namespace Reports.Domain.Tests.Briefs;
public class Explore(ITestOutputHelper output)
{
    [Fact]
    public void Slow()
    {
        for (var seed = 0; seed < 60; seed++)
        {
            var c = Stopwatch.StartNew();
            BriefMaker.Make(RandomEvidence.Of(seed * 7919));
            if (c.ElapsedMilliseconds > 100) output.WriteLine($"{seed} {c.ElapsedMilliseconds}");
        }
    }
}
