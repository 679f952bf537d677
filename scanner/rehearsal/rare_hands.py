"""Hands and pens rarer than those of `habits` and `pens`: once held out, tuned upon since."""

from __future__ import annotations

from scanner.rehearsal.habits import Hand
from scanner.rehearsal.pens import Pen

RARE_HANDS: tuple[Hand, ...] = (
    Hand("three-stroke-stars", (("asterisk", 1.0),), size=0.85, overshoot_mm=0.4, bow=0.06, scatter_mm=0.25),
    Hand("carets", (("caret", 1.0),), size=0.82, size_spread=0.12, scatter_mm=0.3, flick=0.5, take_back="scrub"),
    Hand(
        "uprights",
        (("upright", 0.95), ("twin-strokes", 0.05)),
        size=0.95,
        overshoot_mm=0.6,
        slant_deg=7,
        scatter_mm=0.35,
        flick=0.4,
        take_back="solid",
    ),
    Hand("twin-strokes", (("twin-strokes", 1.0),), size=0.9, overshoot_mm=0.5, bow=0.08, scatter_mm=0.3, flick=0.7),
    Hand("tallies", (("three-strokes", 0.9), ("twin-strokes", 0.1)), size=0.88, size_spread=0.12, flick=0.5),
    Hand("circled-crosses", (("crossed-ring", 1.0),), size=1.02, bow=0.05, scatter_mm=0.2, take_back="solid"),
    Hand("half-shaded", (("half-shade", 1.0),), size=0.92, size_spread=0.05, scatter_mm=0.15, take_back="scrub"),
    Hand("y-for-yes", (("letter-y", 1.0),), size=0.9, overshoot_mm=1.0, scatter_mm=0.3, flick=0.6, slant_deg=10),
    Hand(
        "hurried-zeds",
        (("zed", 0.9), ("ess", 0.1)),
        size=0.95,
        size_spread=0.15,
        bow=0.1,
        scatter_mm=0.4,
        flick=0.8,
        pressure=0.85,
        take_back="scrub",
    ),
    Hand("pigtails", (("pigtail", 1.0),), size=0.8, tail_mm=2.0, scatter_mm=0.3, slant_deg=12, flick=0.6),
    Hand("looped-ticks", (("looped-tick", 1.0),), size=0.95, tail_mm=2.5, scatter_mm=0.3, flick=0.8, underline=0.2),
    Hand("little-squares", (("inner-square", 1.0),), size=0.9, size_spread=0.1, scatter_mm=0.2, take_back="solid"),
    Hand("five-pointed-stars", (("five-points", 1.0),), size=1.05, bow=0.05, scatter_mm=0.2),
    Hand("grids", (("grid", 0.94), ("asterisk", 0.06)), size=0.85, overshoot_mm=0.5, bow=0.05, pressure=1.1),
    Hand(
        "arrows",
        (("arrow", 1.0),),
        size=0.95,
        overshoot_mm=0.8,
        slant_deg=-5,
        slant_spread_deg=9,
        scatter_mm=0.25,
        take_back="scrub",
    ),
    Hand("faces", (("face", 0.85), ("caret", 0.15)), size=0.9, scatter_mm=0.2, bow=0.05, flick=0.3),
    Hand(
        "unsteady-esses",
        (("ess", 0.95), ("upright", 0.05)),
        size=0.9,
        size_spread=0.14,
        shake_mm=0.09,
        scatter_mm=0.35,
        bias_x_mm=0.25,
        bias_y_mm=-0.3,
        slant_deg=-9,
        pressure=0.95,
    ),
    Hand(
        "this-and-that",
        (("letter-y", 0.35), ("asterisk", 0.25), ("looped-tick", 0.25), ("twin-strokes", 0.15)),
        size=0.9,
        size_spread=0.15,
        overshoot_mm=0.6,
        tail_mm=1.5,
        scatter_mm=0.35,
        flick=0.5,
        take_back="solid",
    ),
)

RARE_PENS: tuple[Pen, ...] = (
    Pen("brush-pen", (0.40, 0.85), 36, 0.95, response=0.15, shading=0.15, bleed_mm=0.04, pools=0.15),
    Pen("carpenters-pencil", (0.55, 0.92), 84, 0.86, response=0.5, tooth=0.85, shading=0.2, nib=0.35, erasable=True),
    Pen("mechanical-pencil", (0.34, 0.44), 82, 0.88, response=0.5, tooth=0.5, shading=0.1, erasable=True),
    Pen("turquoise-rollerball", (0.38, 0.52), 104, 0.96, response=0.05, shading=0.08, bleed_mm=0.04, pools=0.25),
    Pen("orange-felt-tip", (0.50, 0.80), 122, 0.95, response=0.1, shading=0.12, bleed_mm=0.05, pools=0.3),
    Pen("broad-burgundy-nib", (0.45, 0.75), 68, 0.93, response=0.15, shading=0.45, bleed_mm=0.05, pools=0.2, nib=0.5),
    Pen("blobbing-ballpoint", (0.28, 0.46), 50, 0.90, tooth=0.3, shading=0.25, skips_per_cm=0.6, pools=0.8),
    Pen("dried-out-marker", (0.65, 1.00), 56, 0.78, response=0.3, tooth=0.6, shading=0.35, skips_per_cm=0.3),
    Pen("needle-point", (0.22, 0.30), 24, 0.97, response=0.05, shading=0.04, bleed_mm=0.015),
    Pen("charcoal", (0.45, 0.80), 58, 0.85, response=0.5, tooth=1.0, shading=0.3),
)
