"""What happens to a sheet and its picture, and what lies under it, for the odd conditions; once held out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.rehearsal.after_shot import SQUARE, scale_px_per_mm, shares_grid
from scanner.rehearsal.arrays import Field, Gray, Points, xy
from scanner.rehearsal.optics import dimmed, filled, grainy, lit, resized, soft, stretched, through_jpeg, toned
from scanner.rehearsal.picture import Picture
from scanner.rehearsal.severities import draw
from scanner.rehearsal.sheet_marks import circle, direction, with_line

COARSE = 4.0
"""Pixels per millimetre of fields that vary slowly."""

ROUND_MM = 1.3
"""How far past a thing on the sheet a box may hide one of the nine places that `as_seen` looks at."""

Grid = NDArray[np.float64]


def drawn_from(table: str, rng: np.random.Generator) -> dict[str, Any]:
    """Return the values of one table of `odd.toml`."""
    values: dict[str, Any] = draw(dict, f"odd.{table}", rng)
    return values


def size_mm(page: Gray, px_per_mm: float) -> Points:
    """Return the page's width and height."""
    return xy(page.shape[1] / px_per_mm, page.shape[0] / px_per_mm)


def disc(middle: Points, radius_mm: float) -> Points:
    """Return the outline of a disc, and of the boxes that it just touches."""
    return middle + (radius_mm + ROUND_MM) * circle()


