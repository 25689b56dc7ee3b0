namespace Reports.Statistics;

/// <summary>How quoted sizes are rounded: people say 30 and 35, not 31 and 34.</summary>
/// <remarks>
/// <para>
/// <b>Model.</b> With a finest step s (every number is a multiple of it), a share h of the numbers is rounded to r and the rest
/// to s, where a multiple of r turns up by chance once in r/s: Pr(multiple of r) = h + (1 - h) s / r.
/// </para>
/// <para>
/// <b>Parameters.</b> r, s: rounding, in the unit of the sizes, above 0; h in [0, 1]: share of numbers rounded to r.
/// </para>
/// <para>
/// <b>Method.</b> Maximum likelihood in closed form, h = max(0, (p - s/r) / (1 - s/r)), p the observed share of multiples. The
/// rounding is the coarsest r with h of one half or more.
/// </para>
/// <para>
/// <b>Reference.</b> Whipple's index of age heaping is 5 p for r = 5, s = 1: Shryock and Siegel 1976, The Methods and Materials
/// of Demography, chapter 8 (from memory).
/// </para>
/// <para><b>Accuracy.</b> Closed form; simulated h is recovered within its binomial error (tests).</para>
/// </remarks>
public sealed class Heaping
{
    private readonly List<(double Rounding, double Share)> heaped;

    private Heaping(double finest, double rounding, List<(double, double)> heaped) =>
        (Finest, Rounding, this.heaped) = (finest, rounding, heaped);

    /// <summary>The finest step s: the coarsest candidate that (nearly) all numbers are multiples of.</summary>
    public double Finest { get; }

    /// <summary>The rounding to assume: the coarsest candidate to which at least half of the numbers are rounded.</summary>
    public double Rounding { get; }

    /// <summary>h for each candidate coarser than the finest step.</summary>
    public IReadOnlyList<(double Rounding, double Share)> Heaped => heaped;

    /// <summary>Reads the rounding from quoted numbers.</summary>
    /// <param name="values">Quoted sizes, 0 or more.</param>
    /// <param name="candidates">Roundings to consider, above 0; 1 and 5 if not given.</param>
    public static Heaping Detect(IReadOnlyList<double> values, IReadOnlyList<double>? candidates = null)
    {
        ArgumentNullException.ThrowIfNull(values);
        double[] steps = [.. (candidates ?? [1, 5]).Order()];
        if (values.Count == 0 || steps.Length == 0)
        {
            throw new InvalidSampleException(SampleFault.Empty, nameof(values), "no values or no candidates");
        }

        if (!values.Concat(steps).All(double.IsFinite))
        {
            throw new InvalidSampleException(SampleFault.NotFinite, nameof(values), "values must be finite");
        }

        if (values.Any(v => v < 0))
        {
            throw new InvalidSampleException(SampleFault.Negative, nameof(values), "sizes are 0 or more");
        }

        if (steps.Any(s => s <= 0))
        {
            throw new InvalidSampleException(SampleFault.OutOfRange, nameof(candidates), "roundings are above 0");
        }

        double Multiples(double r) => values.Count(v => IsMultiple(v, r)) / (double)values.Count;
        // A stray finer number ("27.5") does not change what the fleet does.
        var finest = steps.LastOrDefault(s => Multiples(s) >= 0.95, steps[0]);
        List<(double, double)> heaped = [];
        var rounding = finest;
        foreach (var r in steps.Where(s => s > finest))
        {
            var chance = finest / r;
            var h = Math.Clamp((Multiples(r) - chance) / (1 - chance), 0, 1);
            heaped.Add((r, h));
            rounding = h >= 0.5 ? r : rounding;
        }

        return new(finest, rounding, heaped);
    }

    /// <summary>
    /// The rounding of one report that quotes these numbers: the coarsest one that all of them are multiples of and that the
    /// fleet uses (h at least one half), else the finest step.
    /// </summary>
    public double RoundingOf(params ReadOnlySpan<double> quoted)
    {
        var rounding = Finest;
        foreach (var (r, h) in heaped)
        {
            var all = h >= 0.5;
            foreach (var v in quoted)
            {
                all &= IsMultiple(v, r);
            }

            rounding = all ? r : rounding;
        }

        return rounding;
    }

    private static bool IsMultiple(double value, double r) =>
        Math.Abs(value - r * Math.Round(value / r)) <= 1e-9 * Math.Max(r, value);
}
