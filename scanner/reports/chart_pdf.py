"""Turns reportlab.graphics drawings into a PDF's operators: the shapes that reports use, in grays alone.

reportlab's own renderer draws onto its canvas, which keeps all pages until the last; reports are written as they come.

References
----------
.. [1] ISO 32000-1:2008, Document management – Portable document format: operators, annex A.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import cast

from reportlab.graphics.shapes import Circle, Drawing, Group, Line, Polygon, PolyLine, Rect, Shape, String, UserNode
from reportlab.lib.colors import Color, black

from kit.drawing import Face
from kit.fonts import FALLBACK, STROKES, runs, width_mm
from kit.paper import POINTS_PER_MM
from kit.pdf_file import number_text
from kit.pdf_fonts import RESOURCE_NAMES, coded

_ROUND = 4 / 3 * (math.sqrt(2) - 1)
"""How far a Bézier curve's control points lie towards the corner of the quarter circle that it follows."""
_ANCHORS = {"start": 0.0, "middle": 0.5, "end": 1.0}

Point = tuple[float, float]


def drawn(drawing: Drawing, left_pt: float, bottom_pt: float, characters: dict[str, set[str]]) -> Iterator[bytes]:
    """Yield the operators that show a drawing with its bottom left corner there; the state is left as it was.

    `characters` takes up what is shown of each font. A drawing that was shown must not be changed any more.

    Raises
    ------
    ValueError
        If it has a shape or a colour that reports are not made of.
    """
    operators, shown = _operators(drawing)
    for name, run in shown.items():
        characters.setdefault(name, set()).update(run)
    # What the page was drawn with before must not show: text filled, corners mitred, ends cut square [1, table 52].
    yield b"q 0 Tr 0 j 0 J 1 0 0 1 %b cm\n%b\nQ" % (_numbers(left_pt, bottom_pt), operators)


@lru_cache(32)
def _operators(drawing: Drawing) -> tuple[bytes, dict[str, set[str]]]:
    """Return what shows a drawing, wherever it is, with its characters: those shown again and again are drawn once."""
    characters: dict[str, set[str]] = {}
    operators = b"\n".join(line for shape in drawing.contents for line in _shape(shape, characters))
    return operators, characters


def _shape(shape: Shape, characters: dict[str, set[str]]) -> Iterator[bytes]:
    match shape:
        case Group():
            yield b"q %b cm" % _numbers(*shape.transform)
            for inner in shape.contents:
                yield from _shape(inner, characters)
            yield b"Q"
        case UserNode():
            yield from _shape(shape.provideNode(), characters)
        case String():
            yield from _string(shape, characters)
        case Line():
            yield from _painted(shape, _path([(shape.x1, shape.y1), (shape.x2, shape.y2)]))
        case PolyLine():
            yield from _painted(shape, _path(_points(shape.points)))
        case Polygon():
            yield from _painted(shape, _path(_points(shape.points)) + b" h")
        case Rect():
            yield from _painted(shape, _rounded(shape.x, shape.y, shape.width, shape.height, shape.rx or 0.0))
        case Circle():
            side = 2 * shape.r
            yield from _painted(shape, _rounded(shape.cx - shape.r, shape.cy - shape.r, side, side, shape.r))
        case _:
            raise ValueError(f"a report has no shape for {type(shape).__name__}")


def _painted(shape: Line | PolyLine | Polygon | Rect | Circle, path: bytes) -> Iterator[bytes]:
    """Yield a path with its gray, width and dashes."""
    fill = None if isinstance(shape, Line | PolyLine) else shape.fillColor
    stroke = shape.strokeColor if shape.strokeWidth else None
    if fill is not None:
        yield b"%b g" % _gray(fill)
    if stroke is not None:
        dashes = b" ".join(number_text(length) for length in shape.strokeDashArray or ())
        yield b"%b G %b w [%b] 0 d" % (_gray(stroke), number_text(shape.strokeWidth), dashes)
    paint = {(True, True): b"B", (True, False): b"f", (False, True): b"S", (False, False): b"n"}
    yield path + b" " + paint[fill is not None, stroke is not None]


def _string(string: String, characters: dict[str, set[str]]) -> Iterator[bytes]:
    face, size = cast(Face, string.fontName), string.fontSize
    shift = _ANCHORS[string.textAnchor] * width_mm(string.text, face, size) * POINTS_PER_MM
    ink = _gray(string.fillColor or black)
    yield b"%b g BT 1 0 0 1 %b Tm" % (ink, _numbers(string.x - shift, string.y))
    for name, run in runs(string.text, face):
        characters.setdefault(name, set()).update(run)
        # The fallback has one weight: its outlines are stroked for the others, as on all pages (`kit.pdf`).
        stroke = STROKES[face] * size if name == FALLBACK else 0.0
        weight = b"%b G %b w [] 0 d 1 j 2 Tr" % (ink, number_text(round(stroke, 3))) if stroke else b"0 Tr"
        yield b"%b /%b %b Tf %b Tj" % (weight, RESOURCE_NAMES[name], number_text(size), coded(name, run))
    yield b"ET 0 Tr 0 j"


def _path(points: Sequence[Point]) -> bytes:
    first, *others = points
    return b" ".join([b"%b m" % _numbers(*first), *(b"%b l" % _numbers(*point) for point in others)])


def _rounded(x: float, y: float, w: float, h: float, radius: float) -> bytes:
    """Return the outline of a box with quarter circles for corners; with nothing but corners it is a circle."""
    if not radius:
        return b"%b re" % _numbers(x, y, w, h)
    near, right, top = radius * (1 - _ROUND), x + w, y + h
    corners = (
        ((right - radius, y), (right - near, y), (right, y + near), (right, y + radius)),
        ((right, top - radius), (right, top - near), (right - near, top), (right - radius, top)),
        ((x + radius, top), (x + near, top), (x, top - near), (x, top - radius)),
        ((x, y + radius), (x, y + near), (x + near, y), (x + radius, y)),
    )
    parts = [b"%b m" % _numbers(x + radius, y)]
    for first, *curve in corners:
        parts.append(b"%b l %b c" % (_numbers(*first), b" ".join(_numbers(*point) for point in curve)))
    return b" ".join([*parts, b"h"])


def _points(flat: Sequence[float]) -> list[Point]:
    return list(zip(flat[::2], flat[1::2], strict=True))


def _gray(color: Color) -> bytes:
    if not color.red == color.green == color.blue:
        raise ValueError(f"{color} is no gray, and reports are printed in grays")
    return number_text(color.red)


def _numbers(*values: float) -> bytes:
    return b" ".join(number_text(round(value, 3)) for value in values)
