"""What a slip says: who went where, what may be shown, both rounds' notes, what to practise."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scanner.chance import one_time_in
from scanner.reports.phrases import decimal, times_in
from scanner.reports.practice import Practice, practice
from scanner.reports.slip import slip
from scanner.reports.slip_words import note_rows, result_line
from scanner.results.gather import gather
from scanner.results.sitting import Note, TasterSitting
from scanner.score import scores
from tests.scanner.reports.made import ENGLISH, SCALES, slip_of, spoken, table_of, taster
from tests.scanner.results.noted import note
from tests.scanner.test_score import full, match, notes, sitting

TRUTH = (3, 1, 2)


def three(claims: tuple[int | None, ...], **other: object) -> TasterSitting:
    return taster(claims, TRUTH, **other)  # type: ignore[arg-type]


def noted(first: list[Note], second: list[Note], claims: tuple[int | None, ...] = TRUTH) -> TasterSitting:
    """Return a sitting with these notes, by coaster and by place."""
    return three(claims, notes_1=tuple(first), notes_2=tuple(second))


def test_each_place_has_its_claim_and_what_stood_there() -> None:
    found = slip_of(three((3, 2, None)))
    assert [(one.place, one.claimed, one.stood, one.right) for one in found.places] == [
        ("A", 3, 3, True),
        ("B", 2, 1, False),
        ("C", None, 2, False),
    ]
    assert (found.state, found.correct) == ("scored", 1)
    # By hand: of the six keys A has 3 in two and B has 2 in two, one in common; so three of six have one or more.
    assert found.chance_at_least == Fraction(1, 2)


def test_words_are_kept_dropped_or_new_for_the_drink_not_for_the_place() -> None:
    first = [note("pear rice"), note("malt"), note()]
    second = [note("smoke"), note("pear butter"), note("malt")]
    heron, frost, gull = slip_of(noted(first, second)).drinks
    assert (heron.place, heron.kept, heron.dropped, heron.new) == ("B", ("pear",), ("rice",), ("butter",))
    assert (frost.place, frost.kept, frost.dropped, frost.new) == ("C", ("malt",), (), ())
    assert (gull.place, gull.kept, gull.dropped, gull.new) == ("A", (), (), ("smoke",))


def test_a_missing_round_leaves_the_other_and_compares_nothing() -> None:
    one = three(TRUTH)
    without = slip_of(replace(one, notes_2=None))
    assert all(drink.second is None and drink.first is not None and not drink.kept for drink in without.drinks)
    rows = note_rows(without, without.drinks[0], spoken())
    assert rows[1].text == ENGLISH("slip.no_sheet")


def test_a_word_in_doubt_is_neither_kept_nor_dropped_and_is_told() -> None:
    first = [Note(frozenset({"pear", "rice"}), {}, frozenset({"rice"})), note(), note()]
    found = slip_of(noted(first, [note(), note("pear rice"), note()]))
    heron = found.drinks[0]
    assert (heron.kept, heron.dropped, heron.new) == (("pear",), (), ("rice",))
    assert ("in doubt", "rice") in [(row.label, row.text) for row in note_rows(found, heron, spoken())]


def test_the_table_says_otherwise_by_how_many() -> None:
    said = [note("pear"), note("rice"), note()]
    others = [
        replace(noted(said, [note(), note("pear"), note("rice")]), taster=f"t{number}", number=number + 2)
        for number in range(3)
    ]
    mine = noted([note("smoke"), note("rice"), note()], [note(), note("smoke"), note("rice")])
    found = slip_of(mine, others)
    texts = [
        [row.text for row in note_rows(found, drink, spoken()) if row.label == "the table"] for drink in found.drinks
    ]
    assert texts == [["You did not say pear (3 of 4). You alone said smoke."], ["agrees with you"], []]


# What waits: told neither in words nor by what the other places would tell.


@pytest.mark.parametrize(("keys", "state", "correct"), [("own", "so_far", 2), ("shared", "waits", None)])
def test_what_stood_where_is_nowhere_on_a_slip_that_waits_for_a_claim(
    keys: Any, state: str, correct: int | None
) -> None:
    made = sitting()
    made = replace(made, session=replace(made.session, keys=keys))
    reading = {"pile.json": full(notes(2), match(1, "3,1,2 1"), match(2, "1,3,2"))}
    one = next(found for found in gather([made], reading).sittings if found.number == 1)
    found = slip(one, [one], table_of([one]), scores([made], reading).tasters[0])
    assert (found.state, found.correct, found.luck) == (state, correct, None)
    assert [place.stood for place in found.places] == [None, None, None]
    assert all(drink.place is None and drink.second is None for drink in found.drinks)
    assert found.practice == Practice("nothing")


def test_a_sitting_whose_truth_nobody_knows_says_so() -> None:
    found = slip_of(taster((1, 2, 3), None))
    assert (found.state, found.correct, found.luck) == ("unknown", None, None)
    assert result_line(found, ENGLISH) == ("Not scored", "What stood where is not known.")


def test_blank_claims_and_none_right_are_said_without_a_chance_of_every_time() -> None:
    blank = slip_of(three((None, None, None)))
    assert result_line(blank, ENGLISH) == ("0 of 3 right", "No claim was made at any place.")
    none = slip_of(three((1, 2, 3)))
    # The derangements of three are two of six keys.
    assert result_line(none, ENGLISH)[1].endswith("a guesser has 1 right on average, and none 1 time in 3.")


# What to practise: the rule of scanner/reports/practice.py, step by step.


def test_a_pair_taken_for_one_another_twice_comes_first() -> None:
    swapped = three((3, 2, 1))
    assert practice(swapped, [swapped]) == Practice("pair", ("First Frost 純米大吟醸", "Heron Marsh"), times=2)


def test_then_the_wrong_claim_that_the_taster_was_surest_of() -> None:
    one = replace(three((1, 2, None)), sure=("guess", "sure", None))
    assert practice(one, [one]) == Practice("claim", ("Heron Marsh", "First Frost 純米大吟醸"))


def test_then_a_strength_that_moved_far_then_words_that_did_not_come_back() -> None:
    steady = dict.fromkeys(SCALES, 3)
    first = [note("pear", **steady), note("rice", **steady), note("malt", **steady)]
    moved = [note("malt", **steady), note("pear", **{**steady, "acidity": 5}), note("rice", **steady)]
    found = practice(noted(first, moved), [noted(first, moved)])
    assert found == Practice("scale", ("Heron Marsh",), "acidity", 2)
    lost = [note("malt", **steady), note("pear", **steady), note("hay rose", **steady)]
    assert practice(noted(first, lost), [noted(first, lost)]) == Practice("words", ("First Frost 純米大吟醸",))
    same = [note("malt", **steady), note("pear", **steady), note("rice", **steady)]
    assert practice(noted(first, same), [noted(first, same)]) == Practice("nearer")


def test_without_any_notes_notes_are_what_to_practise() -> None:
    empty = noted([note()] * 3, [note()] * 3)
    assert practice(empty, [empty]) == Practice("notes")


@pytest.mark.parametrize("kind", ["nothing", "pair", "claim", "notes", "scale", "words", "nearer"])
def test_every_kind_has_its_sentence(kind: str) -> None:
    sentence = Practice(kind, ("Heron Marsh", "Gull Rock"), "acidity", 3).sentence(ENGLISH)  # type: ignore[arg-type]
    assert sentence.endswith(".")
    assert "None" not in sentence


@given(st.fractions(0, 1))
def test_chances_are_said_as_score_says_them(chance: Fraction) -> None:
    if chance == 0 or chance > Fraction(1, 10**12):
        assert times_in(chance, ENGLISH) == one_time_in(chance)


def test_numbers_are_printed_plainly() -> None:
    assert [decimal(2.0), decimal(2.25), decimal(-1.5), decimal(0.833, 2)] == ["2", "2.2", "−1.5", "0.83"]
