from __future__ import annotations

from pathlib import Path

import pytest

from kit.errors import ReadingError
from scanner.pile import left_to_look_at, rows_sorted_out, sorted_out
from scanner.reading import Mark, Outcome, PageReading, Reading, State, TurnedReading
from scanner.settle import BoxAnswer, KeepAnswer, RowAnswer, load_answers, settled, settled_rows

SHEET = "K7Q4M2-0001-3"
M, E, D = State.MARKED, State.EMPTY, State.DOUBTFUL


def page(source: str, *states: State) -> PageReading:
    marks = tuple(Mark("match.A", str(number), state) for number, state in enumerate(states, start=1))
    return PageReading(source, 1, "K7Q4M2", SHEET, 1, "match", Outcome.READ, None, marks)


def test_a_settled_box_says_that_a_person_settled_it() -> None:
    [after], unused = settled([page("a.jpg", M, D)], [BoxAnswer(SHEET, "match.A", "2", E)])
    assert after.marks == (Mark("match.A", "1", M), Mark("match.A", "2", E, by="person"))
    assert unused == ()


def test_a_settled_box_ends_a_conflict() -> None:
    pages = [page("a.jpg", M, E), page("b.jpg", E, E)]
    assert sorted_out(pages)[1].outcome is Outcome.CONFLICT
    after = sorted_out(settled(pages, [BoxAnswer(SHEET, "match.A", "1", M)])[0])
    assert [one.outcome for one in after] == [Outcome.READ, Outcome.REPEAT]
    assert list(left_to_look_at(Reading(after))) == []


def test_keeping_one_picture_settles_every_box_that_differs_and_no_other() -> None:
    pages = [page("a.jpg", M, E, E), page("b.jpg", E, M, E)]
    after, unused = settled(pages, [KeepAnswer(SHEET, "b.jpg", 1)])
    assert [[mark.state for mark in one.marks] for one in after] == [[E, M, E], [E, M, E]]
    assert [mark.by for mark in after[0].marks] == ["person", "person", None]
    assert unused == ()


def test_keeping_a_picture_does_not_settle_its_own_doubts() -> None:
    after, _ = settled([page("a.jpg", M, E), page("b.jpg", D, M)], [KeepAnswer(SHEET, "b.jpg", 1)])
    assert [mark.state for mark in after[1].marks] == [D, M]


@pytest.mark.parametrize(
    "answer",
    [
        BoxAnswer("K7Q4M2-0009-3", "match.A", "1", M),
        BoxAnswer(SHEET, "match.A", "7", M),
        KeepAnswer(SHEET, "c.jpg", 1),
        KeepAnswer(SHEET, "a.jpg", 2),
    ],
)
def test_an_answer_that_names_nothing_in_the_pile_is_given_back(answer: BoxAnswer | KeepAnswer) -> None:
    pages = (page("a.jpg", M, D),)
    assert settled(pages, [answer]) == (pages, (answer,))


def test_an_answers_file_is_read_entry_by_entry(tmp_path: Path) -> None:
    path = tmp_path / "answers.toml"
    path.write_text(
        f'[[settle]]\nsheet = "{SHEET}"\nfield = "match.A"\noption = "3"\nstate = "withdrawn"\n'
        f'[[settle]]\nsheet = "{SHEET}"\nkeep = "scan-2.jpg"\n'
        f'[[settle]]\nsheet = "{SHEET}"\nkeep = "pile.pdf"\npage = 4\n',
        "utf-8",
    )
    assert load_answers(path) == (
        BoxAnswer(SHEET, "match.A", "3", State.WITHDRAWN),
        KeepAnswer(SHEET, "scan-2.jpg", 1),
        KeepAnswer(SHEET, "pile.pdf", 4),
    )


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("[[settle]]\nsheet = 'x'\nfield = 'match.A'\noption = '1'\nstate = 'doubtful'\n", 'found "doubtful"'),
        ("[[settle]]\nsheet = 'x'\nfield = 'match.A'\noption = 1\nstate = 'marked'\n", "found 1"),
        ("[[settle]]\nsheet = 'x'\nfield = 'match.A'\nstate = 'marked'\n", "option is missing"),
        ("[[settle]]\nsheet = 'x'\nkeep = 'a.jpg'\npage = true\n", "found True"),
        ("[[settle]]\nsheet = 'x'\nkeep = 'a.jpg'\nfield = 'match.A'\n", "unknown field"),
        ("[[settled]]\n", "something else"),
        ("settle = 3\n", "something else"),
        ("[[settle]\n", "cannot be read"),
    ],
)
def test_a_wrong_answers_file_is_refused_in_a_sentence(tmp_path: Path, text: str, sentence: str) -> None:
    path = tmp_path / "answers.toml"
    path.write_text(text, "utf-8")
    with pytest.raises(ReadingError, match=r"answers\.toml") as caught:
        load_answers(path)
    assert sentence in str(caught.value)
    assert caught.value.hint


