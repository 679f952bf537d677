"""Grain, taken out where it would hide a pen's strokes or look like one.

A camera in poor light has it as noise, a scan of one bit a pixel as the dots by which it shows greys.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.sampling import Floats, Gray

STRENGTH = 1.4
"""How different two places may be, in standard deviations of the grain, to be taken for alike."""
PATCH_PX, SEARCH_PX = 5, 13
AROUND_PX = 40
LEVELS, NEARLY_ALL = 17, 0.995
"""Means of four by four black and white pixels have so many levels at most."""
DOTS_MM = 0.13
"""Standard deviation of the softening: less than half a pen's line."""


def without_grain(gray: Gray, places_px: Floats) -> Gray:
    """Return a copy of the picture that is free of grain around the (N, 2) places.

    Notes
    -----
    Non-local means [1]_: every pixel becomes the mean of those whose surroundings look like its own, so that strokes
    are averaged along themselves and stay as thin as they are.

    References
    ----------
    .. [1] A. Buades, B. Coll and J.-M. Morel, "A non-local algorithm for image denoising", CVPR 2005.
    """
    height, width = gray.shape
    low = np.clip(np.floor(places_px.min(axis=0)).astype(int) - AROUND_PX, 0, (width, height))
    high = np.clip(np.ceil(places_px.max(axis=0)).astype(int) + AROUND_PX, 0, (width, height))
    part = np.ascontiguousarray(gray[low[1] : high[1], low[0] : high[0]])
    if not part.size:
        return gray
    clean = gray.copy()
    clean[low[1] : high[1], low[0] : high[0]] = cv2.fastNlMeansDenoising(
        part, None, STRENGTH * _grain_of(part), PATCH_PX, SEARCH_PX
    )
    return clean


def is_dotted(gray: Gray) -> bool:
    """Tell whether the picture has one bit a pixel, or had before it was reduced, so that dots may stand for greys."""
    counts = np.bincount(gray[::3, ::3].ravel(), minlength=256)
    return bool(np.sort(counts)[-LEVELS:].sum() > NEARLY_ALL * counts.sum())


def without_dots(gray: Gray, px_per_mm: float) -> Gray:
    """Return a picture of one bit a pixel softened, so that its dots become greys again."""
    return np.asarray(cv2.GaussianBlur(gray, (0, 0), DOTS_MM * px_per_mm), np.uint8)


def _grain_of(part: NDArray[np.uint8]) -> float:
    """Return the grain's standard deviation, gray levels: 1.4826 median absolute deviations from the smoothed."""
    smooth = cv2.GaussianBlur(part, (0, 0), 2.0)
    return 1.4826 * float(np.median(cv2.absdiff(part, smooth)))
