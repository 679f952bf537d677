"""The packer's sheet for kits by post: which drink goes into which two vials, one packet at a time. It shows keys."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from kit.drawing import GRAY, RULE_GRAY, Element, Page, Rect, Rule, Text
from kit.fonts import fitted, width_mm
from kit.forms.design import Design, load_design
from kit.galley import Galley
from kit.keys import OpenedKey
from kit.paper import PAPERS
from kit.plan import bottle_of, plan
from kit.record import Kit
from kit.sheets import date_after_title
from kit.vials import vial_rows
from kit.wording import Wording, load_wording

PACKING_PDF = "packing.pdf"


def packing_pages(kit: Kit, opened: Iterable[OpenedKey]) -> Iterator[Page]:
    """Yield a packing sheet for each of the keys; nothing without vials."""
    if kit.session.shuffle != "twin":
        return
    words, design = load_wording(kit.session.language), load_design("packing")
    vials = plan(kit.session).vials
    assert vials is not None
    sheet = _PackingSheet(kit, words, design)
    common = tuple(sheet.galley.elements)
    for key in opened:
        bottle = bottle_of(key.taster, vials.packets_per_bottle)
        yield Page(
            sheet.galley.paper,
            "packing",
            common,
            (*sheet.whose(key.taster), *sheet.bottle(bottle), *sheet.letters(key)),
        )


class _PackingSheet:
    """Sets what all packing sheets of a kit share, and knows where on them the words of one packet stand."""

    def __init__(self, kit: Kit, words: Wording, design: Design) -> None:
        self.kit, self.words, self.design = kit, words, design
        self.galley = galley = Galley(PAPERS[kit.session.paper], design)
        values = {
            "vials": 2 * kit.session.glasses,
            "pour_ml": f"{kit.session.pour_ml:g}",
            "numbers": words.listed(vial_rows(kit)[0]),
            "letters": words.listed(vial_rows(kit)[1]),
        }
        galley.head(
            words("packing.heading"), kit.session.title, date_after_title(kit, words), words("host.kit", kit=kit.id)
        )
        self._warning()
        self.whose_y = galley.y + 2.0
        galley.y += 11.0
        for line in words.lines("packing.guide", **values):
            galley.line(line)
        galley.gap(0.5)
        self.rows_y = galley.y + design.mm("row_head")
        self._rows()
        galley.line(words("packing.check"), bold=True)
        galley.gap(0.3)
        for line in words.lines("packing.checks", **values):
            galley.tick(line)
        self._signature()

    def whose(self, packet: int) -> Iterator[Element]:
        """The packet's number and whose it is."""
        galley, design = self.galley, self.design
        number = self.words("packing.packet", packet=packet, packets=len(self.kit.session.tasters))
        yield Text(galley.left, self.whose_y, number, design.pt("packet"), "black")
        room_mm = galley.right - galley.left - width_mm(number, "black", design.pt("packet")) - 6.0
        taster = self.kit.session.tasters[packet - 1]
        name, size_pt = fitted(taster.name, "semibold", design.pt("packet"), room_mm, design.pt("small"))
        yield Text(galley.right, self.whose_y, name, size_pt, "semibold", "right")

    def bottle(self, number: int) -> Iterator[Element]:
        """The number of the bottle that each row is filled from."""
        for row in range(self.kit.session.glasses):
            x, y = self.galley.left + self.design.mm("bottle_x"), self._row_y(row) + self.design.mm("row") / 2 + 1.4
            yield Text(x, y, self.words("packing.bottle_of", bottle=number), self.design.pt("text"))

    def letters(self, key: OpenedKey) -> Iterator[Element]:
        """The letter of each drink's second vial."""
        letters = {number: place for place, number in key.places.items()}
        for row in range(self.kit.session.glasses):
            yield self._mark("two_x", row, letters[row + 1])

    def _warning(self) -> None:
        galley, size_pt = self.galley, self.design.pt("drink")
        text = self.words("packing.warning")
        galley.elements += [
            Rect(galley.left, galley.y - 5.5, galley.right - galley.left, 10.0, 0.7),
            Text((galley.left + galley.right) / 2, galley.y + 0.9, text, size_pt, "semibold", "centre"),
        ]
        galley.y += 11.0

    def _rows(self) -> None:
        galley, design = self.galley, self.design
        heads = (("drink", 0.0), ("bottle", design.mm("bottle_x")), ("round_one", design.mm("one_x")))
        for name, x in (*heads, ("round_two", design.mm("two_x"))):
            text = self.words(f"packing.{name}")
            galley.elements.append(Text(galley.left + x, self.rows_y - 1.8, text, design.pt("head"), gray=GRAY))
        for row, pour in enumerate(self.kit.session.pours):
            self._rule(self._row_y(row))
            self._drink(row, pour.name, pour.style or "")
            for column in ("one_x", "two_x"):
                galley.elements += self._vial(column, row)
            galley.elements.append(self._mark("one_x", row, str(row + 1)))
        galley.y = self._row_y(self.kit.session.glasses)
        self._rule(galley.y)
        galley.y += 9.0

    def _drink(self, row: int, name: str, style: str) -> None:
        design, y = self.design, self._row_y(row) + self.design.mm("row") / 2
        room_mm, least_pt = design.mm("bottle_x") - 4.0, design.pt("least")
        shown, size_pt = fitted(name, "semibold", design.pt("drink"), room_mm, least_pt)
        self.galley.elements.append(Text(self.galley.left, y + (0.0 if style else 1.6), shown, size_pt, "semibold"))
        if style:
            shown, size_pt = fitted(style, "regular", design.pt("small"), room_mm, least_pt)
            self.galley.elements.append(Text(self.galley.left, y + 4.6, shown, size_pt, gray=GRAY))

    def _vial(self, column: str, row: int) -> Iterator[Element]:
        """A drawn label and the square to tick beside it."""
        design, (x, y) = self.design, self._vial_corner(column, row)
        side, tick = design.mm("vial"), design.mm("vial_tick")
        yield Rect(x, y, side, side, 0.3, corner_mm=1.5)
        yield Rect(x + side + 5.0, y + (side - tick) / 2, tick, tick, 0.3)

    def _mark(self, column: str, row: int, mark: str) -> Text:
        x, y = self._vial_corner(column, row)
        middle = self.design.mm("vial") / 2
        return Text(x + middle, y + middle + 2.1, mark, self.design.pt("mark"), "black", "centre")

    def _vial_corner(self, column: str, row: int) -> tuple[float, float]:
        x = self.galley.left + self.design.mm(column)
        return x, self._row_y(row) + (self.design.mm("row") - self.design.mm("vial")) / 2

    def _signature(self) -> None:
        galley, size_pt = self.galley, self.design.pt("text")
        y = galley.y + 6.0
        middle = galley.left + (galley.right - galley.left) * 0.62
        for x, right, name in ((galley.left, middle - 4.0, "packed"), (middle, galley.right, "on")):
            text = self.words(f"packing.{name}")
            galley.elements.append(Text(x, y, text, size_pt))
            line_x = x + width_mm(text, "regular", size_pt) + 2.0
            galley.elements.append(Rule(line_x, y + 0.6, right, y + 0.6, 0.15, RULE_GRAY))

    def _rule(self, y: float) -> None:
        self.galley.elements.append(Rule(self.galley.left, y, self.galley.right, y, 0.15, RULE_GRAY))

    def _row_y(self, row: int) -> float:
        return self.rows_y + row * self.design.mm("row")
