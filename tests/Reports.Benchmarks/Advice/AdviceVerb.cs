using System.Diagnostics;
using System.Globalization;
using Reports.Domain.Briefs;
using Reports.Domain.Trade;

namespace Reports.Benchmarks.Advice;

/// <summary>
/// Does an angler who brings what the brief says land more than one who copies the last winner? Scores the brief maker, and the
/// plain rules beside it, on simulated fleets. <c>advice --seeds 10</c> prints the table; <c>advice --check</c> holds the
/// simulation to its promises.
/// </summary>
internal static class AdviceVerb
{
    private const int FirstAsOf = 6;
    private const int Week = 7;

    /// <summary>Scored beside the brief maker. A new way of choosing outfits is one more line here.</summary>
    private static readonly (string Name, Advisor Advise)[] Rivals =
    [
        ("last winner", PlainRules.LastWinner),
        ("most wins, 7 days", PlainRules.MostWins),
        ("fixed 25/40/80", PlainRules.Fixed),
        ("habit 30/20/50", PlainRules.Habit),
    ];

    private const string BriefName = "brief";
    private const string Printed = "brief, hooks as printed";
    private const string Knowing = "knowing that day's sea";
    private const string Floored = "the same, 20 lb and heavier";
    private const string Hindsight = "best in hindsight";

    private static readonly TellingMix Usual = new(0.5, 0.25, 0.2);
    private static readonly (string Name, int Boats, TellingMix Mix)[] Variants =
    [
        ("24 boats", 24, Usual),
        ("6 boats", 6, Usual),
        ("24 boats, winner only", 24, new(0, 0, 0.95)),
        ("24 boats, no tallies", 24, new(0, 0.6, 0.35)),
    ];

    public static int Run(string[] args)
    {
        if (args is ["--check"])
        {
            return Check();
        }

        var seeds = Option(args, "--seeds", 10);
        var first = Option(args, "--first", 1);
        var quick = args.Contains("--forecasts");
        var only = args.SkipWhile(a => a != "--only").Skip(1).FirstOrDefault();
        foreach (var (name, boats, mix) in Variants.Where(v => only is null || v.Name == only))
        {
            var clock = Stopwatch.StartNew();
            var seasons = Enumerable.Range(first, seeds).Select(seed => Score(seed, boats, mix, quick)).ToList();
            Console.WriteLine();
            Print($"{name}: {seeds} seeds from {first}, {clock.Elapsed.TotalSeconds:0} s");
            if (!quick)
            {
                PrintAdvice(seasons);
            }

            PrintForecasts(seasons);
        }

        return 0;
    }

    private sealed record Season(AdviceScore Advice, AdviceScore FirstDay, ForecastScore Forecast, double BriefSeconds);

    /// <param name="quick">Forecasts only: rigs, which take most of the time, are left out.</param>
    private static Season Score(int seed, int boats, TellingMix mix, bool quick)
    {
        var fleet = new SimulatedFleet(seed, boats);
        var telling = new Telling(fleet, mix);
        var (advice, firstDay, forecast) = (new AdviceScore(fleet), new AdviceScore(fleet), new ForecastScore());
        var clock = new Stopwatch();
        var briefs = 0;
        CoastPrior? prior = null;
        for (var asOf = 0; asOf + Week < SimulatedFleet.Days; asOf += asOf == 0 ? FirstAsOf : Week)
        {
            for (var zone = 0; zone < SimulatedFleet.Zones; zone++)
            {
                var week = fleet
                    .Outcomes.Where(o => o.Day.Zone == zone && o.Day.Day > asOf && o.Day.Day <= asOf + Week)
                    .ToList();
                if (week.Count == 0)
                {
                    continue;
                }

                var evidence = telling.Evidence(asOf, zone);
                if (quick)
                {
                    if (asOf > 0)
                    {
                        var alone = Forecast(evidence, ref prior);
                        forecast.Add(alone, week, fleet.Truth(asOf, 1, zone), fleet.Truth(asOf + 1, Week, zone));
                    }

                    continue;
                }

                clock.Start();
                var brief = BriefMaker.Make(evidence);
                clock.Stop();
                briefs++;
                var days = week.Select(o => o.Day).ToList();
                var score = asOf == 0 ? firstDay : advice;
                var sample = fleet.Sample(asOf, zone, 30);
                var habit = PlainRules.Habit(evidence);
                var sets = brief.OutfitSets.Count == 0 ? habit : brief.OutfitSets;
                var rigs = sets[Math.Min(AdviceScore.MostOutfits, sets.Count) - 1].Select(Angler.RigOf).ToList();
                score.Add(
                    days,
                    [
                        new(BriefName, brief.OutfitSets, 1),
                        new("brief, bait misjudged by 15 %", brief.OutfitSets, 0.85, 1.15),
                        new(Printed, brief.OutfitSets),
                        .. Rivals.Select(r => new Counsel(r.Name, r.Advise(evidence))),
                        new("fixed, custom's hook for the bait", PlainRules.Fixed(evidence), 1),
                        new("habit, custom's hook for the bait", habit, 1),
                        new("brief's lines, custom's hook", PlainRules.CustomsHook(brief.OutfitSets), 1),
                        // What hooks and lines lose, each with the other put right.
                        new(
                            "brief's lines, right hooks",
                            Known([.. rigs.Select(r => Rig.All.Where(x => x.RungLb == r.RungLb).ToList())])
                        ),
                        new(
                            "brief's lines and styles",
                            Known([
                                .. rigs.Select(r =>
                                    Rig.All.Where(x => x.RungLb == r.RungLb && x.Style == r.Style).ToList()
                                ),
                            ])
                        ),
                        new(
                            "brief's hooks, right lines",
                            Known([
                                .. rigs.Select(r =>
                                    Rig.All.Where(x => (x.Style, x.Step) == (r.Style, r.Step)).ToList()
                                ),
                            ])
                        ),
                        new(Knowing, Known([Rig.All])),
                        new(
                            Floored,
                            Known([
                                [.. Rig.All.Where(r => r.RungLb >= TackleTable.FloorLb)],
                            ])
                        ),
                        new(Hindsight, PlainRules.Sets(evidence, score.Best(days, Rig.All))),
                    ],
                    habit
                );
                score.Strengths.Add(brief.Evidence.Strength);
                if (asOf > 0)
                {
                    forecast.Add(brief, week, fleet.Truth(asOf, 1, zone), fleet.Truth(asOf + 1, Week, zone));
                }

                IReadOnlyList<IReadOnlyList<Outfit>> Known(IReadOnlyList<IReadOnlyList<Rig>> slots) =>
                    PlainRules.Sets(evidence, score.Best(sample, slots));
            }
        }

        return new Season(advice, firstDay, forecast, clock.Elapsed.TotalSeconds / briefs);
    }

