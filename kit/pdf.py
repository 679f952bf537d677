"""Draws pages of `kit/drawing.py` into PDF files, one page after the other; the one place that knows a PDF's axes.

References
----------
.. [1] ISO 32000-1:2008, Document management – Portable document format: operators, annex A; form objects 8.10.
"""

from __future__ import annotations

import math
from collections import OrderedDict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from io import BytesIO

from kit.drawing import Element, Modules, Page, Rect, Rule, Stroke, Text
from kit.fonts import FALLBACK, STROKES, runs, width_mm
from kit.paper import POINTS_PER_MM, Paper
from kit.pdf_file import PdfFile, Sink, number_text, packed
from kit.pdf_fonts import RESOURCE_NAMES, Characters, PdfFonts, coded

_KEPT = 40
"""Parts of pages that a plate keeps drawn: the designs of a kit and the pages that go into two files."""
_ROUND = 4 / 3 * (math.sqrt(2) - 1)
"""How far a Bézier curve's control points lie towards the corner of the quarter circle that it follows."""


def render(pages: Iterable[Page], title: str, language: str = "en") -> bytes:
    """Return a PDF of these pages; the same pages and title give the same bytes."""
    buffer = BytesIO()
    write_pdf(buffer, pages, title, language)
    return buffer.getvalue()


def write_pdf(file: Sink, pages: Iterable[Page], title: str, language: str = "en") -> None:
    """Write a PDF of these pages, each as soon as it comes."""
    pdf = Pdf(file, title, language=language)
    for page in pages:
        pdf.add(page)
    pdf.close()


class Pdf:
    """A PDF file that grows by a page at a time and keeps none of them in memory.

    What pages of one design share is stored once and referred to from each of them. Files that share a `plate` share
    the work of drawing as well.
    """

    def __init__(self, file: Sink, title: str, plate: Plate | None = None, *, language: str = "en") -> None:
        self.title, self.language = title, language
        self._file = PdfFile(file)
        self._fonts = PdfFonts(self._file)
        self._plate = plate or Plate()
        self._designs: dict[str, int] = {}

    def add(self, page: Page) -> None:
        """Draw the next page."""
        size_pt = (page.paper.width_mm * POINTS_PER_MM, page.paper.height_mm * POINTS_PER_MM)
        if page.design not in self._designs:
            drawing = self._plate.drawn(page.common, page.paper)
            self._designs[page.design] = self._file.put_stream(
                drawing.operators,
                b"/Type /XObject /Subtype /Form /BBox [0 0 %b %b] /Resources << %b >> "
                % (number_text(size_pt[0]), number_text(size_pt[1]), self._fonts.resource),
            )
            self._fonts.use(drawing.characters)
        drawing = self._plate.drawn(page.own, page.paper, below=b"/Design Do\n")
        self._fonts.use(drawing.characters)
        resources = b"<< %b /XObject << /Design %d 0 R >> >>" % (self._fonts.resource, self._designs[page.design])
        self._file.put_page(size_pt, resources, self._file.put_stream(drawing.operators))

    def close(self) -> None:
        """Write what is left once all pages are drawn."""
        self._fonts.close()
        about = {"Title": self.title, "Subject": self.title, "Author": "facedown", "Creator": "facedown"}
        self._file.close(about, self.language)


@dataclass(frozen=True, slots=True)
class Drawing:
    """Elements as deflated operators of a PDF, and the characters that they show."""

    operators: bytes
    characters: Characters


class Plate:
    """Keeps what was drawn last, for the next page of its design, or the next file that shows it."""

    def __init__(self) -> None:
        self._kept: OrderedDict[tuple[int, float, bytes], tuple[tuple[Element, ...], Drawing]] = OrderedDict()

    def drawn(self, elements: tuple[Element, ...], paper: Paper, *, below: bytes = b"") -> Drawing:
        """Return the elements drawn on a sheet of that paper, over what the operators `below` show."""
        # By identity: to compare a thousand elements takes as long as to draw them. The elements are kept as well, so
        # that their identity is not given to others.
        key = (id(elements), paper.height_mm, below)
        kept = self._kept.pop(key, None) or (elements, _draw(elements, paper.height_mm, below))
        self._kept[key] = kept
        if len(self._kept) > _KEPT:
            self._kept.popitem(last=False)
        return kept[1]


