"""Hands and pens seen seldom: once held out, tuned upon since."""

from __future__ import annotations

from scanner.rehearsal.habits import Hand
from scanner.rehearsal.pens import Pen

SELDOM_HANDS: tuple[Hand, ...] = (
    Hand("vees", (("vee", 1.0),), size=0.88, size_spread=0.1, tail_mm=1.5, scatter_mm=0.28, flick=0.5),
    Hand(
        "ribbons",
        (("ribbon", 0.95), ("vee", 0.05)),
        size=0.95,
        size_spread=0.12,
        overshoot_mm=0.7,
        slant_deg=6,
        slant_spread_deg=8,
        scatter_mm=0.3,
        flick=0.6,
        take_back="scrub",
    ),
    Hand("re-marks", (("re-mark", 1.0),), size=0.92, tail_mm=2.4, bow=0.07, scatter_mm=0.25, flick=0.8),
    Hand("double-rings", (("double-ring", 1.0),), size=0.95, size_spread=0.06, scatter_mm=0.18, take_back="solid"),
    Hand("triangles", (("triangle", 1.0),), size=0.9, size_spread=0.1, bow=0.04, scatter_mm=0.22, flick=0.2),
    Hand("hearts", (("heart", 1.0),), size=0.92, size_spread=0.1, scatter_mm=0.25, slant_deg=-6, take_back="scrub"),
    Hand(
        "ones",
        (("figure-one", 1.0),),
        size=0.92,
        overshoot_mm=0.5,
        slant_deg=9,
        slant_spread_deg=6,
        scatter_mm=0.35,
        flick=0.3,
        take_back="solid",
    ),
    Hand("okays", (("okay", 1.0),), size=0.98, size_spread=0.07, bow=0.05, scatter_mm=0.2, slant_deg=4),
    Hand("ks", (("letter-k", 1.0),), size=0.92, overshoot_mm=0.6, scatter_mm=0.3, flick=0.6, take_back="scrub"),
    Hand("as", (("letter-a", 0.96), ("vee", 0.04)), size=0.95, overshoot_mm=0.5, bow=0.06, slant_deg=7, flick=0.3),
    Hand("crossed-ticks", (("crossed-tick", 1.0),), size=0.95, tail_mm=2.2, scatter_mm=0.3, flick=0.6, underline=0.12),
    Hand("ringed-ticks", (("ringed-tick", 1.0),), size=1.0, size_spread=0.06, scatter_mm=0.2, take_back="solid"),
    Hand(
        "coils",
        (("coil", 0.96), ("figure-eight", 0.04)),
        size=0.92,
        size_spread=0.1,
        scatter_mm=0.25,
        pressure=0.9,
        take_back="scrub",
    ),
    Hand("hatchings", (("hatched", 1.0),), size=0.9, size_spread=0.08, overshoot_mm=0.3, bow=0.06, flick=0.5),
    Hand(
        "exclaimers",
        (("exclamation", 1.0),),
        size=0.95,
        overshoot_mm=0.5,
        slant_deg=5,
        scatter_mm=0.35,
        pressure=1.15,
        take_back="solid",
    ),
    Hand(
        "shaky-eights",
        (("figure-eight", 1.0),),
        size=0.92,
        size_spread=0.14,
        shake_mm=0.08,
        slant_deg=-10,
        bias_x_mm=-0.25,
        bias_y_mm=0.3,
        scatter_mm=0.3,
        pressure=0.9,
    ),
    Hand("rice-marks", (("rice", 1.0),), size=0.9, overshoot_mm=0.3, scatter_mm=0.22, flick=0.3),
    Hand("cups", (("cup", 0.95), ("ribbon", 0.05)), size=0.88, tail_mm=1.5, scatter_mm=0.3, flick=0.6, slant_deg=-5),
    Hand(
        "one-sign-for-each-thought",
        (("double-ring", 0.35), ("triangle", 0.3), ("re-mark", 0.2), ("rice", 0.15)),
        size=0.9,
        size_spread=0.13,
        tail_mm=1.2,
        scatter_mm=0.3,
        flick=0.4,
        take_back="scrub",
    ),
)

SELDOM_PENS: tuple[Pen, ...] = (
    Pen("erasable-gel", (0.36, 0.50), 72, 0.90, response=0.1, tooth=0.18, shading=0.14, erasable=True),
    Pen("cocktail-pencil", (0.40, 0.68), 94, 0.86, response=0.5, tooth=0.6, shading=0.2, erasable=True),
    Pen("china-marker", (0.85, 1.30), 46, 0.88, response=0.35, tooth=0.75, shading=0.15),
    Pen("chisel-marker", (0.80, 1.30), 58, 0.94, response=0.1, shading=0.18, bleed_mm=0.05, pools=0.2, nib=0.45),
    Pen("pink-gel", (0.40, 0.54), 122, 0.96, response=0.05, tooth=0.05, shading=0.06, bleed_mm=0.02, pools=0.1),
    Pen("sepia-dip-nib", (0.20, 0.62), 76, 0.94, response=0.15, shading=0.4, bleed_mm=0.03, pools=0.45, nib=0.15),
    Pen("soaking-rollerball", (0.46, 0.64), 42, 0.96, response=0.05, shading=0.08, bleed_mm=0.085, pools=0.4),
    Pen("green-ballpoint", (0.27, 0.44), 90, 0.90, tooth=0.3, shading=0.2, skips_per_cm=0.25),
    Pen("red-colouring-pencil", (0.50, 0.85), 104, 0.88, response=0.45, tooth=0.7, shading=0.15),
    Pen(
        "giveaway-ballpoint", (0.30, 0.48), 66, 0.88, response=0.3, tooth=0.35, shading=0.3, skips_per_cm=0.4, pools=0.5
    ),
    Pen("violet-liner", (0.48, 0.62), 82, 0.97, response=0.05, shading=0.05, bleed_mm=0.03, pools=0.25),
)
