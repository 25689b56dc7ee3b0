using Reports.Domain.Measures;

namespace Reports.Domain.Tests.Measures;

public sealed class UnitsTests
{
    // The pound is 453.59237 g and the inch 25.4 mm exactly (international yard and pound agreement, 1959); a fathom is six
    // feet.
    [Theory]
    [InlineData("1", WeightUnit.Lb, 454)]
    [InlineData("250", WeightUnit.Lb, 113398)]
    [InlineData("0.001", WeightUnit.Lb, 0)]
    [InlineData("18.5", WeightUnit.Lb, 8391)]
    [InlineData("1", WeightUnit.Kg, 1000)]
    [InlineData("12.3456", WeightUnit.Kg, 12346)]
    [InlineData("0.0005", WeightUnit.Kg, 1)]
    [InlineData("0.0025", WeightUnit.Kg, 3)]
    public void A_weight_is_whole_grams_half_away_from_zero(string given, WeightUnit unit, int grams) =>
        Assert.Equal(grams, new Weight(Decimal(given), unit).Grams);

    [Theory]
    [InlineData("5", LengthUnit.In, 127)]
    [InlineData("4.5", LengthUnit.In, 114)]
    [InlineData("12.7", LengthUnit.Cm, 127)]
    [InlineData("0.05", LengthUnit.Cm, 1)]
    public void A_length_is_whole_millimetres(string given, LengthUnit unit, int millimetres) =>
        Assert.Equal(millimetres, new Length(Decimal(given), unit).Millimetres);

    [Theory]
    [InlineData("110", DepthUnit.Ft, 33528)]
    [InlineData("33.5", DepthUnit.M, 33500)]
    [InlineData("10", DepthUnit.Fathom, 18288)]
    public void A_depth_is_whole_millimetres(string given, DepthUnit unit, int millimetres) =>
        Assert.Equal(millimetres, new Depth(Decimal(given), unit).Millimetres);

    [Fact]
    public void Grams_and_millimetres_come_back_to_within_their_rounding()
    {
        var random = new Random(19590701);
        for (var i = 0; i < 2000; i++)
        {
            var given = Math.Round((decimal)random.NextDouble() * 1000m, 3);
            foreach (var unit in Enum.GetValues<WeightUnit>())
            {
                var back = Weight.FromGrams(new Weight(given, unit).Grams, unit);
                Assert.InRange(Math.Abs(back - (double)given), 0, 0.5001 / (double)Weight.GramsPer(unit));
            }

            foreach (var unit in Enum.GetValues<LengthUnit>())
            {
                var back = Length.FromMillimetres(new Length(given, unit).Millimetres, unit);
                Assert.InRange(Math.Abs(back - (double)given), 0, 0.5001 / (double)Length.MillimetresPer(unit));
            }
        }
    }

    [Fact]
    public void More_is_never_less_in_whole_grams()
    {
        var random = new Random(1);
        for (var i = 0; i < 2000; i++)
        {
            var given = Math.Round((decimal)random.NextDouble() * 3000m, 2);
            Assert.True(
                new Weight(given, WeightUnit.Lb).Grams <= new Weight(given + 0.01m, WeightUnit.Lb).Grams,
                $"{given} lb"
            );
        }
    }

    private static decimal Decimal(string text) =>
        decimal.Parse(text, System.Globalization.CultureInfo.InvariantCulture);
}
