"""Sealed keys: a page for each taster that tells the host how to set the glasses back, folded until then.

The sheet folds in thirds, bottom third first, then top third over it, then once across. The key stands on the left half
of the bottom third, in words for the host and in a code for the reader of an opened sheet; the scramble covers the rest
of that third and both others, so that whatever lies against the key is scrambled, characters against characters and
modules against modules, and the last fold puts more plies where the thirds alone leave one. It keeps out an accidental
glance, no more.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import replace

from kit.chance_source import ChanceSource
from kit.codes import ALPHABET
from kit.drawing import BLACK, GRAY, Element, Modules, Page, Rule, Text
from kit.forms.design import Design, load_design
from kit.forms.frame import Area, Frame, frame, frame_elements, sheet_elements
from kit.key_code import KEY_CODE_MODULES, key_code_matrix
from kit.keys import OpenedKey
from kit.paper import PAPERS
from kit.record import Kit, opened_keys
from kit.sheet_layout import SheetLayout, Square
from kit.sheets import Sheet, sheet_layout, sheet_names
from kit.wording import Wording, load_wording

KEYS_PDF = "keys.pdf"

_CAPITAL_MM = 4.6
"""Height of the scramble's characters."""
_REACH_MM = 4.0
"""From a character's middle to its farthest corner, so that none comes near edge marks, folds and words."""
_BEYOND_MODULES = 3
"""How far a scrambled code reaches beyond the key's on all sides: a fold may lie 2 mm off."""


def key_sheets(kit: Kit, chance: ChanceSource, opened: Iterable[OpenedKey] | None = None) -> Iterator[Sheet]:
    """Yield a sheet for each of the keys, all of the kit if none are given.

    `chance` draws the scramble, which has nothing to do with the key.
    """
    words, design = load_wording(kit.session.language), load_design("key")
    place = frame(PAPERS[kit.session.paper])
    guide = _guide_lines(kit, words)
    common = (
        *frame_elements(place, words("key.heading"), words, marking=False),
        *_guide(place, guide, design),
        *_fold_lines(place, words, design),
    )
    for key in opened_keys(kit) if opened is None else opened:
        own = (
            *sheet_elements(place, sheet_names(kit, key.taster, "key", words), words),
            *_key(_key_area(place, design), key, words, design, is_twin=kit.session.shuffle == "twin"),
            _code(place, key, design),
            *_scramble(place, key.taster, chance, design, guide_lines=len(guide)),
        )
        yield Sheet(Page(place.paper, "key", common, own), key_layout(kit, key.taster))


def key_layout(kit: Kit, taster: int) -> SheetLayout:
    """Return the layout of a taster's key sheet; it says where the key's code stands, and nothing of the key."""
    place = frame(PAPERS[kit.session.paper])
    layout = sheet_layout(kit, taster, "key", place, KEYS_PDF, taster, None)
    return replace(layout, key_code=_code_square(place, load_design("key")))


def _guide_lines(kit: Kit, words: Wording) -> tuple[str, ...]:
    """Say how to fold it and what to do by it: by post to the taster, who has vials, else to the host at the table."""
    if kit.session.shuffle == "twin":
        return words.lines("key.guide_twin")
    return *words.lines("key.guide", moves=2 * kit.session.glasses), *words.lines(f"key.guide_{kit.session.keys}")


def _guide(place: Frame, lines: tuple[str, ...], design: Design) -> list[Element]:
    # In the right column: what comes to lie upon the key must be scramble.
    left, pitch = _key_area(place, design).right + 6.0, _guide_pitch(place, design, len(lines))
    return [
        Text(left, place.body.top + 4.0 + pitch * line, text, design.pt("guide")) for line, text in enumerate(lines)
    ]


def _guide_pitch(place: Frame, design: Design, lines: int) -> float:
    """Return the pitch of the guide's lines, closer where there are so many that they would reach the fold."""
    room = place.paper.height_mm / 3 - 6.0 - (place.body.top + 4.0)
    return min(design.mm("guide_pitch"), room / (lines - 1))


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


def _key(area: Area, opened: OpenedKey, words: Wording, design: Design, *, is_twin: bool) -> list[Element]:
    pitch = min(design.mm("row_pitch"), (area.height - 6.0) / len(opened.places))
    row = _vial if is_twin else _moves
    elements: list[Element] = []
    for at in range(len(opened.places)):
        elements += row(area.left, area.top + at * pitch + 4.0, at, opened, words, design)
    elements.append(
        Text(area.left + 2.0, area.bottom - 2.0, words("key.salt", salt=opened.salt), design.pt("small"), gray=GRAY)
    )
    return elements


def _code_square(place: Frame, design: Design) -> Square:
    area = _key_area(place, design)
    return Square(0, area.left + design.mm("code_x"), area.top, KEY_CODE_MODULES * design.mm("code_module"))


