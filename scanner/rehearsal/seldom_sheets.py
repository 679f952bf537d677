"""What seldom happens to a sheet: once held out, tuned upon since."""

from __future__ import annotations

from typing import Any

import numpy as np

from scanner.rehearsal.arrays import Gray, xy
from scanner.rehearsal.optics import (
    blurred,
    dimmed,
    filled,
    lit,
    soft,
    toned,
)
from scanner.rehearsal.severities import draw
from scanner.rehearsal.sheet_marks import circle, direction, with_line

COARSE = 4.0
"""Pixels per millimetre of fields that vary slowly."""


def yellowed(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page on old paper: darker towards its edges, with pale brown spots."""
    drawn = _drawn("yellowed", rng)
    rows, columns = (round(side / px_per_mm * COARSE) for side in page.shape)
    x, y = np.meshgrid(np.arange(columns) / COARSE, np.arange(rows) / COARSE)
    from_edge = np.minimum(np.minimum(x, x[:, ::-1]), np.minimum(y, y[::-1]))
    gain = drawn["tone"] * (1.0 - drawn["edge"] * np.exp(-from_edge / drawn["reach_mm"]))
    spots = np.zeros((rows, columns), dtype=np.float32)
    for _ in range(drawn["spots"]):
        middle, radius = rng.uniform(0.02, 0.98, 2) * (columns, rows), float(rng.uniform(0.4, 2.2)) * COARSE
        spots = np.maximum(spots, filled((rows, columns), [middle + radius * circle()], float(rng.uniform(0.3, 1.0))))
    return lit(page, (gain * (1.0 - drawn["spot"] * soft(spots, 2.5))).astype(np.float32))


def mended(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page torn in from one side and mended with clear tape."""
    drawn = _drawn("mended", rng)
    width_mm, height_mm = page.shape[1] / px_per_mm, page.shape[0] / px_per_mm
    x = np.linspace(0.0, drawn["depth"] * width_mm, 160)
    y = height_mm * drawn["at"] + np.tan(np.deg2rad(drawn["lean_deg"])) * x
    jagged = y + np.cumsum(rng.normal(0.0, 0.16, 160))
    tear, ends = np.column_stack([x, jagged]), np.array([(x[0] - 2.0, y[0]), (x[-1] + 4.0, y[-1])])
    across = xy(0.0, drawn["wide_mm"] / 2)
    if rng.random() < 0.5:
        tear, ends = (xy(width_mm, 0.0) + line * (-1.0, 1.0) for line in (tear, ends))
    tape = np.vstack([ends - across, ends[::-1] + across])
    page = with_line(page, px_per_mm, tear, drawn["tear_mm"], drawn["tear"] * rng.uniform(0.2, 1.0, 159))
    page = dimmed(page, tape * px_per_mm, 0.0, 0.4, through=1.0 - drawn["tape"])
    for rim in (ends - across, ends + across):
        long = rim[0] + np.linspace(0.0, 1.0, 80)[:, None] * (rim[1] - rim[0])
        page = with_line(page, px_per_mm, long, 0.25, drawn["rim"] * rng.uniform(0.4, 1.0, 79))
    return page


def fingered(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page with the prints of fingers that were not clean."""
    page = page.copy()
    drawn = _drawn("fingers", rng)
    half = drawn["long_mm"] / 2
    side = 2 * round(half * px_per_mm)
    for _ in range(drawn["count"]):
        angle = float(rng.uniform(0.0, 2 * np.pi))
        column, row = (int(rng.uniform(0.05, 0.95) * size - side / 2) for size in page.shape[::-1])
        patch = page[max(row, 0) : row + side, max(column, 0) : column + side]
        down, over = np.mgrid[0 : patch.shape[0], 0 : patch.shape[1]] / px_per_mm - half
        x, y = over * np.cos(angle) + down * np.sin(angle), down * np.cos(angle) - over * np.sin(angle)
        sway = 0.5 * np.sin(0.45 * y + angle) + 0.3 * np.sin(0.7 * x)
        ridges = 0.5 + 0.5 * np.cos(2 * np.pi * (np.hypot(x, 0.6 * (y - 0.2 * half)) + sway) / drawn["pitch_mm"])
        pressed = np.clip(1.6 * (1.0 - np.hypot(x / (0.68 * half), y / half)), 0.0, 1.0)
        uneven = 0.75 + 0.25 * np.sin(0.9 * x + angle) * np.sin(0.6 * y)
        taken = drawn["darkness"] * pressed * uneven * (ridges * (1.0 - drawn["smear"]) + 0.6 * drawn["smear"])
        patch[...] = np.rint(patch * (1.0 - taken)).astype(np.uint8)
    return page


def with_hairs(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page with hairs and threads lying on it, each longer than any box."""
    drawn = _drawn("hairs", rng)
    for _ in range(drawn["count"]):
        count = round(float(rng.uniform(*sorted((9.0, drawn["length_mm"])))) / 0.4)
        bends = np.interp(np.arange(count), np.linspace(0, count, 5), rng.uniform(-1.0, 1.0, 5))
        heading = rng.uniform(0.0, 2 * np.pi) + np.cumsum(0.4 * bends / drawn["curl_mm"] * 2)
        start = rng.uniform(0.03, 0.97, 2) * (page.shape[1] / px_per_mm, page.shape[0] / px_per_mm)
        path = start + 0.4 * np.cumsum(np.column_stack([np.cos(heading), np.sin(heading)]), axis=0)
        page = with_line(page, px_per_mm, path, drawn["width_mm"], np.full(count - 1, drawn["darkness"]))
    return page


def pouched(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page in a clear pouch that has seen better days: hazy, scratched, a little soft."""
    drawn = _drawn("pouch", rng)
    hazy = blurred(page, drawn["blur_mm"] * px_per_mm)
    dark = drawn["haze"] * drawn["level"]
    hazy = toned(hazy, dark, 255.0 * (1.0 - drawn["haze"]) + dark)
    for _ in range(drawn["scratches"]):
        start = rng.uniform(0.0, 1.0, 2) * (page.shape[1] / px_per_mm, page.shape[0] / px_per_mm)
        way = float(rng.uniform(4.0, 60.0)) * direction(float(rng.uniform(0.0, 360.0)))
        share = np.linspace(0.0, 1.0, 40)[:, None]
        path = start + share * way + share * (1.0 - share) * xy(-way[1], way[0]) * float(rng.uniform(-0.3, 0.3))
        to = float(rng.choice([60.0, 255.0]))
        hazy = with_line(hazy, px_per_mm, path, 0.06, drawn["scratch"] * rng.uniform(0.3, 1.0, 39), to)
    clouds = soft(rng.standard_normal((75, 53)).astype(np.float32), 2.5)
    return lit(hazy, (1.0 - drawn["clouds"] * np.abs(clouds / clouds.std()).clip(0.0, 2.0)).astype(np.float32))


def _drawn(table: str, rng: np.random.Generator) -> dict[str, Any]:
    values: dict[str, Any] = draw(dict, f"seldom.{table}", rng)
    return values
