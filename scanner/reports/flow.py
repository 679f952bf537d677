"""A report that flows from page to page: each begins with the same title, and what belongs together is not parted."""

from __future__ import annotations

from dataclasses import dataclass

from kit.drawing import Text
from kit.fonts import fitted
from scanner.reports.chart import Chart
from scanner.reports.inks import QUIET
from scanner.reports.page import Block, Foot, Frame, ReportPage
from scanner.reports.setter import LEAST_PT, MM_PER_PT, Setter, broken, height_mm

GUTTER_MM = 8.0
HEAD_PT, TEXT_PT, CAPTION_PT = 10.5, 9.0, 8.0
HEAD_MM = HEAD_PT * MM_PER_PT * 1.45
HEAD_LEAD_MM = HEAD_PT * MM_PER_PT * 1.15


@dataclass(frozen=True, slots=True)
class Title:
    """What stands at the top of each page: a heading, at its right a title and a line below that."""

    heading: str
    title: str
    below: str


@dataclass(frozen=True, slots=True)
class Cell:
    """A chart, or a text in its place, under a heading and a sentence that says what is drawn and how to read it."""

    heading: str
    caption: str
    chart: Chart | None
    alt: str = ""
    lines: tuple[str, ...] = ()

    def height_mm(self, width_mm: float) -> float:
        """Return how high it comes out in a column of that width, below its heading."""
        caption = height_mm(broken(self.caption, "regular", CAPTION_PT, width_mm), CAPTION_PT) if self.caption else 0.0
        lines = sum(height_mm(broken(line, "regular", TEXT_PT, width_mm), TEXT_PT) + 0.8 for line in self.lines)
        return caption + (1.5 + self.chart.height_mm if self.chart else 0.0) + (1.5 + lines if lines else 0.0)


class Flow:
    """Pages that are filled one after the other; `setter` is that of the page at work."""

    def __init__(self, frame: Frame, foot: Foot, title: Title, outline: str, continued: str) -> None:
        self._frame, self._foot, self._title, self._continued = frame, foot, title, continued
        self._outline: str | None = outline
        self._done: list[ReportPage] = []
        self.setter = Setter(frame)
        self.setter.title(title.heading, title.title, title.below)

    def need(self, height_mm: float) -> bool:
        """Begin a new page if there is not so much room left; return whether it did."""
        if self.setter.room_mm >= height_mm or self.setter.y < self._frame.top + 20:
            return False
        self._finish()
        self.setter = Setter(self._frame)
        self.setter.title(self._title.heading, self._title.title, f"{self._title.below} {self._continued}")
        return True

    def row(
        self,
        cells: tuple[Cell, ...],
        widths_mm: tuple[float, ...],
        gap_mm: float = 3.0,
        *,
        gutter_mm: float = GUTTER_MM,
    ) -> None:
        """Set cells side by side, on a new page if they have no room here."""
        height = row_height_mm(cells, widths_mm)
        self.need(height)
        top, left = self.setter.y, self._frame.left
        heads = max(head_lines(cell.heading, width) for cell, width in zip(cells, widths_mm, strict=True))
        for cell, width in zip(cells, widths_mm, strict=True):
            self.setter.y = top
            self._cell(cell, left, width, heads)
            left += width + gutter_mm
        self.setter.y = top + height + gap_mm

    def heading(self, text: str, x_mm: float, room_mm: float) -> None:
        """Set a heading of the second rank in a column, on two lines at the most."""
        first, *rest = broken(text, "semibold", HEAD_PT, room_mm)
        parts = []
        for line in (first, " ".join(rest)) if rest else (first,):
            shown, size_pt = fitted(line, "semibold", HEAD_PT, room_mm, LEAST_PT)
            parts.append(Text(x_mm, self.setter.y + HEAD_PT * MM_PER_PT, shown, size_pt, "semibold"))
            self.setter.y += HEAD_LEAD_MM
        self.setter.blocks.append(Block("H2", tuple(parts)))
        self.setter.y += HEAD_MM - HEAD_LEAD_MM

    def pages(self) -> list[ReportPage]:
        """Return all pages."""
        self._finish()
        return self._done

    def _cell(self, cell: Cell, left_mm: float, width_mm: float, heads: int) -> None:
        top = self.setter.y
        self.heading(cell.heading, left_mm, width_mm)
        self.setter.y = top + _heads_mm(heads)
        if cell.caption:
            self.setter.paragraph(cell.caption, size_pt=CAPTION_PT, gray=QUIET, x_mm=left_mm, room_mm=width_mm)
        if cell.chart is not None:
            self.setter.gap(1.5)
            self.setter.figure(cell.chart, cell.alt, x_mm=left_mm)
        if cell.lines:
            self.setter.gap(1.5)
        for line in cell.lines:
            self.setter.paragraph(line, size_pt=TEXT_PT, x_mm=left_mm, room_mm=width_mm)
            self.setter.gap(0.8)

    def _finish(self) -> None:
        self._done.append(ReportPage(self._frame, self._foot, tuple(self.setter.blocks), self._outline))
        self._outline = None


def head_lines(text: str, room_mm: float) -> int:
    """Return on how many lines a heading is set: one, or two."""
    return min(2, len(broken(text, "semibold", HEAD_PT, room_mm)))


def row_height_mm(cells: tuple[Cell, ...], widths_mm: tuple[float, ...]) -> float:
    """Return how high cells come out side by side; their headings take as many lines as the longest."""
    both = list(zip(cells, widths_mm, strict=True))
    heads = max(head_lines(cell.heading, width) for cell, width in both)
    return _heads_mm(heads) + max(cell.height_mm(width) for cell, width in both)


def _heads_mm(lines: int) -> float:
    return HEAD_MM + (lines - 1) * HEAD_LEAD_MM
