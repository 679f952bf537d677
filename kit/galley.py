"""Sets lines, ticks and tables down a page that is not read back, remembering how far it has come."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from kit.drawing import GRAY, RULE_GRAY, Element, Face, Rect, Rule, Text
from kit.fonts import fitted, width_mm
from kit.forms.design import Design
from kit.line_breaking import pieces, without_runt
from kit.paper import Paper


@dataclass(frozen=True, slots=True)
class Column:
    """A table's column: heading, left edge and room, mm; numbers are set to the right."""

    heading: str
    x_mm: float
    room_mm: float
    numeric: bool = False


class Galley:
    """The column of a page between its margins; `y` is the next baseline, mm, `elements` what was set so far."""

    def __init__(self, paper: Paper, design: Design) -> None:
        self.paper = paper
        self.design = design
        self.left = design.mm("margin")
        self.right = paper.width_mm - design.mm("margin")
        self.y = design.mm("top")
        self.elements: list[Element] = []

    def head(self, heading: str, title: str, ending: str, below: str) -> None:
        """Set the page's heading, the sitting's title and date at its right, a line below them, and a rule.

        The date is the title's `ending`, as `kit.sheets.date_after_title` words it.
        """
        small = self.design.pt("small")
        room_mm = self.right - self.left - width_mm(heading, "black", self.design.pt("heading")) - 6.0
        shown, title_pt = fitted(title, "regular", self.design.pt("title"), min(room_mm, 110.0), small, ending=ending)
        self.elements += [
            Text(self.left, self.y, heading, self.design.pt("heading"), "black"),
            Text(self.right, self.y, shown, title_pt, align="right", gray=GRAY),
            Text(self.right, self.y - 4.6, below, small, align="right", gray=GRAY),
            Rule(self.left, self.y + 3.6, self.right, self.y + 3.6, 0.3),
        ]
        self.y += 12.0

    def line(self, text: str, *, bold: bool = False, gray: float = 0.0) -> None:
        """Set a paragraph, broken into lines that fit."""
        face: Face = "semibold" if bold else "regular"
        for part in wrapped(text, self.design.pt("text"), self.right - self.left, face=face):
            self.elements.append(Text(self.left, self.y, part, self.design.pt("text"), face, gray=gray))
            self.y += self.design.mm("line") * 0.88
        self.y += self.design.mm("line") * 0.12

    def tick(self, text: str) -> None:
        """Set a line with a square to tick before it."""
        side = self.design.mm("tick")
        self.elements.append(Rect(self.left, self.y - side + 0.9, side, side))
        for part in wrapped(text, self.design.pt("text"), self.right - self.left - side - 3.0):
            self.elements.append(Text(self.left + side + 3.0, self.y, part, self.design.pt("text")))
            self.y += self.design.mm("line") * 0.82
        self.y += self.design.mm("line") * 0.42

    def gap(self, share: float = 0.7) -> None:
        """Leave a share of a line empty."""
        self.y += self.design.mm("line") * share

    def table(self, columns: tuple[Column, ...], rows: Sequence[tuple[str, ...]], *, size: str = "text") -> None:
        """Set a table with a rule under each row."""
        self._cells(columns, tuple(column.heading for column in columns), "head", GRAY)
        for row in rows:
            self.elements.append(Rule(self.left, self.y - 5.9, self.right, self.y - 5.9, 0.12, RULE_GRAY))
            self._cells(columns, row, size, 0.0)
        self.elements.append(Rule(self.left, self.y - 5.9, self.right, self.y - 5.9, 0.12, RULE_GRAY))

    def _cells(self, columns: tuple[Column, ...], cells: tuple[str, ...], size: str, gray: float) -> None:
        for column, cell in zip(columns, cells, strict=True):
            text, size_pt = fitted(cell, "regular", self.design.pt(size), column.room_mm, 6.5)
            x = column.x_mm + (column.room_mm if column.numeric else 0.0)
            self.elements.append(Text(x, self.y, text, size_pt, align="right" if column.numeric else "left", gray=gray))
        self.y += self.design.mm("row")


def wrapped(text: str, size_pt: float, room_mm: float, *, lead_mm: float = 0.0, face: Face = "regular") -> list[str]:
    """Return the text in lines of at most `room_mm`, the first of them shorter by `lead_mm`.

    What can be parted nowhere is set whole, however wide it is.
    """
    lines: list[list[str]] = [[]]
    room, reached = room_mm - lead_mm, 0.0
    for piece in pieces(text):
        width = width_mm(piece, face, size_pt)
        if reached + width > room and (reached or (lead_mm and len(lines) == 1)):
            lines.append([])
            piece, room, reached = piece.removeprefix(" "), room_mm, 0.0
            width = width_mm(piece, face, size_pt)
        lines[-1].append(piece)
        reached += width
    return ["".join(line) for line in without_runt(lines)]
