"""The law of the number correct: its invariances, its limits, and how it is put into words."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import permutations
from math import factorial
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scanner.chance import chance_at_least, counts_correct, one_time_in


@st.composite
def claims_for_some_glasses(draw: st.DrawFn, most: int = 8) -> list[int | None]:
    glasses = draw(st.integers(2, most))
    return draw(st.lists(st.none() | st.integers(1, glasses), min_size=glasses, max_size=glasses))


@settings(deadline=None)
@given(claims_for_some_glasses())
def test_every_key_is_counted_once(claims: list[int | None]) -> None:
    counts = counts_correct(claims, len(claims))
    assert sum(counts) == factorial(len(claims))
    assert min(counts) >= 0


@settings(deadline=None)
@given(claims_for_some_glasses(), st.randoms(use_true_random=False))
def test_neither_the_order_of_places_nor_the_names_of_coasters_matter(claims: list[int | None], chance: Random) -> None:
    glasses = len(claims)
    names: list[int | None] = list(range(1, glasses + 1))
    chance.shuffle(names)
    renamed = [None if claim is None else names[claim - 1] for claim in claims]
    chance.shuffle(renamed)
    assert counts_correct(renamed, glasses) == counts_correct(claims, glasses)


@settings(max_examples=60, deadline=None)
@given(claims_for_some_glasses(most=6))
def test_the_chance_is_the_share_of_keys_that_do_as_well(claims: list[int | None]) -> None:
    glasses = len(claims)
    hits = [sum(a == b for a, b in zip(claims, key, strict=True)) for key in permutations(range(1, glasses + 1))]
    for correct in range(glasses + 1):
        share = Fraction(sum(hit >= correct for hit in hits), len(hits))
        assert chance_at_least(claims, glasses, correct) == share


@settings(deadline=None)
@given(claims_for_some_glasses())
def test_doing_better_is_never_likelier(claims: list[int | None]) -> None:
    chances = [chance_at_least(claims, len(claims), correct) for correct in range(len(claims) + 1)]
    assert chances[0] == 1
    assert chances == sorted(chances, reverse=True)


def test_claims_left_blank_at_every_place_are_never_right() -> None:
    assert counts_correct([None] * 4, 4) == (24, 0, 0, 0, 0)
    assert chance_at_least([None] * 4, 4, 1) == 0


@pytest.mark.parametrize(
    ("claims", "glasses", "said"),
    [
        ([1], 1, "1 glasses"),
        ([1] * 9, 9, "9 glasses"),
        ([1, 2], 3, "2 claims for 3"),
        ([1, 2, 3, None], 3, "4 claims for 3"),
        ([1, 2, 4], 3, "number 4"),
        ([0, 2, 3], 3, "number 0"),
        ([-1, 2, 3], 3, "number -1"),
    ],
)
def test_impossible_claims_are_refused(claims: Sequence[int | None], glasses: int, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        counts_correct(claims, glasses)


@pytest.mark.parametrize("correct", [-1, 4])
def test_an_impossible_number_of_correct_claims_is_refused(correct: int) -> None:
    with pytest.raises(ValueError, match="allowed are 0 to 3"):
        chance_at_least([1, 2, 3], 3, correct)


@pytest.mark.parametrize(
    ("probability", "words"),
    [
        ("1", "every time"),
        ("0", "never"),
        ("2/3", "2 times in 3"),
        ("1/2", "1 time in 2"),
        ("5/8", "5 times in 8"),
        ("31/120", "1 time in 4"),
        ("1/6", "1 time in 6"),
        ("11/120", "1 time in 11"),
        ("1/120", "1 time in 120"),
        ("1/40320", "1 time in 40,320"),
        ("119/120", "nearly every time"),
    ],
)
def test_a_probability_is_said_as_times_in_times(probability: str, words: str) -> None:
    assert one_time_in(Fraction(probability)) == words


@settings(deadline=None)
@given(st.fractions(min_value=Fraction(1, 50_000), max_value=Fraction(9, 10), max_denominator=50_000))
def test_what_is_said_is_within_a_tenth_of_the_probability(probability: Fraction) -> None:
    times, _, total = one_time_in(probability).partition(" in ")
    said = Fraction(int(times.split()[0]), int(total.replace(",", "")))
    assert abs(said - probability) <= probability / 10


@pytest.mark.parametrize("number", [Fraction(-1, 2), Fraction(3, 2)])
def test_what_is_no_probability_is_refused(number: Fraction) -> None:
    with pytest.raises(ValueError, match="not a probability"):
        one_time_in(number)
