using CsCheck;

namespace Reports.Statistics.Tests;

public sealed class ChoiceTests
{
    /// <summary>
    /// Infertility after abortion, 83 matched sets: per woman "spontaneous induced" abortions, the case first. Trichopoulos et
    /// al. 1976, Brit. J. Obst. Gynaec. 83:645-650 (R data set infert).
    /// </summary>
    private const string Infertility = """
        21|02|02 01|00|00 02|02|02 02|10|20 11|02|00 12|11|20 00|00|00 00|02|10 10|10|01 00|10|10 01|00|10
        12|11|10 01|00|00 02|10|20 11|01|01 02|01|00 12|20|21 10|00|01 12|10|11 10|00|01 10|00|00 02|00|00
        20|00|02 10|00|10 11|10|20 20|00|00 20|00|00 20|00|00 21|20|12 02|11|11 10|00|00 01|01|00 01|01|00
        20|00|02 01|00|00 20|00|00 10|00|00 21|02|02 00|20|10 10|01|00 20|01|00 00|00|00 00|00|00 11|00|00
        00|01|00 01|00|10 20|01|01 02|12|02 02|01|01 20|01|01 21|12|02 21|11|12 11|11|02 10|01|10 20|01|11
        20|01|10 01|11|02 20|02|01 10|01|00 20|01|01 20|02|01 10|01|01 10|00|00 20|00|01 01|10|20 10|00|01
        10|10|00 21|02|02 20|11|20 01|00|01 01|01|00 10|00|01 10|10|00 20|20 20|20|11 10|00|01 10|02|10
        01|00|10 10|00|10 10|00|00 02|00|02 10|10|10 10|10|10
        """;

