"""Reads `layout.json` a sheet at a time: a list that many sheets share is parsed once, and is one object in all.

For a thousand tasters the file holds 70 megabytes, though sheets of one kind differ in their numbers alone.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from hashlib import sha256
from pathlib import Path
from sys import intern
from typing import Any

from kit.json_text import JsonText
from kit.sheet_layout import FORMAT, KitLayout, SheetLayout, from_json

_MOST_ALIKE = 32
"""So many lists of one name are known again; a kit has five kinds of sheets."""

_LISTS = ("marks", "writing", "fiducials", "codes", "edge_marks")
_NO_SHEET = {
    **dict.fromkeys(("pdf", "sheet", "role"), ""),
    **dict.fromkeys(("pdf_page", "width_mm", "height_mm", "taster", "edge_mark_mm"), 1),
    **dict.fromkeys(_LISTS, ()),
}


def read_layout(path: Path) -> tuple[KitLayout, str]:
    """Return a kit's layout, and its digest as `kit.layout_file.write_layout` makes it.

    Raises
    ------
    OSError, KeyError, TypeError, ValueError, RecursionError
        Where the file is no such layout, or a sheet in it is longer than is ever written. What is wrong is not said:
        that takes the file as a whole.
    """
    entries: dict[str, Any] = {}
    canonical: dict[str, Iterable[str]] = {}
    sheets = _Sheets()
    with path.open(encoding="utf-8", newline="") as file:
        text = JsonText(file)
        for name in text.members():
            if name in entries:
                raise ValueError(f"{name} stands there twice")
            if name == "pages":
                entries[name], canonical[name] = [], sheets.canonical
                for _ in text.elements():
                    sheets.read(text)
            else:
                is_list = name in ("coasters", "row_ends")
                entries[name] = [text.value() for _ in text.elements()] if is_list else text.value()
                canonical[name] = (_canonical(entries[name]),)
        text.end()
    return replace(from_json(entries), pages=tuple(sheets.found)), _digest(canonical)


@dataclass(frozen=True, slots=True)
class _Alike:
    """A list of a sheet: as the file spells it, its members, and its canonical form after its name."""

    text: str
    members: tuple[Any, ...]
    canonical: str


class _Sheets:
    """The sheets found, and the canonical form of them all in pieces."""

    def __init__(self) -> None:
        self.found: list[SheetLayout] = []
        self.canonical = ["[", "]"]
        self._known: dict[str, list[_Alike]] = {name: [] for name in _LISTS}

    def read(self, text: JsonText) -> None:
        """Take the next sheet from the text."""
        entry: dict[str, Any] = {}
        lists: dict[str, _Alike] = {}
        for name in text.members():
            if name in _LISTS:
                lists[name] = self._list(name, text)
            else:
                entry[name] = text.value()
        bare = _sheet(entry | dict.fromkeys(lists, ()))
        members: dict[str, Any] = {name: one.members for name, one in lists.items()}
        self.found.append(replace(bare, **members))
        pieces = {name: intern(_member(name, value)) for name, value in entry.items()}
        pieces |= {name: one.canonical for name, one in lists.items()}
        self.canonical[-1:] = ("," if self.found[1:] else "", *_in_braces(pieces), "]")

    def _list(self, name: str, text: JsonText) -> _Alike:
        known = self._known[name]
        found = next((one for one in known if text.takes(one.text)), None)
        if found is None:
            spelled, value = text.spelled_value()
            found = _Alike(spelled, getattr(_sheet({**_NO_SHEET, name: value}), name), _member(name, value))
            # A list ends with its bracket: a text that begins like a known one has the same list there.
            if isinstance(value, list) and len(known) < _MOST_ALIKE:
                known.append(found)
        return found


def _sheet(entry: dict[str, Any]) -> SheetLayout:
    [sheet] = from_json({"format": FORMAT, "kit": "", "pages": [entry], "coasters": (), "row_ends": ()}).pages
    return sheet


def _digest(members: dict[str, Iterable[str]]) -> str:
    digest = sha256(b"{")
    for number, (name, pieces) in enumerate(sorted(members.items())):
        digest.update(f"{',' if number else ''}{_canonical(name)}:".encode())
        for piece in pieces:
            digest.update(piece.encode())
    digest.update(b"}")
    return digest.hexdigest()


def _in_braces(members: dict[str, str]) -> Iterator[str]:
    """Yield an object in pieces, its members in canonical order."""
    for number, (_, member) in enumerate(sorted(members.items())):
        yield "," if number else "{"
        yield member
    yield "}" if members else "{}"


def _member(name: str, value: object) -> str:
    return f"{_canonical(name)}:{_canonical(value)}"


def _canonical(value: object) -> str:
    return json.dumps(value, ensure_ascii=True, sort_keys=True, separators=(",", ":"))
