"""Takes a reading back in from its JSON, refusing whatever FORMATS section 4 does not allow."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path
from typing import Any, NoReturn, TypeGuard, TypeVar

from kit.codes import ROLE_DIGITS, sheet_id
from kit.errors import ReadingError
from kit.files import read_bounded
from kit.json_text import JsonText
from kit.session_rules import shown
from scanner.reading import (
    FORMAT,
    Mark,
    OpenedReading,
    Outcome,
    PageReading,
    Reading,
    State,
    TurnedReading,
    shared_mark,
)

Word = TypeVar("Word", bound=StrEnum)

_MOST_BYTES = 1_000_000_000
"""A reading of the most tasters that a session may have, 9,999, has 600 MB."""
HINT = "A reading is written by facedown read --json; use the file as it was written."


def load_reading(path: Path) -> Reading:
    """Read a reading file.

    Raises
    ------
    ReadingError
        If the file cannot be opened, is not JSON, or is not a reading.
    """
    with suppress(ReadingError, OSError, ValueError, RecursionError):
        if path.is_file() and path.stat().st_size <= _MOST_BYTES:
            return _by_pages(path)
    # Something is wrong with it: what, is told by the file as a whole.
    try:
        entry = json.loads(read_bounded(path, _MOST_BYTES))
    except FileNotFoundError:
        raise ReadingError(f"{path}: there is no such file.", HINT) from None
    except IsADirectoryError:
        raise ReadingError(f"{path}: this is a folder; the reading file is needed.", HINT) from None
    except OSError as error:
        raise ReadingError(f"{path}: the file cannot be opened: {error.strerror or error}.") from None
    except json.JSONDecodeError as error:
        found = f"it is not JSON from line {error.lineno}, column {error.colno} on"
        raise ReadingError(f"{path}: {found}.", HINT) from None
    except (ValueError, RecursionError):
        raise ReadingError(f"{path}: it is not JSON text in UTF-8 that can be a reading.", HINT) from None
    return from_json(entry, str(path))


def _by_pages(path: Path) -> Reading:
    """Read a file a page at a time."""
    entries: dict[str, Any] = {"pages": []}
    pages: list[PageReading] = []
    seen: set[str] = set()
    with path.open(encoding="utf-8", newline="") as file:
        text = JsonText(file)
        for name in text.members():
            if name in seen:
                raise ValueError(f"{name} stands there twice")
            seen.add(name)
            if name == "pages":
                for _ in text.elements():
                    pages += from_json(
                        {"format": FORMAT, "pages": [text.value()], "turned": [], "opened": []}, ""
                    ).pages
            else:
                entries[name] = text.value()
        text.end()
    if "pages" not in seen:
        raise ValueError("there are no pages")
    return replace(from_json(entries, str(path)), pages=tuple(pages))


def from_json(entry: object, subject: str) -> Reading:
    """Return the reading that `scanner.reading.to_json` wrote.

    Fields that this program does not know are passed over: FORMATS allows adding them.

    Parameters
    ----------
    entry : object
        The parsed JSON.
    subject : str
        What messages call it: the file's name.

    Raises
    ------
    ReadingError
        At the first fault: the file, the place within it, what was found and what is allowed.
    """
    if not isinstance(entry, dict):
        raise ReadingError(f"{subject}: found {shown(entry)}; a reading's JSON object is allowed.", HINT)
    reading = _Record(entry, subject, "")
    found = entry.get("format")
    if found != FORMAT:
        reading.refuse("format", f'"{FORMAT}"')
    return Reading(
        pages=tuple(_page(record) for record in reading.records("pages")),
        turned=tuple(_turned(record) for record in reading.records("turned")),
        opened=tuple(_opened(record) for record in reading.records("opened")),
    )


@dataclass(frozen=True, slots=True)
class _Record:
    """One JSON object, the file, and the place where it stands there: empty, or ending in a full stop."""

    entries: Mapping[str, Any]
    subject: str
    place: str

    def refuse(self, key: str, allowed: str) -> NoReturn:
        found = shown(self.entries[key]) if key in self.entries else "no such field"
        raise ReadingError(f"{self.subject}: {self.place}{key}: found {found}; {allowed} is allowed.", HINT)

    def text(self, key: str) -> str:
        value = self.entries.get(key)
        if not isinstance(value, str) or not value:
            self.refuse(key, "text")
        return value

    def text_or_none(self, key: str) -> str | None:
        self._must_have(key, "text or null")
        return None if self.entries[key] is None else self.text(key)

    def optional_text(self, key: str) -> str | None:
        return None if self.entries.get(key) is None else self.text(key)

    def number(self, key: str) -> int:
        value = self.entries.get(key)
        if not _is_count(value):
            self.refuse(key, "a whole number from 1")
        return value

    def number_or_none(self, key: str) -> int | None:
        self._must_have(key, "a whole number from 1 or null")
        return None if self.entries[key] is None else self.number(key)

    def word(self, key: str, words: type[Word]) -> Word:
        value = self.entries.get(key)
        if value not in list(words):
            self.refuse(key, "one of " + ", ".join(words))
        return words(value)

    def texts(self, key: str) -> tuple[str, ...]:
        value = self.entries.get(key)
        if not isinstance(value, list) or not all(isinstance(text, str) for text in value):
            self.refuse(key, "a list of texts")
        return tuple(value)

    def numbers_or_none(self, key: str) -> tuple[int, ...] | None:
        self._must_have(key, "a list of whole numbers from 1 or null")
        value = self.entries[key]
        if value is None:
            return None
        if not isinstance(value, list) or not all(map(_is_count, value)):
            self.refuse(key, "a list of whole numbers from 1 or null")
        return tuple(value)

    def records(self, key: str) -> Iterator[_Record]:
        values = self.entries.get(key)
        if not isinstance(values, list):
            self.refuse(key, "a list of objects")
        for index, value in enumerate(values):
            place = f"{self.place}{key}[{index}]"
            if not isinstance(value, dict):
                raise ReadingError(f"{self.subject}: {place}: found {shown(value)}; an object is allowed.", HINT)
            yield _Record(value, self.subject, place + ".")

    def _must_have(self, key: str, allowed: str) -> None:
        if key not in self.entries:
            self.refuse(key, allowed)


def _page(record: _Record) -> PageReading:
    outcome, reason = _outcome(record)
    page = PageReading(
        source=record.text("source"),
        source_page=record.number_or_none("source_page"),
        kit=record.text_or_none("kit"),
        sheet=record.text_or_none("sheet"),
        taster=record.number_or_none("taster"),
        role=record.text_or_none("role"),
        outcome=outcome,
        reason=reason,
        marks=_marks(record),
        remarks=record.texts("remarks"),
    )
    if outcome in (Outcome.READ, Outcome.REPEAT, Outcome.CONFLICT):
        _check_sheet(record, page)
    return page


def _check_sheet(record: _Record, page: PageReading) -> None:
    """Refuse a sheet id that is not its kit's, taster's and role's: it would be credited to somebody else."""
    if page.role not in ROLE_DIGITS:
        record.refuse("role", "one of " + ", ".join(ROLE_DIGITS))
    kit, taster = record.text("kit"), record.number("taster")
    sheet = sheet_id(kit, taster, ROLE_DIGITS[page.role])
    if page.sheet != sheet:
        record.refuse("sheet", f"{sheet}, as its kit, taster and role say,")


