using MathNet.Numerics;
using Reports.Domain.Briefs;
using Reports.Statistics;

namespace Reports.Domain.TrackRecord;

/// <summary>How the briefs of a species did, week by week and all told. What rests on fewer than three boats is null.</summary>
/// <param name="Weeks">Newest first.</param>
/// <param name="Odds">Null while no week can be scored.</param>
public sealed record Record(
    string Species,
    IReadOnlyList<WeekScore> Weeks,
    OddsScore? Odds,
    RateScore? Rates,
    SizeScore? Sizes,
    RodScore? Rods
)
{
    internal const int FewestWeeks = 3;
    private const int Seed = 20261125;

    /// <param name="weeks">Of one species, in any order.</param>
    public static Record Of(string species, IReadOnlyCollection<RecordWeek> weeks)
    {
        var shown = weeks
            .Where(w => w.Species == species && w.Boats.Count >= Confidentiality.FewestBoats)
            .OrderBy(w => w.Origin)
            .ToList();
        return new(
            species,
            [.. weeks.Where(w => w.Species == species).OrderByDescending(w => w.Origin).Select(WeekScore.Of)],
            // Weeks whose odds are withheld are left out of the sum too: the sum less the shown weeks would give them away.
            OddsScore.Of([.. shown.Select(w => w.Odds).Where(told => MayShow(told.Select(o => o.Boat)))], Seed),
            RateScore.Of([.. shown.SelectMany(w => w.Rates)]),
            SizeScore.Of([.. shown.SelectMany(w => w.Sizes)]),
            RodScore.Of(shown, Seed)
        );
    }

    internal static bool MayShow(IEnumerable<string> boats) =>
        boats.Distinct(StringComparer.Ordinal).Count() >= Confidentiality.FewestBoats;
}

/// <summary>One week.</summary>
/// <param name="From">The first of its seven days.</param>
/// <param name="SaidOdds">Of an angler's fish, averaged over the anglers who were then counted.</param>
/// <param name="CameOdds">The part of them who had one.</param>
/// <param name="SaidPerAngler">Fish per angler and day, averaged over the anglers who then fished.</param>
public sealed record WeekScore(
    DateOnly From,
    DateOnly To,
    int Reports,
    int? Anglers,
    double? SaidOdds,
    double? CameOdds,
    double? SaidPerAngler,
    double? CamePerAngler
)
{
    internal static WeekScore Of(RecordWeek week)
    {
        var odds = Record.MayShow(week.Odds.Select(o => o.Boat)) ? week.Odds : [];
        var rates = week.Rates.Where(r => Record.MayShow(r.Boats)).ToList();
        var anglers = odds.Sum(o => o.Counted);
        double days = rates.Sum(r => r.AnglerDays);
        return new(
            week.Origin.AddDays(1),
            week.Origin.AddDays(RecordWeek.Days),
            week.Reports,
            anglers > 0 ? (int)Math.Round(anglers) : null,
            anglers > 0 ? Figures.Round(odds.Sum(o => o.Said * o.Counted) / anglers) : null,
            anglers > 0 ? Figures.Round(odds.Sum(o => o.Lucky) / anglers) : null,
            days > 0 ? Figures.Round(rates.Sum(r => r.Said * r.AnglerDays) / days) : null,
            days > 0 ? Figures.Round(rates.Sum(r => r.Fish) / days) : null
        );
    }
}

