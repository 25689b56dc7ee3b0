using BenchmarkDotNet.Attributes;
using Reports.Domain.Briefs;
using Reports.Domain.Reporting;

namespace Reports.Benchmarks;

/// <summary>
/// A brief of one zone and species with 400 reports in its four weeks, the coast's part given, as the job has it; and that part of a
/// coast of twenty such zones.
/// </summary>
[MemoryDiagnoser]
public class BriefBenchmarks
{
    private const string Zone = "zone-0";
    private const string Species = "SBF";
    private const int Zones = 20;
    private static readonly DateOnly Today = new(2026, 11, 23);

    private List<ReportMeasures> coast = [];
    private Evidence evidence = null!;
    private CoastPrior prior = null!;

    [GlobalSetup]
    public void Setup()
    {
        coast = [.. Recompute.Draw(Zones, Windows.Mechanics, Today)];
        prior = CoastPrior.Of(coast, Species, Today);
        evidence = new(Zone, Species, Today, coast.FindAll(r => r.Zone == Zone), [], null);
        if (evidence.Reports.Count(r => r.FishedOn > Today.AddDays(-Windows.Display)) != Recompute.PerZoneAndMonth)
        {
            throw new InvalidOperationException("not the reports that the aim is about");
        }
    }

    [Benchmark]
    public int Brief() => BriefMaker.Make(evidence, prior).OutfitSets.Count;

    [Benchmark]
    public int CoastsPart() => CoastPrior.Of(coast, Species, Today).ToJson().Length;
}
