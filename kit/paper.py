"""Paper sizes and the few units that printing needs."""

from __future__ import annotations

from dataclasses import dataclass

POINTS_PER_MM = 72.0 / 25.4


@dataclass(frozen=True, slots=True)
class Paper:
    """A sheet of paper, upright."""

    name: str
    width_mm: float
    height_mm: float


A4 = Paper("A4", 210.0, 297.0)
"""ISO 216."""
LETTER = Paper("Letter", 215.9, 279.4)
"""8.5 × 11 inches."""

PAPERS = {paper.name: paper for paper in (A4, LETTER)}
