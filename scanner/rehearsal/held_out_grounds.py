"""What lies under or behind a photographed sheet, and how the sheet stands off it; kept for the last."""

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
    """Return the values of one table of `held_out.toml`."""
    values: dict[str, Any] = draw(dict, f"held_out.{table}", rng)
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

    x, y = (max(picture.image.shape) * grid for grid in shares_grid(picture, 8))
    px = np.column_stack([x.ravel(), y.ravel()])
    mm = through(px_to_sheet, px + shift(px))
    slope = (height(mm + 0.5 * sun) - height(mm - 0.5 * sun)).reshape(x.shape)
    beyond = (np.abs(mm - size / 2) - size / 2).max(axis=1).reshape(x.shape) > 0.0
    shade = np.where(beyond, 1.0, np.clip(1.0 + drawn["relief"] * slope, 0.55, 1.0))
    return lit_by(displaced(picture, shift), shade)


def kept(picture: Picture, rng: np.random.Generator) -> Picture:
    """Return the picture with a sensor's grain, compressed."""
    drawn = drawn_from("kept", rng)
    return replace(picture, image=through_jpeg(grainy(picture.image, drawn["noise"], rng, 0.6), drawn["quality"]))


def smaller(picture: Picture, long_px: int) -> Picture:
    """Return the picture with its long side of so many pixels."""
    share = long_px / max(picture.image.shape)
    rows, columns = (round(side * share) for side in picture.image.shape)
    image = resized(picture.image, columns, rows)
    return replace(picture, image=image, place=lambda mm: (picture.place(mm) + 0.5) * share - 0.5)


def sent(picture: Picture, rng: np.random.Generator) -> Picture:
    """Return the picture as a messenger hands it on, smaller and compressed again."""
    drawn = drawn_from("sent", rng)
    small = smaller(picture, drawn["long_px"])
    return replace(small, image=through_jpeg(small.image, drawn["quality"]))


def rug(x: Grid, y: Grid, paper: float, rng: np.random.Generator) -> Field:
    """Return the levels of a knotted rug at these places: an ornament of a few colours, its outlines in steps."""
    drawn = drawn_from("rug", rng)
    turn, knot = direction(drawn["turn_deg"]), drawn["knot_mm"]
    along = np.floor((x * turn[0] + y * turn[1]) / knot) * knot / drawn["repeat_mm"]
    across = np.floor((y * turn[0] - x * turn[1]) / knot) * knot / drawn["repeat_mm"]
    wave = np.cos(2 * np.pi * along) + np.cos(2 * np.pi * across)
    wave += 0.7 * np.cos(2 * np.pi * (along + across)) * np.cos(2 * np.pi * (along - across))
    wave += 0.5 * np.cos(6 * np.pi * along) * np.cos(6 * np.pi * across)
    colours = rng.permutation(np.linspace(drawn["dark"], drawn["light"], 4))
    tone = colours[np.digitize(wave, [-0.9, 0.1, 1.0])]
    shape = x.shape[0], x.shape[1]
    step = max(1e-3, float(np.hypot(x[0, 1] - x[0, 0], y[0, 1] - y[0, 0])))
    pile = 1.0 + drawn["pile"] * clouds(shape, 1.1 * knot / step, rng) + 0.05 * clouds(shape, 60.0 / step, rng)
    return np.asarray((tone * pile).clip(8.0, 0.9 * paper), dtype=np.float32)


def glass_mat(size: Points) -> Ground:
    """Return a white paper mat on a dark table, with printed circles for the glasses and a caption under each."""

    def levels(x: Grid, y: Grid, paper: float, rng: np.random.Generator) -> Field:
        drawn = drawn_from("mat", rng)
        u = x - size[0] / 2 - drawn["off_x_mm"] + drawn["wide_mm"] / 2
        v = y - size[1] / 2 - drawn["off_y_mm"] + drawn["tall_mm"] / 2
        on = (u > 0.0) & (u < drawn["wide_mm"]) & (v > 0.0) & (v < drawn["tall_mm"])
        apart = drawn["apart_mm"]
        from_x, from_y = (u % apart) - apart / 2, (v % apart) - 0.46 * apart
        ring = np.abs(np.hypot(from_x, from_y) - 0.36 * apart) < drawn["line_mm"] / 2
        caption = (np.abs(from_y - 0.45 * apart) < 1.2) & (np.abs(from_x) < 0.2 * apart)
        caption &= (np.floor(u / 1.3) * 7.0 % 5.0) > 1.0
        print_here = (ring | caption) & (u > 4.0) & (v > 4.0)
        sheet = drawn["level"] * paper * np.where(print_here, 1.0 - drawn["ink"], 1.0)
        table = drawn["table"] * (1.0 + 0.12 * clouds((x.shape[0], x.shape[1]), 30.0, rng))
        return np.asarray(np.where(on, sheet, table).clip(4.0, 250.0), dtype=np.float32)

    return levels


def binder(size: Points, side: int) -> Ground:
    """Return an open binder: its dark cover, and on it the white sheets filed below, a little beside this one."""

    def levels(x: Grid, y: Grid, paper: float, rng: np.random.Generator) -> Field:
        drawn = drawn_from("binder", rng)
        out = -1.0 if side == 0 else 1.0
        off_x, off_y = out * (x - size[0] / 2), np.abs(y - size[1] / 2)
        cover = (off_x < size[0] / 2 + drawn["spine_mm"]) & (off_x > -size[0] / 2 - 22.0) & (off_y < size[1] / 2 + 12.0)
        tone = np.where(cover, drawn["cover"], drawn["desk"])
        tone = np.where(cover & (off_x > size[0] / 2 + 0.35 * drawn["spine_mm"]), 0.6 * tone, tone)
        for place in np.linspace(1.0, 0.1, drawn["below"]):
            shift = place * rng.uniform(-2.5, 2.5, 2)
            over = np.maximum(
                np.abs(x - size[0] / 2 - shift[0]) - size[0] / 2, np.abs(y - size[1] / 2 - shift[1]) - size[1] / 2
            )
            rim = 1.0 - 0.22 * np.exp(-0.5 * np.square(over / 0.5))
            tone = np.where(over < 0.0, 0.97 * paper * rim, tone)
        return np.asarray(tone.clip(4.0, 250.0), dtype=np.float32)

    return levels
