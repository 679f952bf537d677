"""Chance: keys uniform over all orders, draws that a seed repeats, purposes that do not shift each other."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from hashlib import shake_256
from itertools import permutations
from math import factorial

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import chisquare

from kit.chance_source import ChanceSource, SeededChance, SystemChance, permutation
from kit.keys import draw_key

DRAWS = 24_000
"""200 for each order of five: far above the five that the chi-square test is commonly said to need."""

Draw = Callable[[int, ChanceSource, str], tuple[int, ...]]


class Scripted:
    """A chance source that hands out what it was given; `asked` keeps the limits it was asked for."""

    def __init__(self, *numbers: int) -> None:
        self.numbers = list(numbers)
        self.asked: list[int] = []

    def below(self, limit: int, purpose: str) -> int:
        self.asked.append(limit)
        return self.numbers.pop(0)

    def token(self, length: int, purpose: str) -> bytes:
        return self.numbers.pop(0).to_bytes(length, "big")


@pytest.mark.parametrize("glasses", [3, 4, 5])
def test_every_order_is_equally_likely_the_identity_included(glasses: int) -> None:
    """Pearson's chi-square over all n! orders; scipy.stats gives the p-value. The seed is fixed: no run differs."""
    assert uniformity(permutation, glasses) > 0.001
    assert tuple(range(1, glasses + 1)) in orders_drawn(permutation, glasses)


@pytest.mark.parametrize("glasses", [3, 4, 5])
def test_the_uniformity_test_finds_a_shuffle_that_is_not_uniform(glasses: int) -> None:
    def swap_any_two(length: int, chance: ChanceSource, purpose: str) -> tuple[int, ...]:
        """The well-known wrong shuffle: n^n ways over n! orders can never be equally many."""
        order = list(range(1, length + 1))
        for place in range(length):
            other = chance.below(length, purpose)
            order[place], order[other] = order[other], order[place]
        return tuple(order)

    def never_the_same(length: int, chance: ChanceSource, purpose: str) -> tuple[int, ...]:
        """Sattolo's cycle: no glass stays where it was."""
        order = list(range(1, length + 1))
        for last in range(length - 1, 0, -1):
            other = chance.below(last, purpose)
            order[last], order[other] = order[other], order[last]
        return tuple(order)

    for wrong in (swap_any_two, never_the_same):
        assert uniformity(wrong, glasses) < 1e-6


def test_the_share_of_glasses_left_in_place_is_that_of_the_matching_distribution() -> None:
    """Rencontres numbers of five: 44, 45, 20, 10, 0, 1 (OEIS A008290; SOURCES, A1)."""
    fixed = Counter[int]()
    for order, count in orders_drawn(permutation, 5).items():
        fixed[sum(place == number for place, number in enumerate(order, start=1))] += count
    expected = {0: 44, 1: 45, 2: 20, 3: 10, 5: 1}
    assert set(fixed) == set(expected)
    observed = [fixed[k] for k in expected]
    scale = sum(observed) / factorial(5)
    assert chisquare(observed, [count * scale for count in expected.values()]).pvalue > 0.001


def test_every_choice_of_the_shuffle_reaches_its_own_order() -> None:
    """Fisher and Yates: 3 × 2 choices, 6 orders, each once."""
    reached = {permutation(3, Scripted(first, second), "key") for first in range(3) for second in range(2)}
    assert reached == set(permutations((1, 2, 3)))
    chance = Scripted(0, 0)
    permutation(3, chance, "key")
    assert chance.asked == [3, 2]


@given(st.integers(1, 8), st.integers(0, 2**63 - 1))
def test_a_permutation_holds_each_number_once(length: int, seed: int) -> None:
    assert sorted(permutation(length, SeededChance(seed), "key 1")) == list(range(1, length + 1))


def test_the_systems_randomness_gives_permutations_and_tokens() -> None:
    drawn = [permutation(5, SystemChance(), "key") for _ in range(300)]
    assert all(sorted(order) == [1, 2, 3, 4, 5] for order in drawn)
    # 300 draws of 120 orders give fewer than 60 different ones less than once in 10^30 runs.
    assert len(set(drawn)) > 60
    tokens = {SystemChance().token(16, "salt") for _ in range(100)}
    assert len(tokens) == 100
    assert {len(token) for token in tokens} == {16}
    assert {SystemChance().below(3, "key") for _ in range(200)} == {0, 1, 2}


def test_shake_256_is_that_of_the_standard() -> None:
    """FIPS 202, SHAKE256 of the empty message, first 32 bytes [memory]: it is what seeded draws are made of."""
    assert shake_256(b"").hexdigest(32) == "46b9dd2b0ba88d13233b3feb743eeb243fcd52ea62b81b82b50c27646ed5762f"


def test_seeded_draws_stay_what_they_are() -> None:
    """A seed printed in a demonstration must give the same kit in later versions: what is hashed is fixed here.

    Worked out with `printf 'facedown/1|20261205|SUBJECT|kit|0' | openssl dgst -shake256 -xoflen 8`, where SUBJECT is
    the SHA-256 of nothing in hexadecimal (FIPS 180-4: e3b0c442 … 7852b855).
    """
    first, second = "7f0c7824d41a9987", "07ed067039e25c99"
    assert SeededChance(20261205).token(8, "kit").hex() == first
    chance = SeededChance(20261205)
    assert [chance.token(8, "kit").hex() for _ in range(2)] == [first, second]


def test_the_same_seed_gives_another_sitting_other_draws() -> None:
    draws = {SeededChance(7, subject).token(16, "secret") for subject in ("", "A4", "Letter")}
    assert len(draws) == 3


@given(st.integers(0, 2**63 - 1))
@settings(max_examples=30)
def test_the_same_seed_gives_the_same_draws(seed: int) -> None:
    draws = [
        [draw_key(5, chance, "1"), draw_key(5, chance, "2"), chance.token(16, "secret"), chance.below(1000, "kit")]
        for chance in (SeededChance(seed), SeededChance(seed))
    ]
    assert draws[0] == draws[1]


def test_other_seeds_and_other_purposes_give_other_draws() -> None:
    purposes = ("salt 1", "salt 2", "nonce 1")
    tokens = {SeededChance(seed).token(16, purpose) for seed in range(50) for purpose in purposes}
    assert len(tokens) == 150


def test_one_purposes_draws_do_not_shift_anothers() -> None:
    quiet, busy = SeededChance(7), SeededChance(7)
    for _ in range(10):
        busy.token(16, "scramble 1")
    assert quiet.token(16, "salt 1") == busy.token(16, "salt 1")
    assert quiet.token(16, "salt 1") != SeededChance(7).token(16, "salt 1")


def test_numbers_past_the_last_whole_multiple_are_drawn_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """2^64 is no multiple of 5: the topmost number would favour 0."""
    chance = SeededChance(1)
    tokens = iter([(2**64 - 1).to_bytes(8, "big"), (2**64 - 2).to_bytes(8, "big")])
    monkeypatch.setattr(SeededChance, "token", lambda *_: next(tokens))
    assert chance.below(5, "key") == (2**64 - 2) % 5


def uniformity(draw: Draw, glasses: int) -> float:
    """Return the p-value of Pearson's test that all orders are equally likely."""
    drawn = orders_drawn(draw, glasses)
    pvalue = chisquare([drawn[order] for order in permutations(range(1, glasses + 1))]).pvalue
    return float(pvalue)


def orders_drawn(draw: Draw, glasses: int) -> Counter[tuple[int, ...]]:
    chance = SeededChance(20261205)
    return Counter(draw(glasses, chance, "key 1") for _ in range(DRAWS))
