"""What can stand on a printed page, as values: positions in mm from the top left corner, y downwards, sizes in points.

Designs build pages out of these; `kit/pdf.py` draws them. Nothing else decides where ink goes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from kit.paper import Paper

Face = Literal["regular", "semibold", "black"]
Align = Literal["left", "centre", "right"]

BLACK = 0.0
GRAY = 0.38
"""Still 7:1 against white paper, and still there after a bad photocopy."""
RULE_GRAY = 0.55


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text; `y_mm` is its baseline, `x_mm` its left end, centre or right end after `align`."""

    x_mm: float
    y_mm: float
    text: str
    size_pt: float
    face: Face = "regular"
    align: Align = "left"
    gray: float = BLACK
    turned_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class Rule:
    """A straight line; `dash_mm` is the length of dashes and gaps, 0 for an unbroken line."""

    x1_mm: float
    y1_mm: float
    x2_mm: float
    y2_mm: float
    width_mm: float = 0.2
    gray: float = BLACK
    dash_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Rect:
    """A rectangle to its outer edge; the outline lies inside. `fill` and `outline_gray` are grays, None for none."""

    x_mm: float
    y_mm: float
    w_mm: float
    h_mm: float
    outline_mm: float = 0.25
    outline_gray: float | None = BLACK
    fill: float | None = None
    corner_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Modules:
    """A square field of dark and light modules, such as a code or a fiducial."""

    x_mm: float
    y_mm: float
    side_mm: float
    rows: tuple[tuple[bool, ...], ...]


@dataclass(frozen=True, slots=True)
class Stroke:
    """A pen stroke drawn as an example, through these points."""

    points_mm: tuple[tuple[float, float], ...]
    width_mm: float = 0.45


Element = Text | Rule | Rect | Modules | Stroke


@dataclass(frozen=True, slots=True)
class Page:
    """One page. `common` is drawn once a document for all pages of the same `design`; `own` for this page alone."""

    paper: Paper
    design: str
    common: tuple[Element, ...]
    own: tuple[Element, ...] = ()
