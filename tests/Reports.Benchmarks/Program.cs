using BenchmarkDotNet.Running;
using Reports.Benchmarks.Advice;

switch (args)
{
    case ["advice", .. var rest]:
        return AdviceVerb.Run(rest);
    default:
        BenchmarkSwitcher.FromAssembly(typeof(Program).Assembly).Run(args);
        return 0;
}
