"""A dozen kits on file at once whose ids, tasters and codes are so alike that a slip could land on a neighbour."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace
from functools import cache

from kit.build import build_kit
from kit.chance_source import SeededChance
from kit.codes import ALPHABET, ROLE_DIGITS, Code, CodeKind, encode
from kit.paper import PAPERS
from kit.record import Kit
from kit.session import session_from_toml
from kit.sheet_layout import KitLayout, SheetLayout
from kit.sheets import Sheet, form_sheets
from scanner.kits import KitOnFile, from_kit
from scanner.rehearsal.arrays import Gray
from scanner.rehearsal.prints import printed

PX_PER_MM = 10.0
TASTERS = 36
FORMS = tuple(itertools.product(PAPERS, (3, 4, 5), ("host", "hand")))
LAST = "0Z123456789A"
"""The last characters of the kits' ids, 0 and Z among them: the check value takes one for the other."""
UNGIVEN = "B"


class _Neighbours(SeededChance):
    """Draws the kits' ids in a row, all else from the seed."""

    def __init__(self, seed: int, last: str) -> None:
        super().__init__(seed)
        self._last = last

    def below(self, limit: int, purpose: str) -> int:
        if purpose != "kit":
            return super().below(limit, purpose)
        number = 0
        for character in "K7Q4M" + self._last:
            number = 32 * number + ALPHABET.index(character)
        return number


@dataclass(frozen=True, slots=True)
class Printed:
    """A sheet, whether the kits on file have it, and its code's text."""

    sheet: Sheet
    text: str
    on_file: bool

    @property
    def layout(self) -> SheetLayout:
        return self.sheet.layout

    def page(self) -> Gray:
        """Return the page as it comes out of the printer, PX_PER_MM."""
        [(_, page)] = printed([self.sheet], PX_PER_MM)
        return page


@cache
def on_file() -> dict[str, KitOnFile]:
    """Return the kits that the reader is given, by id."""
    files = {}
    for kit, some in _given():
        files[kit.id] = from_kit(kit, KitLayout(kit.id, tuple(sheet.layout for sheet in some)))
    return files


@cache
def sheets() -> tuple[Printed, ...]:
    """Return every sheet of the kits on file."""
    return tuple(sheet for _, some in _given() for sheet in some)


@cache
def strangers() -> tuple[Printed, ...]:
    """Return sheets that belong to no kit on file: of another run under a kit's id, and of a neighbour not given."""
    again = replace(_kit(4, LAST[4]), secret=b"another run's own")
    return (*_sheets(again, is_on_file=False), *_sheets(_kit(4, UNGIVEN), is_on_file=False))


@cache
def _given() -> tuple[tuple[Kit, tuple[Printed, ...]], ...]:
    kits = (_kit(which, last) for which, last in enumerate(LAST))
    return tuple((kit, _sheets(kit, is_on_file=True)) for kit in kits)


def _sheets(kit: Kit, *, is_on_file: bool) -> tuple[Printed, ...]:
    return tuple(
        Printed(
            sheet,
            encode(Code(CodeKind.SHEET, kit.id, sheet.layout.taster, ROLE_DIGITS[sheet.layout.role]), kit.secret),
            is_on_file,
        )
        for sheet in form_sheets(kit)
    )


def _kit(which: int, last: str) -> Kit:
    paper, glasses, shuffle = FORMS[which]
    pours = "".join(f'[[pours]]\nname = "Pour {n}"\n' for n in range(glasses))
    tasters = "".join(f'[[tasters]]\nname = "Ines the {n}th"\n' for n in range(1, TASTERS + 1))
    session = session_from_toml(
        f'title = "Saltmarsh"\ndate = 2026-11-25\ndrink = "sake"\nshuffle = "{shuffle}"\npaper = "{paper}"\n'
        f"{pours}{tasters}",
        "attribution",
    )
    return build_kit(session, _Neighbours(which, last))
