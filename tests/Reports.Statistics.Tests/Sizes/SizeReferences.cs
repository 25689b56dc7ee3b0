namespace Reports.Statistics.Tests;

/// <summary>Reads the inputs that the size methods share.</summary>
internal static class SizeReferences
{
    internal static List<SizeLine> Lines(ReferenceCase c)
    {
        var rounding = c.Input["rounding"].Number();
        return
        [
            .. c.Input["lines"]
                .Items.Select(l => new SizeLine(
                    l["n"].Whole(),
                    l["a"].Number(),
                    l["b"].Number(),
                    l["w"].Number(),
                    rounding
                )),
        ];
    }

    internal static LineTreatment Treatment(ReferenceCase c) =>
        c.Input["treatment"].Text() switch
        {
            "ends_exact" => LineTreatment.EndsExact,
            "all_interval" => LineTreatment.AllInterval,
            "ends_rounded" => LineTreatment.EndsRounded,
            var other => throw new InvalidDataException($"{c}: treatment {other}"),
        };

    /// <summary>Which ends belong to the intervals of the case, and that its treatment implies the same.</summary>
    internal static (bool LowerOpen, bool UpperOpen) CheckIntervalType(ReferenceCase c)
    {
        (bool LowerOpen, bool UpperOpen) type = c.Input["interval_type"].Text() switch
        {
            "closed" => (false, false),
            "right_open" => (false, true),
            "left_open" => (true, false),
            "open" => (true, true),
            var other => throw new InvalidDataException($"{c}: interval_type {other}"),
        };
        if (c.Input.Has("treatment") && (Treatment(c) == LineTreatment.EndsRounded) != type.UpperOpen)
        {
            c.Fail("interval_type is not that of the treatment");
        }

        return type;
    }

    /// <summary>
    /// The listed observations. Where the case also gives report lines, their expansion must be the same list once
    /// identical observations are merged.
    /// </summary>
    internal static List<IntervalObservation> Observations(ReferenceCase c)
    {
        var (lowerOpen, upperOpen) = c.Input.Has("interval_type") ? CheckIntervalType(c) : (false, false);
        List<IntervalObservation> listed =
        [
            .. c.Input["observations"]
                .Items.Select(o =>
                {
                    var (lo, hi) = (o["lo"].Number(), o["hi"].Number());
                    // An exact value is itself whatever the convention for proper intervals.
                    return lo.Equals(hi)
                        ? IntervalObservation.Exact(lo, o["weight"].Number())
                        : new IntervalObservation(lo, hi, o["weight"].Number(), lowerOpen, upperOpen);
                }),
        ];
        if (c.Input.Has("lines"))
        {
            // Mixture cases clip a lower end below zero; sizes are positive.
            var merged = SizeLine
                .Expand(Lines(c), Treatment(c))
                .GroupBy(o => (Lower: c.Method == "a2_mixture" ? Math.Max(o.Lower, 0) : o.Lower, o.Upper))
                .Select(g => (g.Key.Lower, g.Key.Upper, Weight: g.Sum(o => o.Weight)))
                .Where(o => o.Weight > 0)
                .OrderBy(o => o.Lower)
                .ThenBy(o => o.Upper)
                .ToArray();
            var expected = listed.Where(o => o.Weight > 0).OrderBy(o => o.Lower).ThenBy(o => o.Upper).ToArray();
            if (merged.Length != expected.Length)
            {
                c.Fail($"{merged.Length} observations from the lines, {expected.Length} listed");
            }
            else
            {
                for (var i = 0; i < merged.Length; i++)
                {
                    var (x, y) = (merged[i], expected[i]);
                    if (
                        Math.Abs(x.Lower - y.Lower) > 1e-9
                        || Math.Abs(x.Upper - y.Upper) > 1e-9
                        || Math.Abs(x.Weight - y.Weight) > 1e-9 * (1 + y.Weight)
                    )
                    {
                        c.Fail($"observation {i}: {x} from the lines, {y} listed");
                    }
                }
            }
        }

        return listed;
    }
}
