"""Small square patches taken straight out of an image where the page's geometry says they lie; no page is warped."""

from __future__ import annotations

import math
from collections.abc import Callable

import cv2
import numpy as np
from numpy.typing import NDArray

Gray = NDArray[np.uint8]
Floats = NDArray[np.float64]
ToPx = Callable[[Floats], Floats]
"""Takes (N, 2) points in mm to (N, 2) points in px."""

MOST_PIXELS = 100_000
"""Of one remapping; OpenCV cannot address more than 32,767 rows."""


def sample_patches(gray: Gray, to_px: ToPx, centres_mm: Floats, half_mm: float, px_per_mm: float) -> Gray:
    """Return a square patch around every centre, upright as printed.

    Parameters
    ----------
    centres_mm : (N, 2) array of float
    half_mm : float
        Half a patch's side, at least.
    px_per_mm : float
        Resolution of the patches.

    Returns
    -------
    (N, P, P) array of uint8
        P = ⌈2 · half_mm · px_per_mm⌉. What lies outside the image is replicated from its border.

    Notes
    -----
    Each patch is mapped by its four corners and bilinearly in between: over less than 20 mm a tilted or bent sheet
    departs from that by less than a hundredth of a millimetre.
    """
    side = math.ceil(2 * half_mm * px_per_mm - 1e-6)
    half_mm = side / 2 / px_per_mm
    count = len(centres_mm)
    if count == 0:
        return np.zeros((0, side, side), np.uint8)
    reach = np.array([(-half_mm, -half_mm), (half_mm, -half_mm), (half_mm, half_mm), (-half_mm, half_mm)])
    quads = to_px((centres_mm[:, None, :] + reach).reshape(-1, 2)).reshape(count, 4, 2)
    along = ((np.arange(side) + 0.5) / side).astype(np.float32)
    u, v = np.meshgrid(along, along)
    shares = np.stack([(1 - u) * (1 - v), u * (1 - v), u * v, (1 - u) * v]).reshape(4, -1)
    corners = quads.transpose(2, 0, 1).astype(np.float32)
    patches = np.empty((count, side, side), np.uint8)
    # A few at a time: the maps of all patches at once would be far larger than the image.
    few = max(1, MOST_PIXELS // side**2)
    for first in range(0, count, few):
        map_x, map_y = (corners[:, first : first + few] @ shares).reshape(2, -1, side)
        cv2.remap(
            gray,
            map_x,
            map_y,
            cv2.INTER_LINEAR,
            dst=patches[first : first + few].reshape(-1, side),
            borderMode=cv2.BORDER_REPLICATE,
        )
    return patches


def along_mm(side: int, px_per_mm: float) -> Floats:
    """Return the (side,) positions of a patch's pixel centres from its middle, mm."""
    return np.asarray((np.arange(side) + 0.5 - side / 2) / px_per_mm, np.float64)


def inside_image(gray: Gray, to_px: ToPx, centres_mm: Floats, half_mm: float) -> NDArray[np.bool_]:
    """Tell for every patch whether all of it lies inside the image."""
    reach = np.array([(-half_mm, -half_mm), (half_mm, -half_mm), (half_mm, half_mm), (-half_mm, half_mm)])
    quads = to_px((centres_mm[:, None, :] + reach).reshape(-1, 2)).reshape(-1, 4, 2)
    limit = np.array(gray.shape[::-1]) - 0.5
    return np.asarray(((quads > -0.5) & (quads < limit)).all(axis=(1, 2)), np.bool_)
