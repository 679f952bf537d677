"""Lines and outlines on a sheet, in mm."""

from __future__ import annotations

from typing import Any

import numpy as np

from scanner.rehearsal.arrays import Gray, Points, xy
from scanner.rehearsal.optics import soft, traced


def with_line(
    page: Gray, px_per_mm: float, path_mm: Points, width_mm: float, strengths: Any, level: float = 0.0
) -> Gray:
    """The page with a line drawn towards that level, by so much along each piece of the path."""
    path = path_mm * px_per_mm
    width = max(1.0, width_mm * px_per_mm)
    size = page.shape[1], page.shape[0]
    low = np.clip(np.floor(path.min(axis=0) - 3 * width).astype(int), 0, size)
    high = np.clip(np.ceil(path.max(axis=0) + 3 * width).astype(int), 0, size)
    if (high <= low).any():
        return page
    weights = np.asarray(strengths) * min(1.0, width_mm * px_per_mm)
    cover = traced((int(high[1] - low[1]), int(high[0] - low[0])), path - low, width, weights.tolist())
    out = page.copy()
    patch = out[low[1] : high[1], low[0] : high[0]]
    cover = soft(cover, 0.4)
    patch[...] = np.rint(patch * (1.0 - cover) + level * cover).astype(np.uint8)
    return out


def direction(degrees: float) -> Points:
    return xy(np.cos(np.deg2rad(degrees)), np.sin(np.deg2rad(degrees)))


def circle() -> Points:
    turns = np.linspace(0.0, 2 * np.pi, 24, endpoint=False)
    return np.column_stack([np.cos(turns), np.sin(turns)])
