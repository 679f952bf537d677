"""A reading: what the scanner saw on every page image, as plain values (FORMATS, section 4)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from typing import Any

FORMAT = "facedown-reading/1"


class State(StrEnum):
    """What is known of one box; `doubtful` means that a person must look."""

    EMPTY = "empty"
    MARKED = "marked"
    WITHDRAWN = "withdrawn"
    DOUBTFUL = "doubtful"


class Outcome(StrEnum):
    """What became of one page image."""

    READ = "read"
    REPEAT = "repeat"
    CONFLICT = "conflict"
    FOREIGN = "foreign"
    UNREADABLE = "unreadable"


@dataclass(frozen=True, slots=True)
class Mark:
    """One box of a sheet; `by` is "person" where a person settled it."""

    field: str
    option: str
    state: State
    by: str | None = None
    reason: str | None = None


@lru_cache(maxsize=2**13)
def shared_mark(
    field: str, option: str, state: State = State.EMPTY, by: str | None = None, reason: str | None = None
) -> Mark:
    """Return a mark that is one object wherever it is equal: the sheets of a pile have the same few hundred boxes."""
    return Mark(field, option, state, by, reason)


@dataclass(frozen=True, slots=True)
class PageReading:
    """One page image that is neither a row of coasters nor an opened key sheet."""

    source: str
    source_page: int | None
    kit: str | None
    sheet: str | None
    taster: int | None
    role: str | None
    outcome: Outcome
    reason: str | None
    marks: tuple[Mark, ...] = ()
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class TurnedReading:
    """A photograph of turned coasters; `order` from the row's left end, None where refused.

    `by` is "person" where a person said what stood in the row.
    """

    source: str
    source_page: int | None
    kit: str | None
    taster: int | None
    outcome: Outcome
    reason: str | None
    order: tuple[int, ...] | None
    by: str | None = None


@dataclass(frozen=True, slots=True)
class OpenedReading:
    """An opened key sheet: the key, place letter to coaster number, and its salt; None where refused.

    It is `read` only if it is the key that was sealed.
    """

    source: str
    source_page: int | None
    kit: str
    taster: int
    outcome: Outcome
    reason: str | None
    places: Mapping[str, int] | None
    salt: str | None


PictureReading = PageReading | TurnedReading | OpenedReading
"""What one page image gave."""


@dataclass(frozen=True, slots=True)
class Reading:
    """All that was read from one pile."""

    pages: tuple[PageReading, ...]
    turned: tuple[TurnedReading, ...] = ()
    opened: tuple[OpenedReading, ...] = ()


def to_json(reading: Reading) -> dict[str, Any]:
    """Return the reading as the JSON object of FORMATS section 4."""
    return {
        "format": FORMAT,
        "pages": [_page_to_json(page) for page in reading.pages],
        "turned": [_row_to_json(row) for row in reading.turned],
        "opened": [_opened_to_json(sheet) for sheet in reading.opened],
    }


def _page_to_json(page: PageReading) -> dict[str, Any]:
    return {
        "source": page.source,
        "source_page": page.source_page,
        "kit": page.kit,
        "sheet": page.sheet,
        "taster": page.taster,
        "role": page.role,
        "outcome": page.outcome.value,
        "reason": page.reason,
        "marks": [_mark_to_json(mark) for mark in page.marks],
        "remarks": list(page.remarks),
    }


def _row_to_json(row: TurnedReading) -> dict[str, Any]:
    entry: dict[str, Any] = {
        "source": row.source,
        "source_page": row.source_page,
        "kit": row.kit,
        "taster": row.taster,
        "outcome": row.outcome.value,
        "reason": row.reason,
        "order": None if row.order is None else list(row.order),
    }
    if row.by is not None:
        entry["by"] = row.by
    return entry


def _opened_to_json(sheet: OpenedReading) -> dict[str, Any]:
    return {
        "source": sheet.source,
        "source_page": sheet.source_page,
        "kit": sheet.kit,
        "taster": sheet.taster,
        "outcome": sheet.outcome.value,
        "reason": sheet.reason,
        "places": None if sheet.places is None else dict(sheet.places),
        "salt": sheet.salt,
    }


def _mark_to_json(mark: Mark) -> dict[str, Any]:
    entry: dict[str, Any] = {"field": mark.field, "option": mark.option, "state": mark.state.value}
    if mark.by is not None:
        entry["by"] = mark.by
    if mark.reason is not None:
        entry["reason"] = mark.reason
    return entry
