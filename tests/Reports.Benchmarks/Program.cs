using System.Globalization;
using BenchmarkDotNet.Running;
using Reports.Benchmarks;
using Reports.Benchmarks.Advice;
using Reports.Benchmarks.Claims;

switch (args)
{
    case ["advice", .. var rest]:
        return AdviceVerb.Run(rest);
    case ["claims", .. var rest]:
        return ClaimsVerb.Run(rest);
    case ["ingest", .. var rest]:
        return await Ingest.RunAsync(rest);
    case ["recompute", .. var rest]:
        return await Recompute.RunAsync(rest);
    case ["pages", .. var rest]:
        return await PagesVerb.RunAsync(rest);
    case ["coverage-sizes", .. var rest]:
        SizesCoverage.Run(
            Console.Out,
            rest is [var replicates] ? int.Parse(replicates, CultureInfo.InvariantCulture) : 200
        );
        return 0;
    default:
        BenchmarkSwitcher.FromAssembly(typeof(Program).Assembly).Run(args);
        return 0;
}
