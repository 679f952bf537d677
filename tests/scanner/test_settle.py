from __future__ import annotations

from pathlib import Path

import pytest

from kit.errors import ReadingError
from scanner.pile import left_to_look_at, sorted_out
from scanner.reading import Mark, Outcome, PageReading, Reading, State
from scanner.settle import BoxAnswer, KeepAnswer, load_answers, settled

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
