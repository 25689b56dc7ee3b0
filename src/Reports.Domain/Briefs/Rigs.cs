using Reports.Domain.Reporting;
using Reports.Statistics;

namespace Reports.Domain.Briefs;

/// <summary>What makes two rigs the same: hook sizes compare within a style only.</summary>
internal sealed record RigKey(Technique Technique, int RungLb, HookStyle? HookStyle, int? HookStep)
{
    public static RigKey Of(RigMeasure rig) => new(rig.Technique, rig.RungLb, rig.HookStyle, rig.HookStep);
}

/// <summary>All that reports of the window tell of one rig.</summary>
internal sealed record RigUse(RigKey Key, IReadOnlyList<(Sighting Sighting, RigMeasure Line)> Lines)
{
    public HashSet<string> Boats => Sample.BoatSet(Lines.Select(l => l.Sighting));
}

/// <summary>How each rig did: wins, landed per rod, fish held. Shrunk, because most rigs were fished a few times only.</summary>
internal sealed class Rigs
{
    /// <summary>What the coast's shares of wins are worth, in reports, to a zone's own (common practice, no source).</summary>
    private const double PriorReports = 4;

    /// <summary>Tallies that the correlation within a boat trip is fitted to: one number, well known from these.</summary>
    private const int MostForCorrelation = 150;

    private readonly IReadOnlyList<RigUse> uses;

    private Rigs(IReadOnlyList<RigUse> uses, IReadOnlyList<RigRecord> records) =>
        (this.uses, Records) = (uses, records);

    /// <summary>Rigs of three boats or more, best by wins first.</summary>
    public IReadOnlyList<RigRecord> Records { get; }

    /// <summary>What was reported of a rig, for what goes with it (leader, wire, gape).</summary>
    public IReadOnlyList<(Sighting Sighting, RigMeasure Line)> Lines(RigRecord rig) =>
        uses.Single(u => u.Key == KeyOf(rig)).Lines;

    public static Rigs Make(Sample sample, IReadOnlyList<RigWins> coast, string species, Missing missing)
    {
        var all = UsesOf(sample.Mechanics, species);
        if (all.Count == 0)
        {
            missing.Add("/rigs", "no-rigs", "No report of the last three months told what was fished with.");
            return new([], []);
        }

        var shown = all.Where(u => u.Boats.Count >= Confidentiality.FewestBoats).ToList();
        if (shown.Count < all.Count)
        {
            missing.Add(
                "/rigs",
                "too-few-boats",
                shown.Count == 0
                    ? "No rig was fished by three boats or more, so none is shown."
                    : "Rigs fished by fewer than three boats are not shown."
            );
        }

        var wins = Wins(sample, all, coast, species);
        var held = Held(all, sample.HalfLives.RigDays);
        var records = shown
            .Select(use => new RigRecord(
                use.Key.Technique,
                use.Key.RungLb,
                use.Key.HookStyle,
                use.Key.HookStep,
                use.Lines.Select(l => l.Sighting).Distinct().Count(),
                wins.GetValueOrDefault(use.Key),
                LandedPerRod(use, sample.HalfLives.RigDays),
                held.GetValueOrDefault(use.Key)
            ))
            .OrderByDescending(r => r.Wins?.Mean ?? -1)
            .ThenByDescending(r => r.Reports)
            .ThenBy(r => r.Technique)
            .ThenBy(r => r.RungLb)
            .ThenBy(r => r.HookStyle)
            .ThenBy(r => r.HookStep)
            .ToList();
        Rank(records, shown, sample, species);
        for (var i = 0; i < records.Count; i++)
        {
            foreach (
                var (name, isNull, what) in new[]
                {
                    ("wins", records[i].Wins is null, "told whether this rig did best"),
                    ("landedPerRod", records[i].LandedPerRod is null, "counted rods and fish landed on this rig"),
                    ("held", records[i].Held is null, "counted fish hooked and landed on this rig"),
                }
            )
            {
                if (isNull)
                {
                    missing.TooFewBoats($"/rigs/{i}/{name}", what);
                }
            }
        }

        return new(shown, records);
    }

