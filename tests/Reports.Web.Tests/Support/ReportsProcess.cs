using System.Collections.Concurrent;
using System.Diagnostics;

namespace Reports.Web.Tests.Support;

/// <summary>The built service as a process of its own, as an operator runs it.</summary>
public sealed class ReportsProcess : IAsyncDisposable
{
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(120);

    private readonly Process process;
    private readonly ConcurrentQueue<string> output = new();
    private readonly ConcurrentQueue<string> errors = new();
    private readonly TaskCompletionSource<Uri> listening = new();
    private bool disposed;

    private ReportsProcess(string[] words, Dictionary<string, string> environment, string folder)
    {
        var start = new ProcessStartInfo("dotnet", [Path.Combine(folder, "Reports.Web.dll"), .. words])
        {
            RedirectStandardOutput = true,
            RedirectStandardError = true,
            WorkingDirectory = Path.GetTempPath(),
        };
        foreach (var name in start.Environment.Keys.Where(IsSetting).ToList())
        {
            start.Environment.Remove(name);
        }

        foreach (var (name, value) in environment)
        {
            start.Environment[name] = value;
        }

        const string told = "Railside answers at ";
        process = new Process { StartInfo = start };
        process.OutputDataReceived += (_, line) =>
        {
            if (line.Data is not { } text)
            {
                return;
            }

            output.Enqueue(text);
            if (text.StartsWith(told, StringComparison.Ordinal))
            {
                listening.TrySetResult(new Uri(text[told.Length..]));
            }
        };
        process.ErrorDataReceived += (_, line) =>
        {
            if (line.Data is { } text)
            {
                errors.Enqueue(text);
            }
        };
        process.Start();
        process.BeginOutputReadLine();
        process.BeginErrorReadLine();
    }

    public string Output => string.Join('\n', output);

    public string Errors => string.Join('\n', errors);

    /// <summary>Starts the service on a free port and waits until it answers.</summary>
    public static Task<(ReportsProcess Process, Uri Address)> ServeAsync(
        Dictionary<string, string> environment,
        params string[] words
    ) => ServeFromAsync(AppContext.BaseDirectory, environment, words);

    /// <summary>The same of a program that lies in another folder.</summary>
    public static async Task<(ReportsProcess Process, Uri Address)> ServeFromAsync(
        string folder,
        Dictionary<string, string> environment,
        params string[] words
    )
    {
        var served = new ReportsProcess([.. words, "--urls", "http://127.0.0.1:0"], environment, folder);
        var ended = served.process.WaitForExitAsync();
        var first = await Task.WhenAny(served.listening.Task, ended, Task.Delay(Patience));
        if (first != served.listening.Task)
        {
            var told = $"it does not answer: {served.Output}\n{served.Errors}";
            await served.DisposeAsync();
            Assert.Fail(told);
        }

        return (served, await served.listening.Task);
    }

    /// <summary>Runs the service to its end.</summary>
    public static async Task<(int Code, string Output, string Errors)> RunAsync(
        Dictionary<string, string> environment,
        params string[] words
    )
    {
        await using var run = new ReportsProcess(words, environment, AppContext.BaseDirectory);
        using var patience = new CancellationTokenSource(Patience);
        await run.process.WaitForExitAsync(patience.Token);
        return (run.process.ExitCode, run.Output, run.Errors);
    }

    /// <summary>Ends it at once (SIGKILL), whatever it is doing.</summary>
    public async Task KillAsync()
    {
        process.Kill();
        await process.WaitForExitAsync();
    }

    public async ValueTask DisposeAsync()
    {
        if (disposed)
        {
            return;
        }

        disposed = true;
        if (!process.HasExited)
        {
            await KillAsync();
        }

        process.Dispose();
    }

    private static bool IsSetting(string name) =>
        name.StartsWith("Reports__", StringComparison.OrdinalIgnoreCase)
        || name.StartsWith("ConnectionStrings__", StringComparison.OrdinalIgnoreCase)
        || name.StartsWith("ASPNETCORE_", StringComparison.OrdinalIgnoreCase);
}
