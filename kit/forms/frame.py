"""The frame of every page that is read back: fiducials, doubled code, edge marks, ruler, and the sheet's names."""

from __future__ import annotations

from dataclasses import dataclass

from kit.codes import MODULES, matrix
from kit.drawing import GRAY, Element, Modules, Rect, Rule, Stroke, Text
from kit.fiducials import FIDUCIALS
from kit.fonts import fitted, width_mm
from kit.forms.design import Design, load_design
from kit.paper import Paper
from kit.sheet_layout import Square
from kit.wording import Wording


@dataclass(frozen=True, slots=True)
class Area:
    """A rectangle by its edges, mm."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        return self.right - self.left

    @property
    def height(self) -> float:
        return self.bottom - self.top


@dataclass(frozen=True, slots=True)
class Frame:
    """Where the frame's parts lie and what is left for the form itself."""

    paper: Paper
    fiducials: tuple[Square, ...]
    codes: tuple[Square, ...]
    edge_marks: tuple[tuple[float, float], ...]
    edge_mark_mm: float
    header: Area
    footer: Area
    body: Area


@dataclass(frozen=True, slots=True)
class SheetNames:
    """What a sheet says of itself in header and footer; `date` is set behind the title, with what parts the two."""

    title: str
    date: str
    taster: str
    sheet: str
    seal: str
    code_text: str


def frame(paper: Paper) -> Frame:
    """Lay out the frame on one paper."""
    design = load_design("frame")
    margin, fiducial, quiet = design.mm("margin"), design.mm("fiducial"), design.mm("code_quiet")
    code = design.mm("code_module") * MODULES
    right, bottom = paper.width_mm - margin, paper.height_mm - margin
    fiducials = (
        Square(0, margin, margin, fiducial),
        Square(1, right - fiducial, margin, fiducial),
        Square(2, right - fiducial, bottom - fiducial, fiducial),
        Square(3, margin, bottom - fiducial, fiducial),
    )
    codes = (
        Square(0, right - fiducial - quiet - code, margin, code),
        Square(1, margin + fiducial + quiet, bottom - code, code),
    )
    inset, gap = design.mm("body_inset"), design.mm("body_gap")
    header = Area(margin + fiducial + quiet, margin, codes[0].x_mm - quiet, margin + code)
    footer = Area(codes[1].x_mm + code + quiet, bottom - code, right - fiducial - quiet, bottom)
    return Frame(
        paper,
        fiducials,
        codes,
        _edge_marks(paper, design, header, footer),
        design.mm("edge_mark"),
        header,
        footer,
        body=Area(margin + inset, header.bottom + gap, right - inset, footer.top - gap),
    )


def frame_elements(place: Frame, heading: str, words: Wording, *, marking: bool) -> tuple[Element, ...]:
    """Draw what all sheets of one kind share; with `marking`, how to mark a box as well."""
    design = load_design("frame")
    half = place.edge_mark_mm / 2
    elements: list[Element] = [
        Modules(square.x_mm, square.y_mm, square.side_mm, FIDUCIALS[square.number]) for square in place.fiducials
    ]
    elements += [
        Rect(x - half, y - half, place.edge_mark_mm, place.edge_mark_mm, outline_gray=None, fill=0.0)
        for x, y in place.edge_marks
    ]
    header = place.header
    elements.append(Text(header.left, header.top + 9.8, heading, design.pt("heading"), "black"))
    if marking:
        elements += marking_example(header.left, header.bottom - 1.3, words, design)
    elements += _ruler(place.footer.left, place.footer.top + 3.4, words, design)
    return tuple(elements)


