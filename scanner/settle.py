"""What a person decided about doubts and conflicts: read from an answers file, laid upon a pile of page readings.

An answers file is TOML. Each entry names a sheet, and either one box and its state, or the picture of the sheet whose
answers count where several pictures have different ones:

    [[settle]]
    sheet  = "K7Q4M2-0001-3"
    field  = "match.A"
    option = "3"
    state  = "marked"          # or "empty", or "withdrawn": taken back

    [[settle]]
    sheet = "K7Q4M2-0002-1"
    keep  = "scan-2.jpg"
    page  = 1                  # of that file; 1 if left out

What stood in a taster's row of turned coasters a person can say as well. That counts alone, whatever photographs, the
turned sheet or the sealed key say; `picture` and `page` name a photograph that does not tell whose row it is:

    [[settle]]
    row     = "K7Q4M2-0001"    # the kit, and the taster in four digits
    order   = [3, 1, 2]        # the coaster numbers from the row's left end
    picture = "row.jpg"        # may be left out
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from kit.errors import ReadingError
from kit.files import read_bounded
from kit.session import LEAST_GLASSES
from kit.session_rules import parse_toml
from scanner.reading import Mark, Outcome, PageReading, State, TurnedReading

PERSON = "person"
SETTLED_STATES = (State.MARKED, State.EMPTY, State.WITHDRAWN)
_BOX_KEYS, _KEEP_KEYS = {"sheet", "field", "option", "state"}, {"sheet", "keep", "page"}
_ROW_KEYS, _MAY_BE_ABSENT = {"row", "order", "picture", "page"}, {"page", "picture"}
_ROW = re.compile(r"([0-9A-HJKMNP-TV-Z]{6})-(\d{4})")
_ORDER_ALLOWED = "It must be a list of the coaster numbers 1 to 3, 4 or 5, each once."
_MOST_BYTES = 2_000_000
_TOML_NEEDED = "It must be a TOML file with [[settle]] entries."
READABLE = (Outcome.READ, Outcome.REPEAT, Outcome.CONFLICT)


@dataclass(frozen=True, slots=True)
class BoxAnswer:
    """A person's word on one box of a sheet."""

    sheet: str
    field: str
    option: str
    state: State


@dataclass(frozen=True, slots=True)
class KeepAnswer:
    """Which picture of a sheet counts."""

    sheet: str
    source: str
    source_page: int


@dataclass(frozen=True, slots=True)
class RowAnswer:
    """A person's word on what stood in a taster's row; `source` where it is about one photograph alone."""

    kit: str
    taster: int
    order: tuple[int, ...]
    source: str | None = None
    source_page: int = 1

    @property
    def sheet(self) -> str:
        """The name of the row, for people."""
        return f"{self.kit}-{self.taster:04d}"


Answer = BoxAnswer | KeepAnswer | RowAnswer


def settled(
    pages: Sequence[PageReading], answers: Iterable[Answer]
) -> tuple[tuple[PageReading, ...], tuple[Answer, ...]]:
    """Lay a person's answers upon the pages.

    Returns
    -------
    pages
        With the boxes named in the answers as the person says, in every picture of that sheet.
    unused
        The answers that no page has a sheet, a box or a picture for. Those about rows are `settled_rows`'s matter.
    """
    result = list(pages)
    unused: list[Answer] = []
    for answer in answers:
        if isinstance(answer, RowAnswer):
            continue
        states = _states(answer, result)
        touched = [
            place for place, page in enumerate(result) if page.outcome in READABLE and page.sheet == answer.sheet
        ]
        if not states or not touched:
            unused.append(answer)
        for place in touched:
            result[place] = replace(result[place], marks=tuple(_settled(mark, states) for mark in result[place].marks))
    return tuple(result), tuple(unused)


def settled_rows(
    rows: Sequence[TurnedReading], answers: Iterable[Answer]
) -> tuple[tuple[TurnedReading, ...], tuple[Answer, ...]]:
    """Lay a person's answers about rows upon the photographs of rows; return these, and the answers about no row."""
    result = list(rows)
    unused: list[Answer] = []
    for answer in answers:
        if not isinstance(answer, RowAnswer):
            continue
        touched = [place for place, row in enumerate(result) if _is_about(answer, row)]
        if not touched:
            unused.append(answer)
        for place in touched:
            result[place] = replace(
                result[place],
                kit=answer.kit,
                taster=answer.taster,
                outcome=Outcome.READ,
                reason=None,
                order=answer.order,
                by=PERSON,
            )
    return tuple(result), tuple(unused)


