"""Intervals of agreement against Student's t, Shrout and Fleiss' F intervals, and a bootstrap of Krippendorff's alpha.

The standing of each source: [memory] recalled; SciPy and the `krippendorff` package are used as they are installed.
"""

from __future__ import annotations

import krippendorff
import numpy as np
import pytest
import scipy.stats
from numpy.typing import NDArray

from scanner.results.agreement import Level, alpha_of_counts, icc
from scanner.results.leave_one_out import FEWEST_SITTINGS, alpha_interval, icc_interval, student_975

Floats = NDArray[np.float64]


def two_rounds(targets: int, agreement: float, chance: np.random.Generator) -> Floats:
    """Return ratings of two raters without a shift of either: their true ICC(2,1) is the agreement."""
    own = np.sqrt(agreement) * chance.normal(size=(targets, 1))
    ratings: Floats = own + np.sqrt(1 - agreement) * chance.normal(size=(targets, 2))
    return ratings


def f_interval(ratings: Floats) -> tuple[float, float]:
    """Shrout and Fleiss 1979, p. 424, case 2 [memory]: F with Satterthwaite's degrees of freedom."""
    n, k = ratings.shape
    mean = ratings.mean()
    bms = k * ((ratings.mean(axis=1) - mean) ** 2).sum() / (n - 1)
    jms = n * ((ratings.mean(axis=0) - mean) ** 2).sum() / (k - 1)
    rest = ratings - ratings.mean(axis=1, keepdims=True) - ratings.mean(axis=0) + mean
    ems = (rest**2).sum() / ((n - 1) * (k - 1))
    found = icc(ratings)
    assert found is not None
    r = found.icc_2_1
    assert r is not None
    fj = jms / ems
    v = (k - 1) * (n - 1) * (k * r * fj + n * (1 + (k - 1) * r) - k * r) ** 2
    v /= (n - 1) * k**2 * r**2 * fj**2 + (n * (1 + (k - 1) * r) - k * r) ** 2
    high, low = scipy.stats.f.ppf(0.975, n - 1, v), scipy.stats.f.ppf(0.975, v, n - 1)
    return (
        n * (bms - high * ems) / (high * (k * jms + (k * n - k - n) * ems) + n * bms),
        n * (low * bms - ems) / (k * jms + (k * n - k - n) * ems + n * low * bms),
    )


@pytest.mark.parametrize("freedom", [9, 10, 15, 30, 364])
def test_students_t_is_scipys(freedom: int) -> None:
    assert student_975(freedom) == pytest.approx(scipy.stats.t.ppf(0.975, freedom), abs=5e-4)


@pytest.mark.parametrize("agreement", [0.3, 0.6, 0.9])
def test_with_one_drink_a_sitting_the_interval_of_icc_is_near_that_of_shrout_and_fleiss(agreement: float) -> None:
    """Theirs is for targets that are independent, normal ratings: then both must say nearly the same."""
    ratings = two_rounds(400, agreement, np.random.default_rng(1979))
    found = icc_interval(ratings, np.arange(400))
    assert found.interval == pytest.approx(f_interval(ratings), abs=0.02)


def test_with_twins_in_a_sitting_the_interval_is_wider_than_theirs() -> None:
    """A target twice in one sitting tells nothing more: half as many are independent, and the ends go out by √2."""
    once = two_rounds(200, 0.6, np.random.default_rng(2))
    found = icc_interval(np.repeat(once, 2, axis=0), np.repeat(np.arange(200), 2)).interval
    alone = icc_interval(once, np.arange(200)).interval
    assert found == pytest.approx(alone, abs=0.01)
    low, high = f_interval(np.repeat(once, 2, axis=0))
    assert found is not None
    assert found[1] - found[0] > 1.25 * (high - low)


@pytest.mark.parametrize("level", ["nominal", "ordinal", "interval"])
def test_the_interval_of_alpha_is_near_that_of_a_bootstrap_over_sittings(level: Level) -> None:
    """Krippendorff's alpha of 300 resamples of whole sittings, by the `krippendorff` package; its middle 95 %."""
    chance = np.random.default_rng(2011)
    sittings, drinks, values = 60, 4, np.arange(1.0, 4.0)
    true = chance.integers(1, 4, sittings * drinks)
    codings = np.where(chance.random((4, len(true))) < 0.7, true, chance.integers(1, 4, (4, len(true)))).astype(float)
    numbers = np.repeat(np.arange(sittings), drinks)
    counts = (codings[:, :, None] == values).sum(axis=0).astype(float)
    found = alpha_interval(counts, values, numbers, level)
    drawn = []
    for _ in range(300):
        columns = (drinks * chance.integers(0, sittings, sittings)[:, None] + np.arange(drinks)).ravel()
        drawn.append(krippendorff.alpha(codings[:, columns], level_of_measurement=level))
    assert found.interval == pytest.approx(tuple(np.quantile(drawn, (0.025, 0.975))), abs=0.02)


