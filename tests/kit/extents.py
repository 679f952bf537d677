"""How far the ink of a drawn element reaches, worked out without the printing library: by Pillow's own font reader."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from importlib.resources import as_file, files

from PIL import ImageFont

from kit.drawing import Element, Modules, Rect, Rule, Stroke, Text
from kit.fonts import FACE_FILES, FALLBACK, FALLBACK_FILE, STROKES, runs
from kit.forms.frame import Area
from kit.paper import POINTS_PER_MM

_EM_PX = 1000


def ink_of(element: Element) -> Area:
    """Return the upright rectangle, mm, that holds all ink of an element."""
    match element:
        case Text():
            return _text(element)
        case Rule():
            half = element.width_mm / 2
            # Ends are cut square: ink reaches past the line only across it.
            dx, dy = (half, 0.0) if element.x1_mm == element.x2_mm else (0.0, half)
            return _around(((element.x1_mm, element.y1_mm), (element.x2_mm, element.y2_mm)), dx, dy)
        case Rect():
            return Area(element.x_mm, element.y_mm, element.x_mm + element.w_mm, element.y_mm + element.h_mm)
        case Modules():
            return Area(element.x_mm, element.y_mm, element.x_mm + element.side_mm, element.y_mm + element.side_mm)
        case Stroke():
            return _around(element.points_mm, element.width_mm / 2, element.width_mm / 2)


def grown(area: Area, by_mm: float) -> Area:
    """Return the area with a border added on all sides."""
    return Area(area.left - by_mm, area.top - by_mm, area.right + by_mm, area.bottom + by_mm)


@dataclass(frozen=True, slots=True)
class _Glyph:
    left: float
    top: float
    right: float
    bottom: float
    advance: float


def _text(text: Text) -> Area:
    """Return where the ink of a line of text lies; of a turned one, the rectangle round its turned rectangle."""
    mm_per_unit = text.size_pt / _EM_PX / POINTS_PER_MM
    pen, boxes = 0.0, []
    for name, run in runs(text.text, text.face):
        for character in run:
            glyph = _glyph(name.removeprefix("facedown-"), character)
            thicker = STROKES[text.face] * _EM_PX / 2 if name == FALLBACK else 0.0
            if glyph.right > glyph.left:
                left, top = pen + glyph.left - thicker, glyph.top - thicker
                boxes.append((left, top, pen + glyph.right + thicker, glyph.bottom + thicker))
            pen += glyph.advance
    if not boxes:
        return Area(text.x_mm, text.y_mm, text.x_mm, text.y_mm)
    shift = {"left": 0.0, "centre": pen / 2, "right": pen}[text.align]
    left, right = min(box[0] for box in boxes) - shift, max(box[2] for box in boxes) - shift
    top, bottom = min(box[1] for box in boxes), max(box[3] for box in boxes)
    turned = math.radians(text.turned_deg)
    corners = [
        (
            text.x_mm + (x * math.cos(turned) - y * math.sin(turned)) * mm_per_unit,
            text.y_mm + (x * math.sin(turned) + y * math.cos(turned)) * mm_per_unit,
        )
        for x in (left, right)
        for y in (top, bottom)
    ]
    return _around(corners, 0.0, 0.0)


def _around(points: Iterable[tuple[float, float]], dx_mm: float, dy_mm: float) -> Area:
    xs, ys = zip(*points, strict=True)
    return Area(min(xs) - dx_mm, min(ys) - dy_mm, max(xs) + dx_mm, max(ys) + dy_mm)


@cache
def _glyph(face: str, character: str) -> _Glyph:
    font = _font(face)
    left, top, right, bottom = font.getbbox(character, anchor="ls")
    return _Glyph(left, top, right, bottom, font.getlength(character))


@cache
def _font(face: str) -> ImageFont.FreeTypeFont:
    with as_file(files("templates") / "fonts" / FACE_FILES.get(face, FALLBACK_FILE)) as path:
        return ImageFont.truetype(str(path), _EM_PX, layout_engine=ImageFont.Layout.BASIC)
