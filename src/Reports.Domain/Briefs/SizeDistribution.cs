using Reports.Domain.Measures;
using Reports.Statistics;

namespace Reports.Domain.Briefs;

/// <summary>
/// The distribution of sizes among the fish landed. Quantiles, shares and grades of a brief all come from one of these, so that
/// they agree.
/// </summary>
internal abstract class SizeDistribution
{
    /// <summary>Lightest and heaviest size that was told, in grams.</summary>
    public required double Least { get; init; }
    public required double Most { get; init; }

    /// <summary>
    /// Size groups where the reports carry them, the non-parametric estimate where they are too few, or where the groups do not
    /// agree with it.
    /// </summary>
    public static SizeDistribution Of(IReadOnlyList<SizeReport> reports)
    {
        var asReported = ReportedSizes.Fit(reports);
        return SizeGroups.Fit(reports) is { } groups && groups.AgreesWith(asReported) ? groups : asReported;
    }

    /// <summary>Share of the fish in [from, to).</summary>
    public abstract double Share(double from, double to);

    /// <summary>Smallest size with at least a share q of the fish of [from, to) at or below it, in whole grams.</summary>
    public abstract int QuantileGrams(double q, double from = 0, double to = double.PositiveInfinity);

    /// <summary>Expected share of a report's fish in [from, to), given what it tells.</summary>
    public abstract double ExpectedShare(SizeReport report, double from, double to);

    /// <summary>Chance that a report's boat trip landed at least one fish in [from, to), given what it tells.</summary>
    public double ChanceMet(SizeReport report, double from, double to) =>
        report.Quoted(from, to)
            ? 1
            : 1 - report.Between.Aggregate(1.0, (none, p) => none * Math.Pow(1 - Part(p, from, to), p.Fish));

    /// <summary>Share in [from, to) of the fish known to lie in a part, as the distribution has it.</summary>
    protected double Part((double Fish, double From, double To) part, double from, double to)
    {
        // The part is closed above, shares are half-open.
        var end = Math.BitIncrement(part.To);
        var whole = Share(part.From, end);
        var (low, high) = (Math.Max(part.From, from), Math.Min(end, to));
        return whole > 0 && high > low ? Math.Clamp(Share(low, high) / whole, 0, 1) : 0;
    }
}

/// <summary>
/// Sizes as they were reported: the non-parametric estimate, on the points where it puts its mass (the middle of a set whose
/// place is not determined).
/// </summary>
internal sealed class ReportedSizes : SizeDistribution
{
    private readonly double[] points;
    private readonly double[] cumulative;

    private ReportedSizes(double[] points, double[] masses)
    {
        this.points = points;
        cumulative = new double[points.Length + 1];
        for (var i = 0; i < points.Length; i++)
        {
            cumulative[i + 1] = cumulative[i] + masses[i];
        }
    }

    public static ReportedSizes Fit(IReadOnlyList<SizeReport> reports)
    {
        var support = IntervalNpmle
            .Fit([.. reports.SelectMany(r => r.Observations())])
            .Support.Where(s => s.Mass > 1e-9)
            .Select(s => (Point: double.IsInfinity(s.Upper) ? s.Lower : (s.Lower + s.Upper) / 2, s.Mass))
            .OrderBy(s => s.Point)
            .ToList();
        var total = support.Sum(s => s.Mass);
        return new([.. support.Select(s => s.Point)], [.. support.Select(s => s.Mass / total)])
        {
            Least = support[0].Point,
            Most = support[^1].Point,
        };
    }

    public override double Share(double from, double to) => Between(First(from), First(to));

    public override int QuantileGrams(double q, double from = 0, double to = double.PositiveInfinity)
    {
        var (a, b) = (First(from), First(to));
        var need = cumulative[a] + q * Between(a, b) - 1e-9;
        var i = a;
        while (i < b - 1 && cumulative[i + 1] < need)
        {
            i++;
        }

        return (int)Math.Round(points[i], MidpointRounding.AwayFromZero);
    }

    public override double ExpectedShare(SizeReport report, double from, double to)
    {
        var inside = report.Ends.Count(e => e >= from && e < to) + report.Between.Sum(p => p.Fish * Part(p, from, to));
        return Math.Clamp(inside / report.Fish, 0, 1);
    }

    private double Between(int a, int b) => b > a ? cumulative[b] - cumulative[a] : 0;

    /// <summary>Index of the first point at or above a size.</summary>
    private int First(double size)
    {
        var i = Array.BinarySearch(points, size);
        return i >= 0 ? i : ~i;
    }
}

/// <summary>
/// One or two lognormal size groups whose shares differ from boat trip to boat trip, because a boat stops on schools: a report
/// of 15 to 178 lb tells of a mixed trip, and its fish between are not shared out like those of all trips together.
/// </summary>
internal sealed class SizeGroups : SizeDistribution
{
    /// <summary>Under about this many effective reports groups can't be told.</summary>
    private const double FewestReports = 8;

