"""What happens to a sheet of paper before a device sees it, for the sundry conditions; held out once."""

from __future__ import annotations

import cv2
import numpy as np

from scanner.rehearsal.arrays import Gray, Points, xy
from scanner.rehearsal.optics import blurred, dimmed, grainy, lit, soft, thickened, toned
from scanner.rehearsal.paper import specked
from scanner.rehearsal.sheet_marks import circle, direction, with_line
from scanner.rehearsal.sundry_grounds import Grid, clouds, drawn_from, grown, size_mm

COARSE = 4.0
"""Pixels per millimetre of fields that vary slowly."""


def laid_paper(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page on ribbed writing paper: close lines, wide-set ones across them, an emblem in the middle."""
    drawn, size = drawn_from("laid", rng), size_mm(page, px_per_mm)
    x, y = _grid(size)
    if drawn["turned"]:
        x, y = y, x
    lines = 0.5 + 0.5 * np.cos(2 * np.pi * (y / drawn["lines_mm"] + 0.03 * np.sin(x / 37.0)))
    apart = (x / drawn["chains_mm"] + float(rng.random())) % 1.0 - 0.5
    chains = np.exp(-0.5 * np.square(apart * drawn["chains_mm"] / 0.45))
    taken = drawn["lines"] * lines + drawn["chains"] * chains
    x, y = _grid(size)
    middle = size * (0.5 + rng.uniform(-0.15, 0.15, 2))
    away, around = np.hypot(x - middle[0], y - middle[1]), np.arctan2(y - middle[1], x - middle[0])
    radius = drawn["emblem_mm"] / 2
    wave = radius * (0.62 + 0.16 * np.cos(5.0 * around))
    emblem = np.exp(-0.5 * np.square((away - radius) / 0.6)) + np.exp(-0.5 * np.square((away - wave) / 0.6))
    taken = taken + drawn["emblem"] * emblem.clip(0.0, 1.0)
    return lit(toned(page, 0.0, drawn["paper"]), (1.0 - taken).astype(np.float32))


def darkly_copied(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page as a copier set too dark gives it: toner all over the paper, black along some of its sides."""
    drawn, size = drawn_from("dark_copy", rng), size_mm(page, px_per_mm)
    copy = thickened(blurred(page, drawn["blur_mm"] * px_per_mm), drawn["spread_mm"], px_per_mm)
    copy = grainy(toned(copy, 0.0, 255.0 * drawn["paper"], drawn["gamma"]), drawn["haze"], rng, 0.12 * px_per_mm)
    x, y = _grid(size)
    light = 1.0 + 0.03 * clouds((x.shape[0], x.shape[1]), 30.0 * COARSE, rng)
    for side in rng.permutation(4)[: drawn["edges"]]:
        off = (x, y, size[0] - x, size[1] - y)[side]
        light = light * (1.0 - drawn["edge"] * np.exp(-off / drawn["edge_mm"]))
    copy = lit(copy, light.clip(0.2, 1.15).astype(np.float32))
    return specked(copy, px_per_mm, drawn["specks"], rng, darkness=0.8)


def spilt(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page over which a glass of something dark was spilt: a wide stain, its rim darker, and splashes."""
    drawn, size = drawn_from("spilt", rng), size_mm(page, px_per_mm)
    x, y = _grid(size)
    shape = x.shape[0], x.shape[1]
    middle = size * rng.uniform(0.1, 0.9, 2)
    lean, long = direction(float(rng.uniform(0.0, 180.0))), float(rng.uniform(1.0, 1.7))
    across = (x - middle[0]) * lean[0] + (y - middle[1]) * lean[1]
    down = (y - middle[1]) * lean[0] - (x - middle[0]) * lean[1]
    ragged = drawn["ragged"] * clouds(shape, 28.0 * COARSE, rng) + 0.02 * clouds(shape, 5.0 * COARSE, rng)
    out = (np.hypot(across / long, down) / (drawn["across_mm"] / 2) - 1.0 - ragged) * drawn["across_mm"] / 2
    taken = _stain(out, drawn["darkness"], drawn["tide"])
    for _ in range(drawn["splashes"]):
        spot = middle + float(rng.uniform(0.6, 1.6)) * drawn["across_mm"] * direction(float(rng.uniform(0.0, 360.0)))
        radius = float(rng.uniform(1.0, 3.6))
        wobble = radius * (1.0 + 0.12 * np.sin(3.0 * np.arctan2(y - spot[1], x - spot[0]) + float(rng.uniform(0, 6))))
        drop = _stain(np.hypot(x - spot[0], y - spot[1]) - wobble, drawn["darkness"], drawn["tide"])
        taken = np.maximum(taken, drop)
    blotched = taken * (1.0 + 0.12 * clouds(shape, 12.0 * COARSE, rng))
    return lit(page, (1.0 - blotched.clip(0.0, 0.5)).astype(np.float32))


def taped_over(page: Gray, px_per_mm: float, rng: np.random.Generator) -> tuple[Gray, tuple[Points, ...]]:
    """Return the page on which somebody rolled strips of white correcting tape, and the strips' outlines, mm."""
    drawn, size, hidden = drawn_from("tape", rng), size_mm(page, px_per_mm), []
    for _ in range(drawn["strips"]):
        long, wide = drawn["long_mm"] * float(rng.uniform(0.5, 1.0)), drawn["wide_mm"]
        middle = np.array([rng.uniform(0.1, 0.9) * size[0], rng.uniform(0.16, 0.84) * size[1]])
        way = direction(drawn["lean_deg"] + float(rng.uniform(-3.0, 3.0)))
        turn = np.array([way, xy(-way[1], way[0])])
        jags = wide * np.linspace(-0.5, 0.5, 7)
        torn = np.column_stack([long / 2 + rng.uniform(-0.5, 0.5, 7), jags])
        begun = np.column_stack([np.full(7, -long / 2) + rng.uniform(-0.2, 0.2, 7), jags[::-1]])
        outline = middle + np.vstack([torn, begun]) @ turn
        page = dimmed(page, (outline + xy(0.18, 0.22)) * px_per_mm, 0.0, 0.15 * px_per_mm, 1.0 - drawn["shadow"])
        page = dimmed(page, outline * px_per_mm, drawn["white"], 0.05 * px_per_mm)
        hidden.append(grown(outline))
    return page, tuple(hidden)


def pleated(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page that was folded to a fan and smoothed out: a crease at each pleat, too pale to be faxed whole."""
    drawn, along = drawn_from("fan.faxed", rng), int(rng.integers(2))
    return creased_at(page, px_per_mm, pleats(size_mm(page, px_per_mm)[along], drawn["pleats"], rng), along, drawn, rng)


def pleats(long_mm: float, count: int, rng: np.random.Generator) -> Grid:
    """Return where the creases of a fan of so many pleats are, mm; folded by hand, so not quite evenly."""
    wide = rng.uniform(0.88, 1.12, count)
    return np.asarray(long_mm * np.cumsum(wide)[:-1] / wide.sum(), dtype=np.float64)


def creased_at(
    page: Gray, px_per_mm: float, places: Grid, along: int, drawn: dict[str, float], rng: np.random.Generator
) -> Gray:
    """Return the page with creases from side to side at these places along x (0) or y (1), mm."""
    size = size_mm(page, px_per_mm)
    share = np.linspace(0.0, 1.0, 160)[:, None]
    step = np.array([0.0, size[1]]) if along == 0 else np.array([size[0], 0.0])
    beside = xy(1.0, 0.0) if along == 0 else xy(0.0, 1.0)
    for place in places:
        lean = float(rng.normal(0.0, 0.5)) * (2.0 * share - 1.0)
        path = share * step + (place + lean) * beside + rng.normal(0.0, 0.04, (160, 2))
        worn = drawn["darkness"] * np.interp(np.arange(159), np.linspace(0, 158, 18), rng.uniform(0.1, 1.0, 18))
        page = with_line(page, px_per_mm, path, 0.2, worn)
        page = with_line(page, px_per_mm, path + 0.2 * beside, 0.2, 0.6 * worn, 250.0)
    return page


def over_a_holed_lid(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page as its scanner's lid shows through it: rows of round holes."""
    drawn, size = drawn_from("lid", rng), size_mm(page, px_per_mm)
    x, y = _grid(size)
    way = direction(drawn["turn_deg"])
    across = (x * way[0] + y * way[1]) / drawn["pitch_mm"]
    row = np.floor((y * way[0] - x * way[1]) / drawn["pitch_mm"])
    down = (y * way[0] - x * way[1]) / drawn["pitch_mm"] - row - 0.5
    beside = (across + 0.5 * (row % 2)) % 1.0 - 0.5
    holes = soft((np.hypot(beside, down) < drawn["hole"]).astype(np.float32), drawn["soft_mm"] * COARSE)
    uneven = 1.0 + 0.15 * clouds((x.shape[0], x.shape[1]), 60.0 * COARSE, rng)
    return lit(page, (1.0 - drawn["depth"] * uneven * holes).astype(np.float32))


def bladed(size: Points, rng: np.random.Generator) -> list[tuple[Points, Points]]:
    """Return the outlines of blades of grass that lean in over the sheet's sides, and of their shadows, mm."""
    drawn, blades = drawn_from("lawn", rng), []
    for _ in range(drawn["over"]):
        side = int(rng.integers(4))
        out = direction(90.0 * side)
        along = xy(-out[1], out[0])
        root = size * (0.5 + 0.5 * out + float(rng.uniform(-0.22, 0.22)) * np.abs(along)) + 6.0 * out
        lean = float(rng.uniform(-0.4, 0.4))
        reach = 6.0 + drawn["reach_mm"] * float(rng.uniform(0.3, 1.0))
        tip = root - reach * out + lean * reach * along
        half = 0.5 * drawn["wide_mm"] * float(rng.uniform(0.7, 1.0)) * along
        bow = 0.12 * reach * float(rng.uniform(-1.0, 1.0)) * along
        knee = (root + tip) / 2 + bow
        blade = np.array([root - half, knee - 0.8 * half, tip, knee + 0.8 * half, root + half])
        blades.append((blade, blade + rng.uniform(0.8, 2.2, 2)))
    return blades


def round_tipped(start: Points, end: Points, wide: float) -> Points:
    """Return the outline of a finger from its root to its tip, so wide."""
    way = (end - start) / np.hypot(*(end - start))
    side = xy(-way[1], way[0])
    cap = circle()[:13]
    tip = end + wide / 2 * (cap[:, :1] * side + cap[:, 1:] * way)
    return np.vstack([start + 0.58 * wide * side, tip, start - 0.58 * wide * side])


def convex(outline: Points) -> Points:
    """Return the convex outline about these places."""
    return np.asarray(cv2.convexHull(outline.astype(np.float32))[:, 0], dtype=np.float64)


def _stain(out_mm: Grid, darkness: float, tide: float) -> Grid:
    inside = 1.0 / (1.0 + np.exp(np.clip(out_mm / 0.25, -30.0, 30.0)))
    return np.asarray(darkness * inside + tide * np.exp(-0.5 * np.square((out_mm + 0.6) / 0.6)))


def _grid(size: Points) -> tuple[Grid, Grid]:
    x, y = np.meshgrid(np.arange(0.0, size[0], 1 / COARSE), np.arange(0.0, size[1], 1 / COARSE))
    return x, y
