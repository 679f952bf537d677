"""The queue as values: what is asked, what can be answered, where one goes next."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scanner.archive.standing import Marks
from scanner.reading import Mark, Outcome, PageReading, State, TurnedReading
from scanner.review.queue import (
    BOX,
    FIELD,
    ROW,
    SHEETS,
    Doubt,
    Picture,
    Seat,
    SheetPicture,
    doubts_of_rows,
    doubts_of_sheet,
    next_after,
    order_answer,
    place_of,
)
from scanner.settle import BoxAnswer, KeepAnswer, RowAnswer

SHEET = "K7Q4M2-0001-3"
SEAT = Seat("K7Q4M2", "First flight", "2026-12-05", 1, "Ines")
M, E, W, D = State.MARKED, State.EMPTY, State.WITHDRAWN, State.DOUBTFUL


def marks(**states: State) -> Marks:
    """Return marks of places A, B … by option: `A3=M`."""
    boxes = {(f"match.{name[0]}", name[1:]): state for name, state in states.items()}
    return {box: Mark(*box, state, None, "faint" if state is D else None) for box, state in boxes.items()}


def reading(row: int, source: str, found: Marks, **cutouts: str) -> SheetPicture:
    return SheetPicture(row, source, 1, found, {(f"match.{name[0]}", name[1:]): one for name, one in cutouts.items()})


def doubts(*readings: SheetPicture) -> tuple[Doubt, ...]:
    return doubts_of_sheet(SHEET, "match", SEAT, readings)


def numbered(count: int) -> tuple[Doubt, ...]:
    return tuple(Doubt(BOX, SHEET, f"words.{n}", "pear", SEAT, "match", None, (), ()) for n in range(count))


def test_a_doubtful_box_is_asked_about_with_its_cut_out_and_its_reason() -> None:
    [doubt] = doubts(reading(7, "a.jpg", marks(A3=D, B1=M), A3="d1"))
    assert (doubt.kind, doubt.field, doubt.option, doubt.reason) == (BOX, "match.A", "3", "faint")
    assert doubt.pictures == (Picture(7, "a.jpg", 1, "d1"),)
    assert [(choice.key, choice.answers) for choice in doubt.choices] == [
        ("y", (BoxAnswer(SHEET, "match.A", "3", M),)),
        ("n", (BoxAnswer(SHEET, "match.A", "3", E),)),
        ("t", (BoxAnswer(SHEET, "match.A", "3", W),)),
    ]


def test_two_marks_where_one_is_allowed_ask_which_one_counts() -> None:
    [doubt] = doubts(reading(7, "a.jpg", marks(A1=M, A3=M)))
    assert doubt.kind == FIELD
    only_3, none = doubt.choice("2"), doubt.choice("t")
    assert only_3
    assert only_3.answers == (BoxAnswer(SHEET, "match.A", "1", W),)
    assert none
    assert {answer.option for answer in none.answers if isinstance(answer, BoxAnswer)} == {"1", "3"}


def test_pictures_that_differ_ask_which_one_counts_and_show_where() -> None:
    [doubt] = doubts(reading(1, "a.jpg", marks(A1=M, B2=M)), reading(2, "b.jpg", marks(A3=M, B2=M)))
    assert doubt.kind == SHEETS
    assert doubt.differences == (("place A, claim", ("1", "3")),)
    assert doubt.boxes == (("match.A", "1"), ("match.A", "3"))
    assert [choice.answers for choice in doubt.choices] == [
        (KeepAnswer(SHEET, "a.jpg", 1),),
        (KeepAnswer(SHEET, "b.jpg", 1),),
    ]


def test_of_two_pictures_of_one_name_each_can_be_kept() -> None:
    [doubt] = doubts(reading(1, "a.jpg", marks(A1=M)), reading(2, "a.jpg", marks(A3=M)))
    second = doubt.choice("2")
    assert second
    assert set(second.answers) == {
        BoxAnswer(SHEET, "match.A", "1", E),
        BoxAnswer(SHEET, "match.A", "3", M),
    }


def test_what_is_clear_is_not_asked() -> None:
    assert doubts(reading(1, "a.jpg", marks(A1=M, A3=W, B2=M))) == ()


def row(source: str, *order: int) -> TurnedReading:
    return TurnedReading(source, 1, SEAT.sitting, SEAT.number, Outcome.READ, None, order)


def test_photographs_of_a_row_that_differ_ask_what_stood_there() -> None:
    [doubt] = doubts_of_rows(SEAT, [(1, row("a.jpg", 1, 2, 3)), (2, row("b.jpg", 2, 1, 3))], [])
    assert doubt.kind == ROW
    assert [choice.answers for choice in doubt.choices] == [
        (RowAnswer("K7Q4M2", 1, (1, 2, 3)),),
        (RowAnswer("K7Q4M2", 1, (2, 1, 3)),),
    ]


def test_a_row_against_the_turned_sheet_offers_what_either_says() -> None:
    boxes = tuple(Mark(f"turned.{place}", option, M) for place, option in zip("ABC", "321", strict=True))
    sheet = PageReading("s.jpg", 1, "K7Q4M2", "K7Q4M2-0001-4", 1, "turned", Outcome.READ, None, boxes)
    [doubt] = doubts_of_rows(SEAT, [(1, row("a.jpg", 1, 2, 3))], [sheet])
    assert doubt.reason
    assert "K7Q4M2-0001-4" not in doubt.reason
    assert [answer.order for choice in doubt.choices for answer in choice.answers if isinstance(answer, RowAnswer)] == [
        (1, 2, 3),
        (3, 2, 1),
    ]


def test_rows_that_agree_or_that_a_person_told_are_not_asked() -> None:
    told = replace(row("b.jpg", 2, 1, 3), by="person")
    assert doubts_of_rows(SEAT, [(1, row("a.jpg", 1, 2, 3)), (2, row("b.jpg", 1, 2, 3))], []) == []
    assert doubts_of_rows(SEAT, [(1, replace(told, source="a.jpg")), (2, told)], []) == []


@pytest.mark.parametrize("text", ["", "1 2", "1 2 4", "1 1 2", "1 2 3 4", "a b c", "1;2;3", "¹ ² ³", "0 1 2"])
def test_what_is_no_order_is_none(text: str) -> None:
    [doubt] = doubts_of_rows(SEAT, [(1, row("a.jpg", 1, 2, 3)), (2, row("b.jpg", 2, 1, 3))], [])
    assert order_answer(doubt, text) is None


def test_an_order_can_be_typed() -> None:
    [doubt] = doubts_of_rows(SEAT, [(1, row("a.jpg", 1, 2, 3)), (2, row("b.jpg", 2, 1, 3))], [])
    assert order_answer(doubt, " 3,1 2") == RowAnswer("K7Q4M2", 1, (3, 1, 2))


@given(st.integers(1, 30), st.data())
def test_skipping_through_the_queue_meets_every_doubt_once_and_comes_round(count: int, data: st.DataObject) -> None:
    queue = numbered(count)
    doubt: Doubt | None = queue[data.draw(st.integers(0, count - 1))]
    met = []
    for _ in range(count):
        assert doubt is not None
        met.append(doubt.id)
        doubt = next_after(queue, doubt.id, queue)
    assert sorted(met) == sorted(one.id for one in queue)
    assert doubt is not None
    assert doubt.id == met[0]


@given(st.integers(2, 30), st.data())
def test_after_an_answer_comes_what_stood_behind_it(count: int, data: st.DataObject) -> None:
    queue = numbered(count)
    place = data.draw(st.integers(0, count - 1))
    left = (*queue[:place], *queue[place + 1 :])
    assert next_after(queue, queue[place].id, left) == left[place % len(left)]


def test_after_the_last_answer_comes_nothing() -> None:
    assert next_after(numbered(1), numbered(1)[0].id, ()) is None


def test_progress_counts_what_was_settled() -> None:
    queue = numbered(88)
    place = place_of(queue, queue[3], 12)
    assert (place.number, place.total) == (16, 100)


@given(st.text(), st.text(), st.text())
def test_ids_are_fit_for_an_address_and_tell_doubts_apart(subject: str, field: str, option: str) -> None:
    one = Doubt(BOX, subject, field, option, SEAT, "match", None, (), ())
    assert len(one.id) == 16
    assert one.id.isalnum()
    assert one.id != replace(one, option=option + "x").id
