namespace Reports.Domain.Briefs;

/// <summary>
/// Makes the brief of a zone and species from its evidence. Pure: the same reports in any order give the same bytes.
/// </summary>
public static class BriefMaker
{
    public static Brief Make(Evidence evidence) => Make(evidence, null);

    /// <param name="prior">Of the same coast, species and day; null to compute it.</param>
    public static Brief Make(Evidence evidence, CoastPrior? prior)
    {
        var sample = Sample.Of(evidence);
        var missing = new Missing();
        if (!sample.Speaks)
        {
            return Silent(evidence, sample, missing);
        }

        prior ??= CoastPrior.Of(sample, evidence);
        var trips = TripsOf(evidence, sample);
        var size = Sizes.Make(sample, missing);
        var bait = BaitAndSigns.Bait(sample, missing);
        var rigs = Rigs.Make(sample, evidence.Species, missing);
        return new Brief
        {
            Zone = evidence.Zone,
            Species = evidence.Species,
            AsOf = evidence.AsOf,
            Evidence = EvidenceOf(sample, trips, missing),
            Size = size,
            Bait = bait,
            Signs = BaitAndSigns.Signs(sample, bait, missing),
            Rigs = rigs.Records,
            OutfitSets = evidence.ClosedNotice is null
                ? Outfits.Make(
                    rigs,
                    prior.Rigs,
                    sample.Pooled ? [] : sample.Mechanics,
                    evidence.Species,
                    size,
                    bait,
                    missing
                )
                : Closed(missing),
            CatchRate = CatchRates.Make(
                sample,
                prior.Rates,
                [.. (trips ?? []).Where(t => !t.Reported)],
                evidence.AsOf,
                missing
            ),
            Days = DayStrip.Make(sample, evidence.AsOf),
            Missing = missing.Parts,
            ClosedNotice = evidence.ClosedNotice,
        };
    }

    private static Brief Silent(Evidence evidence, Sample sample, Missing missing)
    {
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
            Zone = evidence.Zone,
            Species = evidence.Species,
            AsOf = evidence.AsOf,
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
            ClosedNotice = evidence.ClosedNotice,
        };
    }

    private static IReadOnlyList<IReadOnlyList<Outfit>> Closed(Missing missing)
    {
        missing.Add("/outfits", "closed", "The species is closed, so no tackle is advised.");
        return [];
    }

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

    /// <summary>
    /// The zone's known trips, each with whether it reported; null where fewer than three boats sailed or the brief speaks of
    /// the whole coast.
    /// </summary>
    private static List<KnownTrip>? TripsOf(Evidence evidence, Sample sample)
    {
        var reported = sample.Zone.Select(s => (s.Boat, s.Report.FishedOn, s.Report.Sailing)).ToHashSet();
        var trips = evidence
            .Trips.Where(t => evidence.AsOf.DayNumber - t.Date.DayNumber is >= 0 and < Windows.Display)
            .Select(t => t with { Reported = t.Reported || reported.Contains((t.Boat, t.Date, t.Sailing)) })
            .OrderBy(t => t.Date)
            .ThenBy(t => t.Boat, StringComparer.Ordinal)
            .ThenBy(t => t.Sailing)
            .ToList();
        return
            sample.Pooled
            || trips.Select(t => t.Boat).Distinct(StringComparer.Ordinal).Count() < Confidentiality.FewestBoats
            ? null
            : trips;
    }
}
