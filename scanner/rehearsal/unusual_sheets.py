"""Unusual things that happen to a sheet: once held out, tuned upon since."""

from __future__ import annotations

from typing import Any

import numpy as np

from scanner.rehearsal.arrays import Field, Gray, Points, xy
from scanner.rehearsal.optics import dimmed
from scanner.rehearsal.paper import papery
from scanner.rehearsal.severities import draw
from scanner.rehearsal.sheet_marks import circle, direction, with_line
from scanner.rehearsal.wet import with_drop

ROUND_MM = 1.3
"""How far past a thing on the sheet a box may hide one of the nine places that `as_seen` looks at."""


def drawn_from(table: str, rng: np.random.Generator) -> dict[str, Any]:
    """Return the values of one table of `unusual.toml`."""
    values: dict[str, Any] = draw(dict, f"unusual.{table}", rng)
    return values


def size_mm(page: Gray, px_per_mm: float) -> Points:
    """Return the page's width and height."""
    return xy(page.shape[1] / px_per_mm, page.shape[0] / px_per_mm)


def bar_mm(left: float, top: float, right: float, bottom: float) -> Points:
    """Return the outline of what hides a rectangle, and of the boxes that it just touches."""
    low, high = xy(left, top) - ROUND_MM, xy(right, bottom) + ROUND_MM
    return np.array([low, xy(high[0], low[1]), high, xy(low[0], high[1])])


def rim(count: int = 120, times: int = 1) -> Points:
    """Return a closed circle of radius 1 by that many places, gone round so many times."""
    turns = np.linspace(0.0, 2 * np.pi * times, count)
    return np.column_stack([np.cos(turns), np.sin(turns)])


