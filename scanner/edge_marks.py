"""Finding the small solid squares printed along a sheet's edges, by which a bent sheet is put right."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.sampling import Gray, ToPx, inside_image, sample_patches

Floats = NDArray[np.float64]

PATCH_PX_PER_MM = 6.0
LEAST_CONTRAST = 40.0
"""Gray levels between a mark and the paper around it; less is not a print."""


def find_edge_marks(gray: Gray, to_px: ToPx, marks_mm: Floats, side_mm: float, reach_mm: float) -> Floats:
    """Return how far from its place each mark was found.

    Parameters
    ----------
    marks_mm : (N, 2) array of float
        Centres as printed.
    side_mm : float
        Side of the solid squares.
    reach_mm : float
        How far off a mark is looked for; less than half the pitch of the marks.

    Returns
    -------
    (N, 2) array of float
        Offsets in mm, NaN where nothing that looks like a mark was seen: covered, cut off, or something else there.
    """
    half_mm = reach_mm + side_mm
    offsets = np.full((len(marks_mm), 2), np.nan)
    visible = np.flatnonzero(inside_image(gray, to_px, marks_mm, side_mm))
    patches = sample_patches(gray, to_px, marks_mm[visible], half_mm, PATCH_PX_PER_MM)
    side_px = side_mm * PATCH_PX_PER_MM
    # Closing takes away what is dark and no wider than a mark, and leaves paper, shadows and fingers.
    closing = np.ones((round(1.4 * side_px),) * 2, np.uint8)
    darker = np.array([cv2.morphologyEx(patch, cv2.MORPH_BLACKHAT, closing) for patch in patches])
    for index, patch in zip(visible, darker, strict=True):
        found = _square_in(patch, side_px)
        if found is not None and max(abs(value) for value in found) <= reach_mm * PATCH_PX_PER_MM:
            offsets[index] = np.array(found) / PATCH_PX_PER_MM
    return offsets


def _square_in(darker: Gray, side_px: float) -> tuple[float, float] | None:
    """Return the offset from the patch's middle, px, of the solid square nearest to it."""
    levels = np.bincount(darker.ravel(), minlength=256)
    ink = int(np.searchsorted(np.cumsum(levels), 0.992 * darker.size))
    if ink < LEAST_CONTRAST:
        return None
    dark = np.asarray(darker > ink / 2, np.uint8)
    count, _, stats, _ = cv2.connectedComponentsWithStats(dark, connectivity=4)
    best: tuple[float, float] | None = None
    for left, top, width, height, area in stats[1:count].tolist():
        if not (0.6 < width / side_px < 1.5 and 0.6 < height / side_px < 1.5 and area > 0.75 * width * height):
            continue
        if left == 0 or top == 0 or left + width == darker.shape[1] or top + height == darker.shape[0]:
            continue
        centre = _dark_centre(darker, left, top, width, height)
        if best is None or np.hypot(*centre) < np.hypot(*best):
            best = centre
    return best


def _dark_centre(darker: Gray, left: int, top: int, width: int, height: int) -> tuple[float, float]:
    """Return the centroid of darkness around a blob, px from the patch's middle."""
    left, top = max(0, left - 2), max(0, top - 2)
    moments = cv2.moments(darker[top : top + height + 4, left : left + width + 4])
    middle = (darker.shape[0] - 1) / 2
    return left + moments["m10"] / moments["m00"] - middle, top + moments["m01"] / moments["m00"] - middle
