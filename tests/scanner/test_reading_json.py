"""A reading comes back from its JSON as it was, and nothing else is let in."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kit.errors import ExitCode, ReadingError
from scanner.reading import (
    Mark,
    OpenedReading,
    Outcome,
    PageReading,
    Reading,
    State,
    TurnedReading,
    to_json,
)
from scanner.reading_json import from_json, load_reading

READING = Reading(
    pages=(
        PageReading(
            "pile.pdf",
            3,
            "K7Q4M2",
            "K7Q4M2-0001-1",
            1,
            "notes-1",
            Outcome.READ,
            None,
            (
                Mark("words.1", "pear", State.MARKED),
                Mark("words.1", "plum", State.DOUBTFUL, None, "a crease crosses it"),
                Mark("words.1", "rice", State.EMPTY, "person"),
            ),
            ("a remark",),
        ),
        PageReading("pile.pdf", 4, None, None, None, None, Outcome.UNREADABLE, "No corner was found."),
        PageReading("gone.pdf", None, None, None, None, None, Outcome.UNREADABLE, "It cannot be opened."),
    ),
    turned=(
        TurnedReading("row.jpg", 1, "K7Q4M2", 1, Outcome.READ, None, (3, 1, 2)),
        TurnedReading("row2.jpg", 1, None, None, Outcome.UNREADABLE, "Two rows in one picture.", None),
    ),
    opened=(
        OpenedReading("key.jpg", 1, "K7Q4M2", 1, Outcome.READ, None, {"A": 3, "B": 1, "C": 2}, "00ff"),
        OpenedReading("torn.jpg", 1, "K7Q4M2", 2, Outcome.UNREADABLE, "Its code is torn.", None, None),
    ),
)

# The example of FORMATS.md, section 4, the format's own definition.
EXAMPLE = """
{"format": "facedown-reading/1",
 "pages": [
  {"source": "pile.pdf", "source_page": 3, "kit": "K7Q4M2", "sheet": "K7Q4M2-0001-1", "taster": 1, "role": "notes-1",
   "outcome": "read", "reason": null,
   "marks": [{"field": "words.1", "option": "pear", "state": "marked"}],
   "remarks": []}
 ],
 "turned": [
  {"source": "row.jpg", "source_page": 1, "kit": "K7Q4M2", "taster": 1, "outcome": "read", "reason": null,
   "order": [3, 1, 2]}
 ],
 "opened": [
  {"source": "key.jpg", "source_page": 1, "kit": "K7Q4M2", "taster": 1, "places": {"A": 3, "B": 1, "C": 2}, "salt": "…"}
 ]}
"""


def changed(path: str, value: object) -> Any:
    """Return READING's JSON with one value replaced; `path` as in "pages.0.marks.1.state", "-" at its end deletes."""
    entry = copy.deepcopy(to_json(READING))
    *way, last = path.removesuffix("-").rstrip(".").split(".")
    at: Any = entry
    for step in way:
        at = at[int(step) if step.isdigit() else step]
    key: Any = int(last) if last.isdigit() else last
    if path.endswith("-"):
        del at[key]
    else:
        at[key] = value
    return entry


def test_what_to_json_wrote_comes_back_the_same() -> None:
    assert from_json(json.loads(json.dumps(to_json(READING))), "r.json") == READING


def test_the_example_of_the_format_is_read() -> None:
    reading = from_json(json.loads(EXAMPLE), "r.json")
    assert reading.pages[0].marks == (Mark("words.1", "pear", State.MARKED),)
    assert reading.turned[0].order == (3, 1, 2)
    assert reading.opened[0].places == {"A": 3, "B": 1, "C": 2}
    assert reading.opened[0].outcome is Outcome.READ, "an opened key sheet that says nothing else was read"


def test_fields_that_are_not_known_are_passed_over() -> None:
    entry = changed("pages.0.ink_level", 0.3)
    entry["written_by"] = "facedown 0.2"
    assert from_json(entry, "r.json") == READING


TEXT, NUMBER = st.text(min_size=1, max_size=12), st.integers(1, 9999)


