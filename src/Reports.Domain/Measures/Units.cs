namespace Reports.Domain.Measures;

/// <summary>Unit of weights, and of line and leader tests.</summary>
public enum WeightUnit
{
    Lb,
    Kg,
}

/// <summary>Unit of bait and other lengths.</summary>
public enum LengthUnit
{
    In,
    Cm,
}

/// <summary>Unit of the depth at which fish were marked.</summary>
public enum DepthUnit
{
    Ft,
    M,
    Fathom,
}

/// <summary>
/// The units of one report. Weight and length go together (lb with in, kg with cm); depth is ft (m in a metric
/// report) unless said.
/// </summary>
public readonly record struct ReportUnits(WeightUnit Weight, LengthUnit Length, DepthUnit Depth)
{
    /// <summary>Pounds, inches, feet: what a report means that names no units.</summary>
    public static ReportUnits Default => new(WeightUnit.Lb, LengthUnit.In, DepthUnit.Ft);
}

/// <summary>
/// A weight as it was given, with its unit. <see cref="Grams"/> is what statistics read. The pound is 453.59237 g exactly
/// (international yard and pound agreement, 1959).
/// </summary>
public readonly record struct Weight(decimal Given, WeightUnit Unit)
{
    public const decimal GramsPerPound = 453.59237m;

    /// <summary>Whole grams, rounded half away from zero.</summary>
    public int Grams => (int)Math.Round(Given * GramsPer(Unit), MidpointRounding.AwayFromZero);

    public static decimal GramsPer(WeightUnit unit) => unit == WeightUnit.Lb ? GramsPerPound : 1000m;

    /// <summary>Grams in the unit asked for, unrounded.</summary>
    public static double FromGrams(double grams, WeightUnit unit) => grams / (double)GramsPer(unit);
}

/// <summary>A length as it was given, with its unit. The inch is 25.4 mm exactly.</summary>
public readonly record struct Length(decimal Given, LengthUnit Unit)
{
    public const decimal MillimetresPerInch = 25.4m;

    /// <summary>Whole millimetres, rounded half away from zero.</summary>
    public int Millimetres => (int)Math.Round(Given * MillimetresPer(Unit), MidpointRounding.AwayFromZero);

    public static decimal MillimetresPer(LengthUnit unit) => unit == LengthUnit.In ? MillimetresPerInch : 10m;

    public static double FromMillimetres(double millimetres, LengthUnit unit) =>
        millimetres / (double)MillimetresPer(unit);
}

/// <summary>A depth as it was given. A foot is 304.8 mm, a fathom six feet.</summary>
public readonly record struct Depth(decimal Given, DepthUnit Unit)
{
    public int Millimetres => (int)Math.Round(Given * MillimetresPer(Unit), MidpointRounding.AwayFromZero);

    public static decimal MillimetresPer(DepthUnit unit) =>
        unit switch
        {
            DepthUnit.Ft => 304.8m,
            DepthUnit.M => 1000m,
            _ => 1828.8m,
        };
}
