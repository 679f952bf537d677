"""What people write with at a tasting table."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Pen:
    """One writing tool, by what it leaves on paper.

    `width_mm` is the line's width at a light touch and under full pressure; `gray` the solid ink's level (0 … 255, as a
    gray scan sees that colour on paper of 255); `flow` the share of a line that is inked at usual pressure; `response`
    how much more a harder hand leaves (0 none, 1 in proportion). `tooth` is how much the paper's grain shows in the
    line, `shading` its slow lighter and darker runs, `skips_per_cm` the gaps where the ink fails, `bleed_mm` how far
    ink creeps into the paper, `pools` how much wider it stands where the pen rests, `nib` how much the width follows
    the stroke's direction.
    """

    name: str
    width_mm: tuple[float, float]
    gray: int
    flow: float
    response: float = 0.2
    tooth: float = 0.0
    shading: float = 0.1
    skips_per_cm: float = 0.0
    bleed_mm: float = 0.0
    pools: float = 0.0
    nib: float = 0.0
    erasable: bool = False

    @property
    def darkness(self) -> float:
        """The contrast of a line at usual pressure: 0 paper, 1 black."""
        return self.flow * (1.0 - self.gray / 255.0)


PENS: tuple[Pen, ...] = (
    Pen("black-ballpoint", (0.26, 0.40), 32, 0.92, tooth=0.22, shading=0.12, skips_per_cm=0.10),
    Pen("blue-ballpoint", (0.26, 0.42), 78, 0.90, tooth=0.25, shading=0.15, skips_per_cm=0.12),
    Pen("red-ballpoint", (0.26, 0.42), 96, 0.90, tooth=0.25, shading=0.15, skips_per_cm=0.12),
    Pen("failing-ballpoint", (0.22, 0.36), 60, 0.80, tooth=0.45, shading=0.35, skips_per_cm=0.9),
    Pen("pencil-hb", (0.30, 0.55), 88, 0.85, response=0.6, tooth=0.75, shading=0.15, erasable=True),
    Pen("blunt-soft-pencil", (0.55, 0.95), 74, 0.85, response=0.6, tooth=0.80, shading=0.15, erasable=True),
    Pen("faint-pencil", (0.28, 0.45), 120, 0.78, response=0.7, tooth=0.70, shading=0.2, erasable=True),
    Pen("fineliner", (0.34, 0.44), 28, 0.98, response=0.05, shading=0.04, bleed_mm=0.02, pools=0.15),
    Pen("gel-pen", (0.42, 0.58), 30, 0.97, response=0.05, tooth=0.05, shading=0.06, bleed_mm=0.02, pools=0.1),
    Pen("felt-tip", (0.80, 1.15), 52, 0.95, response=0.1, shading=0.10, bleed_mm=0.07, pools=0.35),
    Pen("broad-marker", (1.40, 2.10), 38, 0.96, response=0.1, shading=0.12, bleed_mm=0.11, pools=0.25),
    Pen("fountain-pen", (0.34, 0.66), 52, 0.92, response=0.2, shading=0.30, bleed_mm=0.035, pools=0.25, nib=0.35),
    Pen("green-gel", (0.40, 0.55), 88, 0.96, response=0.05, tooth=0.05, shading=0.08, bleed_mm=0.02, pools=0.1),
    Pen("hard-pencil", (0.24, 0.36), 108, 0.80, response=0.7, tooth=0.65, shading=0.15, erasable=True),
    Pen("wax-crayon", (1.10, 1.70), 70, 0.88, response=0.4, tooth=0.95, shading=0.2),
    Pen("purple-fineliner", (0.32, 0.42), 74, 0.97, response=0.05, shading=0.05, bleed_mm=0.03, pools=0.2),
)
