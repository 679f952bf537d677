"""Which of several readings of a sheet counts; `scanner.pile` compares pictures by a rule of its own."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from scanner.archive.standing import Marks, standings
from scanner.pile import sorted_out
from scanner.reading import Mark, Outcome, PageReading, State

BOXES = [("words.1", "pear"), ("words.1", "melon"), ("match.A", "1"), ("match.A", "2")]
STATES = st.sampled_from(list(State))


def sheet(*states: State) -> Marks:
    return {box: Mark(*box, state) for box, state in zip(BOXES, states, strict=False) if state is not State.EMPTY}


M, E, W, D = State.MARKED, State.EMPTY, State.WITHDRAWN, State.DOUBTFUL


def test_a_sheet_read_once_counts() -> None:
    [only] = standings([sheet(M, E, M)])
    assert (only.superseded_by, only.conflict, only.left_over) == (None, False, 0)


def test_a_picture_with_fewer_doubts_supersedes_the_former() -> None:
    former, later = standings([sheet(D, E, M), sheet(M, E, M)])
    assert former.superseded_by == 1
    assert (later.superseded_by, later.left_over) == (None, 0)


def test_of_two_pictures_alike_the_first_goes_on_counting() -> None:
    former, later = standings([sheet(M), sheet(M)])
    assert (former.superseded_by, later.superseded_by) == (None, 0)


def test_other_answers_are_a_conflict_and_left_for_a_person() -> None:
    counts, other = standings([sheet(E, E, M), sheet(E, E, E, M)])
    assert (counts.superseded_by, counts.conflict) == (None, False)
    assert (other.superseded_by, other.conflict, other.left_over) == (None, True, 1)


def test_whether_an_unmarked_box_is_empty_or_taken_back_is_no_other_answer() -> None:
    assert not any(one.conflict for one in standings([sheet(E), sheet(W)]))


def test_a_picture_that_cannot_be_read_is_superseded_by_one_that_can() -> None:
    unreadable, read = standings([None, sheet(M)])
    assert (unreadable.superseded_by, read.superseded_by) == (1, None)


def test_two_marks_in_a_field_to_pick_one_of_are_left_for_a_person() -> None:
    [only] = standings([sheet(E, E, M, M)])
    assert only.left_over == 1


@given(st.lists(st.lists(STATES, min_size=4, max_size=4), min_size=2, max_size=2))
def test_two_readings_conflict_exactly_where_the_pile_says_so(states: list[list[State]]) -> None:
    pages = [
        PageReading(
            name,
            1,
            "K7Q4M2",
            "K7Q4M2-0001-3",
            1,
            "match",
            Outcome.READ,
            None,
            tuple(Mark(*box, state) for box, state in zip(BOXES, told, strict=True)),
        )
        for name, told in zip("ab", states, strict=True)
    ]
    expected = sorted_out(pages)[1].outcome is Outcome.CONFLICT
    assert any(one.conflict for one in standings([sheet(*told) for told in states])) is expected


@given(st.lists(st.lists(STATES, min_size=4, max_size=4), min_size=1, max_size=5))
def test_exactly_one_reading_counts_and_it_has_the_fewest_doubts(states: list[list[State]]) -> None:
    found = standings([sheet(*told) for told in states])
    [counts] = [place for place, one in enumerate(found) if one.superseded_by is None and not one.conflict]
    assert states[counts].count(D) == min(told.count(D) for told in states)
    assert all(one.superseded_by in (None, counts) for one in found)
