"""Sealed keys: a page for each taster that tells the host how to set the glasses back, folded until then.

The sheet folds in thirds, bottom third first, then top third over it, then once across. The key stands on the left half
of the bottom third; the scramble covers the rest of that third and both others, so that whatever lies against the key
is scrambled, and the last fold puts more plies where the thirds alone leave one. It keeps out an accidental glance, no
more.
"""

from __future__ import annotations

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
    top = place.paper.height_mm * 2 / 3 + design.mm("key_inset_top")
    return Area(place.body.left, top, place.body.left + design.mm("key_width"), place.body.bottom)


def _key(area: Area, opened: OpenedKey, words: Wording, design: Design) -> list[Element]:
    pitch = min(design.mm("row_pitch"), (area.height - 10.0) / len(opened.places))
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
    third, pitch = place.paper.height_mm / 3, design.mm("scramble_pitch")
    key = _key_area(place, design)
    areas = (
        Area(place.body.left, place.body.top, key.right + 3.0, third - 2.0),
        Area(key.right + 3.0, place.body.top + 50.0, place.body.right, third - 6.0),
        Area(place.body.left, third + 2.0, place.body.right, 2 * third - 6.0),
        Area(key.right + 3.0, 2 * third + 3.0, place.body.right, place.body.bottom),
    )
    purpose = f"scramble {taster}"
    for area in areas:
        for row in range(int(area.height // pitch)):
            for column in range(int(area.width // pitch)):
                number = int.from_bytes(chance.token(3, purpose), "big")
                yield Text(
                    area.left + (column + 0.5) * pitch + (number >> 5) % 7 * 0.3 - 0.9,
                    area.top + (row + 0.8) * pitch + (number >> 9) % 7 * 0.3 - 0.9,
                    ALPHABET[number & 31], design.pt("key"), "semibold", "centre", BLACK,
                    turned_deg=float((number >> 12) % 360),
                )
