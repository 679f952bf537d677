"""What a sitting waits for: all that `facedown score` leaves to a person, and boxes of notes, in every language."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from itertools import product
from pathlib import Path

import pytest

from kit.record import layout_of, load_kit, opened_keys
from kit.wording import languages, load_wording
from scanner.reading import Mark, Outcome, PageReading, Reading, State
from scanner.reading_json import load_reading
from scanner.reports.waiting import Waiting, waiting, waiting_line
from scanner.score import Scores, scores
from scanner.what_stood import Sitting
from tests.scanner.reports.club import DRINKS, TASTERS, Evening, Skip, evening, session_toml

NAMES = list(DRINKS)[:3]


def everybody(taster: int, role: str) -> bool:
    return False


def made(
    folder: Path, *, keys: str = "own", shuffle: str = "host", doubtful: Iterable[int] = (), skip: Skip = everybody
) -> tuple[Evening, Sitting, Reading]:
    toml = session_toml(NAMES, TASTERS[:4], keys=keys, shuffle=shuffle)
    one = evening(folder / "kit", toml, doubtful=tuple(doubtful), skip=skip)
    kit = load_kit(one.folder)
    return one, Sitting(kit.id, kit.session, layout_of(one.folder), opened_keys(kit)), load_reading(one.reading)


def told(sitting: Sitting, reading: Reading) -> tuple[Scores, tuple[Waiting, ...]]:
    scored = scores([sitting], {"r.json": reading})
    return scored, waiting(sitting, scored, [reading])


def doubted(page: PageReading, field: str, reason: str) -> PageReading:
    marks = tuple(
        replace(mark, state=State.DOUBTFUL, reason=reason) if mark.field.startswith(field) else mark
        for mark in page.marks
    )
    return replace(page, marks=marks)


def test_every_sentence_of_score_has_its_counterpart(tmp_path: Path) -> None:
    _, sitting, reading = made(tmp_path, doubtful=[2])
    pages = [
        doubted(page, "sure.B", "a stroke") if (page.taster, page.role) == (3, "match") else page
        for page in reading.pages
    ]
    pages += [
        PageReading("x.jpg", 1, None, None, None, None, Outcome.UNREADABLE, "it is out of focus"),
        PageReading("pile.pdf", 9, "ZZZZZZ", "ZZZZZZ-0001-1", 1, "notes-1", Outcome.FOREIGN, "it is a sheet of kit Z"),
        PageReading("pile.pdf", 10, "YYYYYY", "YYYYYY-0001-1", 1, "notes-1", Outcome.READ, None),
    ]
    scored, found = told(sitting, Reading(tuple(pages)))
    assert Counter(one.kind for one in found) == {"claim": 1, "sure": 1, "picture": 2, "stranger": 1}
    assert len(found) == len(scored.left_to_look_at)
    for sentence in scored.left_to_look_at:
        # Each sentence's own reason is that of one thing that waits, or its kit is named.
        assert any((one.reason and one.reason in sentence) or one.about in sentence for one in found), sentence


def test_a_coaster_in_doubt_waits_with_its_place(tmp_path: Path) -> None:
    _, sitting, reading = made(tmp_path, shuffle="hand")
    pages = tuple(
        doubted(page, "turned.C", "two crosses") if (page.taster, page.role) == (1, "turned") else page
        for page in reading.pages
    )
    _, found = told(sitting, Reading(pages))
    assert [(one.kind, one.who, one.about) for one in found if one.kind == "turned"] == [("turned", "Ines", "C")]


def test_boxes_of_notes_in_doubt_are_counted_by_sheet(tmp_path: Path) -> None:
    _, sitting, reading = made(tmp_path)
    boxes = {("words.1", "pear"), ("words.2", "rice"), ("scale.acidity.3", "2")}

    def doubt(mark: Mark) -> Mark:
        return replace(mark, state=State.DOUBTFUL) if (mark.field, mark.option) in boxes else mark

    pages = tuple(
        replace(page, marks=tuple(map(doubt, page.marks))) if (page.taster, page.role) == (4, "notes-1") else page
        for page in reading.pages
    )
    _, found = told(sitting, Reading(pages))
    assert [(one.kind, one.taster, one.about, one.count) for one in found] == [("notes", 4, "notes-1", 3)]
    assert waiting_line(found[0], load_wording("en")) == "Kofi: notes of round one, boxes in doubt: 3"


@pytest.mark.parametrize("keys", ["shared", "balanced"])
def test_keys_that_wait_say_for_whom(tmp_path: Path, keys: str) -> None:
    _, sitting, reading = made(tmp_path, keys=keys, skip=lambda taster, role: (taster, role) == (2, "match"))
    _, found = told(sitting, reading)
    assert [(one.kind, one.who) for one in found] == [("sealed", "Tomas")]


def test_an_opened_key_that_was_not_read_waits(tmp_path: Path) -> None:
    _, sitting, reading = made(tmp_path)
    scored, found = told(replace(sitting, keys=sitting.keys[1:], keys_on_paper=True), reading)
    assert [(one.kind, one.who) for one in found] == [("key", "Ines")]
    assert len(scored.left_to_look_at) == 1


def test_pictures_of_another_kit_given_are_not_this_sitting_s(tmp_path: Path) -> None:
    _, sitting, reading = made(tmp_path)
    other = replace(sitting, kit="ZZZZZZ")
    page = PageReading("a.jpg", 1, "ZZZZZZ", None, 1, "notes-1", Outcome.UNREADABLE, "too dark")
    pile = Reading((*reading.pages, page))
    scored = scores([sitting, replace(other, layout=sitting.layout)], {"r.json": reading})
    assert waiting(sitting, scored, [pile]) == ()


@pytest.mark.parametrize(
    ("language", "kind"),
    list(product(languages(), ("sealed", "key", "claim", "sure", "turned", "notes", "picture", "stranger"))),
)
def test_every_kind_has_a_line_in_every_language(language: str, kind: str) -> None:
    words = load_wording(language)
    abouts = {"notes": "notes-2", "picture": "foreign"}
    one = Waiting(kind, 1, "Ines", abouts.get(kind, "B"), 2, "so it was read", "pile.pdf", 9)  # type: ignore[arg-type]
    line = waiting_line(one, words)
    assert "so it was read" in line
    assert ("pile.pdf" if kind == "picture" else "B" if kind == "stranger" else "Ines") in line


@pytest.mark.parametrize("outcome", [one for one in Outcome if one not in (Outcome.READ, Outcome.REPEAT)])
def test_every_outcome_that_is_left_has_a_line(outcome: Outcome) -> None:
    for language in languages():
        assert waiting_line(Waiting("picture", None, "", str(outcome)), load_wording(language))
