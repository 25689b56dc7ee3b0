using MathNet.Numerics.Distributions;

namespace Reports.Benchmarks.Advice;

/// <summary>
/// Two rigs that all rods of a fleet fish with, in a sea whose mood makes one land a given number of times as many fish for a rod
/// as the other, over the sizes of fish of each zone and day. Nature is as ever, the moods of boat-days vary about the zone's.
/// </summary>
/// <param name="Light">The lighter line.</param>
/// <param name="Ratio">Fish landed for a rod on the light line against the heavy one, by expectation of a day's boats.</param>
/// <param name="Changing">Anglers go lighter after a blank spell, so that rods on light line are the unlucky ones.</param>
internal sealed record Contest(Rig Light, Rig Heavy, double Ratio, bool Changing)
{
    private const int Nodes = 9;
    private const double Picky = -4.5;

    public Rig[] Rigs { get; } = [Light, Heavy];

    public Rig Next(Rig rig, int hooked, Random random) =>
        Changing && hooked == 0 && random.Happens(0.35) ? Light : rig;

    /// <summary>The mood of a zone's day; where no mood does it the nearest.</summary>
    public double Mood(Nature nature, IReadOnlyList<(double Weight, School School)> schools, double boatSpread)
    {
        var (low, high) = (Picky, 0.0);
        for (var step = 0; step < 40; step++)
        {
            var mood = (low + high) / 2;
            (low, high) = Landed(Light, mood) > Ratio * Landed(Heavy, mood) ? (mood, high) : (low, mood);
        }

        return (low + high) / 2;

        double Landed(Rig rig, double mood) =>
            schools.Sum(s => s.Weight * nature.Held(rig, s.School))
            * Enumerable
                .Range(0, Nodes)
                .Average(i => nature.Bite(rig, mood + boatSpread * Normal.InvCDF(0, 1, (i + 0.5) / Nodes), 150, 1));
    }
}