@pytest.mark.parametrize(("sittings", "agreement"), [(10, 0.4), (10, 0.8), (25, 0.6)])
def test_nineteen_of_twenty_intervals_of_icc_hold_the_truth(sittings: int, agreement: float) -> None:
    """Four drinks a sitting, 400 times. Of 400 at 95 % fewer than 366 come with probability 10⁻³ (binomial)."""
    chance = np.random.default_rng(sittings)
    numbers = np.repeat(np.arange(sittings), 4)
    held = 0
    for _ in range(400):
        found = icc_interval(two_rounds(4 * sittings, agreement, chance), numbers).interval
        assert found is not None
        held += found[0] <= agreement <= found[1]
    assert held >= scipy.stats.binom.ppf(1e-3, 400, 0.95) - 4
    assert held < 400


def test_nineteen_of_twenty_intervals_of_alpha_hold_the_truth() -> None:
    """Two values, four tasters who say the drink's own with 0.8, else by lot: alpha is 0.64 in the long run."""
    chance = np.random.default_rng(12)
    numbers = np.repeat(np.arange(12), 8)
    held = 0
    for _ in range(300):
        true = chance.integers(0, 2, len(numbers))
        told = np.where(chance.random((4, len(true))) < 0.8, true, chance.integers(0, 2, (4, len(true))))
        counts = np.stack([(told == 0).sum(axis=0), (told == 1).sum(axis=0)], axis=1).astype(float)
        found = alpha_interval(counts, np.array([0.0, 1.0]), numbers).interval
        assert found is not None
        held += found[0] <= 0.64 <= found[1]
    assert 0.90 * 300 <= held < 300


def test_where_nothing_can_be_told_it_says_what_is_missing() -> None:
    ratings = two_rounds(40, 0.6, np.random.default_rng(5))
    few = icc_interval(ratings[: FEWEST_SITTINGS - 1], np.arange(FEWEST_SITTINGS - 1))
    assert few.interval is None
    assert few.lacks == "it takes 10 sittings; there are 9"
    same = icc_interval(np.repeat(ratings[:, :1], 2, axis=1), np.arange(40))
    assert same.interval is None
    assert same.lacks == "there is nearly no disagreement to tell it by"
    alike = np.tile([[2.0, 0.0], [0.0, 2.0], [1.0, 1.0]], (12, 1))
    found = alpha_interval(alike, np.array([0.0, 1.0]), np.repeat(np.arange(12), 3))
    assert (found.interval, found.lacks) == (None, "all sittings are alike")
    nothing = alpha_interval(np.zeros((0, 2)), np.array([0.0, 1.0]), np.zeros(0, np.intp))
    assert (nothing.interval, nothing.lacks) == (None, "it takes 10 sittings; there is none")
    unpaired = alpha_interval(np.eye(2), np.array([0.0, 1.0]), np.arange(2))
    assert unpaired.interval is None


def test_the_estimate_lies_within_and_below_one() -> None:
    chance = np.random.default_rng(9)
    for agreement in (0.0, 0.5, 0.97):
        ratings = two_rounds(60, agreement, chance)
        found, whole = icc_interval(ratings, np.repeat(np.arange(15), 4)).interval, icc(ratings)
        assert found is not None
        assert whole is not None
        assert whole.icc_2_1 is not None
        assert found[0] < whole.icc_2_1 < found[1] < 1
    counts = np.stack([chance.integers(0, 4, 80), chance.integers(0, 4, 80)], axis=1).astype(float)
    found, alpha = (
        alpha_interval(counts, np.array([0.0, 1.0]), np.repeat(np.arange(20), 4)).interval,
        alpha_of_counts(counts, np.array([0.0, 1.0])),
    )
    assert found is not None
    assert alpha is not None
    assert found[0] < alpha < found[1] < 1