    [Fact]
    public void Matched_sets_agree_with_clogit()
    {
        // R 4.2.2 survival::clogit(case ~ spontaneous + induced + strata(stratum), infert), exact.
        var fit = ConditionalLogit.Fit([
            .. Infertility
                .Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries)
                .Select(set => set.Split('|'))
                .Select(set => new ChoiceStratum(
                    [.. set.Select(woman => new[] { (double)(woman[0] - '0'), woman[1] - '0' })],
                    [.. set.Select((_, i) => i == 0 ? 1.0 : 0)]
                )),
        ]);
        Assert.Equal(StopReason.Converged, fit.Summary.Stopped);
        Assert.Equal(1.985875517, fit.Coefficients[0], 1e-9);
        Assert.Equal(1.409011632, fit.Coefficients[1], 1e-9);
        Assert.Equal(0.352443540, fit.StandardErrors[0], 1e-9);
        Assert.Equal(0.360712437, fit.StandardErrors[1], 1e-9);
    }

    [Fact]
    public void Matched_pairs_have_the_closed_form()
    {
        // 18 pairs one way, 6 the other: ln 3 and sqrt(1/18 + 1/6) (McNemar's odds ratio).
        var fit = ConditionalLogit.Fit([
            new(
                [
                    [1.0],
                    [0],
                ],
                [1, 0],
                null,
                18
            ),
            new(
                [
                    [1.0],
                    [0],
                ],
                [0, 1],
                null,
                6
            ),
            new(
                [
                    [1.0],
                    [1],
                ],
                [1, 0],
                null,
                99
            ),
        ]);
        Assert.Equal(Math.Log(3), fit.Coefficients[0], 1e-12);
        Assert.Equal(Math.Sqrt(1 / 18.0 + 1 / 6.0), fit.StandardErrors[0], 1e-12);
    }

    private static readonly Gen<ChoiceStratum[]> Strata = Gen.Select(
            Gen.Int[-10, 10],
            Gen.Int[-2, 2],
            Gen.Int[0, 9],
            Gen.Int[1, 8]
        )
        .Array[2, 5]
        .Where(a => a.Any(j => j.Item3 > 0))
        .Select(a => new ChoiceStratum(
            [.. a.Select(j => new[] { j.Item1 / 10.0, j.Item2 })],
            [.. a.Select(j => (double)j.Item3)],
            [.. a.Select(j => Math.Log(j.Item4))]
        ))
        .Array[3, 8];

    private static readonly GaussianPrior Weak = GaussianPrior.Ridge(2, 0.1);

    [Fact]
    public void What_all_alternatives_share_changes_nothing() =>
        Draws.ForAll(
            Strata,
            60,
            strata =>
            {
                var moved = strata
                    .Reverse()
                    .Select(
                        (s, d) =>
                            s with
                            {
                                Offset = [.. s.Offset!.Select(o => o + 5 - d)],
                                Features = [.. s.Features.Select(f => new[] { f[0] + d, f[1] - 1 })],
                            }
                    )
                    .ToArray();
                var a = ConditionalLogit.Fit(strata, Weak);
                var b = ConditionalLogit.Fit(moved, Weak);
                Assert.Equal(a.Summary.LogLikelihood, b.Summary.LogLikelihood, 1e-9);
                Assert.Equal(a.Coefficients[0], b.Coefficients[0], 1e-8);
                Assert.Equal(a.StandardErrors[1], b.StandardErrors[1], 1e-8);
            }
        );

    [Fact]
    public void Weights_are_repeats_and_counts_are_single_choices() =>
        Draws.ForAll(
            Strata,
            40,
            strata =>
            {
                var doubled = ConditionalLogit.Fit([.. strata, strata[0]], Weak);
                var weighted = ConditionalLogit.Fit([strata[0] with { Weight = 2 }, .. strata[1..]], Weak);
                var single = ConditionalLogit.Fit(
                    [
                        .. strata
                            .Append(strata[0])
                            .SelectMany(s =>
                                s.Counts.Select(
                                    (count, j) =>
                                        s with
                                        {
                                            Counts = [.. s.Counts.Select((_, k) => k == j ? 1.0 : 0)],
                                            Weight = count,
                                        }
                                )
                            ),
                    ],
                    Weak
                );
                foreach (var other in new[] { weighted, single })
                {
                    Assert.Equal(doubled.Coefficients[0], other.Coefficients[0], 1e-8);
                    Assert.Equal(doubled.PenalisedLogLikelihood, other.PenalisedLogLikelihood, 1e-8);
                }
            }
        );

    [Fact]
    public void A_feature_that_always_wins_is_separation()
    {
        ChoiceStratum[] strata =
        [
            new(
                [
                    [0.0, 1],
                    [1, 0],
                ],
                [0, 3]
            ),
            new(
                [
                    [0.0, 0],
                    [1, 1],
                ],
                [0, 2]
            ),
            new(
                [
                    [1.0, 0],
                    [1, 1],
                ],
                [2, 3]
            ),
        ];
        var fit = ConditionalLogit.Fit(strata);
        Assert.Equal(StopReason.Separated, fit.Summary.Stopped);
        Assert.InRange(fit.Coefficients[0], 0.5, 10);
        Assert.Equal(StopReason.Converged, ConditionalLogit.Fit(strata, Weak).Summary.Stopped);
        // One loss is overlap.
        Assert.Equal(
            StopReason.Converged,
            ConditionalLogit
                .Fit([
                    .. strata,
                    new(
                        [
                            [0.0, 0],
                            [1, 0],
                        ],
                        [1, 0]
                    ),
                ])
                .Summary.Stopped
        );
    }

    [Fact]
    public void Two_items_have_the_closed_form_and_many_solve_the_likelihood_equations()
    {
        // b_1 - b_2 = ln(7/3); variance 1/7 + 1/3.
        var two = Worth.BradleyTerry(
            new double[,]
            {
                { 0, 7 },
                { 3, 0 },
            },
            0
        );
        var (difference, error) = two.Difference(0, 1);
        Assert.Equal(Math.Log(7 / 3.0), difference, 1e-12);
        Assert.Equal(Math.Sqrt(1 / 7.0 + 1 / 3.0), error, 1e-12);
        Assert.Equal(0.7, two.ChoiceProbability[0], 1e-12);

        // Wins of an item = expected wins (Ford 1957, equation 1), counted afresh.
        double[,] wins =
        {
            { 0, 3, 5, 2 },
            { 4, 0, 1, 2 },
            { 1, 6, 0, 3 },
            { 2, 2, 4, 0 },
        };
        var fit = Worth.BradleyTerry(wins, 0);
        for (var i = 0; i < 4; i++)
        {
            var (won, expected) = (0.0, 0.0);
            for (var j = 0; j < 4; j++)
            {
                won += wins[i, j];
                expected += (wins[i, j] + wins[j, i]) / (1 + Math.Exp(fit.LogWorth[j] - fit.LogWorth[i]));
            }

            Assert.Equal(won, expected, 1e-8);
        }

        Assert.Equal(0, fit.LogWorth.Sum(), 1e-10);
        Assert.Equal(0, Enumerable.Range(0, 4).Sum(j => fit.Covariance[j]), 1e-10);
    }

    [Fact]
    public void A_ranking_is_a_run_of_choices()
    {
        // All orders of three items equally often: equal worths, ln(1/6) each.
        int[][] orders =
        [
            [0, 1, 2],
            [0, 2, 1],
            [1, 0, 2],
            [1, 2, 0],
            [2, 0, 1],
            [2, 1, 0],
        ];
        var even = Worth.PlackettLuce(3, [.. orders.Select(o => new Ranking(o, []))], 0);
        Assert.All(even.LogWorth, b => Assert.Equal(0, b, 1e-10));
        Assert.Equal(6 * Math.Log(1 / 6.0), even.Summary.LogLikelihood, 1e-10);

        // Only the best known: Luce's choices.
        var partial = Worth.PlackettLuce(3, [new([0], [1, 2], 4), new([1], [0, 2], 2), new([2], [1, 0])], 0);
        Assert.Equal(Math.Log(4 / 2.0), partial.Difference(0, 1).Value, 1e-10);
        Assert.Equal(Math.Log(4), partial.Difference(0, 2).Value, 1e-10);

        // Simulated truth.
        var random = new Random(5);
        double[] truth = [0.9, 0.3, 0, -0.4, -0.8];
        var rankings = Enumerable
            .Range(0, 3000)
            .Select(_ =>
            {
                // Gumbel noise added to the worths ranks by Plackett-Luce.
                var noisy = truth.Select(b => b - Math.Log(-Math.Log(random.NextDouble()))).ToArray();
                var order = Enumerable.Range(0, 5).OrderByDescending(i => noisy[i]).ToArray();
                return new Ranking(order[..3], order[3..]);
            })
            .ToArray();
        var fit = Worth.PlackettLuce(5, rankings, 0);
        for (var i = 1; i < 5; i++)
        {
            var (value, se) = fit.Difference(0, i);
            Assert.InRange((value - (truth[0] - truth[i])) / se, -3.5, 3.5);
        }
    }

    [Fact]
    public void Without_a_chain_of_wins_there_is_no_worth_and_a_prior_steps_in()
    {
        var never = Worth.Luce(3, [new([0, 1], 0), new([1, 2], 1), new([0, 2], 0)], 0);
        Assert.Equal(StopReason.Separated, never.Summary.Stopped);
        Assert.All(never.LogWorth, b => Assert.InRange(Math.Abs(b), 0, 10));
        Assert.True(never.LogWorth[0] > never.LogWorth[1] && never.LogWorth[1] > never.LogWorth[2]);
        Assert.Equal(
            StopReason.Converged,
            Worth.Luce(3, [new([0, 1], 0), new([1, 2], 1), new([2, 0], 2)], 0).Summary.Stopped
        );
    }

    [Fact]
    public void A_larger_precision_pulls_worths_together() =>
        Draws.ForAll(
            Gen.Select(Gen.Int[0, 3], Gen.Int[0, 3], Gen.Int[1, 5]).Where(c => c.Item1 != c.Item2).Array[3, 15],
            60,
            draws =>
            {
                Contest[] contests = [.. draws.Select(c => new Contest([c.Item1, c.Item2], c.Item1, c.Item3))];
                var spread = double.PositiveInfinity;
                foreach (var lambda in new[] { 0.1, 1, 10, 1000 })
                {
                    var fit = Worth.Luce(4, contests, lambda);
                    Assert.Equal(1, fit.ChoiceProbability.Sum(), 1e-12);
                    var now = fit.LogWorth.Max() - fit.LogWorth.Min();
                    Assert.True(now < spread);
                    spread = now;
                }

                Assert.InRange(spread, 0, 0.2);
            }
        );

    [Fact]
    public void What_is_no_choice_is_refused()
    {
        Fault(SampleFault.Empty, () => ConditionalLogit.Fit([]));
        Fault(SampleFault.Empty, () => ConditionalLogit.Fit([new([], [])]));
        Fault(
            SampleFault.NoWeight,
            () =>
                ConditionalLogit.Fit([
                    new(
                        [
                            [1.0],
                            [2],
                        ],
                        [0, 0]
                    ),
                ])
        );
        Fault(
            SampleFault.NoWeight,
            () =>
                ConditionalLogit.Fit([
                    new(
                        [
                            [1.0],
                            [2],
                        ],
                        [1, 0],
                        null,
                        0
                    ),
                ])
        );
        Fault(
            SampleFault.Negative,
            () =>
                ConditionalLogit.Fit([
                    new(
                        [
                            [1.0],
                            [2],
                        ],
                        [-1, 2]
                    ),
                ])
        );
        Fault(
            SampleFault.NotFinite,
            () =>
                ConditionalLogit.Fit([
                    new(
                        [
                            [1.0],
                            [double.NaN],
                        ],
                        [1, 2]
                    ),
                ])
        );
        Fault(
            SampleFault.LengthMismatch,
            () =>
                ConditionalLogit.Fit([
                    new(
                        [
                            [1.0],
                            [2],
                        ],
                        [1]
                    ),
                ])
        );
        Fault(
            SampleFault.LengthMismatch,
            () =>
                ConditionalLogit.Fit([
                    new(
                        [
                            [1.0],
                            [2, 3],
                        ],
                        [1, 2]
                    ),
                ])
        );
        Fault(
            SampleFault.LengthMismatch,
            () =>
                ConditionalLogit.Fit([
                    new(
                        [
                            [1.0],
                            [2],
                        ],
                        [1, 2],
                        [0]
                    ),
                ])
        );
        // Constant within each stratum: cancels, so it can't be estimated.
        Fault(
            SampleFault.OutOfRange,
            () =>
                ConditionalLogit.Fit([
                    new(
                        [
                            [1.0],
                            [1],
                        ],
                        [1, 2]
                    ),
                ])
        );
        Fault(SampleFault.Empty, () => Worth.Luce(2, [], 1));
        Fault(SampleFault.OutOfRange, () => Worth.Luce(2, [new([0, 2], 0)], 1));
        Fault(SampleFault.OutOfRange, () => Worth.Luce(2, [new([0, 0], 0)], 1));
        Fault(SampleFault.OutOfRange, () => Worth.Luce(3, [new([0, 1], 2)], 1));
        Fault(SampleFault.Negative, () => Worth.Luce(2, [new([0, 1], 1)], -1));
        Fault(
            SampleFault.OutOfRange,
            () =>
                Worth.BradleyTerry(
                    new double[,]
                    {
                        { 1, 2 },
                        { 3, 0 },
                    },
                    1
                )
        );

        static void Fault(SampleFault expected, Func<object> act) =>
            Assert.Equal(expected, Assert.Throws<InvalidSampleException>(act).Fault);
    }
}