def _marks(record: _Record) -> tuple[Mark, ...]:
    marks: dict[tuple[str, str], Mark] = {}
    for entry in record.records("marks"):
        by = entry.optional_text("by")
        if by not in (None, "person"):
            entry.refuse("by", '"person" or no such field')
        mark = shared_mark(
            entry.text("field"), entry.text("option"), entry.word("state", State), by, entry.optional_text("reason")
        )
        if (mark.field, mark.option) in marks:
            entry.refuse("option", f"each option of {mark.field} once")
        marks[mark.field, mark.option] = mark
    return tuple(marks.values())


def _turned(record: _Record) -> TurnedReading:
    outcome, reason = _outcome(record)
    is_told = outcome in (Outcome.READ, Outcome.REPEAT)
    order = record.numbers_or_none("order")
    by = record.optional_text("by")
    if by not in (None, "person"):
        record.refuse("by", '"person" or no such field')
    if is_told and order is None:
        record.refuse("order", "a list of coaster numbers, in a row that was read,")
    return TurnedReading(
        source=record.text("source"),
        source_page=record.number_or_none("source_page"),
        kit=record.text("kit") if is_told else record.text_or_none("kit"),
        taster=record.number("taster") if is_told else record.number_or_none("taster"),
        outcome=outcome,
        reason=reason,
        order=order,
        by=by,
    )


def _opened(record: _Record) -> OpenedReading:
    # Of an entry that says nothing of its outcome FORMATS has it that it was read.
    outcome, reason = _outcome(record) if "outcome" in record.entries else (Outcome.READ, None)
    is_told = outcome in (Outcome.READ, Outcome.REPEAT)
    places = record.entries.get("places")
    if (is_told or places is not None) and (not isinstance(places, dict) or not all(map(_is_count, places.values()))):
        record.refuse("places", "an object of place letters and coaster numbers")
    return OpenedReading(
        source=record.text("source"),
        source_page=record.number_or_none("source_page"),
        kit=record.text("kit"),
        taster=record.number("taster"),
        outcome=outcome,
        reason=reason,
        places=dict(places) if places is not None else None,
        salt=record.text("salt") if is_told else record.optional_text("salt"),
    )


def _outcome(record: _Record) -> tuple[Outcome, str | None]:
    outcome = record.word("outcome", Outcome)
    if outcome in (Outcome.READ, Outcome.REPEAT):
        return outcome, record.text_or_none("reason")
    return outcome, record.text("reason")


def _is_count(value: object) -> TypeGuard[int]:
    return isinstance(value, int) and not isinstance(value, bool) and value >= 1
