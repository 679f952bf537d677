"""Agreement, and the small tests that results lean on, held against published values and foreign programs.

SOURCES.md, C, has the published data: recalled or seen in textbooks, all recomputed.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import krippendorff
import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from scipy.spatial.distance import jaccard as scipy_jaccard
from statsmodels.formula.api import ols
from statsmodels.stats.anova import anova_lm
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.proportion import proportion_confint

from scanner.results.agreement import Level, icc, jaccard, krippendorff_alpha
from scanner.results.exact import Law, chance_of_total, holm, law_of, overlap_law, sign_test, wilson
from scanner.results.pairing import pairing

NO = float("nan")
SHROUT_FLEISS = ((9, 2, 5, 8), (6, 1, 3, 2), (8, 4, 6, 8), (7, 1, 2, 6), (10, 5, 6, 9), (6, 2, 4, 7))


def coders(*rows: str) -> list[list[float]]:
    return [[NO if value == "." else float(value) for value in row.split()] for row in rows]


CANONICAL = coders(
    "1 2 3 3 2 1 4 1 2 . . .",
    "1 2 3 3 2 2 4 1 2 5 . 3",
    ". 3 3 3 2 3 4 2 2 5 1 .",
    "1 2 3 3 2 4 4 1 2 5 1 .",
)
ENCYCLOPAEDIA = coders(
    ". . . . . 3 4 1 2 1 1 3 3 . 3",
    "1 . 2 1 3 3 4 3 . . . . . . .",
    ". . 2 1 3 4 4 . 2 1 1 3 3 . 4",
)
BINARY = coders("0 1 0 0 0 0 0 0 1 0", "1 1 1 0 0 1 0 0 0 0")


def test_icc_is_shrout_and_fleiss_table() -> None:
    # Psychol. Bull. 86 (1979) 420–428, table 4.
    found = icc(SHROUT_FLEISS)
    assert found is not None
    told = (found.icc_1_1, found.icc_2_1, found.icc_3_1, found.icc_1_k, found.icc_2_k, found.icc_3_k)
    assert [round(value, 2) for value in told if value is not None] == [0.17, 0.29, 0.71, 0.44, 0.62, 0.91]


@settings(deadline=None, max_examples=12)
@given(st.integers(3, 9), st.integers(2, 4), st.integers(0, 10_000))
def test_icc_follows_from_the_mean_squares_of_statsmodels(targets: int, raters: int, seed: int) -> None:
    table = np.random.default_rng(seed).integers(1, 8, (targets, raters)) + np.arange(targets)[:, None] * 1.0
    rows = [(i, j, table[i, j]) for i in range(targets) for j in range(raters)]
    squares = anova_lm(ols("y ~ C(t) + C(r)", pd.DataFrame(rows, columns=["t", "r", "y"])).fit())["mean_sq"]
    bms, jms, ems = squares["C(t)"], squares["C(r)"], squares["Residual"]
    found = icc(table)
    assert found is not None
    assert found.icc_2_1 == pytest.approx((bms - ems) / (bms + (raters - 1) * ems + raters * (jms - ems) / targets))
    assert found.icc_3_1 == pytest.approx((bms - ems) / (bms + (raters - 1) * ems))


@pytest.mark.parametrize("table", [[], [[1, 2]], [[3, 3], [3, 3]], [[1], [2]], [[1, NO], [2, 3]]])
def test_icc_of_too_little_is_none(table: Sequence[Sequence[float]]) -> None:
    assert icc(table) is None


def test_raters_who_share_nothing_but_the_mean_have_no_averaged_icc() -> None:
    found = icc([[1, 2], [2, 1]])
    assert found is not None
    assert found.icc_1_k is None
    assert found.icc_1_1 == pytest.approx(-1.0)


@pytest.mark.parametrize(
    ("codings", "level", "alpha"),
    [
        (CANONICAL, "nominal", 0.743),
        (CANONICAL, "ordinal", 0.815),
        (CANONICAL, "interval", 0.849),
        (ENCYCLOPAEDIA, "nominal", 0.691),
        (ENCYCLOPAEDIA, "interval", 0.811),
        (BINARY, "nominal", 0.095),
    ],
)
def test_alpha_is_krippendorffs_own_for_his_data(codings: list[list[float]], level: Level, alpha: float) -> None:
    found = krippendorff_alpha(codings, level)
    assert found is not None
    assert round(found, 3) == alpha


@settings(deadline=None, max_examples=60)
@given(
    st.sampled_from(["nominal", "ordinal", "interval"]),
    st.integers(2, 4),
    st.integers(3, 12),
    st.integers(0, 10_000),
)
def test_alpha_is_the_krippendorff_package_s(level: Level, raters: int, units: int, seed: int) -> None:
    chance = np.random.default_rng(seed)
    codings = chance.integers(1, 6, (raters, units)).astype(float)
    codings[chance.random(codings.shape) < 0.3] = NO
    paired = codings[:, (~np.isnan(codings)).sum(axis=0) >= 2]
    found = krippendorff_alpha(codings, level)
    if np.unique(paired[~np.isnan(paired)]).size < 2:
        assert found is None
    else:
        assert found == pytest.approx(krippendorff.alpha(codings, level_of_measurement=level), abs=1e-12)


def test_holm_is_the_published_example() -> None:
    assert holm([0.01, 0.04, 0.03, 0.005]) == pytest.approx((0.03, 0.06, 0.06, 0.02))


@settings(deadline=None, max_examples=25)
@given(st.lists(st.floats(0, 1), min_size=1, max_size=12))
def test_holm_is_statsmodels(chances: list[float]) -> None:
    assert holm(chances) == pytest.approx(multipletests(chances, method="holm")[1].tolist(), abs=1e-12)


@pytest.mark.parametrize(
    ("count", "of", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_wilson_is_newcombe_s_table(count: int, of: int, low: float, high: float) -> None:
    # Stat. Med. 17 (1998) 857–872, table I, method 3.
    found = wilson(count, of)
    assert (round(found[0], 4), round(found[1], 4)) == (low, high)


@given(st.integers(0, 60), st.integers(1, 60))
def test_wilson_is_statsmodels(count: int, more: int) -> None:
    of = count + more
    assert wilson(count, of) == pytest.approx(proportion_confint(count, of, method="wilson"), abs=1e-9)


@given(st.integers(0, 25), st.integers(0, 25))
def test_the_sign_test_is_scipy_s_binomial_test(more: int, fewer: int) -> None:
    expected = stats.binomtest(more, more + fewer).pvalue if more + fewer else 1.0
    assert sign_test(more, fewer) == pytest.approx(expected)


@given(st.integers(1, 8), st.data())
def test_the_overlap_law_is_scipy_s_hypergeometric(glasses: int, data: st.DataObject) -> None:
    first, second = data.draw(st.integers(0, glasses)), data.draw(st.integers(0, glasses))
    law = overlap_law(glasses, first, second)
    for k in range(law.least, law.least + len(law.weights)):
        assert law.at_least(k) / law.cases == pytest.approx(stats.hypergeom(glasses, first, second).sf(k - 1))


@given(st.sets(st.sampled_from("abcdefgh")), st.sets(st.sampled_from("abcdefgh")))
def test_jaccard_is_scipy_s_distance_from_one(first: set[str], second: set[str]) -> None:
    sides = [[letter in one for letter in "abcdefgh"] for one in (first, second)]
    expected = None if not first | second else pytest.approx(1 - scipy_jaccard(*sides))
    assert jaccard(first, second) == expected


def test_the_pairing_s_chance_is_scipy_s_permutation_test() -> None:
    chance = np.random.default_rng(86)
    for _ in range(10):
        alike = chance.integers(0, 9, (5, 5))

        def total(order: np.ndarray, alike: np.ndarray = alike) -> float:
            return float(alike[np.asarray(order, int), np.arange(5)].sum())

        truth = chance.permutation(5)
        foreign = stats.permutation_test(
            (truth,), total, permutation_type="pairings", n_resamples=np.inf, alternative="greater"
        )
        assert float(pairing(alike, (truth + 1).tolist()).chance_at_least) == pytest.approx(foreign.pvalue)


@settings(deadline=None, max_examples=40)
@given(st.lists(st.lists(st.integers(-4, 9), min_size=1, max_size=5), min_size=1, max_size=4), st.integers(-20, 40))
def test_the_chance_of_a_total_is_counted_out_over_all_cases(cases: list[list[int]], total: int) -> None:
    every = [sum(one) for one in itertools.product(*cases)]
    expected = sum(score >= total for score in every) / len(every)
    assert chance_of_total([law_of(scores) for scores in cases], total) == pytest.approx(expected)


def test_long_sums_in_floats_are_exact_ones_to_1e_10(monkeypatch: pytest.MonkeyPatch) -> None:
    chance = np.random.default_rng(1)
    laws = [law_of(chance.integers(0, 20, 24).tolist()) for _ in range(60)]
    laws += [Law(0, (5, 3, 1), 2)] * 5
    totals = range(400, 900, 20)
    floats = [chance_of_total(laws, total) for total in totals]
    monkeypatch.setattr("scanner.results.exact.EXACT_SITTINGS", 1000)
    exact = [chance_of_total(laws, total) for total in totals]
    assert min(exact) < 1e-9
    assert floats == pytest.approx(exact, rel=1e-10)


def test_a_score_between_two_possible_ones_counts_the_higher_alone() -> None:
    assert [law_of([0, 4, 4]).at_least(score) for score in (-3, 0, 1, 4, 5)] == [3, 3, 2, 2, 0]
    laws = [law_of([0, 4]), law_of([0, 8])]
    assert [chance_of_total(laws, total) for total in (0, 1, 4, 5, 9, 13)] == [1.0, 0.75, 0.75, 0.5, 0.25, 0.0]
