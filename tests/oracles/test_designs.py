"""The designs of balanced sets against Williams's construction and printed squares.

The standing of each source: [seen] in a copy or a page quoting it; [memory] recalled; [computed] worked out with code
that is not the project's.
"""

from __future__ import annotations

import itertools
from collections import Counter

import pytest

from kit.designs import williams

# E. J. Williams, Aust. J. Sci. Res. A 2 (1949) 149–168 [seen as cited]; the rows themselves [computed].
SQUARES = {
    3: "ABC BCA CAB CBA ACB BAC",
    4: "ABDC BCAD CDBA DACB",
    5: "ABECD BCADE CDBEA DECAB EADBC DCEBA EDACB AEBDC BACED CBDAE",
}

# In the Latin squares of even order that Williams develops cyclically, neighbours of the first row differ by 1, n − 2,
# 3, n − 4 … modulo n, each difference once: the "sequencing" of the cyclic group [memory], here for n = 4.
DIFFERENCES = {4: (1, 2, 3)}


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
