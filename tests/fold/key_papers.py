"""Key sheets with known keys, as printed, and the glyphs that an attacker knows: which, and where they stand."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from kit.build import build_kit, chance_for
from kit.chance_source import SeededChance
from kit.drawing import BLACK, Element, Rect, Text
from kit.forms.frame import Area
from kit.key_code import key_text
from kit.key_sheets import key_layout, key_sheets
from kit.keys import OpenedKey
from kit.paper import Paper as PaperSize
from kit.pdf import render
from kit.record import Kit
from kit.session import Paper
from kit.sheets import Sheet
from tests.kit import samples
from tests.kit.collisions import is_scramble
from tests.kit.extents import ink_of
from tests.kit.paper_optics import Ink
from tests.kit.rendering import by_pdfium

DPI = 150
PX_PER_MM = DPI / 25.4
PLACES = "ABCDE"
_LARGE_MM = 30.0
"""No square of the frame is so wide; a black block that covers a key is."""

Order = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class KeyPaper:
    """A printed key sheet."""

    order: Order
    paper: PaperSize
    ink: Ink


def printed(order: Order, paper: Paper, seed: int, *, covered: bool = True) -> KeyPaper:
    """Print a key sheet; its scramble and its salt come of the seed, the order is as given.

    Not `covered`, it has no scramble and no black: what an attack must see, if it is one.
    """
    page = _sheet(order, paper, seed).page
    if not covered:
        page = replace(page, own=tuple(element for element in page.own if not _is_cover(element)))
    (picture,) = by_pdfium(render([page], "key"), DPI)
    return KeyPaper(order, page.paper, 1.0 - picture.astype(np.float64) / 255.0)


def code_of(order: Order, seed: int) -> str:
    """Return what the code of that key sheet says."""
    return key_text(_opened(order, seed))


def code_area(paper: Paper, glasses: int) -> Area:
    """Return where the key's code stands, mm."""
    code = key_layout(_kit(glasses, paper), 1).key_code
    assert code is not None
    return Area(code.x_mm, code.y_mm, code.x_mm + code.side_mm, code.y_mm + code.side_mm)


@cache
def digit_areas(glasses: int, paper: Paper) -> tuple[Area, ...]:
    """Return where the number of each place stands, mm: an area that holds any of the numbers."""
    inks = [_digits(order, paper) for order in _turns(glasses)]
    return tuple(
        Area(
            min(ink.left for ink in at_place),
            min(ink.top for ink in at_place),
            max(ink.right for ink in at_place),
            max(ink.bottom for ink in at_place),
        )
        for at_place in zip(*inks, strict=True)
    )


@cache
def glyphs(glasses: int, paper: Paper) -> tuple[tuple[Ink, ...], ...]:
    """Return the ink of each number at each place, all of one shape, with half a millimetre about the largest."""
    known: list[dict[int, Ink]] = [{} for _ in range(glasses)]
    areas = digit_areas(glasses, paper)
    sides = max(area.width for area in areas), max(area.height for area in areas)
    for order in _turns(glasses):
        ink = printed(order, paper, 0, covered=False).ink
        for place, (number, area) in enumerate(zip(order, areas, strict=True)):
            left, top = (round(PX_PER_MM * (edge - 0.5)) for edge in (area.left, area.top))
            width, height = (round(PX_PER_MM * (side + 1.0)) for side in sides)
            known[place][number] = ink[top : top + height, left : left + width]
    return tuple(tuple(place[number] for number in range(1, glasses + 1)) for place in known)


def _turns(glasses: int) -> list[Order]:
    """Return orders in which each number stands once at each place."""
    return [tuple((place + turn) % glasses + 1 for place in range(glasses)) for turn in range(glasses)]


def _digits(order: Order, paper: Paper) -> list[Area]:
    """Return the ink of each place's number: of the texts upright in the key's own size, what follows the place's."""
    key = [text for element in _sheet(order, paper, 0).page.own if (text := _key_sized(element))]
    areas = []
    for place, number in zip(PLACES, order, strict=False):
        at = next(at for at, text in enumerate(key) if text.text == place)
        areas.append(ink_of(next(text for text in key[at:] if text.text == str(number))))
    return areas


def _key_sized(element: Element) -> Text | None:
    is_large = isinstance(element, Text) and element.face == "semibold" and element.size_pt > 12
    return element if isinstance(element, Text) and is_large and not is_scramble(element) else None


def _is_cover(element: Element) -> bool:
    return is_scramble(element) or (isinstance(element, Rect) and element.fill == BLACK and element.w_mm > _LARGE_MM)


def _sheet(order: Order, paper: Paper, seed: int) -> Sheet:
    (sheet,) = key_sheets(_kit(len(order), paper), SeededChance(seed), [_opened(order, seed)])
    return sheet


def _opened(order: Order, seed: int) -> OpenedKey:
    salt = SeededChance(seed).token(16, "salt of a key paper")
    return OpenedKey(1, dict(zip(PLACES, order, strict=False)), salt.hex(), "")


@cache
def _kit(glasses: int, paper: Paper) -> Kit:
    session = samples.a_session(glasses, paper, names=("Ines",))
    return build_kit(session, chance_for(session))