def ghosted(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page as a copier prints it whose drum was not wiped: all of it once more, pale, farther down."""
    drawn = drawn_from("ghost", rng)
    dark = soft((255.0 - page).astype(np.float32) / 255.0, drawn["blur_mm"] * px_per_mm)
    ghost, turn = np.zeros_like(dark), round(drawn["pitch_mm"] * px_per_mm)
    for which in (1, 2):
        if which * turn < len(dark):
            ghost[which * turn :] += drawn["strength"] * 0.5 ** (which - 1) * dark[: -which * turn]
    return np.rint(page * (1.0 - ghost)).astype(np.uint8)


def pressed(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page that was folded in half while its print was damp: each half pale and mirrored on the other."""
    drawn, size = drawn_from("pressed", rng), size_mm(page, px_per_mm)
    dark = soft((255.0 - page).astype(np.float32) / 255.0, drawn["blur_mm"] * px_per_mm)
    mirrored = np.roll(dark[::-1], round(drawn["slip_mm"] * px_per_mm), axis=1)
    damp = np.clip(0.55 + 0.5 * clouds((page.shape[0], page.shape[1]), 18.0 * px_per_mm, rng), 0.0, 1.0)
    page = np.rint(page * (1.0 - drawn["strength"] * damp * mirrored)).astype(np.uint8)
    share = np.linspace(0.0, 1.0, 160)[:, None]
    fold = xy(0.0, size[1] / 2) + share * xy(size[0], 0.0) + rng.normal(0.0, 0.04, (160, 2))
    worn = np.interp(np.arange(159), np.linspace(0, 158, 20), rng.uniform(0.1, 1.0, 20))
    return with_line(page, px_per_mm, fold, 0.2, drawn["crease"] * worn)


def flecked(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page on paper with short coloured fibres in it, all over and paler than any pen."""
    drawn = drawn_from("flecked", rng)
    fibres: Gray = np.zeros(page.shape, dtype=np.uint8)
    middles = rng.uniform(0.0, 1.0, (drawn["flecks"], 2)) * page.shape[::-1]
    bends = rng.uniform(-0.35, 0.35, len(middles))
    angles, halves = rng.uniform(0.0, 2 * np.pi, len(middles)), rng.uniform(0.3, 1.0, len(middles))
    levels = rng.uniform(0.25, 1.0, len(middles)) * drawn["darkest"] * 255.0
    wide = max(1, round(drawn["wide_mm"] * px_per_mm))
    for middle, bend, angle, half, level in zip(middles, bends, angles, halves, levels, strict=True):
        way = 0.5 * half * drawn["long_mm"] * px_per_mm * xy(np.cos(angle), np.sin(angle))
        path = np.array([middle - way, middle + bend * xy(-way[1], way[0]), middle + way])
        cv2.polylines(fibres, [np.rint(path * 16).astype(np.int32)], False, round(level), wide, cv2.LINE_AA, 4)
    return lit(
        toned(page, 0.0, drawn["paper"]), (1.0 - soft((fibres / 255.0).astype(np.float32), 0.5)).astype(np.float32)
    )


def with_grains(page: Gray, px_per_mm: float, rng: np.random.Generator) -> tuple[Gray, tuple[Points, ...]]:
    """Return the page with grains of rice between it and the glass, and their outlines, mm."""
    drawn, size, hidden = drawn_from("grains", rng), size_mm(page, px_per_mm), []
    for _ in range(drawn["grains"]):
        way, middle = direction(float(rng.uniform(0.0, 360.0))), rng.uniform(0.1, 0.9, 2) * size
        turn, half = np.array([way, xy(-way[1], way[0])]), 0.5 * xy(drawn["long_mm"], drawn["wide_mm"])
        half = half * rng.uniform(0.85, 1.1, 2)
        outline = middle + (circle() * half) @ turn
        page = dimmed(page, (outline + 0.4) * px_per_mm, 0.0, 0.5 * px_per_mm, 1.0 - drawn["shadow"])
        page = dimmed(page, outline * px_per_mm, drawn["level"], 0.12 * px_per_mm, 0.12)
        heart = middle + (circle() * half * (0.55, 0.4)) @ turn
        page = dimmed(page, heart * px_per_mm, min(250.0, drawn["level"] + 35.0), 0.3 * px_per_mm, 0.3)
        hidden.append(middle + (circle() * (half + ROUND_MM + 1.0)) @ turn)
    return page, tuple(hidden)


def faded(page: Gray, px_per_mm: float, rng: np.random.Generator) -> tuple[Gray, float]:
    """Return the page as thermal paper keeps it, paler and paler towards one side, and what is left there at least."""
    drawn, size = drawn_from("faded", rng), size_mm(page, px_per_mm)
    x, y = _grid(size)
    way = direction(drawn["towards_deg"])
    along = (x - size[0] / 2) * way[0] + (y - size[1] / 2) * way[1]
    share = (along - along.min()) / np.ptp(along)
    left = lit(np.asarray(255 - page, dtype=np.uint8), (1.0 - drawn["fade"] * share ** drawn["bow"]).astype(np.float32))
    return np.asarray(255 - left, dtype=np.uint8), 1.0 - drawn["fade"]


def under_a_crack(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page as seen through cracked glass: a jagged line from side to side, branches that come to nothing."""
    drawn, size = drawn_from("crack", rng), size_mm(page, px_per_mm)
    ends = np.array([(-0.02, rng.uniform(0.1, 0.9)), (1.02, rng.uniform(0.1, 0.9))])
    main = _jagged((ends if rng.random() < 0.5 else ends[:, ::-1]) * size, rng)
    cracks = [(main, np.ones(len(main) - 1))]
    for _ in range(drawn["branches"]):
        start = main[int(rng.integers(len(main) // 5, 4 * len(main) // 5))]
        end = start + float(rng.uniform(45.0, 120.0)) * direction(float(rng.uniform(0.0, 360.0)))
        branch = _jagged(np.array([start, end]), rng)
        cracks.append((branch, np.linspace(0.9, 0.0, len(branch) - 1)))
    for path, left in cracks:
        uneven = left * rng.uniform(0.4, 1.0, len(left))
        page = with_line(page, px_per_mm, path, drawn["wide_mm"], drawn["darkness"] * uneven)
        page = with_line(page, px_per_mm, path + 0.2, 0.15, drawn["glint"] * uneven[::-1], 252.0)
    return page


def ringed(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page pressed to the glass so that Newton's rings are seen, closer and closer outwards."""
    drawn, size = drawn_from("rings", rng), size_mm(page, px_per_mm)
    x, y = _grid(size)
    taken = np.zeros_like(x)
    for _ in range(drawn["centres"]):
        middle, lean = rng.uniform(0.1, 0.9, 2) * size, direction(float(rng.uniform(0.0, 180.0)))
        across = (x - middle[0]) * lean[0] + (y - middle[1]) * lean[1]
        down = ((y - middle[1]) * lean[0] - (x - middle[0]) * lean[1]) / drawn["flat"]
        apart2 = across**2 + down**2
        fading = np.clip(1.0 - apart2 / drawn["reach_mm"] ** 2, 0.0, 1.0)
        taken += drawn["depth"] * fading * (0.5 + 0.5 * np.cos(2 * np.pi * apart2 / drawn["first_mm"] ** 2))
    return lit(page, (1.0 - taken).astype(np.float32))


def was_rolled(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page that was rolled up thin and pressed flat by the lid: soft bands across it, darker on one side."""
    drawn, size = drawn_from("rolled_sheet", rng), size_mm(page, px_per_mm)
    x, y = _grid(size)
    along = (y + x * np.tan(np.deg2rad(drawn["lean_deg"]))) / drawn["pitch_mm"] + float(rng.random())
    band = np.square(np.sin(np.pi * (along % 1.0) ** 1.6)) * (0.6 + 0.4 * np.sin(2.1 * np.floor(along)))
    return lit(page, (1.0 - drawn["depth"] * band).astype(np.float32))


def glided(page: Gray, px_per_mm: float, lines: list[tuple[Points, Points]], darkness: float, rng: Any) -> Gray:
    """Return the page with the creases that a paper aeroplane leaves, along these lines, mm."""
    for start, end in lines:
        path = start + np.linspace(0.0, 1.0, 180)[:, None] * (end - start) + rng.normal(0.0, 0.04, (180, 2))
        worn = np.interp(np.arange(179), np.linspace(0, 178, 18), rng.uniform(0.1, 1.0, 18))
        page = with_line(page, px_per_mm, path, 0.2, darkness * worn)
        page = with_line(page, px_per_mm, path + 0.18, 0.2, 0.6 * darkness * worn, 250.0)
    return page


def tiles(x_mm: Grid, y_mm: Grid, rng: np.random.Generator) -> Field:
    """Return the levels of a table top of small dark tiles, some lighter, at these places."""
    drawn = drawn_from("tiles", rng)
    across, down = turned(x_mm, y_mm, drawn["turn_deg"])
    column, row = np.floor(across / drawn["pitch_mm"]).astype(int), np.floor(down / drawn["pitch_mm"]).astype(int)
    inside = np.minimum(across % drawn["pitch_mm"], down % drawn["pitch_mm"]) > drawn["joint_mm"]
    glazes = drawn["dark"] + (drawn["light"] - drawn["dark"]) * rng.random((37, 41)) ** 2
    return np.asarray(np.where(inside, glazes[row % 37, column % 41], drawn["joint"]), dtype=np.float32)


def cork(x_mm: Grid, y_mm: Grid, rng: np.random.Generator) -> Field:
    """Return the levels of a cork board at these places: grains of two sizes, dark gaps between some."""
    drawn, shape = drawn_from("cork", rng), (x_mm.shape[0], x_mm.shape[1])
    step = float(x_mm[0, 1] - x_mm[0, 0])
    grain = clouds(shape, drawn["grain_mm"] / step, rng) + 0.6 * clouds(shape, 2.5 * drawn["grain_mm"] / step, rng)
    gaps = np.where(grain < -1.7, 0.55, 1.0)
    return np.asarray((drawn["level"] * (1.0 + drawn["depth"] * grain) * gaps).clip(10.0, 200.0), dtype=np.float32)


def denim(x_mm: Grid, y_mm: Grid, rng: np.random.Generator) -> Field:
    """Return the levels of a pair of jeans at these places: a slanting rib, worn paler in patches."""
    drawn, shape = drawn_from("denim", rng), (x_mm.shape[0], x_mm.shape[1])
    across, _ = turned(x_mm, y_mm, float(rng.uniform(0.0, 360.0)))
    step = float(x_mm[0, 1] - x_mm[0, 0])
    rib = np.sin(2 * np.pi * across / drawn["pitch_mm"]) + 0.5 * clouds(shape, 0.8 / step, rng)
    worn = 1.0 + 0.25 * clouds(shape, 30.0 / step, rng)
    return np.asarray((drawn["level"] * (1.0 + drawn["depth"] * rib) * worn).clip(8.0, 190.0), dtype=np.float32)


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


def laid_on(
    picture: Picture, size: Points, levels: Callable[[Grid, Grid, np.random.Generator], Field], rng: np.random.Generator
) -> Picture:
    """Return the picture of a flat sheet with another thing under it, told by its levels at places in mm."""
    shape = picture.image.shape[0], picture.image.shape[1]
    x, y = (max(shape) / scale_px_per_mm(picture) * grid for grid in shares_grid(picture, 3))
    sheet = filled(shape, [picture.place(SQUARE * size)])
    below = stretched(levels(x, y, rng), shape)
    return replace(picture, image=np.rint(picture.image * sheet + below * (1.0 - sheet)).astype(np.uint8))


def _grid(size: Points) -> tuple[Grid, Grid]:
    x, y = np.meshgrid(np.arange(0.0, size[0], 1 / COARSE), np.arange(0.0, size[1], 1 / COARSE))
    return x, y


def turned(x_mm: Grid, y_mm: Grid, degrees: float) -> tuple[Grid, Grid]:
    way = direction(degrees)
    return x_mm * way[0] + y_mm * way[1], y_mm * way[0] - x_mm * way[1]


def clouds(shape: tuple[int, int], wide_px: float, rng: np.random.Generator) -> Grid:
    """Soft noise of mean 0 and deviation 1, its clouds about so wide."""
    shrunk = max(1.0, wide_px / 3.0)
    small = max(4, round(shape[0] / shrunk)), max(4, round(shape[1] / shrunk))
    noise = soft(rng.standard_normal(small).astype(np.float32), min(wide_px, 3.0) / 2.0)
    noise = (noise - noise.mean()) / max(float(noise.std()), 1e-6)
    return np.asarray(cv2.resize(noise, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC), dtype=np.float64)


def _jagged(ends: Points, rng: np.random.Generator) -> Points:
    """A way from one place to another that bends by a little every few millimetres, more widely now and then."""
    count = max(6, int(np.hypot(*(ends[1] - ends[0])) / 4.0))
    share = np.linspace(0.0, 1.0, count)[:, None]
    wide = np.interp(np.arange(count), np.linspace(0, count - 1, 6), rng.normal(0.0, 5.0, 6))
    wide = (wide - wide[0]) * np.linspace(1.0, 0.6, count)
    side = (ends[1] - ends[0])[::-1] * (-1.0, 1.0) / np.hypot(*(ends[1] - ends[0]))
    return np.asarray(ends[0] + share * (ends[1] - ends[0]) + wide[:, None] * side + rng.normal(0.0, 0.35, (count, 2)))
