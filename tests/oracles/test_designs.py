"""The designs of balanced sets against Williams's construction and printed squares; own keys against independence.

The standing of each source: [seen] in a copy or a page quoting it; [memory] recalled; [computed] worked out with code
that is not the project's.
"""

from __future__ import annotations

import itertools
from collections import Counter

import numpy as np
import pytest
import scipy.stats

from kit.build import draw_keys
from kit.chance_source import SeededChance
from kit.designs import williams
from tests.kit import samples

# E. J. Williams, Aust. J. Sci. Res. A 2 (1949) 149–168 [seen as cited]; the rows themselves [computed].
SQUARES = {
    3: "ABC BCA CAB CBA ACB BAC",
    4: "ABDC BCAD CDBA DACB",
    5: "ABECD BCADE CDBEA DECAB EADBC DCEBA EDACB AEBDC BACED CBDAE",
}

# In the Latin squares of even order that Williams develops cyclically, neighbours of the first row differ by 1, n − 2,
# 3, n − 4 … modulo n, each difference once: the "sequencing" of the cyclic group [memory], here for n = 4.
DIFFERENCES = {4: (1, 2, 3)}

DRAWS, ORDERS, SIGNIFICANCE = 100_000, 120, 1e-3
POWERS = 5 ** np.arange(5)


@pytest.mark.parametrize("glasses", SQUARES)
def test_the_rows_are_those_of_williams_1949(glasses: int) -> None:
    letters = tuple(tuple("ABCDE".index(letter) + 1 for letter in row) for row in SQUARES[glasses].split())
    assert williams(glasses) == letters


@pytest.mark.parametrize(("glasses", "rows", "times"), [(3, 6, 2), (4, 4, 1), (5, 10, 2)])
def test_an_even_number_needs_n_orders_and_an_odd_one_2n(glasses: int, rows: int, times: int) -> None:
    """Williams 1949 [seen]: then each drink stands at each place, and follows each other, equally often."""
    design = williams(glasses)
    drinks = range(1, glasses + 1)
    at_place = Counter((drink, place) for row in design for place, drink in enumerate(row))
    followed = Counter(pair for row in design for pair in itertools.pairwise(row))
    assert len(design) == rows
    assert at_place == {(drink, place): times for drink in drinks for place in range(glasses)}
    assert followed == {(one, other): times for one in drinks for other in drinks if one != other}


def test_the_first_row_of_an_even_square_has_each_difference_once() -> None:
    for glasses, differences in DIFFERENCES.items():
        first = williams(glasses)[0]
        steps = [(after - before) % glasses for before, after in itertools.pairwise(first)]
        assert tuple(steps) == differences


@pytest.fixture(scope="module")
def two_keys() -> np.ndarray:
    """The keys of two tasters at five glasses over 100,000 sittings: (sitting, taster, place) to drink, from 0."""
    session, chance = samples.a_session(5, names=samples.NAMES[:2]), SeededChance(20261205)
    return np.array([draw_keys(session, chance) for _ in range(DRAWS)], dtype=np.intp) - 1


def test_own_keys_of_two_tasters_stand_to_each_other_in_every_order_equally_often(two_keys: np.ndarray) -> None:
    """Of independent uniform keys the one, seen from the other, is uniform over 120 orders: 833 expected of each."""
    one, other = two_keys[:, 0], two_keys[:, 1]
    seen = np.argsort(one, axis=1)
    seen = np.take_along_axis(seen, other, axis=1)
    assert scipy.stats.chisquare(counts(numbers(seen), ORDERS)).pvalue > SIGNIFICANCE


def test_every_pair_of_own_keys_comes_equally_often_though_there_are_14400(two_keys: np.ndarray) -> None:
    """Each of 120 × 120 pairs is expected 6.9 times: enough for chi-square, 5 by common practice (Cochran 1954)."""
    one, other = (numbers(two_keys[:, taster]) for taster in (0, 1))
    table = counts(one * ORDERS + other, ORDERS**2).reshape(ORDERS, ORDERS)
    assert DRAWS / ORDERS**2 > 5
    assert scipy.stats.chisquare(table.ravel()).pvalue > SIGNIFICANCE
    assert scipy.stats.chi2_contingency(table).pvalue > SIGNIFICANCE


def test_what_stands_where_for_one_taster_says_nothing_of_the_other(two_keys: np.ndarray) -> None:
    """Folded: each of the 25 pairs of places, whose 5 × 5 drinks are expected 4,000 times each; Holm over the 25."""
    pvalues = []
    for place, elsewhere in itertools.product(range(5), repeat=2):
        pairs = two_keys[:, 0, place] * 5 + two_keys[:, 1, elsewhere]
        pvalues.append(scipy.stats.chi2_contingency(counts(pairs, 25).reshape(5, 5)).pvalue)
    assert min(pvalues) * len(pvalues) > SIGNIFICANCE


def test_keys_that_agree_a_little_too_often_would_be_noticed(two_keys: np.ndarray) -> None:
    """One sitting in twenty the second taster has the first one's key: the tests above must then fail."""
    tied = two_keys.copy()
    tied[::20, 1] = tied[::20, 0]
    seen = np.take_along_axis(np.argsort(tied[:, 0], axis=1), tied[:, 1], axis=1)
    assert scipy.stats.chisquare(counts(numbers(seen), ORDERS)).pvalue < SIGNIFICANCE
    one, other = (numbers(tied[:, taster]) for taster in (0, 1))
    assert scipy.stats.chisquare(counts(one * ORDERS + other, ORDERS**2)).pvalue < SIGNIFICANCE


def numbers(keys: np.ndarray) -> np.ndarray:
    """Return for each row, an order of 0 … 4, a number of its own below 120: its place among all orders."""
    of_digits = np.full(5**5, -1)
    for number, order in enumerate(itertools.permutations(range(5))):
        of_digits[int(np.dot(order, POWERS))] = number
    return of_digits[keys @ POWERS]


def counts(found: np.ndarray, cells: int) -> np.ndarray:
    return np.bincount(found, minlength=cells)
