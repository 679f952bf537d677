"""Ink on paper: strokes drawn antialiased with a pen's width, flow, gaps and bleeding, and multiplied onto the page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.rehearsal.arrays import Field, Gray
from scanner.rehearsal.pens import Pen
from scanner.rehearsal.strokes import STEP_MM, Stroke, join, shares

_SUBPIXEL_BITS = 4
_LEVELS = 9
_TOOTH_PX = 1024


@dataclass(frozen=True, slots=True, eq=False)
class Deposit:
    """What one mark added to the page: its contrast (0 … 1), (height, width), the top left pixel at (column, row)."""

    column: int
    row: int
    contrast: Field


def deposit(
    strokes: Sequence[Stroke], pen: Pen, shape: tuple[int, int], px_per_mm: float, rng: np.random.Generator
) -> Deposit | None:
    """Return what these strokes leave on a page of that shape (rows, columns); None where all fall off the page."""
    factor = 3 if px_per_mm >= 9.0 else 4
    margin = pen.width_mm[1] * (0.7 + pen.pools) + 3.0 * pen.bleed_mm + 1.5 / px_per_mm
    points = join(strokes) * px_per_mm
    first = np.maximum(np.floor(points.min(axis=0) - margin * px_per_mm), 0).astype(int)
    last = np.minimum(np.ceil(points.max(axis=0) + margin * px_per_mm), (shape[1], shape[0])).astype(int)
    width, height = int(last[0] - first[0]), int(last[1] - first[1])
    if width <= 0 or height <= 0:
        return None
    clear: Field | None = None
    for stroke in strokes:
        layer = np.zeros((height * factor, width * factor), dtype=np.uint8)
        _draw(layer, stroke, pen, first, px_per_mm, factor, rng)
        cover = np.asarray(cv2.resize(layer, (width, height), interpolation=cv2.INTER_AREA), dtype=np.float32)
        left = 1.0 - cover * np.float32(1 / 255)
        clear = left if clear is None else clear * left
    assert clear is not None
    return Deposit(int(first[0]), int(first[1]), _settled(1.0 - clear, pen, px_per_mm, rng))


def lay(page: Gray, ink: Deposit) -> None:
    """Darken the page, in place, by a deposit; what is printed underneath stays."""
    rows, columns = ink.contrast.shape
    patch = page[ink.row : ink.row + rows, ink.column : ink.column + columns]
    patch[...] = np.rint(patch * (1.0 - ink.contrast)).astype(np.uint8)


def rubbed_out(ink: Deposit, px_per_mm: float, rng: np.random.Generator) -> Deposit:
    """Return what an eraser leaves of a deposit: a ghost of it, smeared along one direction, on a faint grey smudge."""
    ghost = ink.contrast * float(rng.uniform(0.08, 0.22))
    reach = max(1, int(0.5 * px_per_mm))
    smear = np.asarray(cv2.blur(ghost, (2 * reach + 1, 3)), dtype=np.float32)
    smudge = np.asarray(cv2.blur((ink.contrast > 0.1).astype(np.float32), (4 * reach + 1, 2 * reach + 1)))
    left = ghost * 0.7 + smear * 0.3 + smudge * float(rng.uniform(0.01, 0.035))
    return Deposit(ink.column, ink.row, left.astype(np.float32))


def _draw(
    layer: Gray,
    stroke: Stroke,
    pen: Pen,
    first: NDArray[np.int_],
    px_per_mm: float,
    factor: int,
    rng: np.random.Generator,
) -> None:
    scale = px_per_mm * factor
    thickness = np.maximum(np.rint(_widths_mm(stroke, pen) * scale), 1).astype(int)
    level = np.ceil(_flow(stroke, pen, rng) * _LEVELS).astype(int)
    path = (stroke.points_mm * px_per_mm - first) * factor - 0.5
    fixed = np.rint(path * 2**_SUBPIXEL_BITS).astype(np.int32)
    changes = np.flatnonzero(np.diff(thickness[:-1]) | np.diff(level[:-1])) + 1
    starts = np.concatenate([[0], changes])
    ends = np.concatenate([changes, [len(path) - 1]])
    for run in np.argsort(level[starts], kind="stable"):  # the darkest last: where lines meet, the darker shows
        start, end = int(starts[run]), int(ends[run])
        cv2.polylines(
            layer,
            [fixed[start : end + 1]],
            False,
            int(level[start] * 255 // _LEVELS),
            int(thickness[start]),
            cv2.LINE_8,
            _SUBPIXEL_BITS,
        )


def _widths_mm(stroke: Stroke, pen: Pen) -> NDArray[np.float64]:
    thin, thick = pen.width_mm
    width = thin + (thick - thin) * np.maximum((stroke.pressure - 0.3) / 0.9, 0.0)
    if pen.nib:
        way = np.gradient(stroke.points_mm, axis=0)
        across = np.abs(np.sin(np.arctan2(way[:, 1], way[:, 0]) + np.pi / 4))
        width = width * (1.0 - pen.nib + 2.0 * pen.nib * across)
    if pen.pools:
        along = np.arange(len(width))
        resting = np.exp(-np.minimum(along, along[::-1]) / 1.2)
        width = width * (1.0 + pen.pools * resting * np.clip(stroke.pressure, 0.0, 1.0))
    return width


def _flow(stroke: Stroke, pen: Pen, rng: np.random.Generator) -> NDArray[np.float64]:
    count = len(stroke.pressure)
    slow = np.sin(2 * np.pi * (rng.uniform(0.5, 2.0) * shares(count) + rng.random()))
    flow = pen.flow * (1.0 + pen.response * (stroke.pressure - 1.0)) * (1.0 - 0.5 * pen.shading * (1.0 + slow))
    for _ in range(int(rng.poisson(pen.skips_per_cm * count * STEP_MM / 10))):
        start = int(rng.integers(count))
        flow[start : start + int(rng.integers(1, 4))] *= 0.15
    return np.minimum(np.maximum(flow, 0.05), 1.0)


def _settled(cover: Field, pen: Pen, px_per_mm: float, rng: np.random.Generator) -> Field:
    """The ink's contrast after it crept into the paper and caught on its grain."""
    sigma = pen.bleed_mm * px_per_mm
    if sigma > 0.25:
        reach = 2 * int(np.ceil(2.5 * sigma)) + 1
        cover = np.asarray(cv2.GaussianBlur(cover, (reach, reach), sigma), dtype=np.float32)
    if pen.tooth > 0.0:
        rows, columns = cover.shape
        grain = _tooth(round(px_per_mm * 4) / 4)
        row, column = rng.integers(0, [max(1, _TOOTH_PX - rows), max(1, _TOOTH_PX - columns)])
        bite = grain[row : row + rows, column : column + columns]
        if bite.shape != cover.shape:
            bite = np.pad(bite, [(0, rows - bite.shape[0]), (0, columns - bite.shape[1])], mode="wrap")
        cover = np.clip(cover - pen.tooth * bite * (1.25 - cover), 0.0, 1.0)
    contrast: Field = cover * np.float32(1.0 - pen.gray / 255.0)
    contrast[contrast < 0.004] = 0.0
    return contrast


@cache
def _tooth(px_per_mm: float) -> Field:
    """The grain of office paper as a pen meets it, 0 … 1: bumps about 0.1 mm apart, a fixed piece of it."""
    rng = np.random.default_rng(20261205)
    noise = rng.standard_normal((_TOOTH_PX, _TOOTH_PX), dtype=np.float32)
    fine = cv2.GaussianBlur(noise, (0, 0), max(0.045 * px_per_mm, 0.35))
    coarse = cv2.GaussianBlur(noise[::-1], (0, 0), 0.16 * px_per_mm)
    grain = fine / fine.std() + 0.7 * coarse / coarse.std()
    return np.asarray(np.clip(0.5 + 0.36 * grain, 0.0, 1.0), dtype=np.float32)