    /// <summary>Of each figure, which rigs are clearly ahead of the next by that figure.</summary>
    private static void Rank(List<RigRecord> records, List<RigUse> shown, Sample sample, string species)
    {
        var days = sample.HalfLives.RigDays;
        var use = shown.ToDictionary(u => u.Key);
        var deciding = Winners(sample.Mechanics, species).ToList();
        foreach (var (better, next) in Pairs(r => r.Wins?.Mean))
        {
            records[better] = records[better] with
            {
                WinsClear = Ranks.WinsClear(KeyOf(records[better]), KeyOf(records[next]), deciding, days),
            };
        }

        foreach (var (better, next) in Pairs(r => r.LandedPerRod?.Mean))
        {
            records[better] = records[better] with
            {
                LandedPerRodClear = Ranks.LandedClear(UseOf(better), UseOf(next), days),
            };
        }

        foreach (var (better, next) in Pairs(r => r.Held?.Mean))
        {
            records[better] = records[better] with { HeldClear = Ranks.HeldClear(UseOf(better), UseOf(next), days) };
        }

        RigUse UseOf(int i) => use[KeyOf(records[i])];

        List<(int Better, int Next)> Pairs(Func<RigRecord, double?> figure)
        {
            var order = Enumerable
                .Range(0, records.Count)
                .Where(i => figure(records[i]) is not null)
                .OrderByDescending(i => figure(records[i]))
                .ToList();
            return [.. order.Zip(order.Skip(1))];
        }
    }

    private static RigKey KeyOf(RigRecord rig) => new(rig.Technique, rig.RungLb, rig.HookStyle, rig.HookStep);

    private static IEnumerable<(Sighting Sighting, IReadOnlySet<RigKey> Winners)> Winners(
        IReadOnlyList<Sighting> sightings,
        string species
    ) =>
        sightings
            .Select(s =>
                (
                    Sighting: s,
                    Winners: (IReadOnlySet<RigKey>)
                        s.Report.Rigs.Where(r => r.Winning && r.Species == species).Select(RigKey.Of).ToHashSet()
                )
            )
            .Where(s => s.Winners.Count > 0);

    private static List<RigUse> UsesOf(IReadOnlyList<Sighting> sightings, string species) =>
        [
            .. sightings
                .SelectMany(s => s.Report.Rigs, (s, rig) => (Sighting: s, Line: rig))
                .Where(x => x.Line.Species == species)
                .GroupBy(x => RigKey.Of(x.Line))
                .Select(g => new RigUse(g.Key, [.. g]))
                .OrderBy(u => u.Key.Technique)
                .ThenBy(u => u.Key.RungLb)
                .ThenBy(u => u.Key.HookStyle)
                .ThenBy(u => u.Key.HookStep),
        ];

    /// <summary>
    /// Of the boat trips that named a winner, the share each rig won: Dirichlet, the zone's wins drawn towards the coast's.
    /// Wins count popularity as well as worth: a rig that nobody fished won nothing.
    /// </summary>
    private static Dictionary<RigKey, Share> Wins(
        Sample sample,
        List<RigUse> all,
        IReadOnlyList<RigWins> coastWins,
        string species
    )
    {
        var own = WinsOf(sample.Mechanics, species, sample.HalfLives.RigDays).ToDictionary(w => w.Key, w => w.Wins);
        var deciding = sample.Mechanics.Where(s => s.Report.Rigs.Any(r => r.Winning && r.Species == species)).ToList();
        if (Sample.Boats(deciding) < Confidentiality.FewestBoats)
        {
            return [];
        }

        var coast = coastWins.ToDictionary(w => w.Key, w => w.Wins);
        var coastTotal = coastWins.Sum(w => w.Wins);
        var rescale = Statistics.Evidence.Rescale([.. deciding.Select(s => s.Weight(sample.HalfLives.RigDays))]);
        // One win in all for rigs that never won, so that no share is exactly nothing.
        var shares = all.Select(u => (coast.GetValueOrDefault(u.Key) + 1.0 / all.Count) / (coastTotal + 1)).ToArray();
        var posterior = DirichletMultinomial.Posterior(
            [.. all.Select(u => own.GetValueOrDefault(u.Key) * rescale)],
            [.. shares.Select(s => s * PriorReports)],
            Figures.Level
        );
        var shown = Confidentiality.Shown([.. all.Select(u => u.Boats)]);
        return Enumerable
            .Range(0, all.Count)
            .Where(i => shown[i])
            .ToDictionary(i => all[i].Key, i => Figures.Share(posterior.Shares[i]));
    }

