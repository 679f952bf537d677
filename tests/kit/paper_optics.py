"""What is seen of print through paper: a model of plies, ink and a camera, for the tests of coaster labels.

A ply of paper is a layer that scatters (Kubelka and Munk). Its reflectance over black is R0, that of a pile of it is
R∞, and its opacity is R0/R∞ (ISO 2471). Over a ground of reflectance Rg it reflects

    R = R0 + T² · Rg / (1 − R0 · Rg)

with T its own transmittance, and a pile must not change when a ply is laid upon it: T² = (R∞ − R0)(1 − R0 · R∞)/R∞
(Kubelka, J. Opt. Soc. Am. 38 (1948) 448–457 [memory]). Light spreads sideways in each ply by about 0.3 mm [assumed by
issue and brief, no source]. Solid toner or ink lets through 10^−1.5 of the light that passes once [memory], and its
surface throws back 3 % [memory]. The camera sees the page in proportion to white paper, with noise of 2 % of white, in
eight bits. Light comes from above and the table is as white as paper, which shows print beneath best; light from below,
a lamp under a glass table, is not modelled.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

Gray = NDArray[np.uint8]
Reflectance = NDArray[np.float64]

OPACITY = 0.85
"""Issue 2. Office paper of 75–80 g/m² has 0.85–0.94 (SOURCES, F)."""
PILE_REFLECTANCE = 0.85
INK_TRANSMITTANCE = 10**-1.5
INK_SURFACE = 0.03
SPREAD_MM = 0.3
NOISE = 0.02


@dataclass(frozen=True, slots=True)
class Label:
    """A label as it lies: paper plies above the print, and whether the topmost carries the solid black half."""

    plies: int
    has_black_half: bool


FOLDED = Label(plies=2, has_black_half=True)
"""As the coaster page tells to fold it: black half behind the number, both printed sides outward, number down."""
UNFOLDED = Label(plies=1, has_black_half=False)
WITHOUT_BLACK = Label(plies=2, has_black_half=False)


def seen_from_above(print_side: Gray, label: Label, px_per_mm: float) -> Reflectance:
    """Return what a label that lies number side down throws back, without a camera's noise.

    Parameters
    ----------
    print_side : (height, width) array of uint8
        The number side as printed, 0 where black.
    """
    # Lying face down it is seen as in a mirror.
    ink = 1.0 - np.fliplr(print_side).astype(np.float64) / 255.0
    # Light passes the print twice: down to the table and back.
    below = PILE_REFLECTANCE * INK_TRANSMITTANCE ** (2 * ink)
    for _ in range(label.plies):
        below = over(gaussian_filter(below, SPREAD_MM * px_per_mm, mode="nearest"))
    return INK_SURFACE + INK_TRANSMITTANCE**2 * below if label.has_black_half else below


def over(ground: Reflectance) -> Reflectance:
    """Return the reflectance of one ply of paper over a ground."""
    over_black = OPACITY * PILE_REFLECTANCE
    passed = (PILE_REFLECTANCE - over_black) * (1 - over_black * PILE_REFLECTANCE) / PILE_REFLECTANCE
    return over_black + passed * ground / (1 - over_black * ground)


def photographed(reflectance: Reflectance, rng: np.random.Generator) -> Gray:
    """Return a photograph: white paper at 255, noise, eight bits."""
    levels = reflectance / PILE_REFLECTANCE + rng.normal(0.0, NOISE, reflectance.shape)
    return np.clip(np.rint(255.0 * levels), 0, 255).astype(np.uint8)
