"""Reads charts and PDFs back: where shapes lie, which grays they have on which ground, and what a page's text says."""

from __future__ import annotations

import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from reportlab.graphics.shapes import Circle, Line, Polygon, PolyLine, Rect, String

from kit.fonts import width_mm
from kit.paper import POINTS_PER_MM
from scanner.reports.chart import Chart

TEXT_RATIO, GRAPHICS_RATIO = 4.5, 3.0
"""WCAG 2.2, success criteria 1.4.3 and 1.4.11."""


def ratio(one: float, other: float) -> float:
    """Return the contrast ratio of two grays by WCAG 2.2, section 6, with the constants of its definition."""

    def luminance(gray: float) -> float:
        linear = gray / 12.92 if gray <= 0.04045 else ((gray + 0.055) / 1.055) ** 2.4
        return 0.2126 * linear + 0.7152 * linear + 0.0722 * linear

    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def contrasts(chart: Chart) -> Iterator[tuple[str, float, float]]:
    """Yield for each text, and each line or outline, what it is, its contrast and what is asked of it.

    A text stands on the last filled shape drawn before it that holds its middle, a line on white paper. A filled shape
    without an outline must stand out itself, but where an edge of its own was drawn beside it (a band).
    """
    grounds: list[Any] = []
    shapes: list[Any] = chart.drawing.contents
    for shape in shapes:
        if isinstance(shape, String):
            x, y = _middle(shape)
            ground = next((_gray(one.fillColor) for one in reversed(grounds) if _holds(one, x, y)), 1.0)
            yield shape.text, ratio(_gray(shape.fillColor), ground), TEXT_RATIO
            continue
        if shape.strokeColor is not None and shape.strokeWidth:
            yield type(shape).__name__, ratio(_gray(shape.strokeColor), 1.0), GRAPHICS_RATIO
        if not isinstance(shape, Line | PolyLine) and shape.fillColor is not None:
            grounds.append(shape)


def texts(chart: Chart) -> list[str]:
    """Return all texts of a chart in the order in which they were set."""
    return [shape.text for shape in chart.drawing.contents if isinstance(shape, String)]


def text_near(chart: Chart, name: str) -> str:
    """Return the text whose middle is nearest to that of a named shape."""
    shape = chart.read(name)
    left, bottom, right, top = shape.getBounds()
    x, y = (left + right) / 2, (bottom + top) / 2
    strings = [one for one in chart.drawing.contents if isinstance(one, String)]
    return str(min(strings, key=lambda one: (_middle(one)[0] - x) ** 2 + (_middle(one)[1] - y) ** 2).text)


def value_ticks(chart: Chart) -> dict[str, float]:
    """Return the labels of the upright axis and how high their ticks are, points from below."""
    found = {}
    for at in range(40):
        if not chart.has(f"tick_y_{at}"):
            break
        tick = chart.read(f"tick_y_{at}")
        beside = [
            one
            for one in chart.drawing.contents
            if isinstance(one, String) and one.textAnchor == "end" and abs(one.x - tick.x1) < 3 * POINTS_PER_MM
        ]
        found[min(beside, key=lambda one: abs(_middle(one)[1] - tick.y1)).text] = tick.y1
    return found


def page_texts(pdf: Path) -> list[str]:
    """Return the text of each page as poppler lays it out."""
    done = subprocess.run(["pdftotext", "-layout", str(pdf), "-"], capture_output=True, text=True, check=True)
    return done.stdout.split("\f")[:-1]


def flowing(text: str) -> str:
    """Return a text with single blanks between its words."""
    return " ".join(text.split())


def _gray(color: Any) -> float:
    assert color.red == color.green == color.blue
    return float(color.red)


def _middle(string: String) -> tuple[float, float]:
    wide = width_mm(string.text, string.fontName, string.fontSize) * POINTS_PER_MM
    shift = {"start": 0.5, "middle": 0.0, "end": -0.5}[string.textAnchor]
    return string.x + shift * wide, string.y + 0.36 * string.fontSize


def _holds(shape: Any, x: float, y: float) -> bool:
    if isinstance(shape, Polygon):
        return _inside(list(zip(shape.points[::2], shape.points[1::2], strict=True)), x, y)
    assert isinstance(shape, Rect | Circle)
    left, bottom, right, top = shape.getBounds()
    return bool(left <= x <= right and bottom <= y <= top)


def _inside(corners: list[tuple[float, float]], x: float, y: float) -> bool:
    crossings = 0
    for (x1, y1), (x2, y2) in zip(corners, [*corners[1:], corners[0]], strict=True):
        crossings += (y1 > y) != (y2 > y) and x < x1 + (y - y1) / (y2 - y1) * (x2 - x1)
    return crossings % 2 == 1
