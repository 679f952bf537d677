"""Luck: the exact law over sittings and tables, and what is said of it."""

from __future__ import annotations

import json
from fractions import Fraction
from itertools import permutations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scanner.results.counted import counted
from scanner.results.luck import (
    Luck,
    law_of_counts,
    law_of_total,
    luck_of_table,
    luck_of_taster,
    sentences,
    tail,
    to_json,
)
from tests.scanner.results.skilled import LAWS, sitting, sitting_with


@st.composite
def some_claims(draw: st.DrawFn) -> tuple[int | None, ...]:
    glasses = draw(st.integers(2, 4))
    return tuple(draw(st.lists(st.none() | st.integers(1, glasses), min_size=glasses, max_size=glasses)))


@settings(max_examples=25)
@given(some_claims(), some_claims())
def test_the_law_of_two_sittings_is_that_of_all_pairs_of_keys_counted_out(
    first: tuple[int | None, ...], second: tuple[int | None, ...]
) -> None:
    if all(claim is None for claim in first) or all(claim is None for claim in second):
        return
    flights = [(claims, range(1, len(claims) + 1)) for claims in (first, second)]
    totals = [
        sum(
            claim == stood
            for (claims, _), key in zip(flights, keys, strict=True)
            for claim, stood in zip(claims, key, strict=True)
        )
        for keys in product(*(permutations(numbers) for _, numbers in flights))
    ]
    luck = luck_of_taster([sitting(claims, tuple(numbers), day) for day, (claims, numbers) in enumerate(flights)])
    assert luck.chances == tuple(Fraction(totals.count(k), len(totals)) for k in range(len(luck.chances)))
    assert luck.expected == Fraction(sum(totals), len(totals))


@pytest.mark.parametrize("sittings", [31, 60])
def test_beyond_thirty_sittings_floats_agree_with_exact_sums(sittings: int) -> None:
    laws = [law_of_counts(LAWS[3 + at % 3]) for at in range(sittings)]
    exact, floats = law_of_total(laws, most_exact=sittings), law_of_total(laws)
    assert isinstance(exact[0], Fraction)
    assert isinstance(floats[0], float)
    assert all(abs(float(a) - float(b)) < 1e-10 for a, b in zip(exact, floats, strict=True))
    # The rare end, too: relative to it the error stays as small.
    for total in range(len(exact)):
        assert float(tail(floats, total)) == pytest.approx(float(tail(exact, total)), rel=1e-10)


def test_thirty_sittings_are_exact() -> None:
    luck = luck_of_taster([sitting_with(1, 3, day) for day in range(30)])
    assert luck.exact
    assert sum(Fraction(chance) for chance in luck.chances) == 1
    assert not luck_of_taster([sitting_with(1, 3, day) for day in range(31)]).exact


def test_a_shared_key_is_right_or_wrong_for_all_together() -> None:
    table = [sitting_with(4, 4, number=number, taster=str(number), keys="shared") for number in (1, 2, 3)]
    # All three claim alike: they have 12 right as often as one has 4.
    assert luck_of_table(table, {"K00000": 3}).chance_at_least == Fraction(1, 24)
    own = [sitting_with(4, 4, number=number, taster=str(number)) for number in (1, 2, 3)]
    assert luck_of_table(own, {"K00000": 3}).chance_at_least == Fraction(1, 24) ** 3


def test_a_balanced_set_is_reckoned_with_those_who_were_not_there() -> None:
    # Six tasters of three glasses share out all six orders: two of them never have the same key, so two who claim alike
    # are never both all right.
    table = [sitting_with(3, 3, number=number, taster=str(number), keys="balanced") for number in (1, 2)]
    table = [sitting((1, 2, 3), (1, 2, 3), number=1, taster="1", keys="balanced"), table[1]]
    luck = luck_of_table(table, {"K00000": 6})
    assert luck.chances[6] == 0
    assert luck.of == 6


def test_kits_of_one_table_are_independent() -> None:
    first = [sitting_with(3, 3, 0, number=1), sitting_with(3, 3, 0, number=2, taster="tom")]
    second = [sitting_with(3, 3, 1, number=1, shuffle="hand")]
    luck = luck_of_table(first + second, {"K00000": 2, "K00001": 1})
    assert (luck.sittings, luck.by_hand, luck.correct, luck.of) == (2, 1, 9, 9)
    assert luck.chance_at_least == Fraction(1, 6) ** 3


def test_a_taster_given_twice_in_one_kit_is_refused() -> None:
    with pytest.raises(ValueError, match="twice"):
        luck_of_table([sitting_with(3, 3), sitting_with(3, 3)], {"K00000": 1})


def test_what_is_not_settled_or_not_known_or_blank_does_not_count_and_says_why() -> None:
    found = counted(
        [
            sitting_with(4, 4, 3),
            sitting((1, 2, 3), None, 1),
            sitting((None,) * 3, (1, 2, 3), 2),
            sitting((1, None, 3), (1, 2, 3), 0, unsettled=(1,)),
            sitting((1, 2, 3), None, 4, waits=True),
            sitting((None,) * 3, None, 5, waits=True),
        ]
    )
    assert found.correct == (4,)
    assert [reason.rpartition(": ")[2] for reason in found.left_out] == [
        "a claim is not settled",
        "what stood where is not known",
        "there are no claims",
        "a claim at the table is not settled",
        "there are no claims",
    ]


def test_sittings_count_by_date_whatever_order_they_are_given_in() -> None:
    sittings = [sitting_with(k, 5, day) for day, k in enumerate((5, 0, 2, 1))]
    assert counted(sittings[::-1]).correct == (5, 0, 2, 1)


def test_luck_is_said_in_plain_words() -> None:
    # By A1: (2·(44 + 20·10) + 2·45 + 10² + 2·20 + 2·10 + 1)/120² = 739/14400, one in 19.5.
    said = sentences(luck_of_taster([sitting_with(3, 5, 0), sitting_with(2, 5, 1)]))
    assert said == (
        "5 of 10 right in 2 sittings. With the same claims a guesser has 2 right on average, and 5 or more "
        "1 time in 19.",
    )
    assert "by hand" in sentences(luck_of_taster([sitting_with(3, 3, shuffle="hand")]))[1]
    assert (
        "less than 1 time in 1,000,000,000,000"
        in sentences(luck_of_taster([sitting_with(5, 5, d) for d in range(9)]))[0]
    )


def test_no_sitting_is_too_little_to_tell() -> None:
    luck = luck_of_taster([])
    assert sentences(luck)[0].startswith("Too little to tell")
    assert to_json(luck)["sittings"] == 0


def test_a_total_that_cannot_be_is_refused() -> None:
    with pytest.raises(ValueError, match="allowed are 0 to 3"):
        tail(law_of_counts(LAWS[3]), 4)


def test_the_json_is_whole_at_any_length() -> None:
    luck: Luck = luck_of_taster([sitting_with(5, 5, day) for day in range(400)])
    assert json.loads(json.dumps(to_json(luck), allow_nan=False))["correct"] == 2000
