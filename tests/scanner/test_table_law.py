"""The law of a table's total against every way in which its keys could have been drawn."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import permutations, product
from random import Random

import numpy as np
import pytest
import scipy.stats
from hypothesis import given, settings
from hypothesis import strategies as st

from kit.chance_source import SeededChance
from kit.designs import balanced_keys, blocks
from kit.session import Keys
from scanner.chance import chance_at_least, counts_correct
from scanner.table_law import Claims, TableLaw, block_counts, table_law

ALL_KEYS: tuple[Keys, ...] = ("own", "shared", "balanced")


def some_claims(glasses: int, tasters: int, seed: int) -> dict[int, Claims]:
    """Return claims of all kinds: orders, numbers claimed twice, places left blank."""
    random, numbers = Random(seed), range(1, glasses + 1)
    kinds = (
        lambda: tuple(random.sample(numbers, glasses)),
        lambda: tuple(random.choices(numbers, k=glasses)),
        lambda: tuple(random.choices([None, *numbers], k=glasses)),
    )
    return {taster: kinds[taster % 3]() for taster in range(1, tasters + 1)}


def every_draw(keys: Keys, glasses: int, tasters: int) -> Iterator[Sequence[tuple[int, ...]]]:
    """Yield every equally likely set of keys, by the words of the README: one by one, nothing counted together."""
    orders = list(permutations(range(1, glasses + 1)))
    if keys == "own":
        yield from product(orders, repeat=tasters)
    elif keys == "shared":
        yield from ([order] * tasters for order in orders)
    else:
        of_blocks = [
            [
                [tuple(names[drink - 1] for drink in row) for row in given_out]
                for names in orders
                for given_out in permutations(block)
            ]
            for block in blocks(glasses, tasters)
        ]
        for drawn in product(*of_blocks):
            yield [key for block in drawn for key in block]


def counted_out(keys: Keys, claims: Mapping[int, Claims], glasses: int, tasters: int) -> list[Fraction]:
    totals = Counter(
        sum(
            claim == number
            for taster, entry in claims.items()
            for claim, number in zip(entry, drawn[taster - 1], strict=True)
        )
        for drawn in every_draw(keys, glasses, tasters)
    )
    return [Fraction(totals[total], totals.total()) for total in range(glasses * len(claims) + 1)]


SMALL: list[tuple[Keys, int, int]] = [
    *(("own", 3, tasters) for tasters in (1, 2, 4)),
    *(("own", 4, tasters) for tasters in (1, 2)),
    ("own", 5, 2),
    *(("shared", glasses, tasters) for glasses in (3, 4, 5) for tasters in (1, 2, 7)),
    *(("balanced", 3, tasters) for tasters in (1, 2, 3, 4, 5, 6, 7)),
    *(("balanced", 4, tasters) for tasters in (1, 2, 3, 4, 5)),
    *(("balanced", 5, tasters) for tasters in (1, 2, 3, 4)),
]


@pytest.mark.parametrize(("keys", "glasses", "tasters"), SMALL)
def test_the_law_is_that_of_every_draw_counted_out(keys: Keys, glasses: int, tasters: int) -> None:
    claims = some_claims(glasses, tasters, seed=tasters)
    law = table_law(keys, claims, glasses, tasters)
    assert law.exact
    assert list(law.chances) == counted_out(keys, claims, glasses, tasters)


@pytest.mark.parametrize(("keys", "glasses", "tasters", "left_out"), [("balanced", 3, 5, 2), ("balanced", 4, 5, 5),
    ("balanced", 4, 4, 1), ("balanced", 5, 4, 3), ("shared", 4, 3, 2), ("own", 3, 3, 1)])  # fmt: skip
def test_a_taster_who_is_not_counted_had_a_key_all_the_same(
    keys: Keys, glasses: int, tasters: int, left_out: int
) -> None:
    claims = some_claims(glasses, tasters, seed=9)
    del claims[left_out]
    law = table_law(keys, claims, glasses, tasters)
    assert list(law.chances) == counted_out(keys, claims, glasses, tasters)


def test_no_balanced_law_is_a_convolution() -> None:
    """Six tasters of three glasses who claim alike hold all six orders: their total cannot vary at all."""
    claims = dict.fromkeys(range(1, 7), (1, 2, 3))
    assert table_law("balanced", claims, 3, 6).chances == (*[0] * 6, 1, *[0] * 12)
    assert table_law("own", claims, 3, 6).chances[6] < Fraction(1, 4)


def test_a_shared_key_makes_all_right_or_all_wrong_together() -> None:
    """D(4, k) of OEIS A008290, 9 8 6 0 1 of 24, at ten times k."""
    law = table_law("shared", dict.fromkeys(range(1, 11), (1, 2, 3, 4)), 4, 10)
    assert {total: 24 * float(chance) for total, chance in enumerate(law.chances) if chance} == pytest.approx(
        {0: 9, 10: 8, 20: 6, 40: 1}
    )


claims_of_five = st.lists(st.tuples(*[st.sampled_from([None, 1, 2, 3, 4, 5])] * 5), min_size=1, max_size=6)


@given(claims_of_five, st.sampled_from(ALL_KEYS))
@settings(max_examples=40, deadline=None)
def test_the_chances_sum_to_one_and_the_mean_does_not_depend_on_how_keys_were_drawn(
    claims: list[Claims], keys: Keys
) -> None:
    """Every key is uniform, so each claim is right one time in n: the mean total is (claims made) / n in any set."""
    law = table_law(keys, dict(enumerate(claims, start=1)), 5, 6)
    made = sum(claim is not None for entry in claims for claim in entry)
    assert sum(law.chances) == 1
    assert mean(law) == Fraction(made, 5)


@given(claims_of_five, st.permutations([1, 2, 3, 4, 5]), st.sampled_from(ALL_KEYS), st.randoms(use_true_random=False))
@settings(max_examples=25, deadline=None)
def test_the_law_does_not_change_with_the_drinks_names_or_the_order_of_tasters(
    claims: list[Claims], names: list[int], keys: Keys, random: Random
) -> None:
    renamed = [tuple(claim and names[claim - 1] for claim in entry) for entry in claims]
    random.shuffle(renamed)
    one, other = (table_law(keys, dict(enumerate(entries, start=1)), 5, 6) for entries in (claims, renamed))
    assert one == other


@given(st.tuples(*[st.sampled_from([None, 1, 2, 3, 4])] * 4), st.sampled_from(ALL_KEYS), st.integers(1, 9))
@settings(max_examples=40, deadline=None)
def test_a_table_of_one_has_the_law_of_its_taster(claims: Claims, keys: Keys, tasters: int) -> None:
    law = table_law(keys, {tasters: claims}, 4, tasters)
    assert [law.chance_at_least(k) for k in range(5)] == [chance_at_least(claims, 4, k) for k in range(5)]


@pytest.mark.parametrize(("glasses", "tasters"), [(3, 27), (4, 30), (5, 9), (5, 15), (5, 23), (5, 26)])
def test_the_variance_of_a_balanced_table_is_that_of_its_pairs(glasses: int, tasters: int) -> None:
    """Var ΣX = ΣVar X + ΣCov(X, Y): covariances only within a block, from the draws of two of its rows."""
    claims = some_claims(glasses, tasters, seed=3)
    orders = list(permutations(range(1, glasses + 1)))
    variance, first = Fraction(0), 1
    for block in blocks(glasses, tasters):
        pairs = list(permutations(range(len(block)), 2))
        keys = np.array([[[names[drink - 1] for drink in row] for row in block] for names in orders])
        right = np.array(
            [
                (keys == [claim or 0 for claim in claims[taster]]).sum(axis=2)
                for taster in range(first, first + len(block))
            ]
        )
        rows = right.sum(axis=2)
        for one, other in product(range(len(block)), repeat=2):
            if one == other:
                moment = Fraction(int((right[one] ** 2).sum()), len(orders) * len(block))
            else:
                apart = int((rows[one] * rows[other]).sum() - (right[one] * right[other]).sum())
                moment = Fraction(apart, len(orders) * len(pairs))
            made = [sum(claim is not None for claim in claims[first + at]) for at in (one, other)]
            variance += moment - Fraction(made[0] * made[1], glasses**2)
        first += len(block)
    law = table_law("balanced", claims, glasses, tasters)
    assert law.exact
    assert mean_of_squares(law) - mean(law) ** 2 == variance


@pytest.mark.parametrize(("keys", "glasses", "tasters"), [("own", 3, 31), ("own", 5, 200), ("own", 4, 300),
    ("balanced", 3, 500), ("balanced", 5, 47), ("balanced", 4, 203)])  # fmt: skip
def test_floats_agree_with_fractions_to_1e_10(keys: Keys, glasses: int, tasters: int) -> None:
    """Beyond thirty tasters, against whole numbers: the product of the parts' generating functions at 2^bits."""
    claims = some_claims(glasses, tasters, seed=1)
    law = table_law(keys, claims, glasses, tasters)
    assert not law.exact
    parts = []
    first = 1
    if keys == "own":
        parts = [counts_correct(entry, glasses) for entry in claims.values()]
    else:
        for block in blocks(glasses, tasters):
            parts.append(block_counts(block, [claims[first + at] for at in range(len(block))], glasses))
            first += len(block)
    cases = 1
    for part in parts:
        cases *= sum(part)
    bits = cases.bit_length() + 1
    generating = 1
    for part in parts:
        generating *= sum(count << bits * k for k, count in enumerate(part))
    exact = [Fraction(generating >> bits * k & (1 << bits) - 1, cases) for k in range(len(law.chances))]
    assert sum(exact) == 1
    assert max(abs(float(chance) - float(true)) for chance, true in zip(law.chances, exact, strict=True)) < 1e-10
    middle = round(mean(law))
    for total in (0, middle, middle + 10, len(exact) - 1):
        true = float(sum(exact[total:]))
        assert law.chance_at_least(total) == pytest.approx(true, rel=1e-10, abs=1e-300)


