"""What lies under or behind a photographed sheet, and how the sheet stands off it; held out once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.rehearsal.after_shot import displaced, lit_by, shares_grid
from scanner.rehearsal.arrays import Field, Gray, Points, xy
from scanner.rehearsal.optics import filled, grainy, resized, soft, stretched, through_jpeg
from scanner.rehearsal.picture import Picture
from scanner.rehearsal.severities import draw
from scanner.rehearsal.sheet_marks import direction
from scanner.rehearsal.warp import Matrix, homography, inverse, through

SQUARE = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)])

ROUND_MM = 1.3
"""How far past a thing on the sheet a box may hide one of the nine places that `as_seen` looks at."""

Grid = NDArray[np.float64]
Ground = Callable[[Grid, Grid, float, np.random.Generator], Field]
"""Places on the plane of the sheet, mm, x and y, and the level of its paper, to the levels of what lies there."""


def drawn_from(table: str, rng: np.random.Generator) -> dict[str, Any]:
    """Return the values of one table of `sundry.toml`."""
    values: dict[str, Any] = draw(dict, f"sundry.{table}", rng)
    return values


def size_mm(page: Gray, px_per_mm: float) -> Points:
    """Return the page's width and height."""
    return xy(page.shape[1] / px_per_mm, page.shape[0] / px_per_mm)


def grown(outline: Points, by_mm: float = ROUND_MM) -> Points:
    """Return a convex outline moved out all around, so that it takes in the boxes that it just touches."""
    ring = by_mm * np.array([(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)])
    spots = (outline[:, None, :] + ring).reshape(-1, 2).astype(np.float32)
    return np.asarray(cv2.convexHull(spots)[:, 0], dtype=np.float64)


def clouds(shape: tuple[int, int], wide_px: float, rng: np.random.Generator) -> Grid:
    """Return soft noise of mean 0 and deviation 1, its clouds about so wide."""
    coarse = max(1.0, wide_px / 3.0)
    rows, columns = (max(4, round(side / coarse)) for side in shape)
    noise = soft(rng.standard_normal((rows, columns)).astype(np.float32), max(0.3, min(wide_px, 3.0) / 2.0))
    noise = (noise - noise.mean()) / max(float(noise.std()), 1e-6)
    return np.asarray(cv2.resize(noise, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC), dtype=np.float64)


def from_sheet(picture: Picture, size: Points) -> Matrix:
    """Return the matrix from mm on a flat sheet's plane to pixels."""
    return homography(SQUARE * size, picture.place(SQUARE * size))


def places_mm(picture: Picture, size: Points, step_px: int) -> tuple[Grid, Grid]:
    """Return the places on the plane of a flat sheet, mm, that are seen on a grid over the picture."""
    x, y = (max(picture.image.shape) * grid for grid in shares_grid(picture, step_px))
    mm = through(inverse(from_sheet(picture, size)), np.column_stack([x.ravel(), y.ravel()]))
    return mm[:, 0].reshape(x.shape), mm[:, 1].reshape(x.shape)


def on_sheet(picture: Picture, size: Points) -> Field:
    """Return what share of each pixel is the flat sheet's."""
    return filled((picture.image.shape[0], picture.image.shape[1]), [picture.place(SQUARE * size)])


def paper_level(picture: Picture, size: Points) -> float:
    """Return about the level of the sheet's bare paper."""
    return float(np.percentile(picture.image[::4, ::4][on_sheet(picture, size)[::4, ::4] > 0.9], 90))


def laid_on(picture: Picture, size: Points, ground: Ground, rng: np.random.Generator, edge: float = 0.3) -> Picture:
    """Return the picture of a flat sheet with another thing under it; the sheet's edge throws a shadow that deep."""
    sheet = on_sheet(picture, size)
    x, y = places_mm(picture, size, 3)
    below = ground(x, y, paper_level(picture, size), rng)
    shape = picture.image.shape[0], picture.image.shape[1]
    fall = direction(float(rng.uniform(0.0, 360.0)))
    apart = np.maximum(np.abs(x - fall[0] - size[0] / 2) - size[0] / 2, np.abs(y - fall[1] - size[1] / 2) - size[1] / 2)
    below = below * (1.0 - edge * np.exp(-np.clip(apart, 0.0, None) / 1.5))
    under = stretched(soft(below.astype(np.float32), 0.6), shape)
    return replace(picture, image=np.rint(picture.image * sheet + under * (1.0 - sheet)).astype(np.uint8))


def raised(
    picture: Picture, size: Points, height: Callable[[Points], Grid], drawn: dict[str, Any], rng: np.random.Generator
) -> Picture:
    """Return the picture of a flat sheet as it is where it stands that high over the table, mm; its slopes shaded."""
    sheet_to_px = from_sheet(picture, size)
    px_to_sheet = inverse(sheet_to_px)
    lean, sun = drawn["lean"] * direction(float(rng.uniform(0.0, 360.0))), direction(float(rng.uniform(0.0, 360.0)))

    def shift(px: Points) -> Points:
        mm = through(px_to_sheet, px)
        nearer = mm - height(mm)[:, None] * (lean + (mm - size / 2) / drawn["camera_mm"])
        return through(sheet_to_px, nearer) - px

    x, y = places_mm(picture, size, 8)
    mm = np.column_stack([x.ravel(), y.ravel()])
    slope = (height(mm + 0.5 * sun) - height(mm - 0.5 * sun)).reshape(x.shape)
    beyond = (np.abs(mm - size / 2) - size / 2).max(axis=1).reshape(x.shape) > 1.0
    shade = np.where(beyond, 1.0, np.clip(1.0 + drawn["relief"] * slope, 0.55, 1.0))
    return lit_by(displaced(picture, shift), shade)