def smoothed_out(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page on paper gone soft: crumpled once and smoothed by hand, a web of fine creases all over."""
    drawn = drawn_from("smoothed_out", rng)
    page = papery(page, px_per_mm, drawn["tone"], rng, drawn["fibre"])
    knots = rng.uniform(0.0, 1.0, (drawn["knots"], 2)) * size_mm(page, px_per_mm)
    apart = np.hypot(*(knots[:, None] - knots[None]).T)
    for one, near in enumerate(np.argsort(apart, axis=1)[:, 1:4]):
        for other in near[near > one]:
            share = np.linspace(0.0, 1.0, 31)[:, None]
            path = knots[one] + share * (knots[other] - knots[one]) + rng.normal(0.0, 0.05, (31, 2))
            strengths = drawn["darkness"] * rng.uniform(0.1, 1.0) * rng.uniform(0.3, 1.0, 30)
            beside = drawn["width_mm"] * direction(float(rng.uniform(0.0, 360.0)))
            page = with_line(page, px_per_mm, path, drawn["width_mm"], strengths)
            page = with_line(page, px_per_mm, path + beside, drawn["width_mm"], 0.5 * strengths, 250.0)
    return page


def on_squared_paper(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page as printed on squared paper, its pale lines never quite along the print."""
    drawn = drawn_from("squared", rng)
    rows, columns = page.shape
    lean = np.tan(np.deg2rad(drawn["turn_deg"]))
    pitch, half = drawn["pitch_mm"], drawn["width_mm"] / 2
    x, y = (np.arange(side, dtype=np.float32) / np.float32(px_per_mm) for side in (columns, rows))
    taken = np.zeros(page.shape, dtype=np.float32)
    for steps, lean_mm, at in ((x[None], lean * y[:, None], drawn["x"]), (y[:, None], -lean * x[None], drawn["y"])):
        from_line = np.abs((steps + lean_mm + at * pitch) % pitch - pitch / 2)
        taken = np.maximum(taken, np.clip((half - from_line) * px_per_mm + 0.5, 0.0, 1.0))
    return np.asarray(np.rint(page * (1.0 - drawn["darkness"] * taken)), dtype=np.uint8)


def highlighted(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page on which somebody drew a highlighter over lines and words: pale grey, darker where it rested."""
    drawn, size = drawn_from("highlighted", rng), size_mm(page, px_per_mm)
    for _ in range(drawn["swathes"]):
        long, wide = float(rng.uniform(18.0, 95.0)), drawn["wide_mm"] * float(rng.uniform(0.9, 1.1))
        start = rng.uniform(0.05, 0.95, 2) * size - xy(0.5 * long, 0.0)
        way = direction(float(rng.uniform(-2.0, 2.0)))
        side = 0.5 * wide * xy(-way[1], way[0])
        dark = drawn["darkness"] * float(rng.uniform(0.8, 1.2))
        for begin, end, share in ((0.0, long, 1.0), (-0.4, 0.8, 0.35), (long - 0.9, long + 0.3, 0.35)):
            band = np.array([start + begin * way - side, start + end * way - side, start + end * way + side])
            band = np.vstack([band, start + begin * way + side])
            page = dimmed(page, band * px_per_mm, 0.0, 0.08 * px_per_mm, through=1.0 - share * dark)
    return page


def with_a_note(page: Gray, px_per_mm: float, rng: np.random.Generator) -> tuple[Gray, Points]:
    """Return the page with a sticky note on it, and that note's outline, mm."""
    drawn, size = drawn_from("note", rng), size_mm(page, px_per_mm)
    way = direction(drawn["turn_deg"])
    side, half = xy(-way[1], way[0]), drawn["side_mm"] / 2
    middle = xy(drawn["x"], drawn["y"]) * size
    corners = [middle + half * (i * way + j * side) for i, j in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    outline = np.array(corners)
    page = dimmed(page, (outline + 0.5 * (way + side)) * px_per_mm, 0.0, 0.5 * px_per_mm, 1.0 - drawn["shadow"])
    page = dimmed(page, outline * px_per_mm, drawn["level"], 0.5)
    for line in np.linspace(-0.65, 0.65, drawn["lines"]) * half:
        x = np.linspace(-0.8, float(rng.uniform(0.2, 0.8)), 50) * half
        y = line + 1.1 * np.sin(3.0 * x + rng.uniform(0.0, 6.0)) * rng.uniform(0.2, 1.0, 50)
        page = with_line(page, px_per_mm, middle + x[:, None] * way + y[:, None] * side, 0.4, np.full(49, 0.75))
    return page, middle + (outline - middle) * (1.0 + ROUND_MM * 1.5 / half)


def worn_drum(page: Gray, px_per_mm: float, rng: np.random.Generator) -> tuple[Gray, float]:
    """Return the page from a copier whose drum is worn, and the tone that just counts where it is palest.

    Pale bands run along the sheet; a scratch on the drum comes again at each of its turns.
    """
    drawn, size = drawn_from("drum", rng), size_mm(page, px_per_mm)
    x = np.linspace(0.0, float(size[0]), page.shape[1], dtype=np.float32)
    kept = np.ones_like(x)
    for _ in range(drawn["bands"]):
        middle, wide = float(rng.uniform(0.0, size[0])), float(rng.uniform(8.0, 30.0))
        kept = np.minimum(kept, 1.0 - drawn["fade"] * np.exp(-0.5 * np.square((x - middle) / (0.5 * wide))))
    page = np.rint(255.0 - (255.0 - page) * kept[None].astype(np.float32)).astype(np.uint8)
    for _ in range(drawn["scratches"]):
        start, way = rng.uniform(0.0, 1.0, 2) * (size[0], drawn["turn_mm"]), direction(float(rng.uniform(0.0, 180.0)))
        bent = np.linspace(0.0, drawn["scratch_mm"], 25)[:, None]
        path = start + bent * way + 0.02 * bent**2 * xy(-way[1], way[0])
        for turn in range(int(size[1] / drawn["turn_mm"]) + 1):
            strengths = drawn["scratch"] * rng.uniform(0.4, 1.0, 24)
            page = with_line(page, px_per_mm, path + xy(0.0, turn * drawn["turn_mm"]), 0.09, strengths)
    return page, 0.3 / (1.0 - drawn["fade"])


def screened(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page as a copier prints a photograph: what is grey becomes dots of a slanting screen."""
    drawn = drawn_from("screen", rng)
    angle = np.deg2rad(drawn["turn_deg"])
    turns = 2 * np.pi * drawn["lines_per_mm"] / px_per_mm
    x, y = np.meshgrid(np.arange(page.shape[1], dtype=np.float32), np.arange(page.shape[0], dtype=np.float32))
    along, across = x * np.cos(angle) + y * np.sin(angle), y * np.cos(angle) - x * np.sin(angle)
    dots: Field = 0.5 + 0.25 * (np.cos(turns * along) + np.cos(turns * across))
    dark = (1.0 - page / 255.0).astype(np.float32)
    printed = np.clip(0.5 + drawn["hardness"] * (dark - 0.12 - 0.76 * dots), 0.0, 1.0)
    printed[dark < drawn["clean_below"]] = 0.0
    return np.asarray(np.rint(255.0 * (1.0 - printed)), dtype=np.uint8)


def with_drops(page: Gray, px_per_mm: float, rng: np.random.Generator) -> tuple[Gray, tuple[Points, ...]]:
    """Return the page with drops of water standing on it, and their outlines, mm."""
    drawn, size, hidden = drawn_from("drops", rng), size_mm(page, px_per_mm), []
    for _ in range(drawn["count"]):
        middle = rng.uniform(0.04, 0.96, 2) * size
        radius = float(rng.uniform(1.5, drawn["most_mm"]))
        away = 0.35 * radius * direction(45.0)
        damp = middle + away + 1.05 * radius * circle()
        page = dimmed(page, damp * px_per_mm, 0.0, 0.25 * px_per_mm, through=1.0 - drawn["shadow"])
        page = with_drop(page, middle * px_per_mm - 0.5, radius * px_per_mm)
        hidden.append(middle + 0.5 * away + (1.25 * radius + ROUND_MM) * circle())
    return page, tuple(hidden)
