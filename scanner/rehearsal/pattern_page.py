"""The page that tells a person what to mark: a picture of the rehearsal sheet with the pattern in it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from kit.drawing import GRAY, RULE_GRAY, Element, Modules, Page, Rect, Rule, Stroke, Text
from kit.forms.design import Design, load_design
from kit.paper import Paper
from kit.pdf import render
from kit.sheet_layout import MarkBox
from kit.sheets import Sheet
from kit.wording import Wording, load_wording
from scanner.reading import State
from scanner.rehearsal.own_kit import OwnKit
from scanner.rehearsal.pattern import Pattern, pattern


def rehearsal_pdf(own: OwnKit) -> bytes:
    """Return the PDF to print: the page that shows the pattern, then the sheet to fill in."""
    session, sheet = own.kit.session, own.to_fill
    page = pattern_page(sheet, pattern(sheet.layout, own.chance), load_wording(session.language))
    return render((page, sheet.page), f"{session.title} ({own.kit.id})", session.language)


def pattern_page(sheet: Sheet, marked: Pattern, words: Wording) -> Page:
    """Lay out what to do in a few steps, and below them the sheet in small with its pattern."""
    design, paper = load_design("rehearsal"), sheet.page.paper
    elements, bottom = _steps(sheet.layout.sheet, paper, words, design)
    top = bottom + design.mm("picture_gap")
    scale = (paper.height_mm - design.mm("margin") - top) / paper.height_mm
    left = (paper.width_mm - scale * paper.width_mm) / 2
    drawn = (*_as_picture(sheet, words), *_marks(sheet.layout.marks, marked, design))
    return Page(paper, "rehearsal", (*elements, *(_reduced(element, scale, left, top) for element in drawn)))


def _steps(sheet_id: str, paper: Paper, words: Wording, design: Design) -> tuple[list[Element], float]:
    """The heading and the steps, and how far down they come."""
    left, right, y = design.mm("margin"), paper.width_mm - design.mm("margin"), design.mm("top")
    small, size = design.pt("small"), design.pt("step")
    elements: list[Element] = [
        Text(left, y, words("rehearsal.heading"), design.pt("heading"), "black"),
        Text(right, y, words("rehearsal.sheet", sheet=sheet_id), small, align="right", gray=GRAY),
        Rule(left, y + 3.6, right, y + 3.6, 0.3),
    ]
    y += 3.6 + design.mm("step") * 1.2
    lines = words.lines("rehearsal.steps")
    indented = left + design.mm("step_number")
    for number, line in zip(lines[::2], lines[1::2], strict=True):
        elements.append(Text(left, y, number, size, "semibold"))
        elements.append(Text(indented, y, line, size))
        y += design.mm("step")
    elements.append(Text(indented, y, words("rehearsal.command"), size, "semibold"))
    return elements, y


def _as_picture(sheet: Sheet, words: Wording) -> Iterator[Element]:
    """The printed sheet without all that would make a camera take its picture for a sheet, or that is untrue of it."""
    yield Rect(0.0, 0.0, sheet.page.paper.width_mm, sheet.page.paper.height_mm, outline_gray=RULE_GRAY)
    for element in (*sheet.page.common, *sheet.page.own):
        match element:
            case Modules():
                side = element.side_mm
                yield Rect(element.x_mm, element.y_mm, side, side, outline_gray=RULE_GRAY)
            case Rect(outline_gray=None):
                pass
            case Text() if element.text == words("frame.ruler"):
                pass
            case _:
                yield element


def _marks(boxes: Iterable[MarkBox], marked: Pattern, design: Design) -> Iterator[Element]:
    inset = design.mm("inset")
    for box in boxes:
        near_x, near_y = box.x_mm + inset, box.y_mm + inset
        far_x, far_y = box.x_mm + box.w_mm - inset, box.y_mm + box.h_mm - inset
        match marked.get((box.field, box.option)):
            case State.MARKED:
                yield Stroke(((near_x, near_y), (far_x, far_y)), design.mm("cross"))
                yield Stroke(((far_x, near_y), (near_x, far_y)), design.mm("cross"))
            case State.WITHDRAWN:
                yield Rect(box.x_mm, box.y_mm, box.w_mm, box.h_mm, fill=0.0)


def _reduced(element: Element, scale: float, left_mm: float, top_mm: float) -> Element:
    """Return an element of the full-size page as it stands in a picture of it, whose corner is at (left, top)."""

    def x(x_mm: float) -> float:
        return left_mm + scale * x_mm

    def y(y_mm: float) -> float:
        return top_mm + scale * y_mm

    match element:
        case Text():
            return replace(element, x_mm=x(element.x_mm), y_mm=y(element.y_mm), size_pt=scale * element.size_pt)
        case Rule():
            return replace(
                element,
                x1_mm=x(element.x1_mm),
                y1_mm=y(element.y1_mm),
                x2_mm=x(element.x2_mm),
                y2_mm=y(element.y2_mm),
                width_mm=scale * element.width_mm,
                dash_mm=scale * element.dash_mm,
            )
        case Rect():
            return replace(
                element,
                x_mm=x(element.x_mm),
                y_mm=y(element.y_mm),
                w_mm=scale * element.w_mm,
                h_mm=scale * element.h_mm,
                outline_mm=scale * element.outline_mm,
                corner_mm=scale * element.corner_mm,
            )
        case Modules():
            return replace(element, x_mm=x(element.x_mm), y_mm=y(element.y_mm), side_mm=scale * element.side_mm)
        case Stroke():
            points = tuple((x(x_mm), y(y_mm)) for x_mm, y_mm in element.points_mm)
            return replace(element, points_mm=points, width_mm=scale * element.width_mm)
