"""Writes `layout.json` page by page: for a thousand tasters it holds 70 megabytes."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from hashlib import sha256
from itertools import chain
from typing import Any, BinaryIO

from kit.coasters import label_places, row_end_places
from kit.key_sheets import key_layout
from kit.record import Kit
from kit.sheet_layout import FORMAT, SheetLayout, entry_to_json, label_to_json, page_entries
from kit.sheets import form_layouts


def write_layout(kit: Kit, file: BinaryIO | None) -> str:
    """Write the layout of a kit; return its digest, in hexadecimal digits. Without a file only the digest is made.

    The bytes are those of `sheet_layout.to_json`, spelled without blanks. The digest, which the kit's record keeps, is
    SHA-256 over the same object in canonical form: keys sorted, ASCII only.
    """
    spelled, canonical = _Spelling(canonical=False), _Spelling(canonical=True)
    digest = sha256()
    has_coasters = kit.session.shuffle != "twin"
    coasters = [label_to_json("coaster", label) for label in label_places(kit)] if has_coasters else []
    row_ends = (label_to_json("taster", label) for label in row_end_places(kit)) if has_coasters else ()

    def write(text: str, canonical_text: str) -> None:
        if file is not None:
            file.write(text.encode())
        digest.update(canonical_text.encode())

    names = f'"format":{spelled.text(FORMAT)},"kit":{spelled.text(kit.id)},"pages":['
    write("{" + names, f'{{"coasters":{canonical.text(coasters)},{names}')
    for comma, page in _with_commas(chain(form_layouts(kit), key_layouts(kit))):
        write(comma + spelled.page(page), comma + canonical.page(page))
    write(f'],"coasters":{spelled.text(coasters)},"row_ends":[', '],"row_ends":[')
    for comma, row_end in _with_commas(row_ends):
        write(comma + spelled.text(row_end), comma + canonical.text(row_end))
    write("]}\n", "]}")
    return digest.hexdigest()


def key_layouts(kit: Kit) -> Iterator[SheetLayout]:
    """Yield the layout of each key sheet: no marks, and nothing that tells the key."""
    for taster in range(1, len(kit.sealed) + 1):
        yield key_layout(kit, taster)


class _Spelling:
    """Spells parts of the layout as JSON; what all sheets of one kind share is spelled once."""

    def __init__(self, *, canonical: bool) -> None:
        self._canonical = canonical
        self._shared: dict[int, tuple[object, str]] = {}

    def page(self, page: SheetLayout) -> str:
        """Return one page."""
        entries = page_entries(page).items()
        members = (
            f'"{name}":{self._entry(entry)}' for name, entry in (sorted(entries) if self._canonical else entries)
        )
        return "{" + ",".join(members) + "}"

    def text(self, entry: Any) -> str:
        """Return anything else."""
        canonical = self._canonical
        return json.dumps(entry, ensure_ascii=canonical, sort_keys=canonical, separators=(",", ":"))

    def _entry(self, entry: Any) -> str:
        if not isinstance(entry, tuple):
            return self.text(entry_to_json(entry))
        # Known by identity, because to compare lists takes as long as to spell them; kept, so that no other list is
        # given that identity.
        if id(entry) not in self._shared:
            self._shared[id(entry)] = entry, self.text(entry_to_json(entry))
        return self._shared[id(entry)][1]


def _with_commas(entries: Iterable[Any]) -> Iterator[tuple[str, Any]]:
    """Yield each with what separates it from the one before."""
    for number, entry in enumerate(entries):
        yield "," if number else "", entry
