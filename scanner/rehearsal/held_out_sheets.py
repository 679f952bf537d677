"""What happens to a sheet of paper before a device sees it, kept for the last."""

from __future__ import annotations

import cv2
import numpy as np

from scanner.rehearsal.arrays import Gray, Points, xy
from scanner.rehearsal.held_out_grounds import Grid, clouds, drawn_from, grown, size_mm
from scanner.rehearsal.optics import dimmed, lit, soft
from scanner.rehearsal.sheet_marks import circle, direction, with_line
from scanner.rehearsal.warp import Matrix, inverse, laid_flat, mm_to_px

COARSE = 4.0
"""Pixels per millimetre of fields that vary slowly."""

WORDS = ("COPY", "DRAFT", "SAMPLE", "INTERNAL")

Hidden = tuple[Points, ...]


def watermarked(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page on paper that the printer gave a large pale word in the background, aslant."""
    drawn, size = drawn_from("watermark", rng), size_mm(page, px_per_mm)
    word, font = WORDS[int(rng.integers(len(WORDS)))], cv2.FONT_HERSHEY_DUPLEX
    side = round(1.5 * COARSE * float(size.max()))
    canvas = np.zeros((side, side), dtype=np.uint8)
    (wide, tall), _ = cv2.getTextSize(word, font, 1.0, 2)
    scale = drawn["long"] * float(size.max()) * COARSE / wide
    for row in range(drawn["rows"]):
        middle = side / 2 + (row - (drawn["rows"] - 1) / 2) * 3.2 * scale * tall
        at = round(side / 2 - scale * wide / 2), round(middle + scale * tall / 2)
        cv2.putText(canvas, word, at, font, scale, 255.0, 2, cv2.LINE_AA)
    if drawn["hollow"]:
        reach = 2 * round(drawn["line_mm"] * COARSE) + 1
        inside = cv2.erode(canvas, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach)))
        canvas = cv2.subtract(canvas, inside).astype(np.uint8)
    turn = cv2.getRotationMatrix2D((side / 2, side / 2), drawn["turn_deg"], 1.0)
    turned = cv2.warpAffine(canvas, turn, (side, side))
    columns, lines = round(size[0] * COARSE), round(size[1] * COARSE)
    left, top = (side - columns) // 2, (side - lines) // 2
    share = turned[top : top + lines, left : left + columns].astype(np.float32) / 255.0
    return lit(page, (1.0 - drawn["darkness"] * soft(share, 0.5)).astype(np.float32))


def greasy(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page on which nuts and cheese were put down: spots where the grease let the paper turn translucent."""
    drawn, size = drawn_from("grease", rng), size_mm(page, px_per_mm)
    x, y = _grid(size)
    shape = x.shape[0], x.shape[1]
    ragged = 0.5 * clouds(shape, 3.0 * COARSE, rng) + 0.6 * clouds(shape, 9.0 * COARSE, rng)
    taken = np.zeros(shape)
    for _ in range(drawn["places"]):
        place = size * rng.uniform(0.05, 0.95, 2)
        for _ in range(drawn["spots"]):
            spot = place + rng.normal(0.0, drawn["apart_mm"], 2)
            radius = 0.5 * drawn["across_mm"] * float(rng.uniform(0.3, 1.0))
            out = np.hypot(x - spot[0], y - spot[1]) - radius - 0.3 * ragged
            taken = np.maximum(taken, 1.0 / (1.0 + np.exp(np.clip(out / drawn["soft_mm"], -30.0, 30.0))))
    behind = 1.0 + 0.1 * clouds(shape, 20.0 * COARSE, rng)
    return lit(page, (1.0 - (drawn["darkness"] * taken * behind).clip(0.0, 0.4)).astype(np.float32))


def gone_over(page: Gray, px_per_mm: float, rng: np.random.Generator) -> tuple[Gray, Hidden]:
    """Return the page on which another person counted up with a pen, and the outlines of what that pen wrote, mm.

    Ticks, figures and braces in the margins, seldom between the lines.
    """
    drawn, size, hidden = drawn_from("counted", rng), size_mm(page, px_per_mm), list[Points]()
    level, wide = drawn["level"], drawn["wide_mm"]
    for which in range(drawn["margin"] + drawn["inside"]):
        inner = which >= drawn["margin"]
        at_x = rng.uniform(0.12, 0.88) * size[0] if inner else rng.uniform(3.5, 8.0)
        middle = xy(at_x if inner or rng.random() < 0.5 else size[0] - at_x, rng.uniform(0.16, 0.84) * size[1])
        for path in _note(str(rng.choice(["tick", "figure", "brace"], p=[0.4, 0.4, 0.2])), inner, rng):
            strengths = drawn["flow"] * np.interp(
                np.arange(len(path) - 1), np.linspace(0.0, len(path) - 2, 6), rng.uniform(0.8, 1.0, 6)
            )
            page = with_line(page, px_per_mm, middle + path, wide, strengths, level)
            hidden += [grown(middle + path[start : start + 4], 1.4) for start in range(0, len(path) - 1, 3)]
    return page, tuple(hidden)


def crumbs(size: Points, rng: np.random.Generator) -> list[tuple[Points, float]]:
    """Return the outlines of bread crumbs anywhere on the sheet, mm, and how high each of them is."""
    drawn, found = drawn_from("crumbs", rng), list[tuple[Points, float]]()
    for _ in range(drawn["crumbs"]):
        radius = 0.5 * drawn["across_mm"] * float(0.4 + 0.6 * rng.random() ** 2)
        lumps = rng.uniform(0.65, 1.2, 24)
        lumps = (lumps + np.roll(lumps, 1) + np.roll(lumps, 2)) / 3.0
        outline = radius * lumps[:, None] * circle() * (1.0, rng.uniform(0.6, 1.0))
        way = direction(float(rng.uniform(0.0, 180.0)))
        turned = outline @ np.array([way, xy(-way[1], way[0])])
        found.append((size * rng.uniform(0.02, 0.98, 2) + turned, 0.9 * radius))
    return found


def punched(
    page: Gray, px_per_mm: float, side: int, dark: float, rng: np.random.Generator
) -> tuple[Gray, tuple[Points, ...]]:
    """Return the page with holes for a binder along its left (0) or right (1) edge, and their middles, mm.

    ISO 838: two holes of 6 mm, 80 mm apart, 12 mm from the edge (from memory); three, 108 mm apart, are usual with
    Letter paper (common practice, from memory).
    """
    size, three = size_mm(page, px_per_mm), bool(rng.random() < 0.4)
    at_x = 12.0 if side == 0 else size[0] - 12.0
    middles = [xy(at_x, size[1] / 2 + step) for step in ((-108.0, 0.0, 108.0) if three else (-40.0, 40.0))]
    for middle in middles:
        page = dimmed(page, (middle + 3.0 * circle()) * px_per_mm, dark, 0.06 * px_per_mm)
    return page, tuple(middles)


def creased_along(
    page: Gray, px_per_mm: float, along: int, at_mm: float, darkness: float, rng: np.random.Generator
) -> Gray:
    """Return the page with one sharp crease from side to side at that place along x (0) or y (1)."""
    size, share = size_mm(page, px_per_mm), np.linspace(0.0, 1.0, 200)[:, None]
    step = xy(0.0, size[1]) if along == 0 else xy(size[0], 0.0)
    beside = xy(1.0, 0.0) if along == 0 else xy(0.0, 1.0)
    path = share * step + at_mm * beside + rng.normal(0.0, 0.03, (200, 2))
    worn = darkness * np.interp(np.arange(199), np.linspace(0, 198, 22), rng.uniform(0.15, 1.0, 22))
    page = with_line(page, px_per_mm, path, 0.22, worn)
    return with_line(page, px_per_mm, path + 0.22 * beside, 0.25, 0.7 * worn, 252.0)


def on_a_larger_bed(page: Gray, px_per_mm: float, rng: np.random.Generator) -> tuple[Gray, Matrix]:
    """Return the whole glass of an A3 scanner with the sheet somewhere on it, and the way from sheet to glass, mm."""
    drawn, size = drawn_from("bed", rng), size_mm(page, px_per_mm)
    turns, glass = drawn["quarters"], xy(drawn["wide_mm"], drawn["tall_mm"])
    # A sheet that lies across the glass has hardly room to lean.
    angle = np.deg2rad(90.0 * turns + drawn["lean_deg"] * (0.12 if turns % 2 else 1.0))
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    room = glass - (np.abs(turn) @ size) - 2.0 * drawn["clear_mm"]
    middle = glass / 2 + 0.5 * room.clip(0.0) * xy(drawn["at_x"], drawn["at_y"])
    matrix = np.vstack([np.hstack([turn, (middle - turn @ (size / 2))[:, None]]), [0.0, 0.0, 1.0]])
    lid = np.full((round(glass[1] * px_per_mm), round(glass[0] * px_per_mm)), round(drawn["lid"]), dtype=np.uint8)
    corners = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)]) * size
    outline = (corners @ turn.T + matrix[:2, 2] + 0.5) * px_per_mm
    lid = dimmed(lid, outline, 0.0, 0.5 * px_per_mm, 1.0 - drawn["shadow"])
    to_px = mm_to_px(px_per_mm)
    return laid_flat(page, to_px @ matrix @ inverse(to_px), lid), matrix