    /// <summary>Decayed wins by rig; a boat trip that names several winners splits its one win.</summary>
    internal static IReadOnlyList<RigWins> WinsOf(
        IReadOnlyList<Sighting> sightings,
        string species,
        double halfLifeDays
    )
    {
        var wins = new Dictionary<RigKey, double>();
        foreach (var (sighting, winners) in Winners(sightings, species))
        {
            foreach (var key in winners)
            {
                wins[key] = wins.GetValueOrDefault(key) + sighting.Weight(halfLifeDays) / winners.Count;
            }
        }

        return
        [
            .. wins.Select(w => new RigWins(w.Key.Technique, w.Key.RungLb, w.Key.HookStyle, w.Key.HookStep, w.Value))
                .OrderBy(w => w.Technique)
                .ThenBy(w => w.RungLb)
                .ThenBy(w => w.HookStyle)
                .ThenBy(w => w.HookStep),
        ];
    }

    private static Rate? LandedPerRod(RigUse use, double halfLifeDays)
    {
        var counted = use.Lines.Where(l => l.Line is { Rods: > 0, Landed: not null }).ToList();
        return Sample.Boats(counted.Select(c => c.Sighting)) < Confidentiality.FewestBoats
            ? null
            : Figures.Rate(
                ClusteredRatio.Rate(
                    [.. counted.Select(c => (double)c.Line.Landed!.Value)],
                    [.. counted.Select(c => c.Line.Rods!.Value * c.Sighting.Report.DaysFished)],
                    [.. counted.Select(c => c.Sighting.Weight(halfLifeDays))],
                    [.. counted.Select(c => c.Sighting.Day)]
                )
            );
    }

    /// <summary>
    /// Landed of hooked: beta-binomial, each rig drawn towards all rigs. Fish of one boat trip are not independent trials, so a
    /// tally of n counts as n / (1 + (n - 1) rho), rho the correlation that the tallies themselves show.
    /// </summary>
    private static Dictionary<RigKey, Share> Held(List<RigUse> all, double halfLifeDays)
    {
        var rigs = all.Select(u =>
                (u.Key, Tallies: u.Lines.Where(l => l.Line is { Hooked: > 0, Landed: not null }).ToList())
            )
            .Where(r => r.Tallies.Count > 0)
            .ToList();
        var tallies = rigs.SelectMany(r => r.Tallies).ToList();
        if (tallies.Count == 0)
        {
            return [];
        }

        var freshest = tallies.OrderBy(t => t.Sighting.AgeDays).Take(MostForCorrelation).ToList();
        var rho = BetaBinomial
            .FitWithPrior(
                [.. freshest.Select(t => (double)t.Line.Landed!.Value)],
                [.. freshest.Select(t => (double)t.Line.Hooked!.Value)],
                [.. freshest.Select(t => t.Sighting.Weight(halfLifeDays))],
                1,
                1
            )
            .Rho;
        double Worth((Sighting Sighting, RigMeasure Line) t) =>
            t.Sighting.Weight(halfLifeDays) / (1 + (t.Line.Hooked!.Value - 1) * rho);
        var counts = rigs.Select(r =>
                (
                    Landed: r.Tallies.Sum(t => Worth(t) * Math.Min(t.Line.Landed!.Value, t.Line.Hooked!.Value)),
                    Hooked: r.Tallies.Sum(t => Worth(t) * t.Line.Hooked!.Value)
                )
            )
            .ToList();
        // One landed and one lost beside the data: rigs that never lost a fish still may.
        var fit = BetaBinomial.FitWithPrior(
            [.. counts.Select(c => c.Landed)],
            [.. counts.Select(c => c.Hooked)],
            default,
            1,
            1
        );
        return Enumerable
            .Range(0, rigs.Count)
            .Where(i => Sample.Boats(rigs[i].Tallies.Select(t => t.Sighting)) >= Confidentiality.FewestBoats)
            .ToDictionary(
                i => rigs[i].Key,
                i => Figures.Share(fit.Posterior(counts[i].Landed, counts[i].Hooked, Figures.Level))
            );
    }
}