    /// <summary>The brief as of reports that tell nothing of rigs, which take most of the time.</summary>
    /// <param name="prior">The coast's of that day, made once for all of its zones.</param>
    private static Brief Forecast(Evidence evidence, ref CoastPrior? prior)
    {
        var plain = evidence with
        {
            Reports = [.. evidence.Reports.Select(r => r with { Rigs = [] })],
            ClosedNotice = "-",
        };
        prior = prior?.Rates.AsOf == evidence.AsOf ? prior : CoastPrior.Of(plain.Reports, plain.Species, plain.AsOf);
        return BriefMaker.Make(plain, prior);
    }

    private static void PrintAdvice(List<Season> seasons)
    {
        Print($"{"share of the oracle's fish, %", -32}{"finder", -36}{"by the rule", -36}first day");
        Print($"{"", -32}{"1", -12}{"2", -12}{"3", -12}{"1", -12}{"2", -12}{"3", -12}3");
        foreach (var name in seasons[0].Advice.Advisors)
        {
            var cells = Enumerable
                .Range(1, AdviceScore.MostOutfits)
                .Select(k => Percent(seasons, s => s.Advice.FinderShare(name, k)))
                .Concat(
                    Enumerable
                        .Range(1, AdviceScore.MostOutfits)
                        .Select(k => Percent(seasons, s => s.Advice.FollowerShare(name, k)))
                )
                .Append(Percent(seasons, s => s.FirstDay.FinderShare(name, 3)));
            Print($"{name, -32}{string.Concat(cells.Select(c => $"{c, -12}"))}");
        }

        string Lead(string brief) =>
            Percent(seasons, s => s.Advice.FinderShare(brief, 3) - s.Advice.FinderShare("most wins, 7 days", 3));
        Print($"{"brief ahead of most wins, at 3", -32}{Lead(BriefName)}; hooks as printed {Lead(Printed)}");
        Print(
            $"{"by seed: brief 1, 3 (knowing)", -32}{string.Join("; ", seasons.Select(s => Text($"{100 * s.Advice.FinderShare(BriefName, 1):0} {100 * s.Advice.FinderShare(BriefName, 3):0} ({100 * s.Advice.FinderShare(Knowing, 1):0} {100 * s.Advice.FinderShare(Knowing, 3):0})")))}"
        );
        Print($"{"briefs without outfits", -32}{seasons.Sum(s => s.Advice.Silent + s.FirstDay.Silent)}");
        var said = seasons.SelectMany(s => s.FirstDay.Strengths).CountBy(s => s).OrderBy(s => s.Key);
        Print($"{"strength on the first day", -32}{string.Join(", ", said.Select(s => $"{s.Value} {s.Key}"))}");
        Print($"{"seconds a brief", -32}{seasons.Average(s => s.BriefSeconds):0.000}");
    }

    private static void PrintForecasts(List<Season> seasons)
    {
        Print($"{"catch forecast / observed", -32}{Mean(seasons, s => s.Forecast.CatchRatio)}");
        Print($"{"at least one: bias", -32}{Mean(seasons, s => s.Forecast.OddsBias)}");
        Print($"{"at least one: Brier skill", -32}{Mean(seasons, s => s.Forecast.BrierSkill)}");
        Print($"{"at least one: slope", -32}{Mean(seasons, s => s.Forecast.CalibrationSlope)}");
        Print($"{"at least one: slope of all", -32}{ForecastScore.Slope(seasons.Select(s => s.Forecast)):0.000}");
        Print($"{"size pinball / true quantiles'", -32}{Mean(seasons, s => s.Forecast.SizePinballRatio)}");
        foreach (var figure in new[] { ForecastScore.Rate, ForecastScore.One, ForecastScore.Heavy })
        {
            var cells = new[]
            {
                ("that day", figure),
                ("week after", ForecastScore.Coming(figure)),
                ("few reports", ForecastScore.Few(figure)),
                ("few, week after", ForecastScore.Coming(ForecastScore.Few(figure))),
            }.Select(c =>
            {
                var held = seasons.Sum(s => s.Forecast.Coverage(c.Item2).Held);
                var of = seasons.Sum(s => s.Forecast.Coverage(c.Item2).Of);
                return of == 0 ? $"{c.Item1} none" : Text($"{c.Item1} {100.0 * held / of:0} % of {of}");
            });
            Print($"{"80 % holds " + figure, -32}{string.Join(", ", cells)}");
        }

        var statements = seasons
            .SelectMany(s => s.Forecast.Statements)
            .GroupBy(s => s.InTen)
            .OrderBy(g => g.Key)
            .Select(g =>
                Text($"{g.Key}: {10.0 * g.Sum(s => s.WithFish) / g.Sum(s => s.Anglers):0.0} ({g.Sum(s => s.Anglers)})")
            );
        Print($"{"\"k in 10\" happened", -32}{string.Join("  ", statements)}");
    }

    /// <summary>Mean over seeds with its standard error.</summary>
    private static string Mean(List<Season> seasons, Func<Season, double> of, double times = 1, string format = "0.000")
    {
        var x = seasons.Select(s => times * of(s)).ToList();
        var mean = x.Average();
        var error = Math.Sqrt(x.Sum(v => (v - mean) * (v - mean)) / Math.Max(1, x.Count - 1) / x.Count);
        return mean.ToString(format, CultureInfo.InvariantCulture)
            + " ± "
            + error.ToString(format, CultureInfo.InvariantCulture);
    }

    private static string Percent(List<Season> seasons, Func<Season, double> of) => Mean(seasons, of, 100, "0.0");

    /// <summary>The simulation is a function of its seed, its documents pass the reader, and its bounds are bounds.</summary>
    private static int Check()
    {
        var faults = new List<string>();
        var (fleet, again) = (new SimulatedFleet(7, 6), new SimulatedFleet(7, 6));
        var (told, twice) = (new Telling(fleet, Usual), new Telling(again, Usual));
        Hold(told.Documents.SequenceEqual(twice.Documents), "the same seed tells other documents");
        Hold(!told.Documents.SequenceEqual(new Telling(new(8, 6), Usual).Documents), "another seed tells the same");
        Hold(told.Reports.Count == told.Told.Count, "documents were lost on the way to measures");
        var plain = new Telling(fleet, new(0, 0, 0.95));
        Hold(plain.Reports.Count == told.Reports.Count, "the mix of telling changes who reports");
        Hold(plain.Reports.All(r => r.Rigs.All(g => g.Winning && g.Rods is null)), "winner-only tells more than that");
        var days = fleet.Outcomes.Take(60).Select(o => o.Day).ToList();
        var sets = PlainRules.Habit(told.Evidence(30, 0));
        foreach (var day in days)
        {
            var best = Rig.All.Max(rig => Angler.Landed(fleet, rig, day));
            for (var k = 1; k <= AdviceScore.MostOutfits; k++)
            {
                var (finder, follower) = (
                    Angler.Finder(fleet, sets[k - 1], day),
                    Angler.RuleFollower(fleet, sets[k - 1], day)
                );
                Hold(finder <= best + 1e-12, "a finder beats the oracle");
                Hold(follower <= best + 1e-12, "a follower beats the oracle");
            }
        }

        // What a rod expects is what rods get: a boat of luck 1 each, fished many times over, agrees with the expectation.
        var fished = fleet.Outcomes.Sum(o => o.Rigs.Sum(r => r.Value.Landed));
        var expected = fleet.Outcomes.Sum(o =>
            o.Rigs.Sum(r =>
            {
                var (hooked, held) = fleet.Expect(r.Key, o.Day);
                return r.Value.Rods * hooked * held;
            })
        );
        Hold(Math.Abs(fished / expected - 1) < 0.06, Text($"landed {fished} where {expected:0} were expected"));
        foreach (var fault in faults.Distinct())
        {
            Print($"fault: {fault}");
        }

        Print($"{faults.Distinct().Count()} faults");
        return faults.Count == 0 ? 0 : 1;

        void Hold(bool condition, string fault)
        {
            if (!condition)
            {
                faults.Add(fault);
            }
        }
    }

    private static int Option(string[] args, string name, int otherwise) =>
        args.SkipWhile(a => a != name).Skip(1).FirstOrDefault() is { } value
            ? int.Parse(value, CultureInfo.InvariantCulture)
            : otherwise;

    private static string Text(FormattableString text) => FormattableString.Invariant(text);

    private static void Print(FormattableString text) => Console.WriteLine(FormattableString.Invariant(text));
}
