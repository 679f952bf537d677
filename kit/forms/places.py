"""Forms with a band for each place of round two: the match form and the turned form."""

from __future__ import annotations

from kit.drawing import GRAY, RULE_GRAY, Element, Rect, Rule, Text
from kit.fonts import width_mm
from kit.forms.design import Design, load_design
from kit.forms.frame import Area
from kit.forms.notes import FormBody
from kit.sheet_layout import MarkBox, WritingArea
from kit.wording import Wording

SURENESS = ("guess", "leaning", "sure")


def match_body(area: Area, places: tuple[str, ...], words: Wording, *, vials: bool = False) -> FormBody:
    """Lay out the claims: for each place the coaster numbers, how sure, and a line to write on.

    With `vials` places and numbers are those on vials, and the words say so.
    """
    ending = "_twin" if vials else ""
    return _bands(area, places, words, load_design("match"), "match", with_sureness=True, ending=ending)


def turned_body(area: Area, places: tuple[str, ...], words: Wording) -> FormBody:
    """Lay out the truth of a hand sitting: for each place the number found under its coaster."""
    return _bands(area, places, words, load_design("turned"), "turned", with_sureness=False)


def _bands(
    area: Area,
    places: tuple[str, ...],
    words: Wording,
    design: Design,
    role: str,
    *,
    with_sureness: bool,
    ending: str = "",
) -> FormBody:
    elements: list[Element] = [
        Text(area.left, area.top + 5.0 + 5.2 * line, text, design.pt("intro"), "semibold" if line == 0 else "regular")
        for line, text in enumerate(words.lines(f"{role}.intro{ending}"))
    ]
    marks: list[MarkBox] = []
    writing: list[WritingArea] = []
    first = area.top + design.mm("intro")
    band = min((area.bottom - 2.0 - first) / len(places), design.mm("band_most"))
    for index, place in enumerate(places):
        top = first + index * band
        box_top = top + 10.0
        elements.append(Rule(area.left, top, area.right, top, 0.18, RULE_GRAY))
        elements.append(Text(area.left + 1.0, box_top + design.mm("box") + 1.6, place, design.pt("letter"), "black"))
        elements += _number_boxes(area.left + design.mm("letter_width"), box_top, place, places, design, role, marks)
        label_x = area.left + design.mm("letter_width")
        elements.append(Text(label_x, top + 6.0, words(f"{role}.number{ending}"), design.pt("label"), gray=GRAY))
        if with_sureness:
            elements += _sureness(area, top, box_top, place, words, design, marks)
            writing.append(_writing(area, box_top, place, design))
            elements += _writing_line(writing[-1], words, design)
    bottom = first + len(places) * band
    elements.append(Rule(area.left, bottom, area.right, bottom, 0.18, RULE_GRAY))
    boxes: list[Element] = [Rect(mark.x_mm, mark.y_mm, mark.w_mm, mark.h_mm, 0.3) for mark in marks]
    return FormBody(tuple(elements + boxes), tuple(marks), tuple(writing))


def _number_boxes(
    x_mm: float, y_mm: float, place: str, places: tuple[str, ...], design: Design, role: str, marks: list[MarkBox]
) -> list[Element]:
    box, label = design.mm("box"), design.mm("number_label")
    elements: list[Element] = []
    for number in range(1, len(places) + 1):
        x = x_mm + (number - 1) * design.mm("number_pitch")
        marks.append(MarkBox(f"{role}.{place}", str(number), "one", round(x + label, 3), round(y_mm, 3), box, box))
        elements.append(
            Text(x + label - 1.4, y_mm + box / 2 + 1.6, str(number), design.pt("number"), "semibold", "right")
        )
    return elements


def _sureness(
    area: Area, top: float, box_top: float, place: str, words: Wording, design: Design, marks: list[MarkBox]
) -> list[Element]:
    """The three boxes for how sure, right-aligned in the band."""
    box, pitch = design.mm("box"), design.mm("sure_pitch")
    left = area.right - len(SURENESS) * pitch
    elements: list[Element] = [Text(left, top + 6.0, words("match.how_sure"), design.pt("label"), gray=GRAY)]
    for step, sureness in enumerate(SURENESS):
        x = left + step * pitch
        marks.append(MarkBox(f"sure.{place}", sureness, "one", round(x, 3), round(box_top, 3), box, box))
        elements.append(Text(x + box + 1.2, box_top + box / 2 + 1.1, words(f"match.{sureness}"), design.pt("label")))
    return elements


def _writing(area: Area, box_top: float, place: str, design: Design) -> WritingArea:
    x = area.left + design.mm("letter_width")
    y = box_top + design.mm("box") + design.mm("writing_gap")
    return WritingArea(f"remarks.{place}", round(x, 3), round(y, 3), round(area.right - x, 3), design.mm("writing_h"))


def _writing_line(area: WritingArea, words: Wording, design: Design) -> list[Element]:
    label = words("match.writing")
    x = area.x_mm + width_mm(label, "regular", design.pt("label")) + 2.0
    y = area.y_mm + area.h_mm - 2.5
    return [
        Text(area.x_mm, y, label, design.pt("label"), gray=GRAY),
        Rule(x, y + 0.4, area.x_mm + area.w_mm, y + 0.4, 0.12, RULE_GRAY),
    ]
