"""Straight lines that run through a box and on past it: creases, streaks of a scanner, strokes far too long."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Darkness = NDArray[np.float32]
Bools = NDArray[np.bool_]

THIN_MM = 0.3
"""Standard deviation of a line's ink across the line, at most."""
STRAY_MM = 1.0
"""How far a line may wander from the straight."""
GAP_MM = 0.7
"""A line that is not there for longer than this has ended."""
CLEAR_MM = 0.5
"""How far from a box its outline no longer darkens a line."""
ALIKE = 0.6
"""A line is as dark within the box as without when neither is less than this share of the other."""


@dataclass(frozen=True, slots=True)
class LineThrough:
    """A line that the ink in a box lies on.

    `near_mm` and `far_mm` are how far its two ends lie outside of the box's outer edge, the nearer one first, negative
    within. `alike` says that it is as dark outside of the box as inside. `rest_mm2` is the box's ink that lies beside
    the line, mm² of perfect black.
    """

    near_mm: float
    far_mm: float
    alike: bool
    rest_mm2: float


def line_through(
    darkness: Darkness,
    smooth: Darkness,
    near: Bools,
    inside: Bools,
    printed: Bools,
    away: Floats,
    threshold: float,
    px_per_mm: float,
) -> LineThrough | None:
    """Return the line on which the strokes in a box lie, None where they lie on no line.

    Parameters
    ----------
    darkness, smooth : (P, P) array of float32
        The box and its surroundings, as it is and smoothed.
    near, inside : (P, P) array of bool
        The strokes in question as far as they lie in the box and close to it; the ink in the inner box.
    printed : (P, P) array of bool
        Where printed outlines are: what is dark there tells nothing.
    away : (P, P) array of float
        How far each pixel lies outside of the box's outer edge, mm.
    threshold : float
        The smoothed darkness from which on a place is inked.
    """
    rows, columns = np.nonzero(near)
    if len(rows) < px_per_mm:
        return None
    points = np.stack([columns, rows], axis=1).astype(np.float64)
    middle = points.mean(axis=0)
    values, vectors = np.linalg.eigh(np.cov((points - middle).T))
    if values[0] ** 0.5 > THIN_MM * px_per_mm:
        return None
    direction = vectors[:, 1]
    normal = np.array([-direction[1], direction[0]])
    steps, aside, dark = _traced(smooth, printed, middle, direction, threshold, px_per_mm)
    if len(steps) < 3:
        return None
    path = middle + steps[:, None] * direction + aside[:, None] * normal
    place = np.clip(np.rint(path).astype(int), 0, len(smooth) - 1)
    outside = away[place[:, 1], place[:, 0]]
    within, without = dark[outside < 0], dark[outside > CLEAR_MM]
    alike = bool(len(within) and len(without) and ALIKE < np.median(without) / np.median(within) < 1 / ALIKE)
    rows, columns = np.nonzero(inside)
    inner = np.stack([columns, rows], axis=1) - middle
    beside = np.abs(inner @ normal - np.interp(inner @ direction, steps, aside)) > (THIN_MM + 0.1) * px_per_mm
    near_mm, far_mm = sorted((float(outside[0]), float(outside[-1])))
    return LineThrough(near_mm, far_mm, alike, float(darkness[rows[beside], columns[beside]].sum()) / px_per_mm**2)


def _traced(
    smooth: Darkness, printed: Bools, middle: Floats, direction: Floats, threshold: float, px_per_mm: float
) -> tuple[Floats, Floats, Floats]:
    """Follow a line both ways from its middle.

    Returns its points in order: (L,) how far along the direction, how far aside of it, px, and how dark it is there.
    """
    reach, wide = len(smooth), round(STRAY_MM * px_per_mm)
    normal = np.array([-direction[1], direction[0]])
    turn = np.column_stack([direction, normal, middle - reach * direction - wide * normal])
    size = (2 * reach + 1, 2 * wide + 1)
    strip = cv2.warpAffine(smooth, turn, size, flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, borderValue=0.0)
    unknown = cv2.warpAffine(
        printed.astype(np.uint8), turn, size, flags=cv2.INTER_NEAREST | cv2.WARP_INVERSE_MAP, borderValue=0.0
    )
    found: list[tuple[float, float, float]] = []
    for way in (-1, 1):
        row, gap = wide, 0
        for step in range(0 if way > 0 else 1, reach):
            if unknown[row, reach + way * step]:
                continue
            low = max(0, row - 1)
            near = strip[low : row + 2, reach + way * step]
            best = int(near.argmax())
            if near[best] > 0.7 * threshold:
                row, gap = low + best, 0
                found.append((way * step, row - wide, float(near[best])))
            elif (gap := gap + 1) > GAP_MM * px_per_mm:
                break
    steps, aside, dark = np.array(sorted(found), np.float64).reshape(-1, 3).T
    return steps, aside, dark