def _code(place: Frame, opened: OpenedKey, design: Design) -> Modules:
    square = _code_square(place, design)
    return Modules(square.x_mm, square.y_mm, square.side_mm, key_code_matrix(opened))


def _moves(left: float, y: float, at: int, opened: OpenedKey, words: Wording, design: Design) -> list[Element]:
    """Draw two of the host's moves, each of n: a glass that is lifted off, and a place that is set again.

    All glasses are lifted and all set back, in one order of coasters and one of places, so that neither the time nor
    the sound of it tells how much was changed.
    """
    place, number = list(opened.places.items())[at]
    lifting, setting = at + 1, at + 1 + len(opened.places)
    return [
        Text(left + 4.0, y, str(lifting), design.pt("guide"), "semibold", "right"),
        Text(left + 6.0, y, words("key.lift_off", coaster=lifting), design.pt("guide"), gray=GRAY),
        Text(left + 32.0, y, str(setting), design.pt("guide"), "semibold", "right"),
        Text(left + 34.0, y, words("key.set_back_at"), design.pt("guide"), gray=GRAY),
        Text(left + 38.5, y, place, design.pt("key"), "semibold"),
        Text(left + 45.0, y, words("key.set_back"), design.pt("guide"), gray=GRAY),
        Text(left + 57.0, y, str(number), design.pt("key"), "semibold"),
    ]


def _vial(left: float, y: float, at: int, opened: OpenedKey, words: Wording, design: Design) -> list[Element]:
    place, number = list(opened.places.items())[at]
    return [
        Text(left + 2.0, y, words("key.place_twin"), design.pt("guide"), gray=GRAY),
        Text(left + 16.0, y, place, design.pt("key"), "semibold"),
        Text(left + 28.0, y, words("key.coaster_twin"), design.pt("guide"), gray=GRAY),
        Text(left + 57.0, y, str(number), design.pt("key"), "semibold"),
    ]


def _scramble(
    place: Frame, taster: int, chance: ChanceSource, design: Design, *, guide_lines: int
) -> Iterator[Element]:
    """Fill both other panels, and the bottom one beside the key, with characters of the key's own size and weight.

    Where a panel comes to lie upon the key's code, it has modules of the code's own size instead.
    """
    third = place.paper.height_mm / 3
    key = _key_area(place, design)
    below_guide = place.body.top + 4.0 + _guide_pitch(place, design, guide_lines) * guide_lines
    areas = (
        Area(place.body.left, place.body.top, key.right + 3.0, third - 2.0),
        Area(key.right + 3.0, below_guide, place.body.right, third - 6.0),
        Area(place.body.left, third + 2.0, place.body.right, 2 * third - 6.0),
        Area(key.right + 3.0, 2 * third + 3.0, place.body.right, place.body.bottom),
    )
    codes = _scrambled_codes(place, taster, chance, design)
    yield from codes
    purpose = f"scramble {taster}"
    for area in areas:
        for x_mm, y_mm in _spread(area, design.mm("scramble_pitch")):
            number = int.from_bytes(chance.token(3, purpose), "big")
            x_mm = min(max(x_mm + (number >> 5) % 7 * 0.3 - 0.9, area.left + _REACH_MM), area.right - _REACH_MM)
            y_mm = min(max(y_mm + (number >> 9) % 7 * 0.3 - 0.9, area.top + _REACH_MM), area.bottom - _REACH_MM)
            turned_deg = float((number >> 12) % 360)
            if not any(_is_within(code, x_mm, y_mm) for code in codes):
                yield _turned_about_its_middle(x_mm, y_mm, ALPHABET[number & 31], turned_deg, design)


def _scrambled_codes(place: Frame, taster: int, chance: ChanceSource, design: Design) -> tuple[Modules, ...]:
    """Return modules that tell nothing, where the middle third and then the top third lie upon the key's code.

    A fold mirrors: what lies as far from it on the other side comes to lie upon the code.
    """
    code, module = _code_square(place, design), design.mm("code_module")
    fold = place.paper.height_mm * 2 / 3
    side, modules = code.side_mm + 2 * _BEYOND_MODULES * module, KEY_CODE_MODULES + 2 * _BEYOND_MODULES
    x_mm = code.x_mm - _BEYOND_MODULES * module
    below = code.y_mm - fold - _BEYOND_MODULES * module
    return tuple(
        Modules(x_mm, y_mm, side, _random_modules(modules, taster, chance)) for y_mm in (fold - below - side, below)
    )


def _random_modules(side: int, taster: int, chance: ChanceSource) -> tuple[tuple[bool, ...], ...]:
    octets = -(-side // 8)
    rows = (int.from_bytes(chance.token(octets, f"scrambled code {taster}"), "big") for _ in range(side))
    return tuple(tuple(bool(row >> column & 1) for column in range(side)) for row in rows)


def _is_within(code: Modules, x_mm: float, y_mm: float) -> bool:
    return code.x_mm < x_mm < code.x_mm + code.side_mm and code.y_mm < y_mm < code.y_mm + code.side_mm


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
