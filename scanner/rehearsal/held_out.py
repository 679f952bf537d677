"""Hands, pens and conditions that no threshold is ever chosen on: only for a final figure.

Whoever tunes the reader leaves this module alone. A set that was looked at is replaced by a new one.
"""

from __future__ import annotations

from functools import partial

import numpy as np

from scanner.rehearsal.arrays import Gray
from scanner.rehearsal.camera import Shot, photographed, scanned
from scanner.rehearsal.habits import Hand
from scanner.rehearsal.paper import CopySeverity, dog_eared, papery, photocopied
from scanner.rehearsal.pens import Pen
from scanner.rehearsal.picture import Picture
from scanner.rehearsal.severities import draw, ranges

HELD_OUT_HANDS: tuple[Hand, ...] = (
    Hand(
        "left-slanted-hooks",
        (("hook", 1.0),),
        size=0.9,
        size_spread=0.12,
        tail_mm=2.5,
        slant_deg=-8,
        scatter_mm=0.35,
        flick=0.6,
        take_back="scrub",
    ),
    Hand("double-ticks", (("double-tick", 1.0),), size=1.0, tail_mm=1.8, scatter_mm=0.25, flick=0.6),
    Hand("spirals", (("spiral", 1.0),), size=0.75, size_spread=0.12, scatter_mm=0.25, take_back="solid"),
    Hand("plus-signs", (("plus", 1.0),), size=0.9, overshoot_mm=0.5, slant_deg=4, slant_spread_deg=6, bow=0.07),
    Hand(
        "dashes", (("dash", 0.95), ("plus", 0.05)), size=0.9, overshoot_mm=0.5, slant_deg=-8, scatter_mm=0.4, flick=0.7
    ),
)

HELD_OUT_PENS: tuple[Pen, ...] = (
    Pen("green-gel", (0.40, 0.55), 88, 0.96, response=0.05, tooth=0.05, shading=0.08, bleed_mm=0.02, pools=0.1),
    Pen("hard-pencil", (0.24, 0.36), 108, 0.80, response=0.7, tooth=0.65, shading=0.15, erasable=True),
    Pen("wax-crayon", (1.10, 1.70), 70, 0.88, response=0.4, tooth=0.95, shading=0.2),
    Pen("purple-fineliner", (0.32, 0.42), 74, 0.97, response=0.05, shading=0.05, bleed_mm=0.03, pools=0.2),
)


def recycled(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a 200-dpi scan of a page on grey, fibrous paper."""
    tone, fibre = (_one("recycled-paper", name, rng) for name in ("tone", "fibre"))
    return scanned(papery(page, px_per_mm, tone, rng, fibre), px_per_mm, rng, table="flatbed", dpi=200.0)


def starved(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a 200-dpi scan of a copy made with hardly any toner left."""
    severity = draw(CopySeverity, "held_out.starved-toner", rng)
    return scanned(photocopied(page, px_per_mm, rng, severity), px_per_mm, rng, table="feeder", dpi=200.0)


def cornered(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a 300-dpi scan of a page with one corner folded over."""
    leg_mm = _one("dog-eared", "leg_mm", rng)
    corner = int(rng.integers(4))
    folded_page, hidden = dog_eared(page, px_per_mm, corner, leg_mm, desk=245.0)
    picture = scanned(folded_page, px_per_mm, rng, table="flatbed", dpi=300.0)
    return Picture(picture.image, picture.place, (hidden,))


def _one(table: str, name: str, rng: np.random.Generator) -> float:
    low, high = ranges(f"held_out.{table}")[name]
    return float(rng.uniform(low, high))


HELD_OUT_SHOTS: dict[str, Shot] = {
    "desk-lamp": partial(photographed, table="held_out.desk-lamp"),
    "crumpled": partial(photographed, table="held_out.crumpled"),
    "moved-while-shooting": partial(photographed, table="held_out.moved-while-shooting"),
    "plastic-sleeve": partial(photographed, table="held_out.plastic-sleeve"),
    "recycled-paper": recycled,
    "starved-toner": starved,
    "dog-eared": cornered,
    "curled-and-dim": partial(photographed, table="held_out.curled-and-dim"),
}
