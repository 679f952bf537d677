"""Coaster labels, a set for each taster, and the row-end cards that say whose row a photograph shows."""

from __future__ import annotations

from dataclasses import dataclass

from kit.codes import MODULES, Code, CodeKind, encode, matrix
from kit.drawing import GRAY, RULE_GRAY, Element, Modules, Page, Rect, Rule, Text
from kit.fonts import fitted
from kit.forms.design import Design, load_design
from kit.paper import PAPERS, Paper
from kit.record import Kit
from kit.sheet_layout import LabelPlace
from kit.wording import Wording, load_wording

COASTERS_PDF = "coasters.pdf"
QUIET_MODULES = 4
"""The light border of a code (ISO/IEC 18004)."""
OUTLINE_MM = 0.15


@dataclass(frozen=True, slots=True)
class CoasterPages:
    """The pages, and where the first set's labels and all row-end cards stand on them."""

    pages: tuple[Page, ...]
    coasters: tuple[LabelPlace, ...]
    row_ends: tuple[LabelPlace, ...]


def coaster_pages(kit: Kit) -> CoasterPages:
    """Lay out a page for each taster: a label for each glass and the row-end card. All sets are alike."""
    design, words = load_design("coasters"), load_wording(kit.session.language)
    glasses, side = kit.session.glasses, design.mm("label")
    paper = PAPERS[kit.session.paper]
    common = (*_guide(design, words), *_labels(kit, design, words))
    card_x, card_y = _place(glasses, design, paper)
    if glasses == 3:
        card_y -= side  # alone in its row: no black half stands above it
    pages, row_ends = [], []
    for number, taster in enumerate(kit.session.tasters, start=1):
        card = _row_end_card(kit, number, taster.name, card_x, card_y, design, words)
        pages.append(Page(paper, "coasters", common, card))
        row_ends.append(LabelPlace(number, COASTERS_PDF, number, card_x, card_y, side, side))
    coasters = tuple(
        LabelPlace(number, COASTERS_PDF, 1, *_place(number - 1, design, paper), side, side)
        for number in range(1, glasses + 1)
    )
    return CoasterPages(tuple(pages), coasters, tuple(row_ends))


def _place(index: int, design: Design, paper: Paper) -> tuple[float, float]:
    """Return the top left corner of the number side of the label at this index."""
    side = design.mm("label")
    row, column = divmod(index, 3)
    spare = paper.height_mm - load_design("frame").mm("margin") - design.mm("top") - 4 * side
    row_pitch = 2 * side + min(design.mm("row_gap"), spare)
    return design.mm("left") + column * side, design.mm("top") + side + row * row_pitch


def _code_top_mm(design: Design) -> float:
    """Return the code's distance from the label's top: never less than its quiet zone, with the outline outside."""
    return max(design.mm("code_top"), QUIET_MODULES * design.mm("code") / MODULES + OUTLINE_MM)


def _guide(design: Design, words: Wording) -> list[Element]:
    elements: list[Element] = [Text(design.mm("left"), 13.5, words("coasters.heading"), design.pt("title"), "black")]
    elements += [
        Text(design.mm("left"), 18.6 + 4.2 * line, text, design.pt("guide"))
        for line, text in enumerate(words.lines("coasters.guide"))
    ]
    return elements


def _labels(kit: Kit, design: Design, words: Wording) -> list[Element]:
    elements: list[Element] = []
    side, code = design.mm("label"), design.mm("code")
    for number in range(1, kit.session.glasses + 1):
        x, y = _place(number - 1, design, PAPERS[kit.session.paper])
        text = encode(Code(CodeKind.COASTER, kit.id, number), kit.secret)
        elements += [
            Rect(x, y - side, side, side, outline_mm=OUTLINE_MM, outline_gray=RULE_GRAY, fill=0.0),
            Rect(x, y, side, side, outline_mm=OUTLINE_MM),
            Modules(x + (side - code) / 2, y + _code_top_mm(design), code, matrix(text)),
            Text(x + side / 2, y + side - 2.8, str(number), design.pt("number"), "black", "centre"),
            Text(x + side - 3.0, y + side - 3.5, kit.id, design.pt("small"), align="right", gray=GRAY),
            Text(x + 3.0, y + side - 3.5, words("coasters.coaster"), design.pt("small"), gray=GRAY),
        ]
    return elements


def _row_end_card(
    kit: Kit, taster: int, name: str, x: float, y: float, design: Design, words: Wording
) -> tuple[Element, ...]:
    side, code = design.mm("label"), design.mm("code")
    text = encode(Code(CodeKind.ROW_END, kit.id, taster), kit.secret)
    shown, size = fitted(name, "semibold", design.pt("name"), side - 6.0, design.pt("small"))
    guide = words.lines("coasters.row_end")
    return (
        Rect(x, y, side, side, outline_mm=OUTLINE_MM),
        Modules(x + (side - code) / 2, y + _code_top_mm(design), code, matrix(text)),
        Text(x + side / 2, y + side - 9.4, shown, size, "semibold", "centre"),
        *(
            Text(x + side / 2, y + side - 5.6 + 3.2 * line, part, design.pt("small"), align="centre", gray=GRAY)
            for line, part in enumerate(guide)
        ),
        # An arrow towards the row: the card lies at its left end.
        Rule(x + side - 9.0, y + side - 3.0, x + side - 2.0, y + side - 3.0, 0.4),
        Rule(x + side - 2.0, y + side - 3.0, x + side - 3.6, y + side - 4.2, 0.4),
        Rule(x + side - 2.0, y + side - 3.0, x + side - 3.6, y + side - 1.8, 0.4),
    )
