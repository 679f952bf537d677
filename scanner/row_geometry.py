"""Labels in a row, measured on the table: the picture's perspective taken out, the order along the row, its steps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_PRIOR = 0.3
"""Perspective terms beyond this need evidence: a telephone held aslant over a row gives less."""


@dataclass(frozen=True, slots=True, eq=False)
class Plane:
    """The table's plane: a (3, 3) homography from pixels to millimetres, up to a turn and a shift."""

    px_to_mm: Floats

    def to_mm(self, px: Floats) -> Floats:
        """Return places on the table, (N, 2) mm, of pixels, (N, 2)."""
        return _through(self.px_to_mm, px)

    def to_px(self, mm: Floats) -> Floats:
        """Return pixels, (N, 2), of places on the table, (N, 2) mm."""
        return _through(np.asarray(np.linalg.inv(self.px_to_mm), np.float64), mm)


def fit_plane(squares_px: Sequence[Floats], side_mm: float) -> Plane:
    """Find the plane on which squares of one size lie, each turned by any angle.

    Parameters
    ----------
    squares_px : sequence of (4, 2) array of float
        The corners of each, clockwise, px. At least one; with more the perspective is better known.
    side_mm : float
        Their side.

    Notes
    -----
    Up to a turn and a shift a homography has five parameters: (a x + b y, d y) / (g x + h y + 1). They are found by
    Gauss and Newton's method with Levenberg's damping, so that all sides and diagonals have their lengths.
    """
    corners = np.stack(squares_px)
    middle = corners.reshape(-1, 2).mean(axis=0)
    reach = max(float(np.abs(corners - middle).max()), 1.0)
    near = (corners - middle) / reach
    side = float(np.linalg.norm(near - np.roll(near, -1, axis=1), axis=2).mean())
    found = np.array([side_mm / side, 0.0, side_mm / side, 0.0, 0.0])
    misses, damping = _misses(found, near, side_mm), 1e-3
    for _ in range(40):
        slope = np.column_stack(
            [(_misses(found + step, near, side_mm) - misses) / step.max() for step in _steps(found)]
        )
        square = slope.T @ slope
        better = found - np.linalg.solve(square + damping * np.diag(np.diag(square) + 1e-9), slope.T @ misses)
        fresh = _misses(better, near, side_mm)
        if fresh @ fresh < misses @ misses:
            done = misses @ misses - fresh @ fresh < 1e-9
            found, misses, damping = better, fresh, damping / 5
            if done:
                break
        else:
            damping *= 8
            if damping > 1e6:
                break
    a, b, d, g, h = found
    shrink = np.array([[1 / reach, 0, -middle[0] / reach], [0, 1 / reach, -middle[1] / reach], [0, 0, 1.0]])
    return Plane(np.array([[a, b, 0.0], [0.0, d, 0.0], [g, h, 1.0]]) @ shrink)


@dataclass(frozen=True, slots=True, eq=False)
class Row:
    """Labels in order along their row, which begins at the label called first: `order` has their indices.

    `steps_mm` are the distances from each to the next, `bends_deg` by how much each step leaves the row's direction
    `along` (a unit vector on the table), `off_mm` how far each label lies beside the row's line.
    """

    order: tuple[int, ...]
    along: Floats
    steps_mm: Floats
    bends_deg: Floats
    off_mm: Floats


def along_row(centres_mm: Floats, first: int) -> Row:
    """Return the order of three or more places along the line that fits them best, away from the place `first`."""
    middle = centres_mm.mean(axis=0)
    along = np.linalg.svd(centres_mm - middle)[2][0]
    if (centres_mm[first] - middle) @ along > 0:
        along = -along
    order = np.argsort((centres_mm - middle) @ along, kind="stable")
    steps = np.diff(centres_mm[order], axis=0)
    across = np.array([-along[1], along[0]])
    return Row(
        tuple(int(index) for index in order),
        along,
        np.linalg.norm(steps, axis=1),
        np.degrees(np.abs(np.arctan2(steps @ across, steps @ along))),
        np.abs((centres_mm - middle) @ across),
    )


def turn_deg(corners_mm: Floats, along: Floats) -> float:
    """Return the angle, 0 to 180°, between a square's own upper side, left to right, and a direction."""
    side = (corners_mm[1] - corners_mm[0]) + (corners_mm[2] - corners_mm[3])
    return float(np.degrees(np.arccos(np.clip(side @ along / np.linalg.norm(side), -1.0, 1.0))))


def _steps(found: Floats) -> Floats:
    return np.diag(np.maximum(np.abs(found), 0.1) * 1e-6)


def _misses(found: Floats, near: Floats, side_mm: float) -> Floats:
    a, b, d, g, h = found
    depth = g * near[..., 0] + h * near[..., 1] + 1.0
    depth = np.where(np.abs(depth) < 1e-3, 1e-3, depth)
    places = np.stack([(a * near[..., 0] + b * near[..., 1]) / depth, d * near[..., 1] / depth], axis=-1)
    sides = np.linalg.norm(places - np.roll(places, -1, axis=1), axis=2) / side_mm - 1.0
    diagonals = np.linalg.norm(places[:, :2] - places[:, 2:], axis=2) / (side_mm * np.sqrt(2.0)) - 1.0
    return np.concatenate([sides.ravel(), diagonals.ravel(), 0.02 / _PRIOR * np.array([g, h])])


def _through(matrix: Floats, places: Floats) -> Floats:
    ahead = places @ matrix[:, :2].T + matrix[:, 2]
    return np.asarray(ahead[:, :2] / ahead[:, 2:], np.float64)
