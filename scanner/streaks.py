"""Streaks: what a speck of dirt on a sheet feeder's sensor draws along the whole of a scan, straight and very thin.

No pen, print or paper has ink in the same few columns of pixels from one end of a picture to the other. So such
columns are lightened by what they are darker than their neighbours before boxes are looked at.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Gray = NDArray[np.uint8]
Bools = NDArray[np.bool_]
Floats = NDArray[np.float32]

PARTS = 12
"""A streak shows in each of so many parts of its length."""
WIDEST_PX = 6
FAINTEST = 0.02
"""The mean darkness of a streak against what lies beside it, in any part."""
OPAQUE = 0.5
"""A streak that leaves less than this of the light hides what is under it, and is left as it is."""
BLACK, WHITE, GRAYS = 64, 192, 0.02
"""Levels between which hardly any pixel lies in a scan of one bit a pixel."""
RIM_PX = 2
"""How far a streak's blur darkens what lies beside it."""


def without_streaks(gray: Gray) -> Gray:
    """Return the picture without its streaks, down or across; the same array where it has none."""
    for across in (False, True):
        streaked = _streaked(gray, across)
        if streaked.any():
            filled = _filled(gray.T if across else gray, streaked)
            gray = np.ascontiguousarray(filled.T) if across else filled
    return gray


def _streaked(gray: Gray, across: bool) -> Bools:
    """Return the columns, or rows, that are darker than those beside them in every part of their length."""
    parts = np.array_split(gray, PARTS, axis=1 if across else 0)
    sums = [cv2.reduce(part, int(across), cv2.REDUCE_AVG, dtype=cv2.CV_32F).ravel() for part in parts]
    means = np.asarray(np.stack(sums), np.float32)
    # A printed outline, at most two or three pixels wide, lies at one of both distances only.
    left, right = (
        np.maximum(_shifted(means, way * WIDEST_PX), _shifted(means, way * (WIDEST_PX - 3))) for way in (-1, 1)
    )
    beside = np.minimum(left, right)
    dark = (1.0 - means / np.maximum(beside, 40.0)).min(axis=0) > FAINTEST
    wide = cv2.dilate(dark.astype(np.uint8)[None], np.ones((1, 2 * RIM_PX + 1), np.uint8))
    count, names, sizes, _ = cv2.connectedComponentsWithStats(wide)
    narrow = [number for number in range(1, count) if sizes[number, cv2.CC_STAT_WIDTH] <= WIDEST_PX + 2 * RIM_PX]
    return np.asarray(np.isin(names[0], narrow), np.bool_)


def _shifted(means: Floats, by: int) -> Floats:
    """The means so many columns further on, the last of them repeated."""
    places = np.clip(np.arange(means.shape[1]) + by, 0, means.shape[1] - 1)
    return means[:, places]


def _filled(lines: Gray, streaked: Bools) -> Gray:
    """Lighten each run of columns by what the streak darkens it; of one bit a pixel, fill what is no wider than it.

    A pen's stroke over a streak is darker than the streak and wider: it stays.
    """
    filled = np.ascontiguousarray(lines).copy()
    edges = np.flatnonzero(np.diff(np.concatenate([[0], streaked.astype(np.int8), [0]])))
    for first, last in edges.reshape(-1, 2):
        if first == 0 or last == len(streaked):
            continue
        beside = np.maximum(filled[:, first - 1], filled[:, last]).astype(np.float32)[:, None]
        band = filled[:, first:last].astype(np.float32)
        if np.mean((band > BLACK) & (band < WHITE)) < GRAYS:
            thin = (band[:, [0, -1]] > WHITE).all(axis=1)
            band[thin] = beside[thin]
        else:
            gain = np.median(band / np.maximum(beside, 1.0), axis=0)
            band = np.where(gain > OPAQUE, band / np.maximum(gain, OPAQUE), band)
        filled[:, first:last] = np.clip(band, 0, 255).astype(np.uint8)
    return filled
