"""What lenses, sensors and codecs do to a picture: each a function from a gray image to a gray image."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.rehearsal.arrays import Field, Gray, Points


def as_jpeg(image: Gray, quality: int) -> bytes:
    """Return the image as the bytes of a JPEG file."""
    return bytes(cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, quality])[1])


def through_jpeg(image: Gray, quality: int) -> Gray:
    """Return the image as it is after a JPEG file of that quality; 100 and more leaves it alone."""
    if quality >= 100:
        return image
    data = np.frombuffer(as_jpeg(image, quality), dtype=np.uint8)
    return np.asarray(cv2.imdecode(data, cv2.IMREAD_GRAYSCALE), dtype=np.uint8)


def resized(image: Gray, width: int, height: int) -> Gray:
    """Return the image at that size: shrunk by averaging areas, enlarged smoothly."""
    shrinks = width * height < image.size
    return _gray(cv2.resize(image, (width, height), interpolation=cv2.INTER_AREA if shrinks else cv2.INTER_CUBIC))


def blurred(image: Gray, sigma_px: float) -> Gray:
    """Return the image out of focus by a Gaussian of that sigma."""
    if sigma_px < 0.2:
        return image
    reach = 2 * int(np.ceil(2.6 * sigma_px)) + 1
    return _gray(cv2.GaussianBlur(image, (reach, reach), sigma_px))


def smeared(image: Gray, length_px: float, angle_deg: float) -> Gray:
    """Return the image moved along a straight line while the shutter was open."""
    if length_px < 0.5:
        return image
    reach = int(np.ceil(length_px / 2)) + 1
    kernel = np.zeros((2 * reach + 1, 2 * reach + 1), dtype=np.float32)
    for share in np.linspace(-0.5, 0.5, 4 * reach + 1):
        x = reach + share * length_px * np.cos(np.deg2rad(angle_deg))
        y = reach + share * length_px * np.sin(np.deg2rad(angle_deg))
        column, row = int(x), int(y)
        kernel[row : row + 2, column : column + 2] += np.outer([1 - y + row, y - row], [1 - x + column, x - column])
    return _gray(cv2.filter2D(image, -1, kernel / kernel.sum()))


def sharpened(image: Gray, amount: float, radius_px: float) -> Gray:
    """Return the image with its edges stressed, as scanners and telephones do, bright and dark rims included."""
    if amount <= 0.0:
        return image
    reach = 2 * int(np.ceil(2 * radius_px)) + 1
    soft = cv2.GaussianBlur(image, (reach, reach), radius_px)
    return _gray(cv2.addWeighted(image, 1.0 + amount, soft, -amount, 0.0))


def toned(image: Gray, black: float, white: float, gamma: float = 1.0) -> Gray:
    """Return the image with 0 at level `black` and 255 at `white`; a gamma above 1 darkens what lies between."""
    levels = black + (white - black) * (np.arange(256) / 255.0) ** gamma
    return _gray(cv2.LUT(image, np.clip(np.rint(levels), 0, 255).astype(np.uint8)))


def lit(image: Gray, gain: Field) -> Gray:
    """Return the image multiplied by a coarse field of gains (1 leaves as is), stretched over it."""
    top = float(max(gain.max(), 1e-3))
    steps = np.clip(np.rint(gain * (255.0 / top)), 0, 255).astype(np.uint8)
    full = cv2.resize(steps, (image.shape[1], image.shape[0]), interpolation=cv2.INTER_LINEAR)
    return _gray(cv2.multiply(image, full, scale=top / 255.0))


def grainy(image: Gray, sigma: float, rng: np.random.Generator, clump_px: float = 0.0) -> Gray:
    """Return the image with noise of that standard deviation, its grains blurred to clumps."""
    if sigma <= 0.0:
        return image
    boost = 1.0 if clump_px < 0.3 else max(1.0, 3.5 * clump_px)
    dice = np.frombuffer(rng.bytes(image.size), dtype=np.uint8).reshape(image.shape)
    noise = cv2.LUT(dice, _normal_steps(round(16 * sigma * boost)))
    if clump_px >= 0.3:
        noise = cv2.GaussianBlur(noise, (5, 5), clump_px)
    return _gray(cv2.addWeighted(image, 1.0, noise, 1 / 16, 0.0, dtype=cv2.CV_8U))


def dimmed(image: Gray, outline: Points, level: float, soft_px: float, through: float = 0.0) -> Gray:
    """Return the image with a polygon of that level laid on it, its rim soft; `through` (0 … 1) is how clear it is."""
    height, width = image.shape
    margin = int(4 * soft_px) + 2
    first = np.clip(np.floor(outline.min(axis=0)).astype(int) - margin, 0, (width, height))
    last = np.clip(np.ceil(outline.max(axis=0)).astype(int) + margin, 0, (width, height))
    if (last <= first).any():
        return image
    cover = filled((int(last[1] - first[1]), int(last[0] - first[0])), [outline - first])
    if soft_px >= 0.3:
        cover = np.asarray(cv2.GaussianBlur(cover, (0, 0), soft_px), dtype=np.float32)
    cover = cover * np.float32(1.0 - through)
    out = image.copy()
    patch = out[first[1] : last[1], first[0] : last[0]]
    patch[...] = np.rint(patch * (1.0 - cover) + level * cover).astype(np.uint8)
    return out


def filled(shape: tuple[int, int], outlines: Sequence[Points], weight: float = 1.0) -> Field:
    """Return a field of that shape (rows, columns): `weight` inside the polygons, 0 outside, edges antialiased."""
    mask = np.zeros(shape, dtype=np.uint8)
    for outline in outlines:
        cv2.fillPoly(mask, [np.rint(outline * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
    return mask.astype(np.float32) * np.float32(weight / 255.0)


def traced(shape: tuple[int, int], path: Points, width_px: float, weights: Sequence[float]) -> Field:
    """Return a field of that shape with a line of that width through the points, one weight for each piece of it."""
    mask = np.zeros(shape, dtype=np.uint8)
    points = np.rint(path * 16).astype(np.int32)
    for start, weight in enumerate(weights):
        level = round(255 * min(weight, 1.0))
        cv2.polylines(mask, [points[start : start + 2]], False, level, max(1, round(width_px)), cv2.LINE_AA, 4)
    return mask.astype(np.float32) * np.float32(1 / 255)


def soft(field: Field, sigma_px: float | tuple[float, float]) -> Field:
    """Return a field blurred by a Gaussian, of one sigma or of (along x, along y)."""
    sigma_x, sigma_y = (sigma_px, sigma_px) if isinstance(sigma_px, float | int) else sigma_px
    blurred_field = cv2.GaussianBlur(field, (0, 0), max(sigma_x, 0.05), sigmaY=max(sigma_y, 0.05))
    return np.asarray(blurred_field, dtype=np.float32)


def stretched(field: Field, shape: tuple[int, int]) -> Field:
    """Return a field stretched smoothly to that shape (rows, columns)."""
    return np.asarray(cv2.resize(field, (shape[1], shape[0]), interpolation=cv2.INTER_LINEAR), dtype=np.float32)


def thickened(image: Gray, mm: float, px_per_mm: float) -> Gray:
    """Return the image with its dark parts grown by so many millimetres (less than none: thinned)."""
    radius = abs(mm) * px_per_mm
    if radius < 0.1:
        return image
    whole = max(1, round(radius))
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * whole + 1, 2 * whole + 1))
    grown = cv2.erode(image, kernel) if mm > 0 else cv2.dilate(image, kernel)
    share = min(1.0, radius / whole)
    return _gray(cv2.addWeighted(image, 1.0 - share, grown, share, 0.0))


def _gray(image: NDArray[np.generic]) -> Gray:
    return np.asarray(image, dtype=np.uint8)


@cache
def _normal_steps(sigma: int) -> NDArray[np.int16]:
    """For each byte the normal deviate of that rank, times sigma; even odds over 256 ranks."""
    ranks = (np.arange(256) + 0.5) / 256.0
    # The normal quantile by A. Hald's rational form as in Abramowitz & Stegun 26.2.23 (from memory), good to 4.5e-4.
    tail = np.minimum(ranks, 1.0 - ranks)
    t = np.sqrt(-2.0 * np.log(tail))
    deviate = t - (2.515517 + 0.802853 * t + 0.010328 * t**2) / (1.0 + 1.432788 * t + 0.189269 * t**2 + 0.001308 * t**3)
    return np.asarray(np.rint(np.where(ranks < 0.5, -deviate, deviate) * sigma), dtype=np.int16)
