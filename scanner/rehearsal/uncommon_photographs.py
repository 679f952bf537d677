"""Photographs that are uncommon: once held out, tuned upon since."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.rehearsal.after_shot import SQUARE, lit_by, raised, scale_px_per_mm, shares_grid, unfocused, veiled
from scanner.rehearsal.arrays import Gray, Points, xy
from scanner.rehearsal.camera import Shot, at_print_scale
from scanner.rehearsal.optics import (
    blurred,
    dimmed,
    filled,
    grainy,
    lit,
    resized,
    sharpened,
    soft,
    stretched,
    through_jpeg,
)
from scanner.rehearsal.photograph import PhotographSeverity, photograph
from scanner.rehearsal.picture import Picture
from scanner.rehearsal.severities import draw
from scanner.rehearsal.sheet_marks import circle, direction
from scanner.rehearsal.uncommon_sheets import ROUND_MM, disc, drawn_from, keys, pocketed, size_mm, soaked
from scanner.rehearsal.warp import homography, laid_flat, through


def by_the_window(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet in a room's shade on which the sun falls through the panes of a window."""
    picture, drawn = _posed(page, px_per_mm, rng, "take.anyway"), drawn_from("panes", rng)
    x, y = _grid_mm(picture, 6)
    way = direction(drawn["turn_deg"])
    dx, dy = x - drawn["x"] * x.max(), y - drawn["y"] * y.max()
    across, down = dx * way[0] + dy * way[1], dy * way[0] - dx * way[1] + drawn["slant"] * dx
    sun: NDArray[np.float64] = np.ones_like(x)
    for along, pitch, count in ((across, drawn["wide_mm"], drawn["columns"]), (down, drawn["tall_mm"], drawn["rows"])):
        from_bar = np.abs(along - pitch * np.round(along / pitch)) - drawn["bar_mm"] / 2
        inside = np.minimum(from_bar, pitch * count / 2 - np.abs(along))
        sun *= 1.0 / (1.0 + np.exp(np.clip(-4.0 * inside / drawn["soft_mm"], -30.0, 30.0)))
    return _kept(lit_by(picture, 1.0 - drawn["depth"] * (1.0 - sun)), rng)


