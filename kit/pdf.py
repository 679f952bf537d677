"""Draws pages of `kit/drawing.py` into PDF files; the one place that knows reportlab's axes and units."""

from __future__ import annotations

import math
from collections.abc import Iterable
from io import BytesIO

from reportlab import rl_config
from reportlab.pdfgen.canvas import Canvas

from kit.drawing import Element, Modules, Page, Rect, Rule, Stroke, Text
from kit.fonts import base_font, runs, width_mm
from kit.paper import POINTS_PER_MM

# Streams as bytes rather than as text: a quarter smaller, and faster.
rl_config.useA85 = 0


def render(pages: Iterable[Page], title: str) -> bytes:
    """Return a PDF of these pages; the same pages and title give the same bytes.

    What pages of one design share is stored once and referred to from each of them.
    """
    buffer = BytesIO()
    # Without a first font of our own, reportlab names Helvetica on every page and embeds nothing of it.
    canvas = Canvas(buffer, pageCompression=1, invariant=True, lang="en", initialFontName=base_font())  # type: ignore[arg-type]
    canvas.setTitle(title)
    canvas.setAuthor("facedown")
    canvas.setCreator("facedown")
    canvas.setSubject(title)
    known: set[str] = set()
    for page in pages:
        size_pt = (page.paper.width_mm * POINTS_PER_MM, page.paper.height_mm * POINTS_PER_MM)
        canvas.setPageSize(size_pt)
        pen = _Pen(canvas, page.paper.height_mm)
        if page.design not in known:
            canvas.beginForm(page.design, 0, 0, *size_pt)
            pen.draw_all(page.common)
            canvas.endForm()
            known.add(page.design)
        canvas.doForm(page.design)
        pen.draw_all(page.own)
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


class _Pen:
    """Draws elements on one page: mm from the top left in, points from the bottom left out."""

    def __init__(self, canvas: Canvas, height_mm: float) -> None:
        self._canvas = canvas
        self._height_mm = height_mm

    def draw_all(self, elements: Iterable[Element]) -> None:
        for element in elements:
            match element:
                case Text():
                    self._text(element)
                case Rule():
                    self._rule(element)
                case Rect():
                    self._rect(element)
                case Modules():
                    self._modules(element)
                case Stroke():
                    self._stroke(element)

    def _x(self, x_mm: float) -> float:
        return round(x_mm * POINTS_PER_MM, 3)

    def _y(self, y_mm: float) -> float:
        return round((self._height_mm - y_mm) * POINTS_PER_MM, 3)

    def _text(self, text: Text) -> None:
        shift_mm = {"left": 0.0, "centre": 0.5, "right": 1.0}[text.align]
        if shift_mm:
            shift_mm *= width_mm(text.text, text.face, text.size_pt)
        canvas = self._canvas
        canvas.setFillGray(text.gray)
        line = canvas.beginText()
        x, y = self._x(text.x_mm), self._y(text.y_mm)
        cosine, sine = math.cos(math.radians(text.turned_deg)), math.sin(math.radians(text.turned_deg))
        shift = shift_mm * POINTS_PER_MM
        line.setTextTransform(cosine, -sine, sine, cosine, x - shift * cosine, y + shift * sine)
        for name, run in runs(text.text, text.face):
            line.setFont(name, text.size_pt)
            line.textOut(run)
        canvas.drawText(line)

    def _rule(self, rule: Rule) -> None:
        canvas = self._canvas
        canvas.setStrokeGray(rule.gray)
        canvas.setLineWidth(rule.width_mm * POINTS_PER_MM)
        canvas.setLineCap(0)
        canvas.setDash(*((rule.dash_mm * POINTS_PER_MM,) * 2 if rule.dash_mm else ((), 0)))
        canvas.line(self._x(rule.x1_mm), self._y(rule.y1_mm), self._x(rule.x2_mm), self._y(rule.y2_mm))

    def _rect(self, rect: Rect) -> None:
        canvas = self._canvas
        outlined = rect.outline_gray is not None
        inset_mm = rect.outline_mm / 2 if outlined else 0.0
        if rect.outline_gray is not None:
            canvas.setStrokeGray(rect.outline_gray)
            canvas.setLineWidth(rect.outline_mm * POINTS_PER_MM)
            canvas.setDash((), 0)
        if rect.fill is not None:
            canvas.setFillGray(rect.fill)
        canvas.roundRect(
            self._x(rect.x_mm + inset_mm),
            self._y(rect.y_mm + rect.h_mm - inset_mm),
            (rect.w_mm - 2 * inset_mm) * POINTS_PER_MM,
            (rect.h_mm - 2 * inset_mm) * POINTS_PER_MM,
            rect.corner_mm * POINTS_PER_MM,
            stroke=int(outlined),
            fill=int(rect.fill is not None),
        )

    def _modules(self, modules: Modules) -> None:
        canvas = self._canvas
        canvas.setFillGray(0)
        module_mm = modules.side_mm / len(modules.rows)
        for row, cells in enumerate(modules.rows):
            for first, last in _dark_runs(cells):
                canvas.rect(
                    self._x(modules.x_mm + first * module_mm),
                    self._y(modules.y_mm + (row + 1) * module_mm),
                    (last - first) * module_mm * POINTS_PER_MM,
                    # A hair of overlap, so that no renderer leaves a light seam between two rows.
                    (module_mm + 0.01) * POINTS_PER_MM,
                    stroke=0,
                    fill=1,
                )

    def _stroke(self, stroke: Stroke) -> None:
        canvas = self._canvas
        canvas.setStrokeGray(0.1)
        canvas.setLineWidth(stroke.width_mm * POINTS_PER_MM)
        canvas.setLineCap(1)
        canvas.setDash((), 0)
        path = canvas.beginPath()
        (x_mm, y_mm), *others = stroke.points_mm
        path.moveTo(self._x(x_mm), self._y(y_mm))
        for x_mm, y_mm in others:
            path.lineTo(self._x(x_mm), self._y(y_mm))
        canvas.drawPath(path, stroke=1, fill=0)


def _dark_runs(cells: tuple[bool, ...]) -> Iterable[tuple[int, int]]:
    """Yield (first, behind last) of each run of dark cells."""
    first: int | None = None
    for place, dark in enumerate((*cells, False)):
        if dark and first is None:
            first = place
        elif not dark and first is not None:
            yield first, place
            first = None
