"""Labels for the vials of a kit by post: numbered ones for round one, lettered ones for round two.

A label shows packet and number, or packet and letter, in print and in code, and nothing else: what a letter holds is
the taster's key, and no label knows it.
"""

from __future__ import annotations

from collections.abc import Iterator

from kit.codes import Code, CodeKind, encode, matrix
from kit.drawing import GRAY, Element, Modules, Page, Rect, Text
from kit.fonts import fitted
from kit.forms.design import Design, load_design
from kit.paper import PAPERS, Paper
from kit.record import Kit
from kit.wording import Wording, load_wording

VIALS_PDF = "vials.pdf"
OUTLINE_MM = 0.15
_MOST_COLUMNS = 5


def vial_pages(kit: Kit) -> Iterator[Page]:
    """Yield a page of labels for each taster's packet; nothing without vials."""
    if kit.session.shuffle != "twin":
        return
    words, design, paper = load_wording(kit.session.language), load_design("vials"), PAPERS[kit.session.paper]
    common = (*_heading(paper, design, words), *_frames(kit, paper, design, words))
    for packet in range(1, len(kit.session.tasters) + 1):
        own = (*_whose(kit, packet, paper, design, words), *_labels(kit, packet, paper, design, words))
        yield Page(paper, "vials", common, tuple(own))


def vial_code(kit: Kit, packet: int, mark: str) -> str:
    """Return the code of the vial marked with a number or a letter of one packet."""
    if mark.isdecimal():
        return encode(Code(CodeKind.NUMBERED_VIAL, kit.id, packet, int(mark)), kit.secret)
    return encode(Code(CodeKind.LETTERED_VIAL, kit.id, packet, "ABCDE".index(mark) + 1), kit.secret)


def vial_rows(kit: Kit) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return what stands on the vials of round one and on those of round two, in their order."""
    return tuple(str(number) for number in range(1, kit.session.glasses + 1)), kit.session.place_letters


def _place(row: int, column: int, paper: Paper, design: Design) -> tuple[float, float]:
    """Return the top left corner of a label."""
    left = (paper.width_mm - _MOST_COLUMNS * design.mm("label_w")) / 2
    return left + column * design.mm("label_w"), design.mm("top") + row * (design.mm("label_h") + design.mm("row_gap"))


def _heading(paper: Paper, design: Design, words: Wording) -> list[Element]:
    left, _ = _place(0, 0, paper, design)
    elements: list[Element] = [Text(left, 15.0, words("vials.heading"), design.pt("heading"), "black")]
    elements += [
        Text(left, 21.0 + 4.4 * line, text, design.pt("guide")) for line, text in enumerate(words.lines("vials.guide"))
    ]
    return elements


def _frames(kit: Kit, paper: Paper, design: Design, words: Wording) -> list[Element]:
    elements: list[Element] = []
    for row, (marks, name) in enumerate(zip(vial_rows(kit), ("vials.round_one", "vials.round_two"), strict=True)):
        left, top = _place(row, 0, paper, design)
        elements.append(Text(left, top - 2.6, words(name), design.pt("row"), "semibold"))
        for column, mark in enumerate(marks):
            x, y = _place(row, column, paper, design)
            elements += [
                Rect(x, y, design.mm("label_w"), design.mm("label_h"), OUTLINE_MM),
                Text(_middle_mm(x, design), y + 12.6, mark, design.pt("mark"), "black", "centre"),
            ]
    return elements


def _whose(kit: Kit, packet: int, paper: Paper, design: Design, words: Wording) -> list[Element]:
    text = words("vials.whose", packet=packet, taster=kit.session.tasters[packet - 1].name)
    shown, size_pt = fitted(text, "semibold", design.pt("name"), 105.0, design.pt("packet"))
    left, _ = _place(0, 0, paper, design)
    return [Text(paper.width_mm - left, 15.0, shown, size_pt, "semibold", "right")]


def _labels(kit: Kit, packet: int, paper: Paper, design: Design, words: Wording) -> Iterator[Element]:
    side = design.mm("code")
    for row, marks in enumerate(vial_rows(kit)):
        for column, mark in enumerate(marks):
            x, y = _place(row, column, paper, design)
            code_top = y + (design.mm("label_h") - side) / 2
            yield Modules(x + design.mm("code_left"), code_top, side, matrix(vial_code(kit, packet, mark)))
            text = words("vials.packet", packet=packet)
            yield Text(_middle_mm(x, design), y + 17.6, text, design.pt("packet"), align="centre", gray=GRAY)


def _middle_mm(label_x: float, design: Design) -> float:
    """Return the middle of what a label has beside its code."""
    code_right = design.mm("code_left") + design.mm("code")
    return label_x + (code_right + design.mm("label_w")) / 2
