"""From a decoded picture of any kind to upright 8-bit gray of the size asked for."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from kit.errors import SourceError

Gray = NDArray[np.uint8]

DEEP_MODES = ("I", "F")
"""Pillow's modes of 32 bits a pixel, which no scanner or camera writes."""


def to_gray(image: Image.Image) -> Gray:
    """Return a Pillow image of any mode as (height, width) uint8; what is transparent is white.

    Raises
    ------
    SourceError
        For 32-bit samples, whose white is not known.
    """
    if image.mode in DEEP_MODES:
        raise SourceError("it has 32 bits a pixel, and 8 or 16 are read.", "Save it as 8-bit gray.")
    if image.mode.startswith("I;16"):
        return gray_from_16_bits(np.asarray(image))
    if image.has_transparency_data:
        paper = Image.new("RGBA", image.size, "white")
        paper.alpha_composite(image.convert("RGBA"))
        image = paper
    if image.mode == "LAB":
        image = image.getchannel("L")
    if image.mode not in ("L", "1", "P", "RGB", "RGBA"):
        image = image.convert("RGB")
    return np.asarray(image if image.mode == "L" else image.convert("L"))


def gray_from_16_bits(samples: NDArray[Any]) -> Gray:
    """Return unsigned 16-bit samples as 8-bit gray: 65,535 becomes 255."""
    scaled = cv2.convertScaleAbs(samples.astype(np.uint16, copy=False), alpha=1 / 257)
    return np.asarray(scaled, dtype=np.uint8)


def gray_from_channels(pixels: NDArray[np.uint8]) -> Gray:
    """Return a (height, width[, channels]) picture, blue first, as gray in memory of its own; a fourth is ignored."""
    if pixels.ndim == 2 or pixels.shape[2] == 1:
        return pixels.reshape(pixels.shape[:2]).copy()
    code = cv2.COLOR_BGR2GRAY if pixels.shape[2] == 3 else cv2.COLOR_BGRA2GRAY
    return np.asarray(cv2.cvtColor(pixels, code), dtype=np.uint8)


def upright(gray: Gray, orientation: int) -> Gray:
    """Turn and mirror a picture as its EXIF orientation says (Exif 2.32, tag 274); other numbers than 2 … 8 leave it.

    The number says where the stored row 0 and column 0 belong: 6 is row 0 on the right, so the picture is turned
    clockwise.
    """
    match orientation:
        case 2:
            turned = cv2.flip(gray, 1)
        case 3:
            turned = cv2.rotate(gray, cv2.ROTATE_180)
        case 4:
            turned = cv2.flip(gray, 0)
        case 5:
            turned = cv2.transpose(gray)
        case 6:
            turned = cv2.rotate(gray, cv2.ROTATE_90_CLOCKWISE)
        case 7:
            turned = cv2.flip(cv2.transpose(gray), -1)
        case 8:
            turned = cv2.rotate(gray, cv2.ROTATE_90_COUNTERCLOCKWISE)
        case _:
            return gray
    return np.asarray(turned, dtype=np.uint8)


def upright_size(width_px: int, height_px: int, orientation: int) -> tuple[int, int]:
    """Return (width, height) as it is after `upright`."""
    return (height_px, width_px) if 5 <= orientation <= 8 else (width_px, height_px)


def reduced(gray: Gray, least_long_px: int) -> Gray:
    """Shrink by the largest whole factor that leaves the long side at least `least_long_px`, averaging areas.

    The last rows and columns that fill no whole pixel are cut off, so the scale is exactly the factor.
    """
    factor = min(max(gray.shape) // least_long_px, *gray.shape)
    if factor < 2:
        return gray
    height, width = gray.shape[0] // factor, gray.shape[1] // factor
    whole = gray[: height * factor, : width * factor]
    return np.asarray(cv2.resize(whole, (width, height), interpolation=cv2.INTER_AREA), dtype=np.uint8)


def square_pixels(gray: Gray, x_stretch: float, y_stretch: float) -> Gray:
    """Stretch a picture whose pixels are not square, as of a fax, by the factors given, each at least 1."""
    if x_stretch == y_stretch == 1:
        return gray
    size = stretched_size(gray.shape[1], gray.shape[0], x_stretch, y_stretch)
    return np.asarray(cv2.resize(gray, size, interpolation=cv2.INTER_LINEAR), dtype=np.uint8)


def stretched_size(width_px: int, height_px: int, x_stretch: float, y_stretch: float) -> tuple[int, int]:
    """Return (width, height) as it is after `square_pixels`."""
    return round(width_px * x_stretch), round(height_px * y_stretch)
