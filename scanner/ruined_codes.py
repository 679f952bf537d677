"""Recognises a code that no reader can decode, wet or under a reflection, among the few texts that it can have.

The readers need a code's three eyes; a drop on one is enough to lose it. But which labels a sitting has is known, and
with it every module of every code that can lie there. A code is recognised where its modules go with one of them far
better than chance, and with no other.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from kit.codes import MODULES, matrix

Gray = NDArray[np.uint8]
Floats = NDArray[np.float64]

LEAST_LIKE, LEAST_LEAD = 0.66, 0.2
"""How well a code's own modules must go with what is seen (a correlation), and how much better than any other's.

Two codes of one set go together up to 0.57, as they begin alike. Of 17 texts of another kit the best, at the best of
all places and turns tried on labels and tables, reached 0.38.
"""
COARSE_PX, FINE_PX = 2, 8
"""Pixels a module: of the search, and of the crop in which a place found is looked at closely."""
TURN_STEP_DEG = 3
PEAKS = 6

Pose = tuple[float, float, float, float]
"""A code's middle (x, y) in the crop, px, its turn in degrees clockwise, and a module's side, px."""


def recognise(crop: Gray, texts: Sequence[str], module_px: float) -> Iterator[tuple[str, Floats]]:
    """Yield the texts recognised in a crop, each with its corners (4, 2), clockwise from the code's own top left.

    Parameters
    ----------
    crop : (side, side) array of uint8
        A part of a picture, seen from straight above and not mirrored.
    texts : sequence of str
        All that a code there can say, and what lies near it: those are told apart only if both are among them.
    module_px : float
        The side of a module in the crop.
    """
    if not texts:
        return
    scale = FINE_PX / module_px
    fine = np.asarray(cv2.resize(crop, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA), np.uint8)
    even = _evened(fine)
    wanted = np.array([matrix(text) for text in texts], np.float32) * -2.0 + 1.0
    soft = np.asarray(cv2.GaussianBlur(even, (0, 0), 0.3 * FINE_PX), np.float32)
    taken: list[Floats] = []
    for pose in _peaks(even, wanted.mean(axis=0)):
        pose, likeness = _settled(soft, pose, wanted)
        best, lead = int(likeness.argmax()), _lead(likeness)
        middle = np.array(pose[:2])
        if likeness[best] < LEAST_LIKE or lead < LEAST_LEAD:
            continue
        if all(np.linalg.norm(middle - other) > MODULES / 2 * FINE_PX for other in taken):
            taken.append(middle)
            yield texts[best], (_corners(pose) + 0.5) / scale - 0.5


def _evened(fine: Gray) -> NDArray[np.float32]:
    """The crop with its light evened out, about −1 where dark and 1 where light."""
    level = fine.astype(np.float32)
    around = softened(level, 4.0 * FINE_PX)
    spread = np.sqrt(softened((level - around) ** 2, 4.0 * FINE_PX)) + 4.0
    return np.clip((level - around) / spread, -2.0, 2.0).astype(np.float32)


def softened(level: NDArray[np.float32], sigma_px: float) -> NDArray[np.float32]:
    """Return a picture blurred widely, in a reduced copy: the light that falls on it."""
    factor = max(1, int(sigma_px / 4))
    height, width = level.shape
    size = max(1, width // factor), max(1, height // factor)
    small = cv2.GaussianBlur(cv2.resize(level, size, interpolation=cv2.INTER_AREA), (0, 0), sigma_px / factor)
    return np.asarray(cv2.resize(small, (width, height), interpolation=cv2.INTER_LINEAR), np.float32)


def _peaks(even: NDArray[np.float32], wanted: NDArray[np.float32]) -> list[Pose]:
    """Return where, and how turned, the crop looks most like a code: what all the texts' codes have in common."""
    shrink = COARSE_PX / FINE_PX
    coarse = cv2.resize(even, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
    side = round((MODULES + 2) * COARSE_PX * 1.42)
    if min(coarse.shape) <= side:
        return []
    found: list[tuple[float, Pose]] = []
    for turn_deg in range(0, 360, TURN_STEP_DEG):
        likeness = cv2.matchTemplate(coarse, _turned(wanted, turn_deg, side), cv2.TM_CCOEFF_NORMED)
        _, top, _, (x, y) = cv2.minMaxLoc(likeness)
        middle = ((x + (side - 1) / 2 + 0.5) / shrink - 0.5, (y + (side - 1) / 2 + 0.5) / shrink - 0.5)
        found.append((top, (*middle, float(turn_deg), float(FINE_PX))))
    found.sort(reverse=True)
    return [pose for _, pose in found[:PEAKS]]


def _turned(wanted: NDArray[np.float32], turn_deg: float, side: int) -> NDArray[np.float32]:
    quiet = np.pad(wanted, 1, constant_values=1.0)
    large = cv2.resize(quiet, None, fx=COARSE_PX, fy=COARSE_PX, interpolation=cv2.INTER_NEAREST)
    middle, radians = (len(large) - 1) / 2, np.deg2rad(turn_deg)
    cos, sin = float(np.cos(radians)), float(np.sin(radians))
    centre = (side - 1) / 2
    shift = centre - np.array([[cos, -sin], [sin, cos]]) @ (middle, middle)
    move = np.array([[cos, -sin, shift[0]], [sin, cos, shift[1]]])
    return np.asarray(cv2.warpAffine(large, move, (side, side), flags=cv2.INTER_LINEAR, borderValue=0.0), np.float32)


def _settled(soft: NDArray[np.float32], pose: Pose, wanted: NDArray[np.float32]) -> tuple[Pose, Floats]:
    """Return the pose near by that goes best with any text, and how well it goes with each."""
    likeness = _likeness(soft, pose, wanted)
    for share in (1.0, 0.5, 0.25, 0.12):
        steps = (0.8 * FINE_PX * share, 0.8 * FINE_PX * share, 2.5 * share, 0.06 * FINE_PX * share)
        moved = True
        while moved:
            moved = False
            for axis, step in enumerate(steps):
                for sign in (-1.0, 1.0):
                    near: Pose = tuple(value + sign * step * (place == axis) for place, value in enumerate(pose))  # type: ignore[assignment]
                    fresh = _likeness(soft, near, wanted)
                    if fresh.max() > likeness.max() + 1e-4:
                        pose, likeness, moved = near, fresh, True
    return pose, likeness


def _likeness(soft: NDArray[np.float32], pose: Pose, wanted: NDArray[np.float32]) -> Floats:
    """Return the correlation of what is seen with each text's code, over the modules in which codes differ."""
    x, y, turn_deg, module = pose
    cos, sin = np.cos(np.deg2rad(turn_deg)) * module, np.sin(np.deg2rad(turn_deg)) * module
    at = np.arange(MODULES) - (MODULES - 1) / 2
    u, v = np.meshgrid(at, at)
    map_x, map_y = (x + u * cos - v * sin).astype(np.float32), (y + u * sin + v * cos).astype(np.float32)
    seen = cv2.remap(soft, map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)
    free = _free_modules()
    one = seen[free] - seen[free].mean()
    others = wanted[:, free] - wanted[:, free].mean(axis=1, keepdims=True)
    norms = np.linalg.norm(others, axis=1) * (np.linalg.norm(one) + 1e-6)
    return np.asarray(others @ one / norms, np.float64)


@cache
def _free_modules() -> NDArray[np.bool_]:
    """Where codes may differ: all but the eyes with their borders and the timing lines (ISO/IEC 18004, version 1)."""
    free = np.ones((MODULES, MODULES), np.bool_)
    free[:8, :8], free[:8, -8:], free[-8:, :8] = False, False, False
    free[6], free[:, 6] = False, False
    return free


def _lead(likeness: Floats) -> float:
    ranked = np.sort(likeness)
    return float(ranked[-1] - ranked[-2]) if len(ranked) > 1 else float(ranked[-1])


def _corners(pose: Pose) -> Floats:
    x, y, turn_deg, module = pose
    radians, half = np.deg2rad(turn_deg), module * MODULES / 2
    square = np.array([(-half, -half), (half, -half), (half, half), (-half, half)])
    turn = np.array([[np.cos(radians), np.sin(radians)], [-np.sin(radians), np.cos(radians)]])
    return np.asarray(np.array([x, y]) + square @ turn, np.float64)
