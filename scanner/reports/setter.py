"""Sets headings, paragraphs and charts down a report's page, remembering how far it has come."""

from __future__ import annotations

from collections.abc import Sequence

from kit.drawing import Element, Face, Rule, Text
from kit.fonts import fitted, width_mm
from kit.galley import wrapped
from scanner.reports.chart import Chart
from scanner.reports.inks import BLACK, LINE, QUIET
from scanner.reports.page import Block, Frame, Part, Placed

LEADING = 1.28
"""From baseline to baseline, in sizes of the type."""
MM_PER_PT = 25.4 / 72
LEAST_PT = 6.5
"""Nothing is printed smaller."""


class Setter:
    """The column of a page; `y` is where the next thing begins, mm, `blocks` what was set so far."""

    def __init__(self, frame: Frame) -> None:
        self.frame = frame
        self.y = frame.top
        self.blocks: list[Block] = []

    @property
    def room_mm(self) -> float:
        """What is left above the foot."""
        return self.frame.bottom - self.y

    def title(self, heading: str, title: str, below: str) -> None:
        """Set the page's heading (a taster's name, say), at its right the sitting's title, and a line below that.

        What is too long to stand beside the other stands below it.
        """
        frame, gap_mm = self.frame, 6.0
        beside_mm = max(width_mm(title, "semibold", 11.0), width_mm(below, "regular", 9.0))
        stacked = width_mm(heading, "black", 15.0) + gap_mm + beside_mm > frame.width
        room_mm = frame.width - (0.0 if stacked else beside_mm + gap_mm)
        shown, heading_pt = fitted(heading, "black", 20.0, room_mm, 9.0)
        baseline = self.y + 7.0
        self.blocks.append(Block("H1", (Text(frame.left, baseline, shown, heading_pt, "black"),)))
        if stacked:
            baseline += 4.8
            room_mm = frame.width - width_mm(below, "regular", 9.0) - gap_mm
            title, title_pt = fitted(title, "semibold", 10.0, room_mm, LEAST_PT)
            at_right: list[Element] = [Text(frame.left, baseline, title, title_pt, "semibold")]
        else:
            at_right = [Text(frame.right, baseline - 3.9, title, 11.0, "semibold", "right")]
        at_right.append(Text(frame.right, baseline, below, 9.0, "regular", "right", QUIET))
        self.blocks.append(Block("P", tuple(at_right)))
        self.rule(at=baseline + 2.2, width_mm=0.4, gray=BLACK)
        self.y = baseline + 4.6

    def heading(self, text: str, *, size_pt: float = 11.0) -> None:
        """Set a heading of the second rank."""
        shown, fitting_pt = fitted(text, "semibold", size_pt, self.frame.width, LEAST_PT)
        baseline = self.y + size_pt * MM_PER_PT
        self.blocks.append(Block("H2", (Text(self.frame.left, baseline, shown, fitting_pt, "semibold"),)))
        self.y = baseline + size_pt * MM_PER_PT * 0.5

    def paragraph(
        self,
        text: str,
        *,
        size_pt: float = 9.0,
        face: Face = "regular",
        gray: float = BLACK,
        x_mm: float | None = None,
        room_mm: float | None = None,
    ) -> None:
        """Set a paragraph, broken into lines that fit from `x_mm` on; `y` is below it afterwards."""
        left = self.frame.left if x_mm is None else x_mm
        room = self.frame.right - left if room_mm is None else room_mm
        lines: list[Part] = []
        for line in broken(text, face, size_pt, room):
            self.y += size_pt * MM_PER_PT * LEADING
            lines.append(Text(left, self.y - size_pt * MM_PER_PT * 0.28, line, size_pt, face, gray=gray))
        self.blocks.append(Block("P", tuple(lines)))

    def figure(self, chart: Chart, alt: str, *, x_mm: float | None = None) -> None:
        """Set a chart at the left margin or at `x_mm`; `alt` says in words what it shows."""
        left = self.frame.left if x_mm is None else x_mm
        self.blocks.append(Block("Figure", (Placed(left, self.y, chart),), alt))
        self.y += chart.height_mm

    def rule(self, *, at: float | None = None, width_mm: float = 0.15, gray: float = LINE) -> None:
        """Draw a line across the column; `y` stays."""
        y = self.y if at is None else at
        line = Rule(self.frame.left, y, self.frame.right, y, width_mm, gray)
        self.blocks.append(Block("Artifact", (line,)))

    def gap(self, height_mm: float) -> None:
        """Leave some room empty."""
        self.y += height_mm


def broken(text: str, face: Face, size_pt: float, room_mm: float) -> list[str]:
    """Return a text in lines of at most `room_mm`; what can be parted nowhere and is wider is broken anywhere."""
    lines = []
    for line in wrapped(text, size_pt, room_mm, face=face):
        rest = line
        while width_mm(rest, face, size_pt) > room_mm and len(rest) > 1:
            end = _fitting(rest, face, size_pt, room_mm)
            lines.append(rest[:end].rstrip())
            rest = rest[end:].lstrip()
        lines.append(rest)
    return lines


def _fitting(text: str, face: Face, size_pt: float, room_mm: float) -> int:
    """Return how many characters from the left fit, one at least."""
    low, high = 1, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if width_mm(text[:middle], face, size_pt) <= room_mm else (low, middle - 1)
    return low


def height_mm(lines: Sequence[str], size_pt: float) -> float:
    """Return how high so many lines come out."""
    return len(lines) * size_pt * MM_PER_PT * LEADING
