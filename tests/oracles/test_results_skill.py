"""Luck, ability, evidence and progress, held against published tables and SciPy.

The standing of each value, as in `test_matching`: [seen] in a copy of the source or a page quoting it; [memory]
recalled; [computed] by exact fractions or enumeration with code that is not the project's.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import comb, exp, log

import numpy as np
import pytest
from scipy import integrate, optimize, stats

from scanner.results.ability import face_of, faces, fit, padded, theta_of_face, tilted
from scanner.results.ability_course import BEFOREHAND_SD, GRID, course
from scanner.results.counted import counts_of
from scanner.results.evidence import THETAS, log_e_values, log_ratios
from scanner.results.luck import law_of_counts, law_of_total, luck_of_table, luck_of_taster, tail
from scanner.results.progress import compare
from scanner.results.sureness import sureness
from tests.scanner.results.skilled import LAWS, sitting, sitting_with

# OEIS A008290 [seen, recomputed].
RENCONTRES = {2: (1, 0, 1), 3: (2, 3, 0, 1), 4: (9, 8, 6, 0, 1), 5: (44, 45, 20, 10, 0, 1)}

# Two sittings of four, totals 0 … 8 [computed].
TWO_OF_FOUR = ("9/64", "1/4", "43/144", "1/6", "3/32", "1/36", "1/48", "0", "1/576")

# The least total over m sittings of n with an exact tail of 5 % at most, that tail, and the least total for 1 % (None:
# there is none) [computed].
LEAST = [
    (2, 3, 6, 0.0278, None),
    (2, 4, 6, 0.0226, 8),
    (2, 5, 6, 0.0174, 7),
    (3, 3, 7, 0.0463, 9),
    (3, 4, 7, 0.0337, 9),
    (3, 5, 7, 0.0334, 9),
    (5, 3, 10, 0.03035, 12),
    (5, 4, 10, 0.032296, 12),
    (5, 5, 10, 0.031844, 12),
    (10, 3, 16, 0.0492, 19),
    (10, 4, 16, 0.0489, 19),
    (10, 5, 16, 0.0487, 19),
    (20, 3, 29, 0.0343, 32),
    (20, 4, 29, 0.0344, 32),
    (20, 5, 29, 0.0343, 32),
]

# The Mallows model with Hamming distance, after M. A. Fligner and J. S. Verducci, J. R. Stat. Soc. B 48 (1986) 359–369:
# glasses, θ, mean correct, chance of all right [computed by enumeration].
MALLOWS = [
    (3, 0.5, 1.60933390, 0.39217245),
    (3, log(2), 1.875, 0.5),
    (3, 1.0, 2.26225500, 0.66419586),
    (4, 0.5, 1.64235807, 0.16102190),
    (4, log(2), 1.96923077, 0.24615385),
    (4, 1.0, 2.53555459, 0.42102622),
    (5, 0.5, 1.64789609, 0.05306947),
    (5, log(2), 1.99386503, 0.09815951),
    (5, 1.0, 2.65690434, 0.22372528),
]

# The chance that the e-value with the one alternative t = 2 ever reaches 20 under guessing, by 10, 20 and 60 sittings
# [computed].
REACHES_20 = {
    3: (0.022246, 0.031367, 0.034654),
    4: (0.019065, 0.025255, 0.027908),
    5: (0.019376, 0.025569, 0.027951),
}

# Clopper–Pearson limits in R. G. Newcombe, Stat. Med. 17 (1998) 857–872 [recalled, recomputed].
CLOPPER_PEARSON = [(81, 263, 0.2527, 0.3676), (15, 148, 0.0578, 0.1617), (0, 20, 0.0, 0.1684), (1, 29, 0.0009, 0.1776)]


@pytest.mark.parametrize("glasses", RENCONTRES)
def test_a_sitting_without_repeats_has_the_rencontres_numbers(glasses: int) -> None:
    assert counts_of(sitting_with(0, glasses)) == RENCONTRES[glasses]


def test_repeats_and_blanks_over_sittings_have_grevilles_mean_and_variance() -> None:
    # T. N. E. Greville, Ann. Math. Stat. 12 (1941) 350–354 [seen as citation]. Mean M/n and variance
    # [M² − nΣa(a + 1) + n²M]/[n²(n − 1)]: (1, 1, 2, –, 5) has M = 4, Σa(a + 1) = 10, so 4/5 and 66/100; (3, 3, 3) has
    # mean 1 and variance 0; (1, 2, –, –) has M = 2, Σ = 4, so 1/2 and 20/48.
    sittings = [
        sitting((1, 1, 2, None, 5), (1, 2, 3, 4, 5), 0),
        sitting((3, 3, 3), (1, 2, 3), 1),
        sitting((1, 2, None, None), (1, 2, 3, 4), 2),
    ]
    law = luck_of_taster(sittings).chances
    mean = sum(k * Fraction(chance) for k, chance in enumerate(law))
    assert mean == Fraction(4, 5) + 1 + Fraction(1, 2)
    assert sum(k * k * Fraction(chance) for k, chance in enumerate(law)) - mean**2 == Fraction(66, 100) + Fraction(
        20, 48
    )


def test_two_sittings_of_four_have_the_law_worked_out() -> None:
    luck = luck_of_taster([sitting_with(4, 4, 0), sitting_with(2, 4, 1)])
    assert luck.chances == tuple(Fraction(chance) for chance in TWO_OF_FOUR)
    assert luck.chance_at_least == Fraction(TWO_OF_FOUR[6]) + Fraction(TWO_OF_FOUR[8])


@pytest.mark.parametrize(("sittings", "glasses", "least", "chance", "least_rarer"), LEAST)
def test_the_least_rare_total_over_sittings_is_the_tables(
    sittings: int, glasses: int, least: int, chance: float, least_rarer: int | None
) -> None:
    law = law_of_total([law_of_counts(LAWS[glasses])] * sittings)
    attained = [k for k, each in enumerate(law) if each]
    rare = [k for k in attained if tail(law, k) <= Fraction(5, 100)]
    rarer = [k for k in attained if tail(law, k) <= Fraction(1, 100)]
    assert rare[0] == least
    # The table gives four places at least.
    assert float(tail(law, least)) == pytest.approx(chance, abs=5.1e-5)
    assert (rarer[0] if rarer else None) == least_rarer


def test_the_tables_total_of_own_keys_is_that_of_as_many_sittings() -> None:
    # Two tasters of one sitting with own keys, four glasses: the law of two sittings of four [computed].
    pair = [sitting_with(4, 4, 0, number=1), sitting_with(2, 4, 0, number=2, taster="tom", name="Tom")]
    assert luck_of_table(pair, {"K00000": 2}).chances == tuple(Fraction(chance) for chance in TWO_OF_FOUR)


@pytest.mark.parametrize(("glasses", "theta", "mean", "all_right"), MALLOWS)
def test_the_ability_model_is_mallows(glasses: int, theta: float, mean: float, all_right: float) -> None:
    law = tilted(padded([LAWS[glasses]]), np.array([theta]))[0]
    assert law[-1] == pytest.approx(all_right, abs=5e-9)
    assert law @ np.arange(glasses + 1) == pytest.approx(mean, abs=5.1e-9)
    assert faces(np.array([theta]), glasses)[0] == pytest.approx(mean, abs=5.1e-9)


def test_the_face_is_undone_by_its_inverse() -> None:
    # From the table above: ln 2 has 1.99386503 of five, 1 has 2.65690434 [computed].
    assert theta_of_face(1.99386503) == pytest.approx(log(2), abs=1e-7)
    assert theta_of_face(2.65690434) == pytest.approx(1.0, abs=1e-7)
    assert face_of(0.0) == 1.0


@pytest.mark.parametrize(("right", "of", "low", "high"), CLOPPER_PEARSON)
def test_with_two_glasses_the_interval_is_clopper_and_pearsons(right: int, of: int, low: float, high: float) -> None:
    # Two glasses are both right or both wrong, like a coin: P(2) = e^{2θ}/(1 + e^{2θ}).
    found = fit([LAWS[2]] * of, 2 * right)
    assert found is not None
    estimate, *ends = found
    shares = [None if end is None else 1 / (1 + exp(-2 * end)) for end in ends]
    assert shares[0] == (None if right == 0 else pytest.approx(low, abs=5.1e-5))
    assert shares[1] == pytest.approx(high, abs=5.1e-5)
    assert estimate == (None if right == 0 else pytest.approx(log(right / (of - right)) / 2, abs=1e-9))


def test_the_estimate_with_unlike_flights_is_scipys_maximum_of_likelihood() -> None:
    correct, glasses, difficulties = (2, 1, 4, 1, 5, 0), (3, 4, 4, 5, 5, 3), (0.3, -0.4, 1.1, 0.0, -0.2, 0.9)

    def unlikelihood(ability: float) -> float:
        each = 0.0
        for k, n, d in zip((1, *correct[1:]), glasses, difficulties, strict=True):
            law = np.array(LAWS[n]) * np.exp((ability - d) * np.arange(n + 1))
            each -= log(law[k] / law.sum())
        return each

    best = optimize.minimize_scalar(unlikelihood, bounds=(-5, 5), method="bounded", options={"xatol": 1e-10})
    found = fit([LAWS[n] for n in glasses], sum((1, *correct[1:])), difficulties)
    assert found is not None
    assert found[0] == pytest.approx(best.x, abs=1e-6)


def test_two_runs_of_two_glasses_compare_as_fishers_tea() -> None:
    # R. A. Fisher, The Design of Experiments (1935) ch. 2 [seen]: of 70 arrangements 1, 16, 36, 16 and 1 have 0 … 4
    # cups right. Two glasses are both right or both wrong: four sittings of four right, after four of four wrong.
    four = compare([LAWS[2]] * 8, (0, 0, 0, 0, 2, 2, 2, 2), 4, 4)
    assert four.p_value == pytest.approx(2 * 1 / 70)
    assert four.better
    three = compare([LAWS[2]] * 8, (0, 2, 0, 0, 2, 2, 2, 0), 4, 4)
    assert three.p_value == pytest.approx(2 * 17 / 70)


def test_runs_of_two_glasses_compare_as_scipys_exact_test() -> None:
    before, after = [2] * 3 + [0] * 9, [2] * 9 + [0] * 5
    found = compare([LAWS[2]] * 26, before + after, 12, 14)
    one_sided = stats.fisher_exact([[9, 5], [3, 9]], alternative="greater").pvalue
    assert found.p_value == pytest.approx(2 * one_sided)


def test_the_e_value_of_one_alternative_is_the_worked_example() -> None:
    # SOURCES A7, one alternative t = 2, four glasses, correct 2, 4, 1, 4, 2, 4 [computed].
    logs = log_e_values([LAWS[4]] * 6, (2, 4, 1, 4, 2, 4), np.array([log(2)]))
    expected = (1.476923, 8.725207, 6.443230, 38.064619, 56.218515, 332.121688)
    assert np.exp(logs) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(("glasses", "mean"), [(3, 8 / 3), (4, 65 / 24), (5, 163 / 60)])
def test_the_e_values_divisor_is_that_of_the_table(glasses: int, mean: float) -> None:
    assert np.exp(-log_ratios(padded([LAWS[glasses]]), np.array([log(2)]))[0, 0, 0]) == pytest.approx(mean)


@pytest.mark.parametrize("glasses", REACHES_20)
def test_the_chance_ever_to_reach_20_under_guessing_is_that_counted_out(glasses: int) -> None:
    # With one alternative the e-value depends on the total alone: the law of totals not yet stopped is carried on.
    law = np.array(LAWS[glasses]) / sum(LAWS[glasses])
    step = log_ratios(padded([LAWS[glasses]]), np.array([log(2)]))[0, 0]
    going, stopped, by = np.ones(1), 0.0, []
    for sittings in range(1, 61):
        going = np.convolve(going, law)
        reached = sittings * step[0] + log(2) * np.arange(len(going)) >= log(20)
        stopped += going[reached].sum()
        going[reached] = 0
        if sittings in (10, 20, 60):
            by.append(stopped)
    assert by == pytest.approx(REACHES_20[glasses], abs=5.1e-7)


def test_the_mixture_is_the_mean_of_its_twelve_alternatives() -> None:
    # DESIGN, "Evidence": θ = 0.25, 0.5 … 3; the mean moment E_0[e^{θK}] = Σ_{j≤n} (e^θ − 1)^j/j! (SOURCES A6).
    correct = (3, 0, 5, 1)
    each = [
        np.prod([exp(q / 4 * k) / sum((exp(q / 4) - 1) ** j / _factorial(j) for j in range(6)) for k in correct])
        for q in range(1, 13)
    ]
    assert log_e_values([LAWS[5]] * 4, correct)[-1] == pytest.approx(log(np.mean(each)))
    assert len(THETAS) == 12


def test_one_sittings_band_is_the_posterior_that_scipy_integrates() -> None:
    def density(theta: float) -> float:
        return float(stats.norm.pdf(theta, 0, BEFOREHAND_SD) * _mallows(5, theta)[3])

    ends = GRID[0], GRID[-1]
    whole = integrate.quad(density, *ends)[0]
    quantiles = [
        optimize.brentq(lambda at, share=share: integrate.quad(density, ends[0], at)[0] / whole - share, *ends)
        for share in (0.025, 0.5, 0.975)
    ]
    # The grid's spacing is a tenth; its cells are cut evenly.
    assert course([LAWS[5]], [3]).smoothed[0] == pytest.approx(faces(np.array(quantiles)), abs=0.01)


def test_resampled_intervals_are_near_scipys() -> None:
    chance = np.random.default_rng(7)
    right = chance.integers(0, 6, 40)
    sittings = [
        sitting_with(int(k) if k != 4 else 3, 5, day, sure=("guess", "sure")[day % 2]) for day, k in enumerate(right)
    ]
    sure = np.array([one.correct for one in sittings[1::2]])
    found = sureness(sittings).words[-1].interval
    theirs = stats.bootstrap(
        (sure / 5,), np.mean, method="percentile", n_resamples=20_000, random_state=1
    ).confidence_interval
    # Ours draws how often the word was used, too, and 1,000 times: within about a standard error of a percentile.
    assert found == pytest.approx((theirs.low, theirs.high), abs=0.04)


def _mallows(glasses: int, theta: float) -> Sequence[float]:
    law = np.array(LAWS[glasses]) * np.exp(theta * np.arange(glasses + 1))
    return (law / law.sum()).tolist()  # type: ignore[no-any-return]


def _factorial(j: int) -> int:
    return comb(j, 0) if j < 2 else j * _factorial(j - 1)