def by_many_lamps(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph under a row of small lamps: the arm and the telephone throw one shadow for each."""
    picture, drawn = _posed(page, px_per_mm, rng, "take"), drawn_from("lamps", rng)
    x, unit = shares_grid(picture)[0], max(picture.image.shape) / 8
    arm = np.array([(-0.1, 1.2), (-0.08, 0.3), (-0.16, 0.28), (-0.17, -0.25), (0.15, -0.26), (0.16, 0.27), (0.09, 1.2)])
    turn = np.array([direction(drawn["turn_deg"]), direction(drawn["turn_deg"] + 90.0)])
    held = xy(drawn["x"], drawn["y"]) * x.shape[::-1] + unit * arm @ turn
    along, gain = direction(drawn["row_deg"]), np.ones_like(x)
    for lamp in np.linspace(-0.5, 0.5, drawn["lamps"]):
        away = unit * (lamp * drawn["apart"] * along + rng.uniform(-0.02, 0.02, 2))
        shade = soft(filled((x.shape[0], x.shape[1]), [held + away]), drawn["soft"] * unit)
        gain *= 1.0 - drawn["depth"] * float(rng.uniform(0.5, 1.0)) * shade
    return _kept(lit_by(picture, gain), rng)


def under_glass(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet under a pane of glass, in which windows and lamps of the room are seen."""
    picture, drawn = _posed(page, px_per_mm, rng, "take.plain"), drawn_from("pane", rng)
    shape = picture.image.shape[0] // 8, picture.image.shape[1] // 8
    room = np.full(shape, 0.25 * float(rng.random()), dtype=np.float32)
    for _ in range(drawn["things"]):
        size, round_one = max(shape) * rng.uniform(0.03, 0.2, 2), rng.random() < 0.4
        lean = direction(float(rng.uniform(-20.0, 20.0)))
        thing = (circle() if round_one else 2.0 * SQUARE - 1.0) * size
        outline = thing @ np.array([lean, xy(-lean[1], lean[0])]) + rng.uniform(0.0, 1.0, 2) * shape[::-1]
        room = np.maximum(room, filled(shape, [outline], float(rng.uniform(0.3, 1.0))))
    veil = drawn["veil"] * soft(room, drawn["soft"] * max(shape))
    return _kept(veiled(picture, veil, 246), rng)


def with_a_drop_on_the_lens(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph through a lens on which drops stand: round places out of focus, and a little brighter."""
    picture, drawn = _posed(page, px_per_mm, rng, "take"), drawn_from("lens_drops", rng)
    x, y = shares_grid(picture)
    away: NDArray[np.float64] = np.zeros_like(x)
    for _ in range(drawn["drops"]):
        middle, radius = rng.uniform(0.1, 0.9, 2) * (x.max(), y.max()), drawn["radius"] * float(rng.uniform(0.6, 1.3))
        apart = np.hypot(x - middle[0], (y - middle[1]) * float(rng.uniform(0.8, 1.2))) / radius
        away = np.maximum(away, np.clip(3.0 * (1.1 - apart), 0.0, 1.0))
    image = unfocused(picture.image, away, drawn["most_mm"] * scale_px_per_mm(picture))
    return _kept(veiled(replace(picture, image=image), (drawn["bright"] * away).astype(np.float32), 240), rng)


def by_an_old_telephone(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph by a telephone of long ago: few pixels, uneven columns, hard edges."""
    picture, drawn = _posed(page, px_per_mm, rng, "take.old"), drawn_from("old", rng)
    uneven = np.abs(rng.standard_normal(picture.image.shape[1])).clip(0.0, 2.0)
    stripes = 1.0 - drawn["stripes"] * uneven
    image = lit(picture.image, np.stack([stripes, stripes]).astype(np.float32))
    image = grainy(image, drawn["noise"], rng, 0.9)
    image = sharpened(cv2.medianBlur(image, 3).astype(np.uint8), drawn["sharpening"], 0.9)
    return replace(picture, image=through_jpeg(image, drawn["quality"]))


def in_copy_mode(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return what a telephone makes of a photograph in its mode for copies: set straight, nearly black and white."""
    picture, drawn = _kept(_posed(page, px_per_mm, rng, "take.copy"), rng), drawn_from("copy_mode", rng)
    size, long = size_mm(page, px_per_mm), drawn["long_px"]
    found = picture.place(SQUARE * size + rng.uniform(-1.0, 2.0, (4, 1)) * (1.0 - 2.0 * SQUARE))
    frame = round(long * size[0] / size[1]), long
    matrix = homography(found, SQUARE * frame - 0.5)
    shrinks = max(0.0, scale_px_per_mm(picture) * float(size[1]) / long - 1.0)
    blank = np.full((frame[1], frame[0]), 255, dtype=np.uint8)
    flat = laid_flat(blurred(picture.image, 0.5 * shrinks), matrix, blank)
    small = cv2.medianBlur(resized(flat, frame[0] // 8, frame[1] // 8), 5)
    reach = 2 * round(6.0 * small.shape[0] / size[1]) + 1  # past half a fiducial
    paper = cv2.dilate(small, np.ones((reach, reach), dtype=np.uint8))
    around = stretched(soft(paper.astype(np.float32), reach / 2), (frame[1], frame[0]))
    lighter = flat / np.maximum(around, 30.0)
    image = np.clip(0.5 + drawn["hardness"] * (lighter - drawn["split"]), 0.0, 1.0)
    return replace(
        picture,
        image=through_jpeg(np.rint(255.0 * image).astype(np.uint8), drawn["quality"]),
        place=lambda places: through(matrix, picture.place(places)),
        faintest=2.0 * (1.0 - drawn["split"]),
    )


def on_a_keyboard(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet laid on a computer's keyboard."""
    picture = _posed(page, px_per_mm, rng, "take.anyway")
    shape = picture.image.shape[0], picture.image.shape[1]
    below_it = stretched(keys(*_grid_mm(picture, 3), rng), shape)
    sheet = filled(shape, [picture.place(SQUARE * size_mm(page, px_per_mm))])
    image = np.rint(picture.image * sheet + below_it * (1.0 - sheet)).astype(np.uint8)
    return _kept(replace(picture, image=image), rng)


def weighted_down(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet held down by coins and bottle caps on its sides, at times on one corner."""
    picture, drawn = _posed(page, px_per_mm, rng, "take.plain"), drawn_from("coins", rng)
    size, scale, image, hidden = size_mm(page, px_per_mm), scale_px_per_mm(picture), picture.image, []
    sides = rng.permutation(4)[: drawn["coins"]]
    for side, corner in zip(sides, SQUARE[rng.permutation(4)], strict=False):
        out = direction(90.0 * side)
        along = float(rng.uniform(-0.2, 0.2)) * xy(-out[1], out[0])
        radius, level = float(rng.uniform(9.5, 13.5)), float(rng.uniform(70.0, 205.0))
        middle = size * (0.5 + 0.5 * out + along) - out * float(rng.uniform(-3.0, 8.0))
        if side == sides[0] and rng.random() < drawn["on_corner"]:
            middle = corner * size + (1.0 - 2.0 * corner) * rng.uniform(2.0, 9.0, 2)
        fall = drawn["shadow_mm"] * direction(drawn["sun_deg"])
        image = dimmed(image, picture.place(middle + fall + radius * circle()), 0.0, 0.6 * scale, 1.0 - drawn["shadow"])
        teeth = 1.0 + (0.04 if rng.random() < 0.4 else 0.0) * np.cos(np.arange(84) * np.pi)
        rim = teeth[:, None] * np.column_stack([direction(float(turn)) for turn in np.linspace(0, 356, 84)]).T
        for share, lighter in ((1.0, -0.35), (0.97, 0.25), (0.88, 0.0), (0.45, -0.18)):
            image = dimmed(image, picture.place(middle + share * radius * rim), level * (1.0 + lighter), 0.12 * scale)
        hidden += [disc(middle, 1.05 * radius), disc(middle + fall, 1.05 * radius)]
    return _kept(replace(picture, image=image, hidden_mm=tuple(hidden)), rng)


def under_a_cable(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet over which a telephone's cable runs from side to side."""
    picture, drawn = _posed(page, px_per_mm, rng, "take.plain"), drawn_from("cable", rng)
    size, scale, half = size_mm(page, px_per_mm), scale_px_per_mm(picture), drawn["wide_mm"] / 2
    share = np.linspace(0.0, 1.0, 90)
    swing = drawn["swing"] * np.sin(np.pi * share) * np.sin(np.pi * share * drawn["bends"] + drawn["phase"])
    path = np.column_stack([share * 1.3 - 0.15, drawn["start"] + share * (drawn["end"] - drawn["start"]) + swing])
    path = (path if drawn["level_one"] else path[:, ::-1]) * size
    way = np.gradient(path, axis=0)
    side = np.column_stack([-way[:, 1], way[:, 0]]) / np.hypot(*way.T)[:, None]

    def strip(low: float, high: float) -> Points:
        return np.vstack([path + low * side, (path + high * side)[::-1]])

    cast = drawn["shadow_mm"] * direction(float(rng.uniform(0.0, 360.0)))
    image = dimmed(picture.image, picture.place(strip(-half, half) + cast), 0.0, 0.5 * scale, 1.0 - drawn["shadow"])
    for low, high, lighter in ((-1.0, 1.0, 0.0), (-0.5, -0.1, 28.0), (0.6, 1.0, -22.0)):
        tone = float(np.clip(drawn["tone"] + lighter, 8.0, 250.0))
        image = dimmed(image, picture.place(strip(low * half, high * half)), tone, 0.1 * scale)
    past = half + ROUND_MM + drawn["shadow_mm"] + 0.6
    return _kept(replace(picture, image=image, hidden_mm=(strip(-past, past),)), rng)


def corner_up(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet one corner of which curls up."""
    drawn, size = drawn_from("curl", rng), size_mm(page, px_per_mm)
    corner = SQUARE[drawn["corner"]]
    inward = (1.0 - 2.0 * corner) * direction(drawn["lean_deg"])

    def height(mm: Points) -> NDArray[np.float64]:
        near = np.clip(1.0 - (mm - corner * size) @ inward / drawn["reach_mm"], 0.0, 1.2)
        risen: NDArray[np.float64] = drawn["height_mm"] * near**2
        return risen

    return _kept(raised(_posed(page, px_per_mm, rng, "take.plain"), size, height, drawn, rng), rng)


def from_the_pocket(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet that was folded to an eighth in a pocket, its panels not level."""
    drawn, size = drawn_from("pocket", rng), size_mm(page, px_per_mm)
    columns, rows = 2, 4
    knots = rng.uniform(0.0, drawn["height_mm"], (rows + 1, columns + 1))

    def height(mm: Points) -> NDArray[np.float64]:
        at = np.clip(mm / size, 0.0, 1.0) * (columns, rows)
        i, j = np.minimum(at.astype(int), (columns - 1, rows - 1)).T
        x, y = at[:, 0] - i, at[:, 1] - j
        upper = knots[j, i] * (1.0 - x) + knots[j, i + 1] * x
        lower = knots[j + 1, i] * (1.0 - x) + knots[j + 1, i + 1] * x
        return np.asarray(upper * (1.0 - y) + lower * y, dtype=np.float64)

    creased = pocketed(page, px_per_mm, rng, columns, rows, drawn["darkness"])
    return _kept(raised(_posed(creased, px_per_mm, rng, "take.plain"), size, height, drawn, rng), rng)


def twisted(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph during which the hand turned: smeared along circles, sharp near their middle alone."""
    picture, drawn = _posed(page, px_per_mm, rng, "take"), drawn_from("twist", rng)
    rows, columns = picture.image.shape
    middle = drawn["x"] * columns, drawn["y"] * rows
    farthest = np.hypot(max(middle[0], columns - middle[0]), max(middle[1], rows - middle[1]))
    half_deg = float(np.rad2deg(0.5 * drawn["smear_px"] / farthest))
    blended = np.zeros(picture.image.shape, dtype=np.float32)
    for angle in np.linspace(-half_deg, half_deg, 5):
        turned = cv2.getRotationMatrix2D(middle, float(angle), 1.0)
        moved_by = cv2.warpAffine(picture.image, turned, (columns, rows), borderMode=cv2.BORDER_REPLICATE)
        cv2.accumulate(moved_by, blended)
    return _kept(replace(picture, image=np.rint(blended / 5.0).astype(np.uint8)), rng)


def from_the_wet_counter(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet that lay with one side in the wet."""
    return _kept(_posed(soaked(page, px_per_mm, rng), px_per_mm, rng, "take"), rng)


UNCOMMON_PHOTOGRAPHS: dict[str, Shot] = {
    "photo-window-panes": by_the_window,
    "photo-many-lamps": by_many_lamps,
    "photo-under-glass": under_glass,
    "photo-drop-on-lens": with_a_drop_on_the_lens,
    "photo-old-telephone": by_an_old_telephone,
    "photo-copy-mode": in_copy_mode,
    "photo-keyboard-fit-to-page": partial(at_print_scale, which="fit_to_page", shot=on_a_keyboard),
    "photo-weighted-down": weighted_down,
    "photo-under-a-cable": under_a_cable,
    "photo-corner-up": corner_up,
    "photo-from-the-pocket": from_the_pocket,
    "photo-twisted": twisted,
    "photo-wet-counter": from_the_wet_counter,
}


def _posed(page: Gray, px_per_mm: float, rng: np.random.Generator, pose: str) -> Picture:
    return photograph(page, px_per_mm, rng, draw(PhotographSeverity, f"uncommon.{pose}", rng))


def _kept(picture: Picture, rng: np.random.Generator) -> Picture:
    """The picture with a sensor's grain, compressed."""
    drawn = drawn_from("kept", rng)
    return replace(picture, image=through_jpeg(grainy(picture.image, drawn["noise"], rng, 0.6), drawn["quality"]))


def _grid_mm(picture: Picture, step_px: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Places on a grid over the picture, in mm as they measure in the middle of the sheet."""
    x, y = (max(picture.image.shape) / scale_px_per_mm(picture) * grid for grid in shares_grid(picture, step_px))
    return x, y