def test_a_shared_keys_law_is_exact_at_any_size() -> None:
    law = table_law("shared", some_claims(5, 1000, seed=4), 5, 1000)
    assert law.exact
    assert sum(law.chances) == 1
    assert mean(law) == Fraction(sum(claim is not None for e in some_claims(5, 1000, 4).values() for claim in e), 5)


@pytest.mark.parametrize(("glasses", "tasters"), [(3, 8), (4, 6), (5, 10)])
def test_keys_as_they_are_drawn_follow_the_law(glasses: int, tasters: int) -> None:
    """The design and its law are two modules: 5,000 sets drawn by the one, chi-square against the other.

    The seed is fixed, so the test cannot flake; it was one chance in a thousand that it failed when it was chosen.
    """
    claims = some_claims(glasses, tasters, seed=11)
    chance = SeededChance(21)
    totals = Counter(
        sum(
            claims[taster][place] == number
            for taster, key in enumerate(balanced_keys(glasses, tasters, chance), start=1)
            for place, number in enumerate(key)
        )
        for _ in range(5000)
    )
    law = [float(p) for p in table_law("balanced", claims, glasses, tasters).chances]
    assert all(law[total] > 0 for total in totals)
    likely = [total for total, p in enumerate(law) if p * 5000 >= 5]
    seen = [*(totals[total] for total in likely), 5000 - sum(totals[total] for total in likely)]
    expected = [*(5000 * law[total] for total in likely), 5000 * (1 - sum(law[total] for total in likely))]
    if expected[-1] < 1e-6:
        seen, expected = seen[:-1], expected[:-1]
    assert scipy.stats.chisquare(seen, np.array(expected) * sum(seen) / sum(expected)).pvalue > 1e-3