/// <summary>The odds that were said against what anglers had.</summary>
/// <param name="Anglers">Anglers whose luck was counted.</param>
/// <param name="Said">Their odds as they were said, on average.</param>
/// <param name="Came">The share of them who had one.</param>
/// <param name="Brier">Mean squared distance of the odds from what came, a fish 1 and none 0; 0 is best.</param>
/// <param name="BrierOfSeason">The same for one number said all season: the season's own share, known only afterwards.</param>
/// <param name="SkillLikely">
/// <see cref="Skill"/> with the 80 % interval of weeks drawn anew; null where fewer than three weeks tell.
/// </param>
/// <param name="Reliability">
/// Part of the Brier score that comes of saying other odds than came, bin by bin (Murphy 1973, J. Applied Meteorology 12:595-600); 0 is best.
/// </param>
/// <param name="Resolution">How far what came in the bins lies from the season's share, squared: more is better.</param>
/// <param name="Slope">
/// Of what came on what was said, in log-odds (Cox 1958, Biometrika 45:562-565): 1 is right, below 1 the odds were too bold, above 1 too timid; null
/// where it can't be told.
/// </param>
/// <param name="Bins">By what was said, in tenths.</param>
public sealed record OddsScore(
    int Anglers,
    int Trips,
    double Said,
    double Came,
    double Brier,
    double BrierOfSeason,
    Rate? SkillLikely,
    double Reliability,
    double Resolution,
    double? Slope,
    IReadOnlyList<OddsBin> Bins
)
{
    /// <summary>Part of the season's Brier score that the forecasts saved; below 0 they did worse than one number.</summary>
    public double? Skill => BrierOfSeason > 0 ? Figures.Round(1 - Brier / BrierOfSeason) : null;

    /// <param name="weeks">What was told, by week.</param>
    internal static OddsScore? Of(IReadOnlyList<IReadOnlyList<OddsTold>> weeks, int seed)
    {
        var told = weeks.SelectMany(w => w).ToList();
        if (!Record.MayShow(told.Select(t => t.Boat)))
        {
            return null;
        }

        var anglers = told.Sum(t => t.Counted);
        var came = told.Sum(t => t.Lucky) / anglers;
        var (brier, season) = (Loss(told, t => t.Said) / anglers, Loss(told, _ => came) / anglers);
        var bins = told.GroupBy(t => (int)Math.Round(10 * t.Said, MidpointRounding.AwayFromZero))
            .OrderBy(g => g.Key)
            .Select(g => g.ToList())
            .ToList();
        double OfBins(Func<double, double, double> distance) =>
            bins.Sum(b =>
            {
                var counted = b.Sum(t => t.Counted);
                return counted
                    * Square(distance(b.Sum(t => t.Said * t.Counted) / counted, b.Sum(t => t.Lucky) / counted));
            }) / anglers;
        var shown = Confidentiality.Shown([
            .. bins.Select(b => b.Select(t => t.Boat).ToHashSet(StringComparer.Ordinal)),
        ]);
        return new(
            (int)Math.Round(anglers),
            told.Count,
            Figures.Round(told.Sum(t => t.Said * t.Counted) / anglers),
            Figures.Round(came),
            Figures.Round(brier),
            Figures.Round(season),
            Likely(weeks, came, season * anglers, seed),
            Figures.Round(OfBins((said, had) => said - had)),
            Figures.Round(OfBins((_, had) => had - came)),
            SlopeOf(told),
            [.. bins.Where((_, i) => shown[i]).Select(OddsBin.Of)]
        );
    }

    private static double? SlopeOf(List<OddsTold> told)
    {
        var distinct = told.Select(t => t.Said).Distinct().Count();
        if (distinct < 2 || told.TrueForAll(t => t.WithFish == 0) || told.TrueForAll(t => t.WithFish == t.Anglers))
        {
            return null;
        }

        // Odds are stored to four decimals: 0 and 1 stand for less than half of the last.
        var fit = Logistic.MaximumLikelihood(
            new BinomialRows(
                told.ConvertAll<double[]>(t => [SpecialFunctions.Logit(Math.Clamp(t.Said, 0.00005, 0.99995))]),
                [.. told.Select(t => t.Lucky)],
                [.. told.Select(t => t.Counted)]
            )
        );
        return fit.Summary.Stopped == StopReason.Converged ? Figures.Round(fit.Coefficients[1]) : null;
    }

    /// <summary>Squared distances of the odds from what came, summed over the anglers.</summary>
    private static double Loss(IEnumerable<OddsTold> told, Func<OddsTold, double> said) =>
        told.Sum(t => t.Lucky * Square(1 - said(t)) + (t.Counted - t.Lucky) * Square(said(t)));

    /// <summary>Each week's losses as a part of the season's, so that the mean of the weeks' differences is the skill itself.</summary>
    private static Rate? Likely(IReadOnlyList<IReadOnlyList<OddsTold>> weeks, double came, double seasonLoss, int seed)
    {
        if (weeks.Count < Record.FewestWeeks || seasonLoss <= 0)
        {
            return null;
        }

        double Part(double loss) => loss * weeks.Count / seasonLoss;
        var drawn = PairedBootstrap.Compare(
            [.. weeks.Select(w => Part(Loss(w, _ => came)))],
            [.. weeks.Select(w => Part(Loss(w, t => t.Said)))],
            seed,
            level: Figures.Level
        );
        return new(Figures.Round(drawn.MeanDifference), Figures.Round(drawn.Low), Figures.Round(drawn.High));
    }

    private static double Square(double x) => x * x;
}

/// <summary>Forecasts that said about the same, and what came, with its 80 % interval by days.</summary>
public sealed record OddsBin(double Said, Share Came, int Anglers, int Trips)
{
    internal static OddsBin Of(List<OddsTold> told)
    {
        var anglers = told.Sum(t => t.Counted);
        return new(
            Figures.Round(told.Sum(t => t.Said * t.Counted) / anglers),
            Figures.Share(
                ClusteredRatio.Proportion(
                    [.. told.Select(t => (double)t.WithFish)],
                    [.. told.Select(t => (double)t.Anglers)],
                    [.. told.Select(t => t.Weight)],
                    [.. told.Select(t => t.Day.DayNumber)]
                )
            ),
            (int)Math.Round(anglers),
            told.Count
        );
    }
}

