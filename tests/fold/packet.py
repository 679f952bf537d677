"""A key sheet folded as it says: what lies upon what, as far as hands fold true, and how it looks from outside.

Bottom third up, top third down over it, turned over, once across the middle. From the left outer face down the plies
are: top, bottom and middle third of the sheet's left half, then middle, bottom and top third of its right half. The key
is on the bottom third's left half: its print faces the middle third's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from kit.paper import Paper
from tests.kit.paper_optics import NOISE, PILE_REFLECTANCE, Ink, Ply, let_through, thrown_back

Face = Literal["left", "right"]
FACES: tuple[Face, ...] = ("left", "right")
FOLD_ERROR_MM = 2.0
"""Issue 4: how far a fold lies from where it should, at either of its ends."""
EDGE_MM = 2.5
"""What is left out along all edges of a folded packet."""

Affine = NDArray[np.float64]
Levels = NDArray[np.float64]
"""What a camera saw: 1 for white."""


@dataclass(frozen=True, slots=True)
class Folds:
    """How far off the three folds lie, mm, at their two ends: bottom third up, top third down, across the middle."""

    first: tuple[float, float] = (0.0, 0.0)
    second: tuple[float, float] = (0.0, 0.0)
    across: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Packet:
    """The six plies over one face of a packet, as seen from the left outer face: that one first.

    Pictures of it have the key upright: x runs from the sheet's left edge, y from the first fold, as the bottom third
    does before it is folded. Both lie `EDGE_MM` off.
    """

    plies: tuple[Ply, ...]
    px_per_mm: float


def fold_by_hand(rng: np.random.Generator) -> Folds:
    """Draw folds that are off by up to 2 mm at each end."""
    ends = rng.uniform(-FOLD_ERROR_MM, FOLD_ERROR_MM, (3, 2))
    return Folds(*((float(one), float(other)) for one, other in ends))


def folded(ink: Ink, paper: Paper, px_per_mm: float, folds: Folds) -> Packet:
    """Fold a printed page; `ink` is how much there is of it where, (height, width)."""
    width, third = paper.width_mm, paper.height_mm / 3
    first = _mirror((0.0, 2 * third + folds.first[0]), (width, 2 * third + folds.first[1]))
    second = _mirror((0.0, third + folds.second[0]), (width, third + folds.second[1]))
    across = _mirror((width / 2 + folds.across[0], third), (width / 2 + folds.across[1], 2 * third))
    # From a point of the picture to the middle third's beneath it.
    start = _from_the_fold((0.0, 2 * third + folds.first[0]), (width, 2 * third + folds.first[1])) @ _moved(EDGE_MM)
    shape = tuple(round(px_per_mm * (side - 2 * EDGE_MM)) for side in (width / 2, third))

    def lying(ply: Affine) -> Ink:
        """Return the print of a ply as it lies in the picture; `ply` takes points of the middle third to its own."""
        # A pixel's middle lies half a pixel from its corner.
        to_mm = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, px_per_mm]]) / px_per_mm
        matrix = np.linalg.inv(to_mm) @ ply @ start @ to_mm
        warped = cv2.warpAffine(ink, matrix[:2], shape, flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP)
        return np.asarray(warped, np.float64)

    middle = np.eye(3)
    return Packet(
        (
            Ply(lower=lying(second)),
            Ply(lower=lying(first)),
            Ply(upper=lying(middle)),
            Ply(lower=lying(across)),
            Ply(upper=lying(first @ across)),
            Ply(upper=lying(second @ across)),
        ),
        px_per_mm,
    )


def seen_from(packet: Packet, face: Face) -> Levels:
    """Return what a packet throws back of the light from above one face, without noise. The key is upright."""
    return thrown_back(_stack(packet, face), packet.px_per_mm) / PILE_REFLECTANCE


def seen_against_a_lamp(packet: Packet, face: Face) -> Levels:
    """Return what comes through from a lamp behind, the camera open as wide as the brightest place allows."""
    light = let_through(_stack(packet, face), packet.px_per_mm)
    return np.asarray(light / light.max())


def photographed(seen: Levels, photographs: int, rng: np.random.Generator) -> Levels:
    """Return the mean of so many photographs, each with noise of 2 % of white."""
    # Rounding to eight bits, an eighth of the noise, is smoothed by it and left out.
    return seen + rng.normal(0.0, NOISE / np.sqrt(photographs), seen.shape)


def _stack(packet: Packet, face: Face) -> Sequence[Ply]:
    if face == "left":
        return packet.plies
    return tuple(Ply(upper=ply.lower, lower=ply.upper) for ply in reversed(packet.plies))


def _mirror(one: tuple[float, float], other: tuple[float, float]) -> Affine:
    """Return the mirroring across the line through two points: where a fold there puts a point."""
    along = np.subtract(other, one) / np.hypot(*np.subtract(other, one))
    turned = 2 * np.outer(along, along) - np.eye(2)
    matrix = np.eye(3)
    matrix[:2, :2], matrix[:2, 2] = turned, np.array(one) - turned @ np.array(one)
    return matrix


def _from_the_fold(one: tuple[float, float], other: tuple[float, float]) -> Affine:
    """Return what takes (mm along the first fold, mm above it) to a place on the page."""
    along = np.subtract(other, one) / np.hypot(*np.subtract(other, one))
    matrix = np.eye(3)
    matrix[:2, :2], matrix[:2, 2] = np.column_stack([along, [along[1], -along[0]]]), one
    return matrix


def _moved(by_mm: float) -> Affine:
    matrix = np.eye(3)
    matrix[:2, 2] = by_mm
    return matrix
