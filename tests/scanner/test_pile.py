from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from scanner.pile import left_to_look_at, remarks_on, sorted_out, twice_marked
from scanner.reading import Mark, Outcome, PageReading, Reading, State

M, E, W, D = State.MARKED, State.EMPTY, State.WITHDRAWN, State.DOUBTFUL


def page(*states: State, source: str = "a.jpg", role: str = "match", outcome: Outcome = Outcome.READ) -> PageReading:
    """A sheet whose boxes are the claims 1, 2, 3 … at place A, in these states."""
    marks = tuple(Mark("match.A", str(number), state) for number, state in enumerate(states, start=1))
    return PageReading(source, 1, "K7Q4M2", "K7Q4M2-0001-3", 1, role, outcome, None, marks)


def outcomes(*pages: PageReading) -> list[Outcome]:
    return [one.outcome for one in sorted_out(pages)]


def test_the_same_sheet_again_with_the_same_answers_is_a_repeat() -> None:
    assert outcomes(page(M, E), page(M, E, source="b.jpg")) == [Outcome.READ, Outcome.REPEAT]


def test_taken_back_in_one_picture_and_empty_in_the_other_is_the_same_answer() -> None:
    assert outcomes(page(M, E), page(M, W)) == [Outcome.READ, Outcome.REPEAT]


def test_a_doubt_is_no_other_answer() -> None:
    assert outcomes(page(M, E), page(D, E), page(M, D)) == [Outcome.READ, Outcome.REPEAT, Outcome.REPEAT]


def test_the_same_sheet_again_with_another_answer_is_a_conflict_that_names_both() -> None:
    first, second = sorted_out([page(M, E), page(E, M, source="b.jpg")])
    assert (first.outcome, second.outcome) == (Outcome.READ, Outcome.CONFLICT)
    assert second.reason == "it has other answers than a.jpg, page 1, of the same sheet: place A, claim"
    assert second.marks


@given(st.lists(st.lists(st.sampled_from([M, E, W, D]), min_size=3, max_size=3), min_size=1, max_size=4))
def test_sorting_out_a_sorted_pile_changes_nothing(piles: list[list[State]]) -> None:
    once = sorted_out([page(*states) for states in piles])
    assert sorted_out(once) == once
    assert once[0].outcome is Outcome.READ


def test_strangers_and_unreadable_pages_pass_as_they_are() -> None:
    stranger = page(outcome=Outcome.FOREIGN)
    assert sorted_out([stranger, page(M)]) == (stranger, page(M))


def test_a_number_claimed_twice_is_remarked_on_and_nothing_is_repaired() -> None:
    marks = (Mark("match.A", "1", M), Mark("match.B", "1", M), Mark("match.B", "2", E))
    sheet = PageReading("a.jpg", 1, "K", "K-0001-3", 1, "match", Outcome.READ, None, marks)
    [sorted_sheet] = sorted_out([sheet])
    assert sorted_sheet.remarks == ("number 1 is claimed 2 times",)
    assert sorted_sheet.marks == marks
    assert list(left_to_look_at(Reading((sorted_sheet,)))) == []


def test_a_match_sheet_without_claims_is_remarked_on_unless_one_is_in_doubt() -> None:
    assert remarks_on(page(E, W)) == ("a sheet without claims",)
    assert remarks_on(page(E, D)) == ()


def test_a_note_sheet_with_nothing_on_it_is_remarked_on() -> None:
    assert remarks_on(page(E, role="notes-1")) == ("nothing is marked on it",)


def test_two_marks_in_a_pick_one_field_are_left_to_look_at_as_two_marks() -> None:
    [left] = left_to_look_at(Reading((page(M, E, M),)))
    assert left.what == "place A, claim: 2 boxes are marked, 1 and 3"
    assert [mark.option for mark in left.marks] == ["1", "3"]


def test_many_words_of_one_glass_are_no_matter_for_a_person() -> None:
    assert twice_marked((Mark("words.1", "pear", M), Mark("words.1", "rice", M))) == {}


def test_every_doubt_conflict_and_unread_page_is_left_to_look_at() -> None:
    unread = PageReading("c.jpg", None, None, None, None, None, Outcome.UNREADABLE, "no such file")
    pile = sorted_out([page(M, E), page(E, M, source="b.jpg"), page(D), unread])
    whats = [left.what for left in left_to_look_at(Reading(pile))]
    assert whats[0].startswith("it has other answers")
    assert whats[1:] == ["place A, claim 1", "no such file"]
