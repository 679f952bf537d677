"""Moving pixels once: a page laid onto a background by a homography, or by a coarse net of places."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.rehearsal.arrays import Gray, Points
from scanner.rehearsal.optics import resized

Matrix = NDArray[np.float64]


def homography(from_points: Points, to_points: Points) -> Matrix:
    """Return the (3, 3) homography that takes four points, no three in a line, to four others."""
    matrix = cv2.getPerspectiveTransform(from_points.astype(np.float32), to_points.astype(np.float32))
    return np.asarray(matrix, dtype=np.float64)


def through(matrix: Matrix, points: Points) -> Points:
    """Return where a homography takes points, (N, 2)."""
    ahead = points @ matrix[:, :2].T + matrix[:, 2]
    return np.asarray(ahead[:, :2] / ahead[:, 2:], dtype=np.float64)


def inverse(matrix: Matrix) -> Matrix:
    """Return the homography that leads back."""
    return np.asarray(np.linalg.inv(matrix), dtype=np.float64)


def mm_to_px(px_per_mm: float) -> Matrix:
    """Return the matrix from millimetres on a page to its pixels, whole numbers at pixel centres."""
    return np.array([[px_per_mm, 0.0, -0.5], [0.0, px_per_mm, -0.5], [0.0, 0.0, 1.0]])


def shrunk_page(page: Gray, px_per_mm: float, wanted_px_per_mm: float) -> tuple[Gray, Matrix]:
    """Return the page at no more than the wanted scale, areas averaged, and its matrix from mm to pixels."""
    if px_per_mm <= 1.15 * wanted_px_per_mm:
        return page, mm_to_px(px_per_mm)
    height, width = page.shape
    columns = max(1, round(width * wanted_px_per_mm / px_per_mm))
    rows = max(1, round(height * wanted_px_per_mm / px_per_mm))
    across, down = px_per_mm * columns / width, px_per_mm * rows / height
    return resized(page, columns, rows), np.array([[across, 0.0, -0.5], [0.0, down, -0.5], [0.0, 0.0, 1.0]])


def laid_flat(page: Gray, page_to_image: Matrix, background: Gray) -> Gray:
    """Return the background with the page laid onto it by a homography from page pixels to image pixels."""
    out = background.copy()
    size = (background.shape[1], background.shape[0])
    cv2.warpPerspective(page, page_to_image, size, out, cv2.INTER_LINEAR, cv2.BORDER_TRANSPARENT)
    return out


def laid_bent(page: Gray, net: NDArray[np.float32], step_px: int, background: Gray) -> Gray:
    """Return the background with a bent page laid onto it.

    `net` (rows, columns, 2) holds the page pixel seen at image pixel ((column − 0.5) · step − 0.5, likewise in y): one
    node more than the image has steps on every side.
    """
    size = (net.shape[1] * step_px, net.shape[0] * step_px)
    height, width = background.shape
    inside = slice(step_px, step_px + height), slice(step_px, step_px + width)
    maps = [cv2.resize(net[:, :, axis], size, interpolation=cv2.INTER_LINEAR)[inside] for axis in (0, 1)]
    out = background.copy()
    cv2.remap(page, maps[0], maps[1], cv2.INTER_LINEAR, out, cv2.BORDER_TRANSPARENT)
    return out


def net_places(shape: tuple[int, int], step_px: int) -> Points:
    """Return the image pixels at a net's nodes, (rows · columns, 2), row by row; see `laid_bent`."""
    rows, columns = net_shape(shape, step_px)
    x = (np.arange(columns) - 0.5) * step_px - 0.5
    y = (np.arange(rows) - 0.5) * step_px - 0.5
    across, down = np.meshgrid(x, y)
    return np.stack([across.ravel(), down.ravel()], axis=1)


def net_shape(shape: tuple[int, int], step_px: int) -> tuple[int, int]:
    """Return the rows and columns of a net over an image of that shape."""
    return -(-shape[0] // step_px) + 2, -(-shape[1] // step_px) + 2
