"""What stands on a report's page, as values: headings, paragraphs, charts and pictures, each with its place in mm."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from kit.drawing import Element
from kit.paper import Paper
from scanner.reports.chart import Chart

Role = Literal["H1", "H2", "H3", "P", "Figure", "Artifact"]
"""What a block is to whoever has the page read out: a heading, a paragraph, a picture; or nothing but ornament."""

MARGIN_MM = 10.0
SAFE_MARGIN_MM = 15.0
"""The widest edge that common printers leave white is half an inch, 12.7 mm, at an old inkjet's foot (from memory)."""
FOOT_MM = 9.0
"""Room for the foot within the margins."""


@dataclass(frozen=True, slots=True)
class Frame:
    """Where a report's page may be printed on; all in mm from the top left corner."""

    paper: Paper
    print_safe: bool = False

    @property
    def margin_mm(self) -> float:
        return SAFE_MARGIN_MM if self.print_safe else MARGIN_MM

    @property
    def left(self) -> float:
        return self.margin_mm

    @property
    def right(self) -> float:
        return self.paper.width_mm - self.margin_mm

    @property
    def top(self) -> float:
        return self.margin_mm

    @property
    def bottom(self) -> float:
        """Where the body ends; the foot lies below."""
        return self.paper.height_mm - self.margin_mm - FOOT_MM

    @property
    def width(self) -> float:
        return self.right - self.left


@dataclass(frozen=True, slots=True)
class Placed:
    """A chart with its top left corner there."""

    x_mm: float
    y_mm: float
    chart: Chart


@dataclass(frozen=True, slots=True)
class Picture:
    """A gray picture, the bytes of a PNG file of 8 bits, with its top left corner there."""

    x_mm: float
    y_mm: float
    w_mm: float
    h_mm: float
    png: bytes


Part = Element | Placed | Picture


@dataclass(frozen=True, slots=True)
class Block:
    """Parts that are read as one; a Figure has `alt`, which says in words what it shows."""

    role: Role
    parts: tuple[Part, ...]
    alt: str | None = None

    def __post_init__(self) -> None:
        if (self.role == "Figure") != (self.alt is not None):
            raise ValueError("a figure, and nothing else, has a text in its place")


@dataclass(frozen=True, slots=True)
class Foot:
    """What a page says of itself, so that it explains itself in a folder years later.

    `kits` and `seals` are empty where there are none; `date` is the sitting's, or says from when to when. `note` is
    one more thing to say, such as where on the paper the seal codes of many are.
    """

    kits: tuple[str, ...]
    seals: tuple[str, ...]
    date: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class ReportPage:
    """One page. `outline` is its entry in the document's outline; None for a page that goes on with the one before."""

    frame: Frame
    foot: Foot
    blocks: tuple[Block, ...]
    outline: str | None = None
