"""What the marks of a match sheet claim, and when a person must look."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scanner.claims import Claims, certainty_of, claims_of, clashing_fields, combined, turned_of
from scanner.reading import Mark, Outcome, PageReading, State

PLACES = "ABC"
COASTERS = (1, 2, 3)


def marks_of(kind: str = "match", *, by: str | None = None, **states: str) -> tuple[Mark, ...]:
    """Return all boxes of three places; `A="31?"` marks boxes 3 and 1 and … by one sign after each number.

    A number alone is marked, with ? doubtful, with - withdrawn.
    """
    signs = {"?": State.DOUBTFUL, "-": State.WITHDRAWN}
    marks = []
    for place in PLACES:
        told = states.get(place, "")
        for coaster in COASTERS:
            at = told.find(str(coaster))
            state = State.EMPTY if at < 0 else signs.get(told[at + 1 : at + 2], State.MARKED)
            marks.append(Mark(f"{kind}.{place}", str(coaster), state, by if at >= 0 else None))
    return tuple(marks)


def page(marks: tuple[Mark, ...], source: str = "pile.pdf", source_page: int | None = 1) -> PageReading:
    return PageReading(source, source_page, "K7Q4M2", "K7Q4M2-0001-3", 1, "match", Outcome.READ, None, marks)


def claims(**states: str) -> Claims:
    return claims_of(marks_of(**states), PLACES, COASTERS)


def test_one_marked_box_a_place_is_the_claim() -> None:
    told = claims(A="3", B="1", C="2")
    assert told == Claims({"A": 3, "B": 1, "C": 2}, {})
    assert told.complete


def test_a_place_left_blank_is_none_and_settled() -> None:
    told = claims(A="3", C="2")
    assert told == Claims({"A": 3, "B": None, "C": 2}, {})
    assert not told.complete


def test_an_answer_taken_back_does_not_count() -> None:
    assert claims(A="1-3", B="2-").numbers == {"A": 3, "B": None, "C": None}


@pytest.mark.parametrize("other", ["2?", "1 2?", "1?"])
def test_a_doubtful_box_makes_its_place_unsettled_whatever_else_is_marked(other: str) -> None:
    told = claims(A=other, B="3")
    assert told.numbers == {"A": None, "B": 3, "C": None}
    assert list(told.unsettled) == ["A"]
    assert "doubtful" in told.unsettled["A"]


def test_the_readers_reason_for_a_doubt_is_passed_on() -> None:
    marks = [Mark("match.A", str(n), State.DOUBTFUL, None, "a crease") for n in COASTERS]
    told = claims_of([*marks, *marks_of()[3:]], PLACES, COASTERS)
    assert "the box for 2 is doubtful: a crease" in told.unsettled["A"]


def test_two_marked_boxes_make_a_place_unsettled() -> None:
    told = claims(A="1 3", B="2")
    assert told.numbers == {"A": None, "B": 2, "C": None}
    assert told.unsettled == {"A": "2 boxes are marked: 1 and 3"}


def test_a_number_claimed_twice_stays_and_is_remarked_on() -> None:
    told = claims(A="2", B="1", C="2")
    assert told == Claims({"A": 2, "B": 1, "C": 2}, {}, ("number 2 is claimed twice, at A and C",))


def test_a_number_claimed_everywhere_is_remarked_on_once() -> None:
    assert claims(A="2", B="2", C="2").remarks == ("number 2 is claimed 3 times, at A, B and C",)


def test_a_sheet_without_claims_is_remarked_on() -> None:
    assert claims() == Claims(dict.fromkeys(PLACES), {}, ("no claim is made at any place",))


def test_a_box_that_the_reading_does_not_list_is_not_taken_for_empty() -> None:
    marks = [mark for mark in marks_of(A="3", B="1") if (mark.field, mark.option) != ("match.A", "2")]
    told = claims_of(marks, PLACES, COASTERS)
    assert told.unsettled == {"A": "the reading does not list the box for 2"}
    assert told.numbers["A"] is None


@pytest.mark.parametrize(("field", "option"), [("match.D", "1"), ("match.A", "4"), ("match.", "1"), ("match", "1")])
def test_a_box_that_the_sitting_does_not_have_is_refused(field: str, option: str) -> None:
    with pytest.raises(ValueError, match="has no box"):
        claims_of([*marks_of(), Mark(field, option, State.EMPTY)], PLACES, COASTERS)


def test_a_box_listed_twice_is_refused() -> None:
    with pytest.raises(ValueError, match="twice"):
        claims_of([*marks_of(), Mark("match.A", "1", State.EMPTY)], PLACES, COASTERS)


def test_other_fields_of_the_page_are_passed_over() -> None:
    notes = (Mark("words.A", "pear", State.DOUBTFUL), Mark("matching.A", "9", State.MARKED))
    assert claims_of([*notes, *marks_of(A="1", B="2", C="3")], PLACES, COASTERS).complete


def test_the_turned_sheet_tells_what_stood_where() -> None:
    told = turned_of(marks_of("turned", A="3", B="1", C="2"), PLACES, COASTERS)
    assert told == Claims({"A": 3, "B": 1, "C": 2}, {})


def test_a_turned_number_at_two_places_is_unsettled_there_for_a_coaster_stands_once() -> None:
    told = turned_of(marks_of("turned", A="3", B="3", C="2"), PLACES, COASTERS)
    assert told.numbers == {"A": None, "B": None, "C": 2}
    assert list(told.unsettled) == ["A", "B"]


def test_a_doubtful_turned_box_is_unsettled() -> None:
    told = turned_of(marks_of("turned", A="3", B="1?", C="2"), PLACES, COASTERS)
    assert list(told.unsettled) == ["B"]
    assert not told.complete


@pytest.mark.parametrize(
    ("states", "remark"),
    [({"A": "3", "B": "1"}, "what stood at C is not filled in"), ({}, "the turned sheet is not filled in")],
)
def test_turned_places_left_blank_are_remarked_on_and_never_worked_out(states: dict[str, str], remark: str) -> None:
    told = turned_of(marks_of("turned", **states), PLACES, COASTERS)
    assert told.remarks == (remark,)
    assert told.numbers["C"] is None


def test_how_sure_is_told_by_place() -> None:
    marks = [
        Mark(f"sure.{place}", word, State.MARKED if word == told else State.EMPTY)
        for place, told in (("A", "sure"), ("B", "guess"), ("C", ""))
        for word in ("guess", "leaning", "sure")
    ]
    certainty = certainty_of(marks, PLACES)
    assert certainty.words == {"A": "sure", "B": "guess", "C": None}
    assert certainty.unsettled == {}


def test_a_form_that_does_not_ask_how_sure_leaves_nothing_in_doubt() -> None:
    certainty = certainty_of(marks_of(A="1"), PLACES)
    assert certainty.words == {"A": None, "B": None, "C": None}
    assert certainty.unsettled == {}


def test_readings_of_a_sheet_that_agree_count_once() -> None:
    marks = marks_of(A="3", B="1", C="2")
    assert combined([page(marks), page(marks, "again.pdf")]) == marks
    assert clashing_fields([page(marks), page(marks, "again.pdf")]) == ()


def test_empty_and_withdrawn_are_the_same_answer() -> None:
    pages = [page(marks_of(A="1-3")), page(marks_of(A="3"))]
    assert claims_of(combined(pages), PLACES, COASTERS).numbers["A"] == 3


def test_readings_that_differ_leave_the_place_to_a_person_and_the_others_alone() -> None:
    pages = [page(marks_of(A="3", B="1")), page(marks_of(A="3", B="2"), "again.jpg", None)]
    told = claims_of(combined(pages), PLACES, COASTERS)
    assert told.numbers == {"A": 3, "B": None, "C": None}
    assert list(told.unsettled) == ["B"]
    assert "it is marked on pile.pdf, page 1 but empty on again.jpg" in told.unsettled["B"]
    assert clashing_fields(pages) == ("match.B",)


def test_a_mark_clear_in_one_reading_and_doubtful_in_another_is_doubtful() -> None:
    # A mark that flips between scans of one sheet is marginal: a person must look (D. W. Jones, in Towards
    # Trustworthy Elections, p. 180, the idea of marginal marks [seen]).
    pages = [page(marks_of(A="3")), page(marks_of(A="3?"))]
    assert list(claims_of(combined(pages), PLACES, COASTERS).unsettled) == ["A"]


@pytest.mark.parametrize("settled_first", [True, False])
def test_what_a_person_settled_wins_over_the_reader(settled_first: bool) -> None:
    pages = [page(marks_of(A="3", by="person")), page(marks_of(A="3?"))]
    told = claims_of(combined(pages if settled_first else pages[::-1]), PLACES, COASTERS)
    assert told.numbers["A"] == 3
    assert told.unsettled == {}
    assert clashing_fields(pages) == ()


def test_two_people_who_settle_a_mark_differently_leave_it_unsettled() -> None:
    pages = [page(marks_of(A="3", by="person")), page(marks_of(A="3-", by="person"))]
    assert list(claims_of(combined(pages), PLACES, COASTERS).unsettled) == ["A"]


def test_a_box_that_one_reading_lacks_is_not_taken_from_the_other() -> None:
    pages = [page(marks_of(A="3", B="1", C="2")), page(())]
    assert list(claims_of(combined(pages), PLACES, COASTERS).unsettled) == list(PLACES)


STATES = st.sampled_from(State)


@settings(deadline=None)
@given(st.lists(STATES, min_size=9, max_size=9), st.lists(STATES, min_size=9, max_size=9))
def test_no_claim_is_ever_made_that_one_of_the_readings_does_not_make(first: list[State], second: list[State]) -> None:
    boxes = [(f"match.{place}", str(coaster)) for place in PLACES for coaster in COASTERS]
    readings = [
        page(tuple(Mark(field, option, state) for (field, option), state in zip(boxes, states, strict=True)))
        for states in (first, second)
    ]
    told = claims_of(combined(readings), PLACES, COASTERS)
    each = [claims_of(reading.marks, PLACES, COASTERS) for reading in readings]
    for place in PLACES:
        if place in each[0].unsettled or place in each[1].unsettled:
            assert place in told.unsettled
        elif each[0].numbers[place] == each[1].numbers[place]:
            assert told.numbers[place] == each[0].numbers[place]
            assert place not in told.unsettled
        else:
            assert place in told.unsettled
            assert told.numbers[place] is None
