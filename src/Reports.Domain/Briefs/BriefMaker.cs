using Reports.Domain.Rigs;

namespace Reports.Domain.Briefs;

/// <summary>
/// Makes the brief of a zone and species from its evidence. Pure: the same reports in any order give the same bytes.
/// </summary>
public static class BriefMaker
{
    public static Brief Make(Evidence evidence) => Make(evidence, CoastPrior.Of(evidence));

    /// <param name="evidence">Its reports may be those of its zone alone.</param>
    /// <param name="prior">Of the same coast, species and day.</param>
    public static Brief Make(Evidence evidence, CoastPrior prior)
    {
        var own = Sample.OfZone(evidence);
        var brief = own.Speaks
            ? Make(own, evidence.Zone, prior, TripsOf(evidence, own))
            : prior.Pooled with
            {
                Zone = evidence.Zone,
            };
        return evidence.ClosedNotice is { } notice ? Closed(brief, notice) : brief;
    }

    /// <summary>The whole coast's brief, for the zones that too few boats fished.</summary>
    internal static Brief Pooled(
        IReadOnlyList<Sighting> coast,
        string species,
        DateOnly asOf,
        CoastRates rates,
        CoastRigs rigs,
        IReadOnlyList<RigWins> wins
    )
    {
        var sample = Sample.OfCoast(coast);
        return sample.Speaks ? Make(sample, "", species, asOf, rates, rigs, wins, null) : Silent(sample, species, asOf);
    }

    private static Brief Make(Sample sample, string zone, CoastPrior prior, List<KnownTrip>? trips) =>
        Make(sample, zone, prior.Pooled.Species, prior.AsOf, prior.Rates, prior.Rigs, prior.Wins, trips);

    private static Brief Make(
        Sample sample,
        string zone,
        string species,
        DateOnly asOf,
        CoastRates rates,
        CoastRigs coastRigs,
        IReadOnlyList<RigWins> wins,
        List<KnownTrip>? trips
    )
    {
        var missing = new Missing();
        var size = Sizes.Make(sample, missing);
        var bait = BaitAndSigns.Bait(sample, missing);
        var rigs = Rigs.Make(sample, wins, species, missing);
        return new Brief
        {
            Zone = zone,
            Species = species,
            AsOf = asOf,
            Evidence = EvidenceOf(sample, trips, missing),
            Size = size,
            Bait = bait,
            Signs = BaitAndSigns.Signs(sample, bait, missing),
            Rigs = rigs.Records,
            OutfitSets = Outfits.Make(
                rigs,
                coastRigs,
                sample.Pooled ? [] : sample.Mechanics,
                species,
                size,
                bait,
                missing
            ),
            CatchRate = CatchRates.Make(sample, rates, [.. (trips ?? []).Where(t => !t.Reported)], asOf, missing),
            Days = DayStrip.Make(sample, asOf),
            Missing = missing.Parts,
        };
    }

    private static Brief Silent(Sample sample, string species, DateOnly asOf)
    {
        var missing = new Missing();
        foreach (var pointer in new[] { "/size", "/bait", "/signs", "/rigs", "/outfits", "/catchRate" })
        {
            if (sample.Display.Count == 0)
            {
                missing.Add(
                    pointer,
                    "no-reports",
                    "No boat of the coast has reported this fish in the last four weeks."
                );
            }
            else
            {
                missing.Add(
                    pointer,
                    "too-few-boats",
                    "Fewer than three boats of the whole coast have reported this fish in the last four weeks, so nothing is shown."
                );
            }
        }

        return new Brief
        {
            Zone = "",
            Species = species,
            AsOf = asOf,
            Evidence = new BriefEvidence(
                sample.Display.Count,
                Sample.Boats(sample.Display),
                null,
                0,
                0,
                null,
                Strength.None,
                sample.Pooled,
                null
            ),
            Missing = missing.Parts,
        };
    }

    private static Brief Closed(Brief brief, string notice) =>
        brief with
        {
            OutfitSets = [],
            Missing =
            [
                .. brief.Missing.Where(m => m.Pointer != "/outfits"),
                new MissingPart("/outfits", "closed", "The species is closed, so no tackle is advised."),
            ],
            ClosedNotice = notice,
        };

    private static BriefEvidence EvidenceOf(Sample sample, List<KnownTrip>? trips, Missing missing)
    {
        var weights = sample.Display.Select(s => s.Weight(HalfLives.RateDays)).ToList();
        var (effective, decayed) = (Statistics.Evidence.KishSize(weights), weights.Sum());
        int? fish = sample.Display.Sum(s => s.Fish);
        if (!MayCount(sample))
        {
            fish = null;
            missing.TooFewBoats("/evidence/fish", "fished the zones that have no count of their own");
        }

        return new BriefEvidence(
            sample.Display.Count,
            Sample.Boats(sample.Display),
            fish,
            Figures.Round(effective),
            Figures.Round(decayed),
            sample.Display.Max(s => s.Report.FishedOn),
            StrengthRule.Of(effective, decayed, sample.Pooled),
            sample.Pooled,
            trips is null ? null : new BoatTrips(trips.Count, trips.Count(t => t.Reported))
        );
    }

    /// <summary>
    /// The coast's count less those of the zones that show their own must not be the count of one or two boats.
    /// </summary>
    private static bool MayCount(Sample sample)
    {
        if (!sample.Pooled)
        {
            return true;
        }

        var withheld = sample
            .Display.GroupBy(s => s.Zone, StringComparer.Ordinal)
            .Where(zone => Sample.Boats(zone) < Confidentiality.FewestBoats)
            .SelectMany(zone => zone);
        return Sample.Boats(withheld) is 0 or >= Confidentiality.FewestBoats;
    }

    /// <summary>The zone's known trips, each with whether it reported; null where fewer than three boats sailed.</summary>
    private static List<KnownTrip>? TripsOf(Evidence evidence, Sample sample)
    {
        var reported = sample.Display.Select(s => (s.Boat, s.Report.FishedOn, s.Report.Sailing)).ToHashSet();
        var trips = evidence
            .Trips.Where(t => evidence.AsOf.DayNumber - t.Date.DayNumber is >= 0 and < Windows.Display)
            .Select(t => t with { Reported = t.Reported || reported.Contains((t.Boat, t.Date, t.Sailing)) })
            .OrderBy(t => t.Date)
            .ThenBy(t => t.Boat, StringComparer.Ordinal)
            .ThenBy(t => t.Sailing)
            .ToList();
        return trips.Select(t => t.Boat).Distinct(StringComparer.Ordinal).Count() < Confidentiality.FewestBoats
            ? null
            : trips;
    }
}