def sheet_elements(place: Frame, names: SheetNames, words: Wording) -> tuple[Element, ...]:
    """Draw what one sheet alone has: codes, the taster's name, the sheet's id and seal code."""
    design = load_design("frame")
    header, footer = place.header, place.footer
    rows, text_right = matrix(names.code_text), header.right - 0.4
    name, name_pt = fitted(names.taster, "semibold", design.pt("name"), header.width * 0.5, design.pt("small"))
    title, title_pt = fitted(
        names.title, "regular", design.pt("title"), header.width * 0.41, design.pt("least"), ending=names.date
    )
    elements: list[Element] = [Modules(code.x_mm, code.y_mm, code.side_mm, rows) for code in place.codes]
    elements += [
        Text(text_right, header.top + 9.8, name, name_pt, "semibold", "right"),
        Text(text_right, header.bottom - 2.4, title, title_pt, gray=GRAY, align="right"),
    ]
    y, size = footer.top + 12.6, design.pt("small")
    elements += _labelled(footer.left, y, words("frame.sheet"), names.sheet, size)
    if names.seal:
        elements += _labelled(footer.left + 44.0, y, words("frame.seal"), names.seal, size)
    return tuple(elements)


def _labelled(x_mm: float, y_mm: float, label: str, text: str, size_pt: float) -> list[Element]:
    return [
        Text(x_mm, y_mm, label, size_pt, gray=GRAY),
        Text(x_mm + width_mm(label, "regular", size_pt) + 1.6, y_mm, text, size_pt, "semibold"),
    ]


def _edge_marks(paper: Paper, design: Design, header: Area, footer: Area) -> tuple[tuple[float, float], ...]:
    half, margin = design.mm("edge_mark") / 2, design.mm("margin")
    pitch, clear = design.mm("edge_pitch"), design.mm("fiducial") + design.mm("fiducial_quiet") + half
    near, far_x, far_y = margin + half, paper.width_mm - margin - half, paper.height_mm - margin - half
    upright = _spread(margin + clear, paper.height_mm - margin - clear, pitch)
    return (
        *((x, near) for x in _spread(header.left + half, header.right - half, pitch)),
        *((x, far_y) for x in _spread(footer.left + half, footer.right - half, pitch)),
        *((near, y) for y in upright),
        *((far_x, y) for y in upright),
    )


def _spread(first: float, last: float, pitch: float) -> tuple[float, ...]:
    """Return positions from first to last, both included, evenly and at most `pitch` apart."""
    gaps = max(1, -int(-(last - first) // pitch))
    return tuple(round(first + (last - first) * place / gaps, 3) for place in range(gaps + 1))


def _ruler(x_mm: float, y_mm: float, words: Wording, design: Design) -> list[Element]:
    length = design.mm("ruler")
    elements: list[Element] = [Rule(x_mm, y_mm, x_mm + length, y_mm, 0.2)]
    for step in range(int(length) // 10 + 1):
        x = x_mm + min(max(step * 10, 0.1), length - 0.1)
        elements.append(Rule(x, y_mm, x, y_mm - (2.4 if step % 5 == 0 else 1.4), 0.2))
    elements.append(Text(x_mm, y_mm + 3.6, words("frame.ruler"), design.pt("least"), gray=GRAY))
    return elements


def marking_example(x_mm: float, y_mm: float, words: Wording, design: Design) -> list[Element]:
    """Draw "cross the box; to take it back, black it out and cross another", with `y_mm` the line's bottom."""
    side, size = 3.6, design.pt("small")
    top, baseline = y_mm - side, y_mm - 0.9
    elements: list[Element] = []

    def box(x: float, *, crossed: bool) -> None:
        elements.append(Rect(x, top, side, side, outline_mm=0.25, fill=None if crossed else 0.05))
        if crossed:
            near, far = x + 0.5, x + side - 0.5
            elements.append(Stroke(((near, top + 0.4), (far, top + side - 0.5))))
            elements.append(Stroke(((far + 0.2, top + 0.6), (near - 0.1, top + side - 0.4))))

    box(x_mm, crossed=True)
    x = x_mm + side + 1.4
    elements.append(Text(x, baseline, words("frame.mark"), size))
    x += width_mm(words("frame.mark"), "regular", size) + 5.0
    box(x, crossed=False)
    box(x + side + 1.2, crossed=True)
    elements.append(Text(x + 2 * side + 2.6, baseline, words("frame.take_back"), size))
    return elements
