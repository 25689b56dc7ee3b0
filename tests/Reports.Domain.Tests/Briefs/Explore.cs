using System.Diagnostics;
using Reports.Domain.Briefs;
using Reports.Domain.Measures;

namespace Reports.Domain.Tests.Briefs;

public class Explore(ITestOutputHelper output)
{
    [Fact]
    public void Stress()
    {
        var all = Stopwatch.StartNew();
        var n = 0;
        for (var seed = 0; seed < 20000 && all.Elapsed.TotalSeconds < 100; seed++)
        {
            n++;
            var c = Stopwatch.StartNew();
            try
            {
                BriefMaker.Make(RandomEvidence.Of(1_000_003 * (seed % 2000) + seed)).ToJson();
            }
            catch (Exception e)
            {
                output.WriteLine(
                    $"{seed}: {e.GetType().Name} {e.Message} {e.StackTrace?.Split('\n').FirstOrDefault(l => l.Contains("src/", StringComparison.Ordinal))}"
                );
            }
            if (c.ElapsedMilliseconds > 1500)
                output.WriteLine($"{seed} slow {c.ElapsedMilliseconds}");
        }
        output.WriteLine($"{n} done");
        foreach (var s in new[] { 1, 5, 7 })
        {
            var b = new School(s).Season(28, 6).Brief();
            output.WriteLine(Verdict.Of(b, "Cannery Bank", "bluefin", WeightUnit.Lb));
            output.WriteLine(Verdict.Of(b, "Cannery Bank", "bluefin", WeightUnit.Kg));
            output.WriteLine(
                string.Join("; ", b.Size!.Grades) + " | " + string.Join(",", b.OutfitSets[1].Select(o => o.RungLb))
            );
        }
    }
}
