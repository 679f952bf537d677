"""What is seen of print through paper: plies, ink and a camera, for the tests of coaster labels and folded key sheets.

A ply of paper is a layer that scatters (Kubelka and Munk). Its reflectance over black is R0, that of a pile of it is
R∞, and its opacity is R0/R∞ (ISO 2471). Over a ground of reflectance Rg it reflects

    R = R0 + T² · Rg / (1 − R0 · Rg)

with T its own transmittance, and a pile must not change when a ply is laid upon it: T² = (R∞ − R0)(1 − R0 · R∞)/R∞
(Kubelka, J. Opt. Soc. Am. 38 (1948) 448–457 [memory]). Light spreads sideways in each ply by about 0.3 mm [assumed by
issue and brief, no source]. Solid toner or ink lets through 10^−1.5 of the light that passes once [memory], and its
surface throws back 3 % [memory]. The camera sees the page in proportion to white paper, with noise of 2 % of white, in
eight bits. Light comes from above and the table is as white as paper, which shows print beneath best. No air lies
between plies and nothing is lost where they touch, which shows it better than paper does.

A lamp beneath shines through a stack: a ply laid upon one of transmittance Ts and reflectance Rs makes of them

    T · Ts / (1 − R0 · Rs)

by the same paper of Kubelka's, since light goes to and fro between the two.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

Gray = NDArray[np.uint8]
Reflectance = NDArray[np.float64]
Ink = NDArray[np.float64]
"""How much ink lies where: 0 for none, 1 for solid."""

OPACITY = 0.85
"""Issue 2. Office paper of 75–80 g/m² has 0.85–0.94 (SOURCES, F)."""
PILE_REFLECTANCE = 0.85
INK_TRANSMITTANCE = 10**-1.5
INK_SURFACE = 0.03
OVER_BLACK = OPACITY * PILE_REFLECTANCE
"""R0 of the formulas above."""
TRANSMITTANCE = math.sqrt((PILE_REFLECTANCE - OVER_BLACK) * (1 - OVER_BLACK * PILE_REFLECTANCE) / PILE_REFLECTANCE)
"""T of one ply."""
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


@dataclass(frozen=True, slots=True)
class Ply:
    """One ply of a stack as it lies: the ink on its upper and on its lower side, None where there is none."""

    upper: Ink | None = None
    lower: Ink | None = None


def seen_from_above(print_side: Gray, label: Label, px_per_mm: float) -> Reflectance:
    """Return what a label that lies number side down throws back, without a camera's noise.

    Parameters
    ----------
    print_side : (height, width) array of uint8
        The number side as printed, 0 where black.
    """
    # Lying face down it is seen as in a mirror.
    ink = 1.0 - np.fliplr(print_side).astype(np.float64) / 255.0
    plies = [Ply() for _ in range(label.plies - 1)] + [Ply(lower=ink)]
    if label.has_black_half:
        plies[0] = Ply(np.ones(ink.shape), plies[0].lower)
    return thrown_back(plies, px_per_mm)


def thrown_back(stack: Sequence[Ply], px_per_mm: float) -> Reflectance:
    """Return what a stack, topmost ply first, on a table as white as paper throws back of light from above."""
    shape = _shape(stack)
    reflected = np.full(shape, PILE_REFLECTANCE)
    for ply in reversed(stack):
        if ply.lower is not None:
            reflected = reflected * _twice_through(ply.lower)
        reflected = over(_spread(reflected, px_per_mm))
        if ply.upper is not None:
            surface = INK_SURFACE * ply.upper if ply is stack[0] else 0.0
            reflected = surface + reflected * _twice_through(ply.upper)
    return reflected


def let_through(stack: Sequence[Ply], px_per_mm: float) -> Reflectance:
    """Return the share of a lamp's light that comes up through a stack, topmost ply first, with no table beneath."""
    reflected, passed = np.zeros(_shape(stack)), np.ones(_shape(stack))
    for ply in reversed(stack):
        if ply.lower is not None:
            reflected, passed = reflected * _twice_through(ply.lower), passed * INK_TRANSMITTANCE**ply.lower
        reflected, passed = _spread(reflected, px_per_mm), _spread(passed, px_per_mm)
        passed = TRANSMITTANCE * passed / (1 - OVER_BLACK * reflected)
        reflected = over(reflected)
        if ply.upper is not None:
            reflected, passed = reflected * _twice_through(ply.upper), passed * INK_TRANSMITTANCE**ply.upper
    return passed


def over(ground: Reflectance) -> Reflectance:
    """Return the reflectance of one ply of paper over a ground."""
    return OVER_BLACK + TRANSMITTANCE**2 * ground / (1 - OVER_BLACK * ground)


def photographed(reflectance: Reflectance, rng: np.random.Generator) -> Gray:
    """Return a photograph: white paper at 255, noise, eight bits."""
    levels = reflectance / PILE_REFLECTANCE + rng.normal(0.0, NOISE, reflectance.shape)
    return np.clip(np.rint(255.0 * levels), 0, 255).astype(np.uint8)


def _shape(stack: Sequence[Ply]) -> tuple[int, ...]:
    return next(ink.shape for ply in stack for ink in (ply.upper, ply.lower) if ink is not None)


def _spread(light: Reflectance, px_per_mm: float) -> Reflectance:
    spread: Reflectance = gaussian_filter(light, SPREAD_MM * px_per_mm, mode="nearest")
    return spread


def _twice_through(ink: Ink) -> Reflectance:
    """Return what is left of light that passes a print down and back up."""
    left: Reflectance = INK_TRANSMITTANCE ** (2 * ink)
    return left