def test_an_answers_file_that_is_not_there_or_not_text_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ReadingError, match="no such file"):
        load_answers(tmp_path / "none.toml")
    (tmp_path / "bytes.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(ReadingError, match="cannot be read"):
        load_answers(tmp_path / "bytes.toml")


def row(source: str, order: tuple[int, ...] | None, *, taster: int | None = 1) -> TurnedReading:
    outcome = Outcome.READ if order else Outcome.UNREADABLE
    reason = None if order else "no row-end card"
    return TurnedReading(source, 1, "K7Q4M2" if taster else None, taster, outcome, reason, order)


def test_a_person_says_what_stood_in_a_taster_s_row() -> None:
    rows = [row("a.jpg", (1, 2, 3)), row("b.jpg", (2, 1, 3)), row("c.jpg", (1, 3, 2), taster=2)]
    after, unused = settled_rows(rows, [RowAnswer("K7Q4M2", 1, (3, 1, 2)), BoxAnswer(SHEET, "match.A", "1", M)])
    assert [(one.order, one.by) for one in after] == [((3, 1, 2), "person")] * 2 + [((1, 3, 2), None)]
    assert unused == ()
    assert [one.outcome for one in rows_sorted_out(after, [])] == [Outcome.READ, Outcome.REPEAT, Outcome.READ]


def test_a_person_says_whose_row_a_refused_picture_shows() -> None:
    answer = RowAnswer("K7Q4M2", 2, (3, 1, 2), "b.jpg")
    after, _ = settled_rows([row("a.jpg", (1, 2, 3)), row("b.jpg", None, taster=None)], [answer])
    assert after[1] == TurnedReading("b.jpg", 1, "K7Q4M2", 2, Outcome.READ, None, (3, 1, 2), "person")
    assert after[0].by is None


def test_an_answer_about_no_row_of_the_pile_is_given_back() -> None:
    answers = [RowAnswer("K7Q4M2", 9, (1, 2, 3)), RowAnswer("K7Q4M2", 1, (1, 2, 3), "z.jpg")]
    rows = (row("a.jpg", (1, 2, 3)),)
    assert settled_rows(rows, answers) == (rows, tuple(answers))
    assert settled([page("a.jpg", M)], answers)[1] == ()


def test_answers_about_rows_are_read(tmp_path: Path) -> None:
    path = tmp_path / "answers.toml"
    path.write_text(
        '[[settle]]\nrow = "K7Q4M2-0001"\norder = [3, 1, 2]\n'
        '[[settle]]\nrow = "K7Q4M2-0012"\norder = [1, 2, 3, 4, 5]\npicture = "b.pdf"\npage = 4\n',
        "utf-8",
    )
    assert load_answers(path) == (
        RowAnswer("K7Q4M2", 1, (3, 1, 2)),
        RowAnswer("K7Q4M2", 12, (1, 2, 3, 4, 5), "b.pdf", 4),
    )


@pytest.mark.parametrize(
    ("lines", "sentence"),
    [
        ("row = 'K7Q4M2-1'\norder = [1, 2, 3]", "four digits"),
        ("row = 'K7Q4M2-0001'\norder = [1, 2]", "found [1, 2]"),
        ("row = 'K7Q4M2-0001'\norder = [1, 2, 2]", "found [1, 2, 2]"),
        ("row = 'K7Q4M2-0001'\norder = [1, 2, true]", "found [1, 2, True]"),
        ("row = 'K7Q4M2-0001'\norder = '312'", "a list of coaster numbers"),
        ("row = 'K7Q4M2-0001'", "order is missing"),
        ("row = 'K7Q4M2-0001'\norder = [1, 2, 3]\nkeep = 'a.jpg'", "unknown keep"),
    ],
)
def test_a_wrong_answer_about_a_row_is_refused(tmp_path: Path, lines: str, sentence: str) -> None:
    path = tmp_path / "answers.toml"
    path.write_text(f"[[settle]]\n{lines}\n", "utf-8")
    with pytest.raises(ReadingError) as caught:
        load_answers(path)
    assert sentence in f"{caught.value.message} {caught.value.hint}"
