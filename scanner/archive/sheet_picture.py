"""A sheet's picture, for its PDF and to look at: upright and flat where the sheet is found in it, else as given."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from kit.sheet_layout import SheetLayout
from scanner.locate import Located, locate
from scanner.page_image import PageImage

PX_PER_MM = 6.0
"""About 150 dpi: strokes of a pen and small print stay legible."""
MESH_PX = 16
"""The bend of the paper is worked out at points so far apart, and goes straight between them."""
PHOTOGRAPH_PX = 1800
"""Long side of a picture in which no sheet is sought."""
QUALITY = 80
"""Of the JPEG, in per cent."""


@dataclass(frozen=True, slots=True)
class SheetPicture:
    """A gray JPEG; where it `is_flat`, its corners are those of the printed page."""

    jpeg: bytes
    width_px: int
    height_px: int
    is_flat: bool


def sheet_picture(image: PageImage, layout: SheetLayout | None) -> SheetPicture:
    """Return the picture of one sheet; without a layout, of whatever the image shows.

    Raises
    ------
    PageError
        If the pixels are damaged.
    """
    long_px = round(max(layout.width_mm, layout.height_mm) * PX_PER_MM) if layout else PHOTOGRAPH_PX
    gray = image.gray(long_px)
    located = locate(gray, [layout]) if layout else None
    if isinstance(located, Located):
        return _encoded(_flat(gray, located), is_flat=True)
    shrink = long_px / max(gray.shape)
    if shrink < 1:
        size = (max(1, round(gray.shape[1] * shrink)), max(1, round(gray.shape[0] * shrink)))
        gray = cv2.resize(gray, size, interpolation=cv2.INTER_AREA).astype(np.uint8)
    return _encoded(gray, is_flat=False)


def _flat(gray: NDArray[np.uint8], located: Located) -> NDArray[np.uint8]:
    """Return the printed page, PX_PER_MM, from where its points lie in the picture."""
    width, height = (round(side * PX_PER_MM) for side in (located.frame.width_mm, located.frame.height_mm))
    columns, rows = (np.arange(0, side + MESH_PX, MESH_PX) for side in (width, height))
    mesh_mm = (np.stack(np.meshgrid(columns, rows), axis=-1).astype(np.float64) + 0.5) / PX_PER_MM
    mesh_px = located.to_px(mesh_mm.reshape(-1, 2)).reshape(mesh_mm.shape).astype(np.float32)
    x, y = np.meshgrid(np.arange(width, dtype=np.float32), np.arange(height, dtype=np.float32))
    places = cv2.remap(mesh_px, x / MESH_PX, y / MESH_PX, cv2.INTER_LINEAR)
    flat = cv2.remap(gray, places, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)  # type: ignore[call-overload]
    return np.asarray(flat, np.uint8)


def _encoded(gray: NDArray[np.uint8], *, is_flat: bool) -> SheetPicture:
    done, encoded = cv2.imencode(".jpg", gray, [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
    assert done
    height_px, width_px = gray.shape
    return SheetPicture(encoded.tobytes(), width_px, height_px, is_flat)
