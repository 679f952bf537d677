"""Sealed keys: a page for each taster that tells the host how to set the glasses back, folded until then.

The sheet folds in thirds, bottom third first, then top third over it, then once across. The key stands on the left half
of the bottom third; the scramble covers the rest of that third and both others, so that whatever lies against the key
is scrambled, and the last fold puts more plies where the thirds alone leave one. It keeps out an accidental glance, no
more.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from kit.chance_source import ChanceSource
from kit.codes import ALPHABET
from kit.drawing import BLACK, GRAY, Element, Page, Rule, Text
from kit.forms.design import Design, load_design
from kit.forms.frame import Area, Frame, frame, frame_elements, sheet_elements
from kit.keys import OpenedKey
from kit.paper import PAPERS
from kit.record import Kit, opened_keys
from kit.sheets import Sheet, sheet_layout, sheet_names
from kit.wording import Wording, load_wording

KEYS_PDF = "keys.pdf"

_CAPITAL_MM = 4.6
"""Height of the scramble's characters."""
_REACH_MM = 4.0
"""From a character's middle to its farthest corner, so that none comes near edge marks, folds and words."""


def key_sheets(kit: Kit, chance: ChanceSource) -> Iterator[Sheet]:
    """Yield a key sheet for each taster; `chance` draws the scramble, which has nothing to do with the key."""
    words, design = load_wording(kit.session.language), load_design("key")
    place = frame(PAPERS[kit.session.paper])
    common = (
        *frame_elements(place, words("key.heading"), words, marking=False),
        *_guide(place, words, design),
        *_fold_lines(place, words, design),
    )
    for opened in opened_keys(kit):
        own = (
            *sheet_elements(place, sheet_names(kit, opened.taster, "key", words), words),
            *_key(_key_area(place, design), opened, words, design),
            *_scramble(place, opened.taster, chance, design),
        )
        yield Sheet(
            Page(place.paper, "key", common, own),
            sheet_layout(kit, opened.taster, "key", place, KEYS_PDF, opened.taster, None),
        )


def _guide(place: Frame, words: Wording, design: Design) -> list[Element]:
    # In the right column: what comes to lie upon the key must be scramble.
    left = _key_area(place, design).right + 6.0
    return [
        Text(left, place.body.top + 4.0 + 4.6 * line, text, design.pt("guide"))
        for line, text in enumerate(words.lines("key.guide"))
    ]


def _fold_lines(place: Frame, words: Wording, design: Design) -> list[Element]:
    elements: list[Element] = []
    for third, name in ((2, "key.first_fold"), (1, "key.second_fold")):
        y = place.paper.height_mm * third / 3
        elements.append(Rule(place.body.left, y, place.body.right, y, 0.2, GRAY, dash_mm=2.0))
        elements.append(Text(place.body.right, y - 1.2, words(name), design.pt("small"), align="right", gray=GRAY))
    return elements


def _key_area(place: Frame, design: Design) -> Area:
    # Folded, the top third's scramble, which begins below its header, must lie over every line of the key.
    inset = max(design.mm("key_inset_top"), place.body.top + 2.0)
    top = place.paper.height_mm * 2 / 3 + inset
    return Area(place.body.left, top, place.body.left + design.mm("key_width"), place.body.bottom)


def _key(area: Area, opened: OpenedKey, words: Wording, design: Design) -> list[Element]:
    pitch = min(design.mm("row_pitch"), (area.height - 6.0) / len(opened.places))
    elements: list[Element] = []
    for row, (place, number) in enumerate(opened.places.items()):
        y = area.top + row * pitch + 4.0
        elements += [
            Text(area.left + 4.0, y, words("key.place"), design.pt("guide"), gray=GRAY),
            Text(area.left + 18.0, y, place, design.pt("key"), "semibold"),
            Text(area.left + 30.0, y, words("key.coaster"), design.pt("guide"), gray=GRAY),
            Text(area.left + 62.0, y, str(number), design.pt("key"), "semibold"),
        ]
    elements.append(
        Text(area.left + 4.0, area.bottom - 2.0, words("key.salt", salt=opened.salt), design.pt("small"), gray=GRAY)
    )
    return elements


def _scramble(place: Frame, taster: int, chance: ChanceSource, design: Design) -> Iterator[Element]:
    """Fill both other panels, and the bottom one beside the key, with characters of the key's own size and weight."""
    third = place.paper.height_mm / 3
    key = _key_area(place, design)
    areas = (
        Area(place.body.left, place.body.top, key.right + 3.0, third - 2.0),
        Area(key.right + 3.0, place.body.top + 55.0, place.body.right, third - 6.0),
        Area(place.body.left, third + 2.0, place.body.right, 2 * third - 6.0),
        Area(key.right + 3.0, 2 * third + 3.0, place.body.right, place.body.bottom),
    )
    purpose = f"scramble {taster}"
    for area in areas:
        for x_mm, y_mm in _spread(area, design.mm("scramble_pitch")):
            number = int.from_bytes(chance.token(3, purpose), "big")
            turned_deg = float((number >> 12) % 360)
            yield _turned_about_its_middle(
                min(max(x_mm + (number >> 5) % 7 * 0.3 - 0.9, area.left + _REACH_MM), area.right - _REACH_MM),
                min(max(y_mm + (number >> 9) % 7 * 0.3 - 0.9, area.top + _REACH_MM), area.bottom - _REACH_MM),
                ALPHABET[number & 31],
                turned_deg,
                design,
            )


def _spread(area: Area, pitch_mm: float) -> Iterator[tuple[float, float]]:
    """Yield the middles of characters that fill an area evenly and stay inside it, however they are turned."""
    width, height = area.width - 2 * _REACH_MM, area.height - 2 * _REACH_MM
    columns, rows = int(width // pitch_mm), int(height // pitch_mm)
    for row in range(rows + 1):
        for column in range(columns + 1):
            yield (
                area.left + _REACH_MM + width * (column / columns if columns else 0.5),
                area.top + _REACH_MM + height * (row / rows if rows else 0.5),
            )


def _turned_about_its_middle(x_mm: float, y_mm: float, character: str, turned_deg: float, design: Design) -> Text:
    half_mm, turned = _CAPITAL_MM / 2, math.radians(turned_deg)
    return Text(
        x_mm - half_mm * math.sin(turned),
        y_mm + half_mm * math.cos(turned),
        character,
        design.pt("key"),
        "semibold",
        "centre",
        BLACK,
        turned_deg,
    )