/// <summary>Fish per angler that were said against what was landed.</summary>
/// <param name="SaidOverCame">Fish foreseen for the anglers who fished, over fish landed; null where none was.</param>
/// <param name="Within">Weeks of a zone whose fish per angler lay within the 80 % interval, of <paramref name="ZoneWeeks"/>.</param>
public sealed record RateScore(double? SaidOverCame, int Within, int ZoneWeeks)
{
    internal static RateScore? Of(IReadOnlyList<RateTold> told)
    {
        // A zone's week of one or two boats is chance more than anything, and theirs.
        var zones = told.Where(t => Record.MayShow(t.Boats)).ToList();
        if (zones.Count == 0)
        {
            return null;
        }

        var came = zones.Sum(z => z.Fish);
        return new(
            came > 0 ? Figures.Round(zones.Sum(z => z.Said * z.AnglerDays) / came) : null,
            zones.Count(z => z.Fish / z.AnglerDays >= z.Low && z.Fish / z.AnglerDays <= z.High),
            zones.Count
        );
    }
}

/// <summary>What part of the week's fish weighed no more than the brief's quantiles: 0.05, 0.25, 0.5, 0.75, 0.95 were it perfect.</summary>
public sealed record SizeScore(IReadOnlyList<double> UpTo, int Fish)
{
    internal static SizeScore? Of(IReadOnlyList<SizesTold> told)
    {
        var zones = told.Where(t => Record.MayShow(t.Boats)).ToList();
        double fish = zones.Sum(z => z.Fish);
        return fish <= 0
            ? null
            : new(
                [.. Enumerable.Range(0, 5).Select(q => Figures.Round(zones.Sum(z => z.UpTo[q] * z.Fish) / fish))],
                (int)fish
            );
    }
}

/// <summary>Fish landed per rod on the rigs that were advised, and on those of plain rules.</summary>
public sealed record RodScore(RodRate Brief, RodRate LastWinner, RodRate MostWins, RodRate Fixed)
{
    internal static RodScore? Of(IReadOnlyList<RecordWeek> weeks, int seed)
    {
        RodRate? Rate(Func<RodsTold, RodCount> of) => RodRate.Of(weeks, of, seed);
        return
            Rate(r => r.Brief) is { } brief
            && Rate(r => r.LastWinner) is { } last
            && Rate(r => r.MostWins) is { } most
            && Rate(r => r.Fixed) is { } plain
            ? new(brief, last, most, plain)
            : null;
    }
}

/// <summary>One way of choosing rigs.</summary>
/// <param name="LandedPerRod">Fish a rod and day.</param>
/// <param name="Rods">Rods that fished them.</param>
/// <param name="BriefAhead">
/// How much more a rod on the brief's rigs landed, mean of the weeks with the 80 % interval of weeks drawn anew; null for the brief
/// itself, and where fewer than three weeks can be compared, or fewer than three boats had rods of both.
/// </param>
public sealed record RodRate(double LandedPerRod, int Rods, Rate? BriefAhead)
{
    internal static RodRate? Of(IReadOnlyList<RecordWeek> weeks, Func<RodsTold, RodCount> of, int seed)
    {
        var fished = weeks.SelectMany(w => w.Rods).Where(r => of(r).Rods > 0).ToList();
        if (!Record.MayShow(fished.Select(r => r.Boat)))
        {
            return null;
        }

        var compared = weeks
            // On the same boat trips only: a good day on which nobody fished the other rigs says nothing of them.
            .Select(w => w.Rods.Where(r => r.Brief.Rods > 0 && of(r).Rods > 0).ToList())
            .Where(both => both.Count > 0)
            .ToList();
        var pairs = compared.ConvertAll(both => (Brief: Mean(both.Select(r => r.Brief)), Other: Mean(both.Select(of))));
        var same = pairs.TrueForAll(p => p.Brief.Equals(p.Other));
        var boats = compared.SelectMany(both => both).Select(r => r.Boat);
        Rate? ahead = null;
        if (!same && pairs.Count >= Record.FewestWeeks && Record.MayShow(boats))
        {
            var drawn = PairedBootstrap.Compare(
                [.. pairs.Select(p => p.Brief!.Value)],
                [.. pairs.Select(p => p.Other!.Value)],
                seed,
                level: Figures.Level
            );
            ahead = new(Figures.Round(drawn.MeanDifference), Figures.Round(drawn.Low), Figures.Round(drawn.High));
        }

        return new(Figures.Round(Mean(fished.Select(of))!.Value), fished.Sum(r => of(r).Rods), ahead);
    }

    private static double? Mean(IEnumerable<RodCount> counts)
    {
        var (rods, landed) = counts.Aggregate(
            (Rods: 0, Landed: 0),
            (sum, c) => (sum.Rods + c.Rods, sum.Landed + c.Landed)
        );
        return rods > 0 ? (double)landed / rods : null;
    }
}