def _draw(elements: Iterable[Element], height_mm: float, below: bytes) -> Drawing:
    pen = Pen(height_mm)
    operators = b"\n".join(line for element in elements for line in pen.draw(element))
    return Drawing(packed(below + operators), {name: frozenset(shown) for name, shown in pen.characters.items()})


class Pen:
    """Turns elements into operators: mm from the top left in, points from the bottom left out.

    `characters` has, by font, what was shown so far. A gray, width or dash that is set already is not set again, so
    nothing else may change one between two elements, unless it puts it back.
    """

    def __init__(self, height_mm: float) -> None:
        self.height_mm = height_mm
        # What a page begins with [1, table 52]: corners mitred, text filled.
        self._set: dict[bytes, bytes] = {b"j": b"0", b"Tr": b"0"}
        self.characters: dict[str, set[str]] = {}

    def draw(self, element: Element) -> Iterator[bytes]:
        match element:
            case Text():
                yield from self._text(element)
            case Rule():
                yield from self._rule(element)
            case Rect():
                yield from self._rect(element)
            case Modules():
                yield from self._modules(element)
            case Stroke():
                yield from self._stroke(element)

    def _text(self, text: Text) -> Iterator[bytes]:
        shift_mm = {"left": 0.0, "centre": 0.5, "right": 1.0}[text.align]
        if shift_mm:
            shift_mm *= width_mm(text.text, text.face, text.size_pt)
        yield from self._state(b"g", text.gray)
        turned = math.radians(text.turned_deg)
        cosine, sine = math.cos(turned), math.sin(turned)
        x_mm, y_mm = text.x_mm - shift_mm * cosine, text.y_mm - shift_mm * sine
        yield b"BT %b %b Tm" % (_numbers(cosine, -sine, sine, cosine), self._point(x_mm, y_mm))
        for name, run in runs(text.text, text.face):
            self.characters.setdefault(name, set()).update(run)
            yield from self._weight(text, name)
            yield b"/%b %b Tf %b Tj" % (RESOURCE_NAMES[name], number_text(text.size_pt), coded(name, run))
        yield b"ET"

    def _weight(self, text: Text, name: str) -> Iterator[bytes]:
        """Thicken the fallback's glyphs, which come in one weight, by stroking their outlines as well [1, 9.3.6]."""
        stroke = STROKES[text.face] if name == FALLBACK else 0.0
        if stroke:
            yield from self._line(text.gray, stroke * text.size_pt / POINTS_PER_MM, cap=0, join=1)
        yield from self._state(b"Tr", b"2" if stroke else b"0")

    def _rule(self, rule: Rule) -> Iterator[bytes]:
        yield from self._line(rule.gray, rule.width_mm, cap=0, dash_mm=rule.dash_mm)
        yield b"%b m %b l S" % (self._point(rule.x1_mm, rule.y1_mm), self._point(rule.x2_mm, rule.y2_mm))

    def _rect(self, rect: Rect) -> Iterator[bytes]:
        inset_mm = 0.0
        if rect.outline_gray is not None:
            inset_mm = rect.outline_mm / 2
            yield from self._line(rect.outline_gray, rect.outline_mm, cap=0)
        if rect.fill is not None:
            yield from self._state(b"g", rect.fill)
        x, y = rect.x_mm + inset_mm, rect.y_mm + inset_mm
        w, h = rect.w_mm - 2 * inset_mm, rect.h_mm - 2 * inset_mm
        # Renderers move a plain filled rectangle to whole pixels; drawn as curves it stays where it is.
        as_curves = rect.corner_mm > 0 or rect.fill is not None
        yield self._rounded(x, y, w, h, rect.corner_mm) if as_curves else self._box(x, y + h, w, h)
        yield {(True, True): b"B", (True, False): b"S", (False, True): b"f", (False, False): b"n"}[
            rect.outline_gray is not None, rect.fill is not None
        ]

    def _modules(self, modules: Modules) -> Iterator[bytes]:
        yield from self._state(b"g", 0.0)
        module_mm = modules.side_mm / len(modules.rows)
        for row, cells in enumerate(modules.rows):
            for first, last in _dark_runs(cells):
                x, bottom = modules.x_mm + first * module_mm, modules.y_mm + (row + 1) * module_mm
                # A hair of overlap, so that no renderer leaves a light seam between two rows.
                yield self._box(x, bottom, (last - first) * module_mm, module_mm + 0.01) + b" f"

    def _stroke(self, stroke: Stroke) -> Iterator[bytes]:
        yield from self._line(0.1, stroke.width_mm, cap=1)
        first, *others = (self._point(*point) for point in stroke.points_mm)
        yield b"%b m %b S" % (first, b" ".join(b"%b l" % point for point in others))

    def _line(self, gray: float, width_mm: float, *, cap: int, dash_mm: float = 0.0, join: int = 0) -> Iterator[bytes]:
        yield from self._state(b"j", join)
        yield from self._state(b"G", gray)
        yield from self._state(b"w", width_mm * POINTS_PER_MM)
        yield from self._state(b"J", cap)
        length = number_text(dash_mm * POINTS_PER_MM)
        yield from self._state(b"d", b"[%b %b] 0" % (length, length) if dash_mm else b"[] 0")

    def _state(self, operator: bytes, value: float | bytes) -> Iterator[bytes]:
        """Set a gray, a line's width, ends or dashes, unless it is set so already."""
        operand = value if isinstance(value, bytes) else number_text(value)
        if self._set.get(operator) != operand:
            self._set[operator] = operand
            yield b"%b %b" % (operand, operator)

    def _box(self, left_mm: float, bottom_mm: float, w_mm: float, h_mm: float) -> bytes:
        corner = self._point(left_mm, bottom_mm)
        return b"%b %b re" % (corner, _numbers(w_mm * POINTS_PER_MM, h_mm * POINTS_PER_MM))

    def _rounded(self, x_mm: float, y_mm: float, w_mm: float, h_mm: float, corner_mm: float) -> bytes:
        """Return the outline of a box with quarter circles for corners, clockwise from its top left."""
        right, bottom, near = x_mm + w_mm, y_mm + h_mm, corner_mm * (1 - _ROUND)
        corners = (
            ((right - corner_mm, y_mm), (right - near, y_mm), (right, y_mm + near), (right, y_mm + corner_mm)),
            ((right, bottom - corner_mm), (right, bottom - near), (right - near, bottom), (right - corner_mm, bottom)),
            ((x_mm + corner_mm, bottom), (x_mm + near, bottom), (x_mm, bottom - near), (x_mm, bottom - corner_mm)),
            ((x_mm, y_mm + corner_mm), (x_mm, y_mm + near), (x_mm + near, y_mm), (x_mm + corner_mm, y_mm)),
        )
        parts = [b"%b m" % self._point(x_mm + corner_mm, y_mm)]
        for first, *curve in corners:
            parts.append(b"%b l %b c" % (self._point(*first), b" ".join(self._point(*point) for point in curve)))
        return b" ".join([*parts, b"h"])

    def _point(self, x_mm: float, y_mm: float) -> bytes:
        return _numbers(round(x_mm * POINTS_PER_MM, 3), round((self.height_mm - y_mm) * POINTS_PER_MM, 3))


def _numbers(*values: float) -> bytes:
    return b" ".join(map(number_text, values))


def _dark_runs(cells: tuple[bool, ...]) -> Iterator[tuple[int, int]]:
    """Yield (first, behind last) of each run of dark cells."""
    first: int | None = None
    for place, dark in enumerate((*cells, False)):
        if dark and first is None:
            first = place
        elif not dark and first is not None:
            yield first, place
            first = None
