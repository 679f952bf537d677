"""What is done to a picture after it was taken, its places kept right."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.rehearsal.arrays import Field, Gray, Points
from scanner.rehearsal.optics import blurred, lit, stretched
from scanner.rehearsal.picture import Picture
from scanner.rehearsal.sheet_marks import direction
from scanner.rehearsal.warp import Matrix, homography, inverse, through

SQUARE = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)])


def scale_px_per_mm(picture: Picture) -> float:
    """Pixels per millimetre in the middle of the sheet."""
    one, other = picture.place(np.array([[100.0, 148.0], [101.0, 148.0]]))
    return float(np.hypot(*(other - one)))


def shares_grid(picture: Picture, step_px: int = 8) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Places on a grid over the picture, as shares of its long side."""
    rows, columns = picture.image.shape
    long_px = max(rows, columns)
    steps = [(np.arange(side // step_px) + 0.5) * step_px / long_px for side in (columns, rows)]
    x, y = np.meshgrid(*steps)
    return x, y


def lit_by(picture: Picture, gain: NDArray[np.float64]) -> Picture:
    return replace(picture, image=lit(picture.image, gain.astype(np.float32)))


def displaced(picture: Picture, shift: Callable[[Points], Points]) -> Picture:
    """The picture with each of its pixels taken from so far away: from p + shift(p), for pixels p, (N, 2)."""
    rows, columns = picture.image.shape
    step = 16
    x, y = np.meshgrid(np.arange(-step, columns + 2 * step, step), np.arange(-step, rows + 2 * step, step))
    nodes = np.stack([x.ravel(), y.ravel()], axis=1).astype(np.float64)
    net = shift(nodes).reshape(*x.shape, 2)
    image = np.empty_like(picture.image)
    for top in range(0, rows, 512):  # in strips: a whole picture's maps fill the memory
        height = min(512, rows - top)
        at_x, at_y = np.meshgrid(np.arange(columns, dtype=np.float32), np.arange(top, top + height, dtype=np.float32))
        off = cv2.remap(net.astype(np.float32), at_x / step + 1, at_y / step + 1, cv2.INTER_LINEAR)
        image[top : top + height] = cv2.remap(
            picture.image, at_x + off[..., 0], at_y + off[..., 1], cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
        )

    def place(places: Points) -> Points:
        wanted = picture.place(places)
        found = wanted
        for _ in range(30):
            found = wanted - shift(found)
        return found

    return replace(picture, image=image, place=place)


def unfocused(image: Gray, amount: Any, most_px: float) -> Gray:
    """The image out of focus by that share (0 … 1, a coarse field) of the greatest blur."""
    share: Field = stretched(np.asarray(amount, dtype=np.float32), (image.shape[0], image.shape[1]))
    steps = [image, blurred(image, most_px / 2), blurred(image, most_px)]
    for which in (0, 1):
        weight = np.clip(2.0 * share - which, 0.0, 1.0).astype(np.float32)
        steps[which + 1] = cv2.blendLinear(steps[which], steps[which + 1], 1.0 - weight, weight).astype(np.uint8)
    return steps[2]


def raised(
    picture: Picture,
    size: Points,
    height: Callable[[Points], NDArray[np.float64]],
    drawn: dict[str, Any],
    rng: np.random.Generator,
) -> Picture:
    """Return the picture of a flat sheet as it is where it stands that high over the table, mm; its slopes shaded."""
    from_sheet: Matrix = homography(SQUARE * size, picture.place(SQUARE * size))
    to_sheet = inverse(from_sheet)
    lean, sun = drawn["lean"] * direction(float(rng.uniform(0.0, 360.0))), direction(float(rng.uniform(0.0, 360.0)))

    def shift(px: Points) -> Points:
        mm = through(to_sheet, px)
        nearer = mm - height(mm)[:, None] * (lean + (mm - size / 2) / drawn["camera_mm"])
        return through(from_sheet, nearer) - px

    x, y = (max(picture.image.shape) * grid for grid in shares_grid(picture))
    mm = through(to_sheet, np.column_stack([x.ravel(), y.ravel()]))
    slope = ((height(mm + sun) - height(mm - sun)) / 2.0).reshape(x.shape)
    beyond = (np.abs(mm - size / 2) - size / 2).max(axis=1).reshape(x.shape) > 1.0
    shade = np.where(beyond, 1.0, np.clip(1.0 + drawn["relief"] * slope, 0.55, 1.0))
    return lit_by(displaced(picture, shift), shade)


def veiled(picture: Picture, veil: Any, level: int) -> Picture:
    """Return the picture with light of that level over it, by a coarse field of shares."""
    share = np.asarray(veil, dtype=np.float32)
    left = lit(picture.image, 1.0 - share)
    return replace(picture, image=cv2.add(left, lit(np.full_like(picture.image, level), share)).astype(np.uint8))