@pytest.mark.parametrize(
    ("claims", "tasters", "named"),
    [
        ({4: (1, 2, 3)}, 3, "taster 4"),
        ({0: (1, 2, 3)}, 3, "taster 0"),
        ({1: (1, 2)}, 1, "2 claims"),
        ({1: (1, 2, 4)}, 1, "number 4"),
    ],
)
@pytest.mark.parametrize("keys", ALL_KEYS)
def test_claims_that_cannot_be_are_refused(keys: Keys, claims: dict[int, Claims], tasters: int, named: str) -> None:
    with pytest.raises(ValueError, match=named):
        table_law(keys, claims, 3, tasters)


@pytest.mark.parametrize("correct", [-1, 7])
def test_a_total_that_cannot_be_is_refused(correct: int) -> None:
    law = table_law("own", dict.fromkeys((1, 2), (1, 2, 3)), 3, 2)
    assert law.chance_at_least(6) == Fraction(1, 36)
    with pytest.raises(ValueError, match="0 to 6"):
        law.chance_at_least(correct)


def mean(law: TableLaw) -> Fraction:
    return sum((total * Fraction(chance) for total, chance in enumerate(law.chances)), Fraction(0))


def mean_of_squares(law: TableLaw) -> Fraction:
    return sum((total**2 * Fraction(chance) for total, chance in enumerate(law.chances)), Fraction(0))
