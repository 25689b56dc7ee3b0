using BenchmarkDotNet.Running;
using Reports.Benchmarks;
using Reports.Benchmarks.Advice;

switch (args)
{
    case ["advice", .. var rest]:
        return AdviceVerb.Run(rest);
    case ["ingest", .. var rest]:
        return await Ingest.RunAsync(rest);
    default:
        BenchmarkSwitcher.FromAssembly(typeof(Program).Assembly).Run(args);
        return 0;
}
