"""Everything that is printed for one taster after the other, so that a kit of any size is never in memory whole."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby

from kit.chance_source import ChanceSource
from kit.coasters import COASTERS_PDF, coaster_sheets
from kit.drawing import Page
from kit.key_sheets import KEYS_PDF, key_sheets
from kit.keys import OpenedKey
from kit.letters import LETTERS_PDF, letter_pages
from kit.packing import PACKING_PDF, packing_pages
from kit.record import Kit
from kit.sheets import FORMS_PDF, form_sheets
from kit.vials import VIALS_PDF, vial_pages

SHOW_KEYS = (KEYS_PDF, PACKING_PDF)
"""The papers that show a key."""


@dataclass(frozen=True, slots=True)
class TasterPapers:
    """One taster's pages, by the PDF that they go into."""

    taster: int
    pages: dict[str, tuple[Page, ...]]


def papers(kit: Kit, opened: Iterable[OpenedKey], chance: ChanceSource) -> Iterator[TasterPapers]:
    """Yield each taster's papers. Those that show a key are printed for the keys given, in taster order.

    Raises
    ------
    FacedownError
        If the forms, or the letter, do not fit the paper.
    """
    keys = {key.taster: key for key in opened}
    secret: dict[str, Iterator[Page]] = {
        KEYS_PDF: (sheet.page for sheet in key_sheets(kit, chance, keys.values())),
        PACKING_PDF: packing_pages(kit, keys.values()),
    }
    open_to_all: dict[str, Iterator[Page]] = {
        COASTERS_PDF: coaster_sheets(kit) if has_coasters(kit) else iter(()),
        VIALS_PDF: vial_pages(kit),
        LETTERS_PDF: letter_pages(kit),
    }
    for taster, sheets in groupby(form_sheets(kit), lambda sheet: sheet.layout.taster):
        pages = {FORMS_PDF: tuple(sheet.page for sheet in sheets)}
        sources = open_to_all | secret if taster in keys else open_to_all
        pages |= {name: (page,) for name, source in sources.items() if (page := next(source, None)) is not None}
        yield TasterPapers(taster, pages)


def has_coasters(kit: Kit) -> bool:
    """Tell whether coasters are printed for the kit: vials need none."""
    return kit.session.shuffle != "twin"