@st.composite
def readings(draw: st.DrawFn) -> Reading:
    marks = st.builds(Mark, TEXT, TEXT, st.sampled_from(State), st.sampled_from([None, "person"]), st.none() | TEXT)
    pages = st.builds(
        PageReading,
        TEXT,
        st.none() | NUMBER,
        st.none() | TEXT,
        st.none() | TEXT,
        st.none() | NUMBER,
        st.none() | TEXT,
        st.sampled_from([Outcome.FOREIGN, Outcome.UNREADABLE]),
        TEXT,
        st.lists(marks, max_size=4, unique_by=lambda mark: (mark.field, mark.option)).map(tuple),
        st.lists(st.text(max_size=9), max_size=2).map(tuple),
    )
    rows = st.builds(
        TurnedReading,
        TEXT,
        st.none() | NUMBER,
        TEXT,
        NUMBER,
        st.just(Outcome.READ),
        st.none(),
        st.lists(NUMBER, max_size=5).map(tuple),
    )
    places = st.dictionaries(TEXT, NUMBER, max_size=3)
    where = (TEXT, st.none() | NUMBER, TEXT, NUMBER)
    opened = st.builds(OpenedReading, *where, st.just(Outcome.READ), st.none(), places, TEXT) | st.builds(
        OpenedReading, *where, st.just(Outcome.UNREADABLE), TEXT, st.none(), st.none()
    )
    return Reading(
        tuple(draw(st.lists(pages, max_size=3))),
        tuple(draw(st.lists(rows, max_size=3))),
        tuple(draw(st.lists(opened, max_size=3))),
    )


