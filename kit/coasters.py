"""Coaster labels, a set for each taster, and the row-end cards that say whose row a photograph shows.

A house set has five labels whatever the flight, and nothing on it tells of a sitting: for the same tasters it is the
same to the byte whatever kit it is printed with.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from kit.codes import MODULES, Code, CodeKind, encode, matrix
from kit.drawing import GRAY, RULE_GRAY, Element, Modules, Page, Rect, Rule, Text
from kit.fonts import fitted
from kit.forms.design import Design, load_design
from kit.house import card_number, house_secret
from kit.paper import PAPERS, Paper
from kit.record import Kit
from kit.session import MOST_GLASSES
from kit.sheet_layout import LabelPlace
from kit.wording import Wording, load_wording

COASTERS_PDF = "coasters.pdf"
QUIET_MODULES = 4
"""The light border of a code (ISO/IEC 18004)."""
OUTLINE_MM = 0.15


@dataclass(frozen=True, slots=True)
class CoasterSet:
    """What the labels and cards of one kit, or of a house, say: `name` is the kit's or the set's id."""

    name: str
    is_house: bool
    secret: bytes
    labels: int

    def label_text(self, number: int) -> str:
        """Return the text of a label's code."""
        kind = CodeKind.HOUSE_COASTER if self.is_house else CodeKind.COASTER
        return encode(Code(kind, self.name, number), self.secret)

    def card_text(self, taster: int, taster_id: str | None) -> str:
        """Return the text of the code on the row-end card of a taster, by number or, in a house, by id."""
        if self.is_house:
            number = card_number(self.name, taster_id or "")
            return encode(Code(CodeKind.HOUSE_ROW_END, self.name, number), self.secret)
        return encode(Code(CodeKind.ROW_END, self.name, taster), self.secret)


def coaster_set(kit: Kit) -> CoasterSet:
    """Return the set that a kit is played with."""
    house = kit.session.house
    if house is not None:
        return CoasterSet(house, True, house_secret(house), MOST_GLASSES)
    return CoasterSet(kit.id, False, kit.secret, kit.session.glasses)


@dataclass(frozen=True, slots=True)
class CodeOnLabel:
    """A label's or card's code, mm: its side, and by how much its middle lies above the label's own."""

    side_mm: float
    above_middle_mm: float


def code_on_label() -> CodeOnLabel:
    """Return where the code is printed on every label and card."""
    design = load_design("coasters")
    side = design.mm("code")
    return CodeOnLabel(side, design.mm("label") / 2 - _code_top_mm(design) - side / 2)


@dataclass(frozen=True, slots=True)
class CoasterPages:
    """The pages, and where the first set's labels and all row-end cards stand on them; `title` is the document's."""

    title: str
    pages: tuple[Page, ...]
    coasters: tuple[LabelPlace, ...]
    row_ends: tuple[LabelPlace, ...]


def coaster_pages(kit: Kit) -> CoasterPages:
    """Lay out a page for each taster: a label for each glass and the row-end card. All sets are alike."""
    return CoasterPages(
        coaster_title(kit), tuple(coaster_sheets(kit)), tuple(label_places(kit)), tuple(row_end_places(kit))
    )


def coaster_sheets(kit: Kit) -> Iterator[Page]:
    """Yield each taster's page, one after the other."""
    design, words = load_design("coasters"), load_wording(kit.session.language)
    coasters, paper = coaster_set(kit), PAPERS[kit.session.paper]
    common = (*_guide(design, words), *_labels(coasters, paper, design, words))
    for place in row_end_places(kit):
        taster = kit.session.tasters[place.number - 1]
        text = coasters.card_text(place.number, taster.id)
        card = _row_end_card(text, taster.name, place.x_mm, place.y_mm, design, words)
        yield Page(paper, "coasters", common, card)


def row_end_places(kit: Kit) -> Iterator[LabelPlace]:
    """Yield where each taster's row-end card stands."""
    design, labels = load_design("coasters"), coaster_set(kit).labels
    side = design.mm("label")
    x, y = _place(labels, design, PAPERS[kit.session.paper])
    if labels == 3:
        y -= side  # alone in its row: no black half stands above it
    for number in range(1, len(kit.session.tasters) + 1):
        yield LabelPlace(number, COASTERS_PDF, number, x, y, side, side)


def label_places(kit: Kit) -> Iterator[LabelPlace]:
    """Yield where the labels of the first set stand."""
    design, paper = load_design("coasters"), PAPERS[kit.session.paper]
    side = design.mm("label")
    for number in range(1, coaster_set(kit).labels + 1):
        yield LabelPlace(number, COASTERS_PDF, 1, *_place(number - 1, design, paper), side, side)


def coaster_title(kit: Kit) -> str:
    """Return the document's title: a house set's names no sitting."""
    coasters = coaster_set(kit)
    if coasters.is_house:
        return load_wording(kit.session.language)("coasters.house_title", house=coasters.name)
    return f"{kit.session.title} ({kit.id})"


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


def _labels(coasters: CoasterSet, paper: Paper, design: Design, words: Wording) -> list[Element]:
    elements: list[Element] = []
    side, code = design.mm("label"), design.mm("code")
    for number in range(1, coasters.labels + 1):
        x, y = _place(number - 1, design, paper)
        elements += [
            Rect(x, y - side, side, side, outline_mm=OUTLINE_MM, outline_gray=RULE_GRAY, fill=0.0),
            Rect(x, y, side, side, outline_mm=OUTLINE_MM),
            Modules(x + (side - code) / 2, y + _code_top_mm(design), code, matrix(coasters.label_text(number))),
            Text(x + side / 2, y + side - 2.8, str(number), design.pt("number"), "black", "centre"),
            Text(x + side - 3.0, y + side - 3.5, coasters.name, design.pt("small"), align="right", gray=GRAY),
            Text(x + 3.0, y + side - 3.5, words("coasters.coaster"), design.pt("small"), gray=GRAY),
        ]
    return elements


def _row_end_card(text: str, name: str, x: float, y: float, design: Design, words: Wording) -> tuple[Element, ...]:
    side, code = design.mm("label"), design.mm("code")
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