def _note(kind: str, inner: bool, rng: np.random.Generator) -> list[Points]:
    """The strokes of one note about its middle."""
    big = float(rng.uniform(2.0, 3.4)) * (0.8 if inner else 1.0)
    if kind == "tick" or inner:
        knots = [(-0.8, 0.1), (-0.25, 0.8), (1.0, -1.0)]
    elif kind == "brace":
        knots = [(0.4, -1.0), (0.0, -0.9), (0.0, 0.9), (0.4, 1.0)]
        return [_fine(np.array(knots) * (0.5 * big, float(rng.uniform(5.0, 18.0))))]
    else:
        knots = [
            [(-0.4, -0.6), (0.1, -1.0), (0.1, 1.0)],
            [(-0.5, -0.6), (0.0, -1.0), (0.5, -0.5), (-0.5, 1.0), (0.6, 0.95)],
            [(0.5, -0.95), (-0.4, -0.9), (-0.45, -0.05), (0.4, 0.1), (0.35, 0.8), (-0.5, 0.95)],
            [(-0.5, -0.95), (0.5, -0.95), (-0.1, 1.0)],
        ][int(rng.integers(4))]
    return [_fine(big * (np.array(knots) + rng.normal(0.0, 0.06, (len(knots), 2))))]


def _fine(knots: Points) -> Points:
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(knots, axis=0).T))])
    steps = np.linspace(0.0, run[-1], max(6, int(run[-1] / 0.4)))
    return np.column_stack([np.interp(steps, run, knots[:, axis]) for axis in (0, 1)])


def _grid(size: Points) -> tuple[Grid, Grid]:
    x, y = np.meshgrid(np.arange(0.0, size[0], 1 / COARSE), np.arange(0.0, size[1], 1 / COARSE))
    return x, y
