"""One person's habit of marking boxes, and a catalogue of such hands."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scanner.rehearsal.severities import draw

STYLES = {
    "cross": 8.0,
    "tick": 5.0,
    "slash": 2.0,
    "backslash": 1.0,
    "dot": 1.0,
    "scribble": 1.5,
    "fill": 2.0,
    "ring": 0.6,
    "circle": 1.0,
    "wave": 1.0,
    "hook": 1.0,
    "double-tick": 0.5,
    "spiral": 0.5,
    "plus": 1.0,
    "dash": 0.5,
}
"""How people mark boxes, and how often a random hand does so."""


@dataclass(frozen=True, slots=True)
class Hand:
    """How one person marks.

    `styles` are kinds of marks with their weights. `size` is the mark's side as a share of the box's, with
    `size_spread` from mark to mark; `overshoot_mm` how far strokes run on past that; `tail_mm` the length of a tick's
    tail beyond the box. `slant_deg` turns the marks clockwise. `bow` bends straight strokes (share of their length),
    `shake_mm` is the tremor. `bias_x_mm` and `bias_y_mm` are where the marks sit off the box's centre, `scatter_mm` by
    how much that varies. `pressure` 1 is the usual; `flick` (0 … 1) how far strokes thin out at their end; `linked` the
    chance that the pen is not lifted between two strokes. `take_back` is how an answer is taken back: "black-out"
    (dense hatching that hides the box), "solid" (filled in, edge to edge) or "scrub" (wild, past the box). `underline`
    is the chance that a chosen word is underlined as well.
    """

    name: str
    styles: tuple[tuple[str, float], ...]
    size: float = 0.9
    size_spread: float = 0.08
    overshoot_mm: float = 0.3
    tail_mm: float = 1.5
    slant_deg: float = 0.0
    slant_spread_deg: float = 5.0
    bow: float = 0.05
    shake_mm: float = 0.02
    bias_x_mm: float = 0.0
    bias_y_mm: float = 0.0
    scatter_mm: float = 0.2
    pressure: float = 1.0
    flick: float = 0.4
    linked: float = 0.05
    take_back: str = "black-out"
    underline: float = 0.0


HANDS: tuple[Hand, ...] = (
    Hand("neat-crosses", (("cross", 1.0),), size=0.78, overshoot_mm=0.1, scatter_mm=0.12, flick=0.2, linked=0.0),
    Hand(
        "hasty-crosses",
        (("cross", 0.94), ("slash", 0.06)),
        size=1.0,
        size_spread=0.16,
        overshoot_mm=0.8,
        bow=0.10,
        scatter_mm=0.45,
        flick=0.8,
        linked=0.15,
        slant_deg=8,
        slant_spread_deg=10,
        take_back="scrub",
    ),
    Hand("looped-crosses", (("cross", 1.0),), size=0.9, overshoot_mm=0.4, bow=0.12, linked=0.9, flick=0.5),
    Hand("large-crosses", (("cross", 1.0),), size=1.25, overshoot_mm=0.7, scatter_mm=0.3, pressure=1.15),
    Hand("small-crosses", (("cross", 1.0),), size=0.5, overshoot_mm=0.1, scatter_mm=0.35, bias_x_mm=-0.3, flick=0.2),
    Hand(
        "trembling-crosses",
        (("cross", 0.95), ("slash", 0.05)),
        size=0.95,
        size_spread=0.14,
        shake_mm=0.10,
        bow=0.08,
        scatter_mm=0.4,
        pressure=0.85,
        flick=0.2,
        take_back="solid",
    ),
    Hand("tidy-ticks", (("tick", 1.0),), size=0.85, tail_mm=0.6, scatter_mm=0.2, flick=0.5),
    Hand(
        "flying-ticks",
        (("tick", 1.0),),
        size=1.0,
        size_spread=0.15,
        tail_mm=6.0,
        bow=0.10,
        scatter_mm=0.35,
        flick=0.9,
        slant_deg=6,
        take_back="scrub",
    ),
    Hand("slashes", (("slash", 1.0),), size=1.0, overshoot_mm=0.6, scatter_mm=0.3, flick=0.6),
    Hand("backward-slashes", (("backslash", 0.97), ("cross", 0.03)), size=0.95, overshoot_mm=0.4, slant_deg=-6),
    Hand("firm-dots", (("dot", 1.0),), size=0.36, size_spread=0.12, scatter_mm=0.35, pressure=1.1),
    Hand(
        "scribbles",
        (("scribble", 0.95), ("cross", 0.05)),
        size=0.8,
        size_spread=0.12,
        bow=0.1,
        scatter_mm=0.25,
        overshoot_mm=0.4,
        take_back="scrub",
    ),
    Hand(
        "filled-boxes",
        (("fill", 1.0),),
        size=0.95,
        size_spread=0.04,
        scatter_mm=0.12,
        overshoot_mm=0.1,
        take_back="scrub",
    ),
    Hand("rings-round-the-box", (("ring", 0.9), ("cross", 0.1)), size=1.45, size_spread=0.10, scatter_mm=0.3),
    Hand("little-circles", (("circle", 1.0),), size=0.62, scatter_mm=0.25, bow=0.08),
    Hand("waves", (("wave", 1.0),), size=0.85, scatter_mm=0.25, flick=0.5, take_back="solid"),
    Hand("light-touch", (("cross", 0.7), ("tick", 0.3)), size=0.75, pressure=0.68, scatter_mm=0.3, flick=0.7),
    Hand(
        "changes-of-mind",
        (("cross", 0.5), ("tick", 0.3), ("slash", 0.1), ("scribble", 0.1)),
        size=0.95,
        size_spread=0.15,
        scatter_mm=0.35,
        tail_mm=2.0,
        underline=0.15,
    ),
    Hand(
        "left-hand-low",
        (("cross", 1.0),),
        size=0.9,
        slant_deg=-14,
        bias_x_mm=0.35,
        bias_y_mm=0.55,
        scatter_mm=0.35,
        bow=0.10,
    ),
    Hand("crosses-and-underlines", (("cross", 1.0),), size=0.85, underline=0.6, pressure=1.1),
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


def random_hand(rng: np.random.Generator) -> Hand:
    """Return a hand that nobody has: a main style, at times a second one, all else uniform over the table `hand`."""
    weights = np.array(list(STYLES.values()))
    main, second = (str(s) for s in rng.choice(list(STYLES), size=2, replace=False, p=weights / weights.sum()))
    share = float(rng.uniform(0.85, 1.0)) if rng.random() < 0.4 else 1.0
    styles = ((main, share), (second, 1.0 - share))
    return draw(Hand, "hand", rng, name=f"random-{main}", styles=styles)
