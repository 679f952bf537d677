"""Reading the two codes of a located sheet, each where the layout says that it is printed."""

from __future__ import annotations

from collections.abc import Iterator

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.code_readers import find_codes, read_codes
from scanner.geometry import apply_homography
from scanner.locate import Located
from scanner.sampling import sample_patches

Gray = NDArray[np.uint8]

QUIET_MM = 3.2
"""Four modules (ISO/IEC 18004)."""
ASTRAY_MM = 8.0
"""A code found farther than this from where this sheet's codes are printed is another sheet's."""


def read_sheet_codes(gray: Gray, located: Located) -> tuple[str, ...]:
    """Return the texts found at the sheet's two code places: none, one, or two where they differ.

    Crops upright, doubled and sharpened are tried first: that reads what no reader finds in the whole image (MEASURED,
    "Finding things"). The whole image is the last resort, and counts only codes that lie where this sheet's are.
    """
    texts: dict[str, None] = {}
    for square in located.frame.codes:
        for crop in _crops(gray, located, square.x_mm, square.y_mm, square.side_mm):
            found = read_codes(crop)
            texts.update(dict.fromkeys(found))
            if found:
                break
    if not texts:
        texts.update(dict.fromkeys(_in_whole_image(gray, located)))
    return tuple(texts)


def _crops(gray: Gray, located: Located, x_mm: float, y_mm: float, side_mm: float) -> Iterator[Gray]:
    """Yield one code's crop as it is read best first."""
    centre = np.array([[x_mm + side_mm / 2, y_mm + side_mm / 2]])
    px_per_mm = float(np.clip(2 * located.px_per_mm, 8.0, 14.0))
    crop = sample_patches(gray, located.to_px, centre, side_mm / 2 + QUIET_MM, px_per_mm)[0]
    soft = cv2.GaussianBlur(crop, (0, 0), 0.3 * px_per_mm)
    yield np.asarray(cv2.addWeighted(crop, 2.0, soft, -1.0, 0.0), np.uint8)
    yield crop
    yield np.asarray(cv2.GaussianBlur(crop, (0, 0), 0.15 * px_per_mm), np.uint8)


def _in_whole_image(gray: Gray, located: Located) -> Iterator[str]:
    px_to_mm = np.asarray(np.linalg.inv(located.mm_to_px), np.float64)
    places = np.array([(c.x_mm + c.side_mm / 2, c.y_mm + c.side_mm / 2) for c in located.frame.codes])
    for code in find_codes(gray):
        centre = apply_homography(px_to_mm, np.array([code.centre_px]))
        if np.linalg.norm(places - centre, axis=1).min() < ASTRAY_MM:
            yield code.text
