"""What lies upon what on a drawn page, and what lies too near its edge: for all tests of layouts."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from kit.drawing import Element, Modules, Page, Rect, Rule, Stroke, Text
from kit.forms.frame import Area
from kit.sheet_layout import SheetLayout, WritingArea
from tests.kit.extents import grown, ink_of

MARGIN_MM = 7.0
"""Nothing nearer to the edge: DESIGN, Paper."""
QUIET_MODULES = 4
"""The quiet zone of a code in modules: ISO/IEC 18004."""
FIDUCIAL_QUIET_MODULES = 1
"""A tag of the family 36h11 needs one light module around its black border (the family's own definition, [memory])."""
CODE_MODULES, FIDUCIAL_MODULES = (21, 25), 8
"""Of codes versions 1 and 2 (ISO/IEC 18004): the sheet's, the key's."""
SCRAMBLED_CODE_MODULES = 31
"""On a key sheet: the key's code, and three modules more on each side."""
CLEAR_OF_A_BOX_MM = 0.5
"""What is printed keeps this far from any box, so that no print is taken for a mark. Our own figure."""
ROUNDING_MM = 1e-6

Thing = tuple[str, object, Area]


def outside(page: Page) -> list[Element]:
    """Return the elements with ink nearer than 7 mm to the edge."""
    return [
        element
        for element in (*page.common, *page.own)
        if (ink := ink_of(element)).left < MARGIN_MM
        or ink.top < MARGIN_MM
        or ink.right > page.paper.width_mm - MARGIN_MM
        or ink.bottom > page.paper.height_mm - MARGIN_MM
    ]


def collisions(page: Page, layout: SheetLayout | None = None) -> list[str]:
    """Return the pairs of things on a page that lie upon each other, quiet zones and clearances counted in.

    Allowed are: lines that meet lines, the pen's strokes in the drawn example, the scramble upon itself, what stands
    inside a drawn frame, and the words and lines of a writing area within it.
    """
    things = list(_things(page, layout))
    edges = np.array([(area.left, area.top, area.right, area.bottom) for _, _, area in things])
    left, top, right, bottom = (edges[:, side] for side in range(4))
    apart = (right[:, None] <= left + ROUNDING_MM) | (bottom[:, None] <= top + ROUNDING_MM)
    apart |= apart.T
    pairs = np.argwhere(np.triu(~apart, 1))
    return [
        f"{things[one][1]} and {things[other][1]}" for one, other in pairs if not _may_meet(things[one], things[other])
    ]


def is_scramble(element: Element) -> bool:
    """Tell whether an element is a character or a code of a key sheet's scramble."""
    if isinstance(element, Modules):
        return len(element.rows) == SCRAMBLED_CODE_MODULES
    # No other single character is centred on a page that is read back.
    return isinstance(element, Text) and element.align == "centre" and len(element.text) == 1


def _things(page: Page, layout: SheetLayout | None) -> Iterator[Thing]:
    """Yield everything drawn and every area kept clear as (kind, what it is, where)."""
    boxes = {(mark.x_mm, mark.y_mm) for mark in layout.marks} if layout else set()
    for element in (*page.common, *page.own):
        ink = ink_of(element)
        match element:
            case Modules():
                if is_scramble(element):
                    yield "scramble", element, ink
                elif len(element.rows) in CODE_MODULES:
                    yield "code", element, ink
                    quiet = QUIET_MODULES * element.side_mm / len(element.rows)
                    yield "clear", "a code's quiet zone", grown(ink, quiet)
                else:
                    quiet = FIDUCIAL_QUIET_MODULES * element.side_mm / FIDUCIAL_MODULES
                    yield "fiducial", element, ink
                    yield "clear", "a fiducial's quiet zone", grown(ink, quiet)
            case Rect() if (element.x_mm, element.y_mm) in boxes:
                yield "box", element, ink
                yield "clear", element, grown(ink, CLEAR_OF_A_BOX_MM)
            case Rect():
                yield ("frame" if element.fill is None else "rect"), element, ink
            case Rule():
                yield "line", element, ink
            case Stroke():
                yield "stroke", element, ink
            case Text():
                yield ("scramble" if layout and is_scramble(element) else "text"), element, ink
    for area in layout.writing if layout else ():
        yield "writing", area, Area(area.x_mm, area.y_mm, area.x_mm + area.w_mm, area.y_mm + area.h_mm)


def _may_meet(one: Thing, other: Thing) -> bool:
    kinds = {one[0], other[0]}
    if kinds in ({"line"}, {"stroke"}, {"stroke", "rect"}, {"stroke", "frame"}, {"scramble"}, {"clear"}):
        return True
    if "frame" in kinds:
        framed, inner = (one, other) if one[0] == "frame" else (other, one)
        assert isinstance(framed[1], Rect)
        return _is_inside(inner[2], grown(framed[2], ROUNDING_MM - framed[1].outline_mm))
    if "clear" in kinds:
        # What an area is kept clear for stands in its middle; quiet zones may share their white.
        clear, ink = (one, other) if one[0] == "clear" else (other, one)
        return _middle(clear[2]) == pytest.approx(_middle(ink[2]), abs=1e-6)
    if "writing" in kinds:
        writing, ink = (one, other) if one[0] == "writing" else (other, one)
        is_own = ink[0] in ("text", "line") and isinstance(writing[1], WritingArea)
        return is_own and _is_inside(ink[2], grown(writing[2], 0.1))
    return False


def _middle(area: Area) -> tuple[float, float]:
    return (area.left + area.right) / 2, (area.top + area.bottom) / 2


def _is_inside(inner: Area, outer: Area) -> bool:
    return (
        inner.left >= outer.left
        and inner.right <= outer.right
        and inner.top >= outer.top
        and inner.bottom <= outer.bottom
    )