def load_answers(path: Path) -> tuple[Answer, ...]:
    """Read an answers file.

    Raises
    ------
    ReadingError
        If it cannot be read, or an entry is not one, with the entry's number and what is allowed.
    """
    try:
        entry, sentence = parse_toml(read_bounded(path, _MOST_BYTES).decode("utf-8"))
    except FileNotFoundError as error:
        raise ReadingError(f"{path}: there is no such file.", "Name the file with your answers.") from error
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or error
        raise ReadingError(f"{path}: it cannot be read ({reason}).", _TOML_NEEDED) from error
    if sentence is not None:
        raise ReadingError(f"{path}: it cannot be read ({sentence}).", _TOML_NEEDED)
    entries = entry.get("settle")
    if set(entry) != {"settle"} or not isinstance(entries, list) or not all(isinstance(one, dict) for one in entries):
        raise ReadingError(
            f"{path}: it holds something else than [[settle]] entries.", "`facedown read --help` shows one."
        )
    return tuple(_answer(one, f"{path}, entry {number}") for number, one in enumerate(entries, start=1))


def _answer(entry: dict[str, Any], place: str) -> Answer:
    allowed = _ROW_KEYS if "row" in entry else _KEEP_KEYS if "keep" in entry else _BOX_KEYS
    strangers, absent = set(entry) - allowed, allowed - set(entry) - _MAY_BE_ABSENT
    if strangers or absent:
        found = [f"unknown {key}" for key in sorted(strangers)] + [f"{key} is missing" for key in sorted(absent)]
        raise ReadingError(
            f"{place}: {', '.join(found)}.",
            "An entry has sheet, field, option and state, or sheet, keep and perhaps page, or row and order.",
        )
    for key, value in entry.items():
        wanted: type = {"page": int, "order": list}.get(key, str)
        if not isinstance(value, wanted) or isinstance(value, bool):
            kind = {int: "a whole number", list: "a list of coaster numbers"}.get(wanted, 'a text in "quotes"')
            raise ReadingError(f"{place}, {key}: found {value!r}.", f"It must be {kind}.")
    if "row" in entry:
        return _row_answer(entry, place)
    if "keep" in entry:
        return KeepAnswer(entry["sheet"], entry["keep"], entry.get("page", 1))
    if entry["state"] not in tuple(SETTLED_STATES):
        allowed_states = ", ".join(f'"{state}"' for state in SETTLED_STATES)
        raise ReadingError(f'{place}, state: found "{entry["state"]}".', f"Allowed are {allowed_states}.")
    return BoxAnswer(entry["sheet"], entry["field"], entry["option"], State(entry["state"]))


def _row_answer(entry: dict[str, Any], place: str) -> RowAnswer:
    name, order = _ROW.fullmatch(entry["row"]), entry["order"]
    if name is None:
        raise ReadingError(
            f'{place}, row: found "{entry["row"]}".', "It must be a kit and a taster in four digits, as K7Q4M2-0001."
        )
    if sorted(map(repr, order)) != list("12345"[: len(order)]) or len(order) < LEAST_GLASSES:
        raise ReadingError(f"{place}, order: found {order}.", _ORDER_ALLOWED)
    return RowAnswer(name[1], int(name[2]), tuple(order), entry.get("picture"), entry.get("page", 1))


def _is_about(answer: RowAnswer, row: TurnedReading) -> bool:
    if answer.source is None:
        return (row.kit, row.taster) == (answer.kit, answer.taster)
    return (row.source, row.source_page) == (answer.source, answer.source_page)


def _states(answer: BoxAnswer | KeepAnswer, pages: Sequence[PageReading]) -> dict[tuple[str, str], State]:
    """Return the states that an answer gives to boxes; none where the pages have no such box or picture."""
    for page in pages:
        if page.sheet != answer.sheet or page.outcome not in READABLE:
            continue
        if isinstance(answer, BoxAnswer):
            box = (answer.field, answer.option)
            if any((mark.field, mark.option) == box for mark in page.marks):
                return {box: answer.state}
        elif (page.source, page.source_page) == (answer.source, answer.source_page):
            return {
                (mark.field, mark.option): mark.state
                for mark in page.marks
                if mark.state is not State.DOUBTFUL and _differs(mark, answer.sheet, pages)
            }
    return {}


def _differs(mark: Mark, sheet: str, pages: Sequence[PageReading]) -> bool:
    return any(
        (other.field, other.option) == (mark.field, mark.option) and other.state is not mark.state
        for page in pages
        if page.sheet == sheet and page.outcome in READABLE
        for other in page.marks
    )


def _settled(mark: Mark, states: dict[tuple[str, str], State]) -> Mark:
    state = states.get((mark.field, mark.option))
    return mark if state is None else replace(mark, state=state, by=PERSON, reason=None)