def kept(picture: Picture, rng: np.random.Generator) -> Picture:
    """Return the picture with a sensor's grain, compressed."""
    drawn = drawn_from("kept", rng)
    return replace(picture, image=through_jpeg(grainy(picture.image, drawn["noise"], rng, 0.6), drawn["quality"]))


def sent(picture: Picture, rng: np.random.Generator) -> Picture:
    """Return the picture as a messenger hands it on, smaller and compressed again."""
    drawn = drawn_from("sent", rng)
    share = drawn["long_px"] / max(picture.image.shape)
    rows, columns = (round(side * share) for side in picture.image.shape)
    image = through_jpeg(resized(picture.image, columns, rows), drawn["quality"])
    return replace(picture, image=image, place=lambda mm: (picture.place(mm) + 0.5) * share - 0.5)


def book(gutter_mm: float, size: Points, drawn: dict[str, Any]) -> Ground:
    """Return a large open book on a dark desk, its gutter upright so far from the sheet's left edge."""

    def levels(x: Grid, y: Grid, paper: float, rng: np.random.Generator) -> Field:
        off, down = np.abs(x - gutter_mm), y - size[1] / 2 + drawn["tall_mm"] / 2
        leaf = (off < drawn["wide_mm"]) & (down > 0.0) & (down < drawn["tall_mm"])
        line, within = np.floor(down / drawn["lines_mm"]).astype(int), (down / drawn["lines_mm"]) % 1.0
        printed = (within < 0.42) & (off > 16.0) & (off < drawn["wide_mm"] - 14.0)
        printed &= (down > 16.0) & (down < drawn["tall_mm"] - 18.0)
        letters = rng.random((127, 389)) < 0.72
        printed &= letters[line % 127, np.floor(x / 1.1).astype(int) % 389]
        tone = drawn["paper"] * paper * (1.0 - 0.45 * np.exp(-off / 6.0))
        tone = np.where(printed, tone * (1.0 - drawn["ink"]), tone)
        desk = 38.0 + 7.0 * clouds((x.shape[0], x.shape[1]), 40.0, rng)
        return np.asarray(np.where(leaf, tone, desk).clip(4.0, 250.0), dtype=np.float32)

    return levels


def lawn(x: Grid, y: Grid, paper: float, rng: np.random.Generator) -> Field:
    """Return the levels of grass in the sun at these places: blades over blades, darkness between."""
    drawn = drawn_from("lawn", rng)
    shape = x.shape[0], x.shape[1]
    image = np.full(shape, round(drawn["dark"]), dtype=np.uint8)
    scale = max(shape) / max(float(np.ptp(x)), float(np.ptp(y)), 1.0)
    roots = rng.uniform(-0.05, 1.05, (drawn["blades"], 2)) * shape[::-1]
    ways, longs = rng.uniform(0.0, 2 * np.pi, len(roots)), rng.uniform(20.0, 75.0, len(roots)) * scale
    bends = rng.normal(0.0, 0.12, len(roots))
    shades = drawn["dark"] + (drawn["light"] - drawn["dark"]) * rng.random(len(roots)) ** 1.5 * np.linspace(
        0.4, 1.0, len(roots)
    )
    for root, way, long, bend, shade in zip(roots, ways, longs, bends, shades, strict=True):
        tip = root + long * xy(np.cos(way), np.sin(way))
        knee = (root + tip) / 2 + bend * long * xy(-np.sin(way), np.cos(way))
        path = np.rint(np.array([root, knee, tip]) * 16).astype(np.int32)
        cv2.polylines(image, [path], False, round(shade), max(1, round(1.5 * scale)), cv2.LINE_AA, 4)
    return image.astype(np.float32)


def plaster(x: Grid, y: Grid, paper: float, rng: np.random.Generator) -> Field:
    """Return the levels of a rough plastered wall at these places, raked by the light."""
    drawn = drawn_from("plaster", rng)
    step = max(1e-3, float(np.hypot(x[0, 1] - x[0, 0], y[0, 1] - y[0, 0])))
    bumps = clouds((x.shape[0], x.shape[1]), drawn["grain_mm"] / step, rng)
    raked = bumps - np.roll(bumps, (1, 2), axis=(0, 1))
    slow = clouds((x.shape[0], x.shape[1]), 90.0 / step, rng)
    relief = 1.0 + drawn["depth"] * raked / max(float(raked.std()), 1e-6) + 0.03 * slow
    return np.asarray((min(drawn["level"], 0.92 * paper) * relief).clip(20.0, 245.0), dtype=np.float32)