    /// <summary>
    /// The groups are fitted to the freshest reports: their sizes and spreads are well known from these, and time grows with the
    /// number. Shares come from all reports.
    /// </summary>
    private const int MostReports = 50;

    /// <summary>Above this many fish a report tells little more of its shares, and costs more.</summary>
    private const int MostFish = 100;

    /// <summary>Farthest that the groups may be from the non-parametric estimate at its quartiles, in share of the fish.</summary>
    private const double MostDisagreement = 0.2;

    private readonly LognormalMixture landed;
    private readonly Dictionary<SizeReport, double[]> shares;

    private SizeGroups(LognormalMixture landed, Dictionary<SizeReport, double[]> shares) =>
        (this.landed, this.shares) = (landed, shares);

    public static SizeGroups? Fit(IReadOnlyList<SizeReport> reports)
    {
        var whole = reports.Where(r => r.Smallest is > 0 && r.Largest is not null).ToList();
        var weights = whole.Select(r => r.Weight).ToList();
        if (whole.Count == 0 || Statistics.Evidence.KishSize(weights) < FewestReports)
        {
            return null;
        }

        var rounding = Rounding(whole);
        var freshest = whole.OrderBy(r => r.Sighting.AgeDays).Take(MostReports).ToList();
        var rescale = Statistics.Evidence.Rescale([.. freshest.Select(r => r.Weight)]);
        var fit = RangeFit
            .Choose(
                [
                    .. freshest.Select(r =>
                        Line(r, rounding[r.Sighting.Report.GivenIn]) with
                        {
                            Weight = r.Weight * rescale,
                        }
                    ),
                ],
                2,
                new MixtureOptions(Starts: 0)
            )
            .Best;
        var shares = new Dictionary<SizeReport, double[]>(ReferenceEqualityComparer.Instance);
        var fish = new double[fit.Mixture.Components];
        foreach (var report in whole)
        {
            if (RangeFit.ExpectedShares(Line(report, rounding[report.Sighting.Report.GivenIn]), fit) is { } share)
            {
                shares[report] = share;
                for (var k = 0; k < fish.Length; k++)
                {
                    fish[k] += report.Weight * report.Fish * share[k];
                }
            }
        }

        var total = fish.Sum();
        return total > 0
            ? new SizeGroups(
                new LognormalMixture([.. fish.Select(f => f / total)], fit.Mixture.MeanLog, fit.Mixture.SdLog),
                shares
            )
            {
                Least = whole.Min(r => r.Smallest!.Value),
                Most = whole.Max(r => r.Largest!.Value),
            }
            : null;
    }

    public bool AgreesWith(ReportedSizes asReported) =>
        new[] { 0.25, 0.5, 0.75 }.All(q =>
        {
            var grams = asReported.QuantileGrams(q);
            var (under, upTo) = (asReported.Share(0, grams), asReported.Share(0, grams + 1));
            var share = landed.Cdf(grams);
            return share > under - MostDisagreement && share < upTo + MostDisagreement;
        });

    public override double Share(double from, double to) => to > from ? landed.Share(from, to) : 0;

    public override int QuantileGrams(double q, double from = 0, double to = double.PositiveInfinity) =>
        (int)
            Math.Round(
                landed.Quantile(Math.Clamp(landed.Cdf(from) + q * Share(from, to), 1e-9, 1 - 1e-9)),
                MidpointRounding.AwayFromZero
            );

    public override double ExpectedShare(SizeReport report, double from, double to) =>
        shares.TryGetValue(report, out var share)
            ? Math.Clamp(share.Select((s, k) => s * landed.GroupShare(k, from, to)).Sum(), 0, 1)
            : Share(from, to);

    private static SizeLine Line(SizeReport r, double rounding) =>
        new(
            Math.Min(r.Fish, MostFish),
            r.Fish == 1 ? r.Ends[0] : r.Smallest!.Value,
            r.Fish == 1 ? r.Ends[0] : r.Largest!.Value,
            1,
            rounding,
            r.MostFrom is null || r.MostTo is null ? null : r.MostFrom,
            r.MostFrom is null || r.MostTo is null ? null : r.MostTo
        );

    /// <summary>Grams that a quoted weight is rounded to: crews say whole pounds or kilograms, or fives; the numbers show it.</summary>
    private static Dictionary<WeightUnit, double> Rounding(List<SizeReport> reports) =>
        reports
            .GroupBy(r => r.Sighting.Report.GivenIn)
            .ToDictionary(
                unit => unit.Key,
                unit =>
                    (double)Measures.Weight.GramsPer(unit.Key)
                    * Heaping
                        .Detect(
                            // Stored in whole grams: two decimals give the number back that was said.
                            [
                                .. unit.SelectMany(r => r.Ends)
                                    .Select(e => Math.Round(Measures.Weight.FromGrams(e, unit.Key), 2)),
                            ],
                            [0.5, 1, 5]
                        )
                        .Rounding
            );
}
