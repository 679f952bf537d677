"""Handwriting in the writing areas: words that look written, and say nothing."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from kit.sheet_layout import SheetLayout, WritingArea
from scanner.rehearsal.arrays import xy
from scanner.rehearsal.habits import Hand
from scanner.rehearsal.ink import deposit, lay
from scanner.rehearsal.pens import Pen
from scanner.rehearsal.strokes import curve, inked
from scanner.rehearsal.truth import InnerBoxes, MarkedSheet, retagged

# Letters as knots of one joined-up stroke, x to the right from 0, y in x-heights above the line.
_LETTERS: tuple[tuple[tuple[float, float], ...], ...] = (
    ((0.1, 0.1), (0.5, 0.7), (0.3, 1.0), (0.05, 0.6), (0.25, 0.0), (0.7, 0.25)),  # e
    ((0.1, 0.9), (0.15, 0.0), (0.3, 0.85), (0.6, 0.9), (0.65, 0.05), (0.9, 0.2)),  # n
    ((0.1, 0.95), (0.15, 0.15), (0.45, 0.0), (0.65, 0.9), (0.65, 0.1), (0.9, 0.2)),  # u
    ((0.6, 0.85), (0.3, 1.0), (0.05, 0.5), (0.3, 0.0), (0.6, 0.5), (0.6, 0.95), (0.65, 0.1), (0.9, 0.2)),  # a
    ((0.45, 1.0), (0.1, 0.6), (0.3, 0.0), (0.65, 0.5), (0.4, 1.0), (0.8, 0.85)),  # o
    ((0.15, 0.5), (0.45, 1.7), (0.3, 2.1), (0.15, 1.2), (0.2, 0.1), (0.5, 0.15)),  # l
    ((0.2, 0.9), (0.25, 0.1), (0.5, 0.15)),  # i
    ((0.3, 1.7), (0.25, 0.2), (0.45, 0.0), (0.65, 0.2)),  # t
    ((0.6, 0.85), (0.25, 0.95), (0.1, 0.3), (0.5, 0.3), (0.6, 0.95), (0.5, -0.9), (0.15, -1.0), (0.7, 0.1)),  # g
    ((0.1, 0.2), (0.3, 0.95), (0.35, 0.75), (0.55, 0.8), (0.5, 0.2), (0.7, 0.1)),  # r
    ((0.1, 0.1), (0.4, 1.0), (0.55, 0.3), (0.3, 0.0), (0.75, 0.2)),  # s
    ((0.1, 0.7), (0.2, -0.95), (0.2, 0.8), (0.5, 1.0), (0.65, 0.4), (0.3, 0.0), (0.85, 0.25)),  # p
)


def write_remarks(
    sheet: MarkedSheet,
    layout: SheetLayout,
    rng: np.random.Generator,
    px_per_mm: float,
    pen: Pen,
    *,
    share: float = 0.6,
    stray: float = 0.15,
) -> MarkedSheet:
    """Write remarks into a share of the writing areas, on a copy of the sheet's page.

    Some words stray past the area's right or lower edge, with the chance `stray` for each area. Empty boxes that get
    ink in their inner box are marginal on the sheet that comes back.
    """
    page = sheet.page.copy()
    shape = (page.shape[0], page.shape[1])
    inner = InnerBoxes(layout, shape, px_per_mm)
    entered: set[int] = set()
    x_height_mm, slant = float(rng.uniform(1.5, 2.4)), float(rng.uniform(-0.15, 0.55))
    x_height_mm = max(x_height_mm, 3.5 * pen.width_mm[0])
    writer = Hand("writer", (), pressure=float(rng.uniform(0.75, 1.1)), flick=0.35, shake_mm=0.03)
    for area in layout.writing:
        if rng.random() >= share:
            continue
        for word in _words(area, x_height_mm, slant, rng.random() < stray, rng):
            ink = deposit([inked(path, writer, rng) for path in word], pen, shape, px_per_mm, rng)
            if ink is None:
                continue
            lay(page, ink)
            for index in inner.touched(ink.column, ink.row, ink.contrast.shape):
                if inner.ink(int(index), ink.contrast, ink.column, ink.row).any():
                    entered.add(int(index))
    return retagged(sheet, page, frozenset(entered))


def _words(
    area: WritingArea, x_height_mm: float, slant: float, strays: bool, rng: np.random.Generator
) -> list[list[NDArray[np.float64]]]:
    """Words line by line from the area's top left, each the paths of its strokes in mm on the page."""
    size = min(x_height_mm, area.h_mm / 3)
    gap = size * float(rng.uniform(2.6, 3.4))
    room = int(area.h_mm / gap)
    lines = int(rng.integers(1, room, endpoint=True)) if room > 1 else 1
    top = area.y_mm + (0.85 * gap if room > 1 else 0.7 * area.h_mm) + (float(rng.uniform(0.5, 2.0)) if strays else 0.0)
    left = area.x_mm + (20.0 if area.w_mm > 100.0 else 0.0)  # a long ruled line has its printed question in front
    right = area.x_mm + area.w_mm + (float(rng.uniform(1.0, 5.0)) if strays else 0.0)
    climb = float(rng.uniform(-2.5, 1.0)) / max(area.w_mm, 40.0)
    words = []
    for line in range(lines):
        x, base = left + float(rng.uniform(0.8, 4.0)), top + gap * line + float(rng.uniform(-0.4, 0.4))
        for _ in range(int(rng.integers(2, 9))):
            letters = rng.integers(len(_LETTERS), size=int(rng.integers(2, 9)))
            paths, width = _word(letters, size, slant, rng)
            if x + width > right:
                break
            start = xy(x, base + climb * (x - left))
            words.append([path + start for path in paths])
            x += width + size * float(rng.uniform(0.7, 1.2))
    return words


def _word(
    letters: NDArray[np.int64], size: float, slant: float, rng: np.random.Generator
) -> tuple[list[NDArray[np.float64]], float]:
    """A word's strokes from (0, 0) on its line, and its width, mm."""
    knots, at = [], 0.0
    extras = []
    for letter in letters:
        shape = np.array(_LETTERS[letter])
        shape = shape * (rng.uniform(0.75, 1.1), rng.uniform(0.85, 1.15)) + rng.normal(0.0, 0.04, shape.shape)
        knots.append(shape + xy(at, 0.0))
        if letter == 6:
            extras.append(np.array([[at + 0.45, 1.55], [at + 0.52, 1.5]]))
        if letter == 7:
            extras.append(np.array([[at - 0.1, 1.2], [at + 0.3, 1.22], [at + 0.75, 1.25]]))
        at += float(shape[-1, 0]) * 0.95
    lean = np.array([[1.0, 0.0], [slant, -1.0]]) * size
    paths = [curve(np.vstack(knots) @ lean)]
    paths += [curve(extra @ lean) for extra in extras]
    return paths, at * size
