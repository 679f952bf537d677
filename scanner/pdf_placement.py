"""How the only picture of a PDF page lies on it: turned, mirrored, cut off.

Page space is PDF's: points, y up. Display space is the page as seen: /Rotate applied, y down.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from scanner.gray_pixels import Gray, upright, upright_size

LEAST_COVER = 0.25
"""Least share of the page under its picture. What is left is white: a margin, or the paper round a photograph."""

MOST_ASPECT = 1.03
"""A picture whose pixels on the page are less square than this, as a fax's are, is not taken as it is."""

MOST_SLANT = 0.01
"""Nor is one that is turned by more than this, in radians, from a multiple of 90°."""

Box = tuple[float, float, float, float]
"""Least x, least y, greatest x, greatest y."""

_DIGITS = 4  # of a share: a fraction of a pixel, and more than PDF's numbers err by

_EXIF_ORIENTATIONS = {
    ((1, 0), (0, 1)): 1,
    ((-1, 0), (0, 1)): 2,
    ((-1, 0), (0, -1)): 3,
    ((1, 0), (0, -1)): 4,
    ((0, 1), (1, 0)): 5,
    ((0, 1), (-1, 0)): 6,
    ((0, -1), (-1, 0)): 7,
    ((0, -1), (1, 0)): 8,
}
"""Where the stored rows run to and where the stored columns run down to, as seen → the EXIF orientation."""


@dataclass(frozen=True, slots=True)
class Placement:
    """A picture's EXIF orientation on its page, and the part of it, upright, that the page shows, in shares of 1."""

    orientation: int
    shown: Box = (0.0, 0.0, 1.0, 1.0)

    @property
    def least_share(self) -> float:
        """How much of its length the picture keeps at least, of width and height."""
        left, top, right, bottom = self.shown
        return min(right - left, bottom - top)

    def upright_size(self, width_px: int, height_px: int) -> tuple[int, int]:
        """Return the (width, height) that `apply` leaves of a picture of this stored size."""
        left, top, right, bottom = self._crop(*upright_size(width_px, height_px, self.orientation))
        return right - left, bottom - top

    def apply(self, gray: Gray) -> Gray:
        """Turn a picture as stored, at any reduction, upright and cut away what the page does not show."""
        turned = upright(gray, self.orientation)
        left, top, right, bottom = self._crop(turned.shape[1], turned.shape[0])
        return np.ascontiguousarray(turned[top:bottom, left:right])

    def _crop(self, width_px: int, height_px: int) -> tuple[int, int, int, int]:
        left, top, right, bottom = self.shown
        return round(left * width_px), round(top * height_px), round(right * width_px), round(bottom * height_px)


def placement(
    size_px: tuple[int, int],
    matrix: tuple[float, float, float, float, float, float],
    page_box: Box,
    rotation_deg: int,
    clips: Iterable[Box] = (),
) -> Placement | None:
    """Return how a picture lies on its page, or None where taking its pixels as they are would show it wrongly.

    Parameters
    ----------
    size_px : (int, int)
        The picture's width and height as stored.
    matrix : six floats
        What takes the unit square, its top row at y = 1, into page space (ISO 32000-1, 8.3.3 and 8.9.5).
    page_box : Box
        The part of page space that is seen: the crop box.
    rotation_deg : int
        The page's /Rotate: 0, 90, 180 or 270 clockwise.
    clips : boxes
        Rectangles of page space outside of which the picture is not painted.
    """
    a, b, c, d, e, f = matrix
    rows_run, columns_run = _axis(_seen(a, b, rotation_deg)), _axis(_seen(-c, -d, rotation_deg))
    if rows_run is None or columns_run is None or (rows_run, columns_run) not in _EXIF_ORIENTATIONS:
        return None
    orientation = _EXIF_ORIENTATIONS[rows_run, columns_run]
    image_box = (e + min(a + c, 0), f + min(b + d, 0), e + max(a + c, 0), f + max(b + d, 0))
    shown_box = _common([page_box, image_box, *clips])
    if _area(shown_box) < LEAST_COVER * _area(page_box):
        return None
    left, top, right, bottom = _displayed(image_box, rotation_deg)
    width, height = right - left, bottom - top
    width_px, height_px = upright_size(*size_px, orientation)
    if not 1 / MOST_ASPECT < (width / width_px) / (height / height_px) < MOST_ASPECT:
        return None
    shown = _displayed(shown_box, rotation_deg)
    return Placement(
        orientation,
        (
            round((shown[0] - left) / width, _DIGITS),
            round((shown[1] - top) / height, _DIGITS),
            round((shown[2] - left) / width, _DIGITS),
            round((shown[3] - top) / height, _DIGITS),
        ),
    )


def _seen(x: float, y: float, rotation_deg: int) -> tuple[float, float]:
    """Take a direction or a point of page space into display space, where only differences of points count."""
    match rotation_deg:
        case 90:
            return y, x
        case 180:
            return -x, y
        case 270:
            return -y, -x
        case _:
            return x, -y


def _axis(direction: tuple[float, float]) -> tuple[int, int] | None:
    x, y = direction
    if x and abs(y) <= MOST_SLANT * abs(x):
        return (1, 0) if x > 0 else (-1, 0)
    if y and abs(x) <= MOST_SLANT * abs(y):
        return (0, 1) if y > 0 else (0, -1)
    return None


def _displayed(box: Box, rotation_deg: int) -> Box:
    (x0, y0), (x1, y1) = _seen(*box[:2], rotation_deg), _seen(*box[2:], rotation_deg)
    return min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)


def _common(boxes: Iterable[Box]) -> Box:
    lefts, lows, rights, highs = zip(*boxes, strict=True)
    return max(lefts), max(lows), min(rights), min(highs)


def _area(box: Box) -> float:
    return max(0.0, box[2] - box[0]) * max(0.0, box[3] - box[1])
