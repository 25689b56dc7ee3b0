using System.Diagnostics;
using Reports.Domain.Briefs;

namespace Reports.Domain.Tests.Briefs;

public class SimulatedBriefTests(ITestOutputHelper output)
{
    [Fact]
    public void ABriefIsQuick()
    {
        var fleet = new School(7).Season(90, 22);
        var untold = new School(7).Season(90, 22, tellAnglers: false);
        fleet.Brief();
        foreach (var (name, f) in new[] { ("told", fleet), ("untold", untold) })
        {
            f.Brief();
            var clock = Stopwatch.StartNew();
            var brief = f.Brief();
            output.WriteLine($"{name}: {brief.Evidence.Reports} in window: {clock.ElapsedMilliseconds} ms");
            output.WriteLine(brief.ToJson());
        }
    }
}