@settings(deadline=None)
@given(readings())
def test_any_reading_survives_the_round_trip(reading: Reading) -> None:
    assert from_json(json.loads(json.dumps(to_json(reading))), "r.json") == reading


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        ("format", "facedown-reading/2", 'format: found "facedown-reading/2"; "facedown-reading/1" is allowed'),
        ("format-", None, "format: found no such field"),
        ("pages-", None, "pages: found no such field; a list of objects is allowed"),
        ("pages", {}, "pages: found a table; a list of objects"),
        ("pages.1", 7, "pages[1]: found 7; an object is allowed"),
        ("pages.0.source", "", 'pages[0].source: found ""; text is allowed'),
        ("pages.0.source", 1, "pages[0].source: found 1; text"),
        ("pages.0.source_page", 0, "pages[0].source_page: found 0; a whole number from 1"),
        ("pages.0.source_page", "3", 'pages[0].source_page: found "3"; a whole number from 1'),
        ("pages.0.source_page-", None, "pages[0].source_page: found no such field; a whole number from 1 or null"),
        ("pages.0.taster", True, "pages[0].taster: found true; a whole number from 1"),
        ("pages.0.taster", 1.0, "pages[0].taster: found 1.0; a whole number from 1"),
        ("pages.0.taster", None, "pages[0].taster: found nothing; a whole number from 1"),
        ("pages.0.kit", None, "pages[0].kit: found nothing; text"),
        ("pages.0.role", "notes-3", 'pages[0].role: found "notes-3"; one of notes-1, notes-2, match, turned, key'),
        ("pages.0.outcome", "fine", 'outcome: found "fine"; one of read, repeat, conflict, foreign, unreadable'),
        ("pages.0.outcome", ["read"], "pages[0].outcome: found a list; one of read"),
        ("pages.1.reason", None, "pages[1].reason: found nothing; text"),
        ("pages.0.reason", 5, "pages[0].reason: found 5; text"),
        ("pages.0.remarks", [1], "pages[0].remarks: found a list; a list of texts"),
        ("pages.0.marks.1.state", "maybe", 'pages[0].marks[1].state: found "maybe"; one of empty, marked, withdrawn'),
        ("pages.0.marks.1.field-", None, "pages[0].marks[1].field: found no such field; text"),
        ("pages.0.marks.1.by", "robot", 'pages[0].marks[1].by: found "robot"; "person" or no such field'),
        ("pages.0.marks.1.reason", 1, "pages[0].marks[1].reason: found 1; text"),
        ("pages.0.marks.1.option", "pear", 'pages[0].marks[1].option: found "pear"; each option of words.1 once'),
        ("turned.0.order", None, "turned[0].order: found nothing; a list of coaster numbers"),
        ("turned.0.order", [3, "1"], "turned[0].order: found a list; a list of whole numbers from 1"),
        ("turned.0.order-", None, "turned[0].order: found no such field"),
        ("turned.0.kit", None, "turned[0].kit: found nothing; text"),
        ("turned.0.taster", None, "turned[0].taster: found nothing; a whole number from 1"),
        ("opened.0.places", {"A": 0}, "opened[0].places: found a table; an object of place letters"),
        ("opened.0.places", [3, 1], "opened[0].places: found a list; an object of place letters"),
        ("opened.0.salt-", None, "opened[0].salt: found no such field; text"),
        ("opened.0.places", None, "opened[0].places: found nothing; an object of place letters"),
        ("opened.0.outcome", "told", 'opened[0].outcome: found "told"; one of read'),
        ("opened.1.outcome", "read", "opened[1].places: found nothing; an object of place letters"),
        ("opened.1.reason", None, "opened[1].reason: found nothing; text"),
        ("opened.1.places", {"A": "1"}, "opened[1].places: found a table; an object of place letters"),
        ("opened.1.salt", 5, "opened[1].salt: found 5; text"),
    ],
)
def test_every_fault_is_named_with_file_place_found_and_allowed(path: str, value: object, said: str) -> None:
    with pytest.raises(ReadingError) as refused:
        from_json(changed(path, value), "evening.json")
    assert str(refused.value).startswith("evening.json: ")
    assert said in refused.value.message
    assert refused.value.hint
    assert refused.value.exit_code is ExitCode.REFUSED


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("pages.0.sheet", "K7Q4M2-0002-1"),
        ("pages.0.sheet", "K7Q4M2-0001-3"),
        ("pages.0.sheet", None),
        ("pages.0.taster", 2),
        ("pages.0.role", "match"),
        ("pages.0.kit", "K7Q4M3"),
    ],
)
def test_a_sheet_is_never_credited_to_a_kit_taster_or_round_that_its_id_does_not_name(path: str, value: object) -> None:
    with pytest.raises(ReadingError, match=r"pages\[0\]\.sheet: .* as its kit, taster and role say"):
        from_json(changed(path, value), "evening.json")


@pytest.mark.parametrize("entry", [None, [], "reading", 3, True])
def test_json_that_is_no_object_is_refused(entry: object) -> None:
    with pytest.raises(ReadingError, match=r"evening\.json: found .*; a reading's JSON object is allowed"):
        from_json(entry, "evening.json")


def test_a_reading_file_is_loaded(tmp_path: Path) -> None:
    file = tmp_path / "evening.json"
    file.write_text(json.dumps(to_json(READING), ensure_ascii=False), "utf-8")
    assert load_reading(file) == READING


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "not JSON from line 1, column 1 on"),
        (b'{"format":\n "facedown', "not JSON from line 2"),
        (b"\xff\xfe\xfd", "not JSON"),
        (b"[" * 200_000, "not JSON"),
        (b"1" * 5_000, "not JSON"),
        (b"\x89PNG\r\n\x1a\n\0\0", "not JSON"),
        (b"[1, 2]", "found a list"),
        (b"{}", "format: found no such field"),
    ],
)
def test_a_file_that_holds_no_reading_is_refused_with_its_name(tmp_path: Path, content: bytes, said: str) -> None:
    file = tmp_path / "evening.json"
    file.write_bytes(content)
    with pytest.raises(ReadingError, match=said) as refused:
        load_reading(file)
    assert str(refused.value).startswith(str(file))


def test_a_file_that_is_not_there_or_a_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ReadingError, match="there is no such file"):
        load_reading(tmp_path / "none.json")
    with pytest.raises(ReadingError, match="this is a folder"):
        load_reading(tmp_path)
