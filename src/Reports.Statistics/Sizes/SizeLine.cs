namespace Reports.Statistics;

/// <summary>
/// One report of sizes: n fish, the smallest and the largest of them, each rounded to a multiple of
/// <paramref name="Rounding"/>. Sizes in any one unit.
/// </summary>
/// <param name="Fish">n, 1 or more.</param>
/// <param name="Smallest">a, as quoted.</param>
/// <param name="Largest">b, as quoted; b = a when n = 1.</param>
/// <param name="Weight">Weight of the line, 0 or more (decay with age).</param>
/// <param name="Rounding">
/// r &gt; 0: a quoted x stands for a size in [x - r/2, x + r/2).
/// </param>
/// <param name="MostFrom">
/// Lower end of the range that held most of the other fish (about nine in ten), where the crew gave one.
/// </param>
/// <param name="MostTo">Upper end of that range; both or neither.</param>
public readonly record struct SizeLine(
    int Fish,
    double Smallest,
    double Largest,
    double Weight = 1,
    double Rounding = 1,
    double? MostFrom = null,
    double? MostTo = null
)
{
    /// <summary>Refuses nonsense with an <see cref="InvalidSampleException"/>.</summary>
    internal static void Validate(IReadOnlyList<SizeLine> lines, string parameter)
    {
        ArgumentNullException.ThrowIfNull(lines, parameter);
        if (lines.Count == 0)
        {
            throw new InvalidSampleException(SampleFault.Empty, parameter, "no lines");
        }

        var total = 0.0;
        for (var i = 0; i < lines.Count; i++)
        {
            var x = lines[i];
            void Refuse(SampleFault fault) => throw new InvalidSampleException(fault, parameter, $"line {i} is {x}");
            if (
                !double.IsFinite(x.Smallest)
                || !double.IsFinite(x.Largest)
                || !double.IsFinite(x.Weight)
                || !double.IsFinite(x.Rounding)
                || (x.MostFrom is { } f && !double.IsFinite(f))
                || (x.MostTo is { } t && !double.IsFinite(t))
            )
            {
                Refuse(SampleFault.NotFinite);
            }

            if (x.Weight < 0 || x.Smallest < 0)
            {
                Refuse(SampleFault.Negative);
            }

            if (x.Fish < 1 || x.Rounding <= 0 || x.MostFrom.HasValue != x.MostTo.HasValue)
            {
                Refuse(SampleFault.OutOfRange);
            }

            if (x.Largest < x.Smallest || x.MostTo < x.MostFrom || x.Largest < x.MostFrom)
            {
                Refuse(SampleFault.ReversedInterval);
            }

            total += x.Weight;
        }

        if (!(total > 0))
        {
            throw new InvalidSampleException(SampleFault.NoWeight, parameter, "all weights are zero");
        }
    }

    /// <summary>How many fish "most of them" were: nine in ten of all but the largest, the quoted ends left out.</summary>
    internal static int CountInside(int fish, bool smallestKnown) =>
        Math.Max(
            0,
            Math.Min((int)Math.Round(0.9 * (fish - 1), MidpointRounding.ToEven), fish - (smallestKnown ? 2 : 1))
        );

    /// <summary>
    /// The lines as separate observations, one for each end and one for the fish between, for
    /// <see cref="IntervalNpmle"/> and <see cref="MixtureFit"/>.
    /// </summary>
    /// <remarks>
    /// The observations of one line are treated as independent, which the smallest and largest of a sample are not; the
    /// exact statement is <see cref="RangeFit"/>.
    /// </remarks>
    public static List<IntervalObservation> Expand(IReadOnlyList<SizeLine> lines, LineTreatment treatment)
    {
        Validate(lines, nameof(lines));
        var observations = new List<IntervalObservation>(3 * lines.Count);
        foreach (var (fish, a, b, w, r, from, to) in lines)
        {
            var h = r / 2;
            var n = fish;
            if (from is { } c && to is { } d && a < b && treatment != LineTreatment.AllInterval)
            {
                // The fish in the range of most say more than that they lie between the ends.
                var inside = CountInside(n, a < c);
                n -= inside;
                var rounded = treatment == LineTreatment.EndsRounded ? h : 0;
                if (inside > 0)
                {
                    observations.Add(new(c - rounded, Math.Min(d, b) + rounded, inside * w, UpperOpen: rounded > 0));
                }

                if (a >= c)
                {
                    // The lower end was that of the range: of the rest only the largest is known.
                    observations.Add(new(b - rounded, b + rounded, w, UpperOpen: rounded > 0));
                    if (n > 1)
                    {
                        observations.Add(new(0, b + rounded, (n - 1) * w, UpperOpen: rounded > 0));
                    }

                    continue;
                }
            }

            switch (treatment)
            {
                case LineTreatment.AllInterval:
                    observations.Add(new(a, b, n * w));
                    break;
                case LineTreatment.EndsExact when n == 1:
                    observations.Add(new(a, b, w));
                    break;
                case LineTreatment.EndsExact:
                    observations.Add(new(a, a, w));
                    observations.Add(new(b, b, w));
                    if (n > 2)
                    {
                        observations.Add(new(a, b, (n - 2) * w));
                    }

                    break;
                case LineTreatment.EndsRounded when n == 1:
                    observations.Add(IntervalObservation.RightOpen(a - h, b + h, w));
                    break;
                case LineTreatment.EndsRounded:
                    observations.Add(IntervalObservation.RightOpen(a - h, a + h, w));
                    observations.Add(IntervalObservation.RightOpen(b - h, b + h, w));
                    if (n > 2)
                    {
                        observations.Add(IntervalObservation.RightOpen(a - h, b + h, (n - 2) * w));
                    }

                    break;
                default:
                    throw new ArgumentOutOfRangeException(nameof(treatment));
            }
        }

        return observations;
    }
}

/// <summary>What a line of n fish between a and b says about each of them.</summary>
public enum LineTreatment
{
    /// <summary>{a}, {b} and n - 2 fish in closed [a, b]; {a} when n = 1. What was reported, taken at its word.</summary>
    EndsExact,

    /// <summary>n fish in closed [a, b], nothing known of the ends. Biased: for comparison only.</summary>
    AllInterval,

    /// <summary>One fish in [a - r/2, a + r/2), one in [b - r/2, b + r/2), n - 2 in [a - r/2, b + r/2).</summary>
    EndsRounded,
}
