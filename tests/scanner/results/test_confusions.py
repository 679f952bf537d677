"""What was taken for what, what luck and errors that fall evenly would have done, and what to taste next."""

from __future__ import annotations

import json
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scanner.results.confusions import Confusions, Pair, confusions
from scanner.results.confusions_report import sentences, tables, to_json
from scanner.results.sitting import Drink, TasterSitting
from tests.scanner.results.skilled import FLIGHT, sitting


def pair(found: Confusions, one: int, other: int) -> Pair:
    keys = {FLIGHT[one - 1].key, FLIGHT[other - 1].key}
    return next(pair for pair in found.pairs if set(pair.keys) == keys)


def swapped(day: int, n: int = 4) -> TasterSitting:
    """Return a sitting in which drinks 1 and 2 were taken for one another and all others found."""
    return sitting([2, 1, *range(3, n + 1)], list(range(1, n + 1)), day)


def test_what_was_taken_for_what_is_counted_by_drink_and_not_by_place() -> None:
    found = confusions([sitting([2, 1, 3], [1, 2, 3]), sitting([3, 2, 1], [3, 1, 2], day=1)])
    counts = {(taken.stood, taken.claimed): taken.times for taken in found.taken}
    assert counts == {("Heron Marsh", "Slow Tide"): 2, ("Slow Tide", "Heron Marsh"): 2}
    assert (found.claims, found.wrong, found.sittings) == (6, 4, 2)
    # A guesser takes one of three for another, either way, in two claims of three places: 2/3 in each sitting.
    assert pair(found, 1, 2).by_luck == pytest.approx(4 / 3)


@settings(deadline=None, max_examples=60)
@given(st.data())
def test_luck_and_even_errors_equal_an_enumeration_of_all_keys(data: st.DataObject) -> None:
    n = data.draw(st.integers(3, 5))
    claims = data.draw(st.lists(st.none() | st.integers(1, n), min_size=n, max_size=n).filter(any))
    truth = data.draw(st.permutations(range(1, n + 1)))
    found = confusions([sitting(claims, truth)])
    keys = list(permutations(range(1, n + 1)))
    right = [sum(claim == stood for claim, stood in zip(claims, key, strict=True)) for key in keys]
    so_many = sum(claim == stood for claim, stood in zip(claims, truth, strict=True))
    for i in range(1, n + 1):
        for j in range(i + 1, n + 1):
            hits = [sum({claim, stood} == {i, j} for claim, stood in zip(claims, key, strict=True)) for key in keys]
            same = [hit for hit, count in zip(hits, right, strict=True) if count == so_many]
            seen = sum({claim, stood} == {i, j} for claim, stood in zip(claims, truth, strict=True))
            one = pair(found, i, j)
            assert one.times == seen
            assert one.by_luck == pytest.approx(sum(hits) / len(keys))
            assert one.evenly == pytest.approx(sum(same) / len(same))
            assert one.chance == pytest.approx(sum(hit >= seen for hit in same) / len(same))


def test_two_of_four_right_is_one_pair_of_six_by_the_rencontres_numbers() -> None:
    # D(4, 2) = 6 = C(4, 2) (OEIS A008290): two wrong of four are always one swap, each pair equally often.
    one = pair(confusions([swapped(0)]), 1, 2)
    assert one.chance == pytest.approx(1 / 6)
    assert one.evenly == pytest.approx(2 / 6)


def test_several_sittings_multiply_and_a_pair_stands_out_after_holm() -> None:
    found = confusions([swapped(day) for day in range(3)])
    assert pair(found, 1, 2).chance == pytest.approx(1 / 216)
    # Six pairs are looked at: Holm's first step pays for all of them.
    assert pair(found, 1, 2).adjusted == pytest.approx(6 / 216)
    assert found.next_pair == pair(found, 1, 2)
    assert pair(found, 1, 2).stands_out
    assert "Heron Marsh and Slow Tide (taken for one another 6 times in 3 sittings" in " ".join(sentences(found))
    assert "That is more than errors that fall evenly explain" in " ".join(sentences(found))


def test_one_swap_is_a_first_guess_and_no_finding() -> None:
    found = confusions([swapped(0)])
    assert found.next_pair is not None
    assert not found.next_pair.stands_out
    assert "too little to tell it from errors that fall evenly" in " ".join(sentences(found))


def test_even_errors_are_called_a_finding_no_more_often_than_allowed() -> None:
    # Guessers' errors fall evenly. Holm holds the chance of any finding to 5 % over all pairs.
    chance = np.random.default_rng(1)
    runs, findings = 400, 0
    for _ in range(runs):
        keys = [chance.permutation(4) + 1 for _ in range(6)]
        found = confusions([sitting([1, 2, 3, 4], key.tolist(), day) for day, key in enumerate(keys)])
        findings += any(one.stands_out for one in found.pairs)
    assert findings / runs <= 0.05 + 3 * (0.05 * 0.95 / runs) ** 0.5


@pytest.mark.parametrize(
    ("sittings", "said"),
    [
        ([], "no sitting yet"),
        ([sitting([1, 2, 3], None)], "no sitting yet"),
        ([sitting([None, None, None], [1, 2, 3])], "no sitting yet"),
        ([sitting([1, 2, 3], [1, 2, 3], unsettled=(0,))], "no sitting yet"),
        ([sitting([1, 2, 3], [1, 2, 3])], "no drink was taken for another yet"),
        ([sitting([2, None, None], [1, 2, 3])], "no two drinks were taken for one another twice yet"),
    ],
)
def test_too_little_to_tell_says_what_is_missing(sittings: list[TasterSitting], said: str) -> None:
    found = confusions(sittings)
    assert found.next_pair is None
    assert "Too little to tell" in " ".join(sentences(found))
    assert said in " ".join(sentences(found))
    tables(found)
    json.dumps(to_json(found), allow_nan=False)


def test_styles_are_counted_over_drinks_and_wait_for_enough_errors() -> None:
    drinks = (Drink("a", "A", "Ginjō"), Drink("b", "B", "ginjo"), Drink("c", "C", "koshu"), Drink("d", "D"))
    one = [sitting([2, 1, 4, 3], [1, 2, 3, 4], day, drinks=drinks) for day in range(2)]
    found = confusions(one)
    assert [(style.keys, style.times) for style in found.styles] == [(("ginjo", "ginjo"), 4), (("ginjo", "koshu"), 0)]
    assert found.without_style == 2
    assert "Too little to tell: 8 wrong claims, of 10" in "\n".join(tables(found))
    assert "Too little" not in "\n".join(
        tables(confusions([*one, sitting([2, 1, 3, 4], [1, 2, 3, 4], 3, drinks=drinks)]))
    )


def test_a_drink_is_one_over_many_kits_whatever_its_number() -> None:
    turned = sitting([2, 1, 3], [1, 2, 3], day=1, drinks=(FLIGHT[1], FLIGHT[0], FLIGHT[2]))
    assert pair(confusions([sitting([2, 1, 3], [1, 2, 3]), turned]), 1, 2).together == 2


def test_the_json_holds_every_pair_and_style() -> None:
    entry = to_json(confusions([swapped(day) for day in range(3)]))
    assert len(entry["pairs"]) == 6
    assert entry["next_pair"]["stands_out"] is True
    json.dumps(entry, allow_nan=False)
