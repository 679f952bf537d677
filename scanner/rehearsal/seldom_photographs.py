"""Photographs seen seldom: once held out, tuned upon since."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Any

import cv2
import numpy as np

from scanner.rehearsal.after_shot import displaced, lit_by, scale_px_per_mm, shares_grid, unfocused
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
    stretched,
    through_jpeg,
    toned,
)
from scanner.rehearsal.photograph import PhotographSeverity, photograph
from scanner.rehearsal.picture import Picture
from scanner.rehearsal.rare import after
from scanner.rehearsal.seldom_sheets import fingered, mended
from scanner.rehearsal.severities import draw
from scanner.rehearsal.sheet_marks import direction
from scanner.rehearsal.warp import homography, laid_flat, through

ROUND_MM = 1.3
"""How far past a thing on the sheet a box may hide one of the nine places that `as_seen` looks at."""


def still(page: Gray, px_per_mm: float, rng: np.random.Generator, *, pose: str = "still") -> Picture:
    """Return a photograph by that table."""
    return _stored(_posed(page, px_per_mm, rng, pose), rng)


def by_app(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return what a telephone's scanning app makes of a photograph: cut out, set straight, whitened."""
    picture, drawn = still(page, px_per_mm, rng, pose="still.app"), _drawn("app", rng)
    width_mm, height_mm = page.shape[1] / px_per_mm, page.shape[0] / px_per_mm
    square = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)])
    out_mm = rng.uniform(-1.0, 1.0, (4, 1)) * drawn["corner_mm"]
    size = round(drawn["long_px"] * width_mm / height_mm), drawn["long_px"]
    found = picture.place(square * (width_mm, height_mm) + np.sign(square - 0.5) * out_mm)
    matrix = homography(found, square * size - 0.5)
    shrinks = max(0.0, scale_px_per_mm(picture) * height_mm / drawn["long_px"] - 1.0)
    flat = np.full((size[1], size[0]), 255, dtype=np.uint8)
    image = laid_flat(blurred(picture.image, 0.6 * shrinks), matrix, flat)
    reach = 2 * round(11.0 * size[1] / height_mm / 16) + 1  # past a fiducial, so that only paper counts
    paper = cv2.dilate(resized(image, size[0] // 16, size[1] // 16), np.ones((reach, reach), dtype=np.uint8))
    paper = np.maximum(blurred(paper.astype(np.uint8), reach / 3), 40)
    image = toned(lit(image, (255.0 / paper).astype(np.float32)), drawn["black"], 255.0 / drawn["clear"])
    image = through_jpeg(sharpened(image, drawn["sharpening"], 1.2), drawn["quality"])
    return replace(
        picture,
        image=image,
        place=lambda places: through(matrix, picture.place(places)),
        faintest=2.0 * (1.0 - drawn["clear"]),
    )


def under_a_pen(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet on which the pen was left lying."""
    picture, drawn = _posed(page, px_per_mm, rng, "still"), _drawn("pen_lying", rng)
    way, scale = direction(drawn["turn_deg"]), scale_px_per_mm(picture)
    side = xy(-way[1], way[0])
    middle = xy(drawn["x"] * page.shape[1], drawn["y"] * page.shape[0]) / px_per_mm
    long, wide = drawn["long_mm"] / 2, drawn["wide_mm"] / 2

    def bar(start: float, end: float, low: float, high: float, tip: float = 0.0) -> Points:
        corners = np.array([(start, low), (end, low), (end + tip, (low + high) / 2), (end, high), (start, high)])
        outline: Points = middle + corners[:, :1] * way + corners[:, 1:] * side
        return outline

    body = bar(-long, long, -wide, wide, 11.0)
    away = drawn["shadow_mm"] * direction(float(rng.uniform(0.0, 360.0)))
    image = dimmed(picture.image, picture.place(body + away), 0.0, 1.2 * scale, through=1.0 - drawn["shadow"])
    image = dimmed(image, picture.place(body), drawn["level"], 0.6)
    for low, high, lighter in ((-0.5, -0.2, 1.0), (-0.15, 0.1, 0.4), (0.75, 1.0, -0.5)):
        level = float(np.clip(drawn["level"] + lighter * drawn["shine"], 8.0, 245.0))
        image = dimmed(image, picture.place(bar(-long, long, low * wide, high * wide)), level, 0.1 * scale)
    clip = bar(-long + 2.0, -long + 40.0, -0.25 * wide, 0.25 * wide)
    image = dimmed(image, picture.place(clip), min(240.0, drawn["level"] + 2 * drawn["shine"]), 0.1 * scale)
    hidden = bar(-long - ROUND_MM, long + ROUND_MM, -wide - ROUND_MM, wide + ROUND_MM, 12.0)
    return _stored(replace(picture, image=image, hidden_mm=(hidden,)), rng)


def twice_seen(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph put together from two exposures between which the hand moved."""
    picture, drawn = _posed(page, px_per_mm, rng, "still.twice"), _drawn("twice", rng)
    way = drawn["away_px"] * direction(drawn["turn_deg"])
    matrix = np.array([[1.0, 0.0, way[0]], [0.0, 1.0, way[1]]])
    size = picture.image.shape[1], picture.image.shape[0]
    ghost = cv2.warpAffine(picture.image, matrix, size, borderMode=cv2.BORDER_REPLICATE)
    image = cv2.addWeighted(picture.image, 1.0 - drawn["share"], ghost, drawn["share"], 0.0).astype(np.uint8)
    return _stored(replace(picture, image=image), rng)


def near_lens(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph held aslant, sharp along one line across the sheet and softer away from it."""
    picture, drawn = _posed(page, px_per_mm, rng, "still.near"), _drawn("near", rng)
    _, y = shares_grid(picture)
    away = np.abs(y / y.max() - drawn["at"]) / max(drawn["at"], 1.0 - drawn["at"])
    return _stored(replace(picture, image=unfocused(picture.image, away, drawn["most_px"])), rng)


def under_leaves(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph in the shade of a tree, round spots of sun on it."""
    picture, drawn = _posed(page, px_per_mm, rng, "still.slanted"), _drawn("leaves", rng)
    x, y = shares_grid(picture, step_px=16)
    sun = np.zeros_like(x)
    for _ in range(drawn["spots"]):
        middle, radius = rng.uniform(0.0, 1.0, 2) * (x.max(), y.max()), drawn["radius"] * float(rng.uniform(0.6, 1.4))
        sun += np.exp(-0.5 * (np.square((x - middle[0]) / radius) + np.square((y - middle[1]) / (0.75 * radius))))
    sun = np.clip(0.5 + drawn["hardness"] * (sun - 0.5), 0.0, 1.0)
    return _stored(lit_by(picture, 1.0 - drawn["depth"] * (1.0 - sun)), rng)


def rippled(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet that dried in ripples along one side."""
    drawn = _drawn("rippled", rng)
    lean = drawn["height_mm"] * direction(float(rng.uniform(0.0, 360.0)))
    size = xy(page.shape[1], page.shape[0]) / px_per_mm
    across, along = drawn["side"] % 2, 1 - drawn["side"] % 2

    def wave(mm: Points, quarter: float) -> Points:
        far = mm[:, across] if drawn["side"] < 2 else size[across] - mm[:, across]
        turns = 2 * np.pi * mm[:, along] / drawn["wave_mm"] + drawn["phase"] + quarter
        swing: Points = (np.sin(turns) * np.exp(-np.maximum(far, 0.0) / drawn["reach_mm"]))[:, None]
        return swing

    flat = Picture(page, lambda places: places * px_per_mm - 0.5)
    bent = displaced(flat, lambda px: px_per_mm * lean * wave((px + 0.5) / px_per_mm, 0.0))
    x, y = np.meshgrid(np.linspace(0.0, size[0], 160), np.linspace(0.0, size[1], 220))
    slopes = wave(np.column_stack([x.ravel(), y.ravel()]), np.pi / 2).reshape(x.shape)
    shaded = lit(bent.image, (1.0 - drawn["shade"] * (0.5 + 0.5 * slopes)).astype(np.float32))
    picture = still(shaded, px_per_mm, rng, pose="still.rippled")
    return replace(picture, place=lambda places: picture.place((bent.place(places) + 0.5) / px_per_mm))


def on_clipboard(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet held by a board's metal clip above, its foot curling up."""
    picture, drawn = _posed(page, px_per_mm, rng, "still.board"), _drawn("clip", rng)
    middle, scale = page.shape[1] / px_per_mm / 2 + drawn["off_mm"], scale_px_per_mm(picture)

    def plate_of(half_mm: float, top_mm: float, foot_mm: float) -> Points:
        x, slant = half_mm, 0.12 * half_mm
        return np.array(
            [(-x, top_mm), (x, top_mm), (x, foot_mm - 3), (x - slant, foot_mm), (-x + slant, foot_mm)]
        ) + xy(middle, 0.0)

    half, depth, level = drawn["half_mm"], drawn["depth_mm"], drawn["level"]
    outline = plate_of(half, -14.0, depth)
    image = dimmed(picture.image, picture.place(outline + xy(1.0, 2.0)), 0.0, scale, through=1.0 - drawn["shadow"])
    image = dimmed(image, picture.place(outline), level, 0.8)
    image = dimmed(image, picture.place(plate_of(0.93 * half, -9.0, -3.0)), min(level + 45.0, 250.0), scale)
    image = dimmed(image, picture.place(plate_of(0.97 * half, depth - 4.0, depth - 2.5)), 0.6 * level, 0.4 * scale)
    hidden = plate_of(half + ROUND_MM, -14.0, depth + ROUND_MM)
    return _stored(replace(picture, image=image, hidden_mm=(hidden,)), rng)


def held_up(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet held up in one hand, its thumb over one side's edge."""
    picture, drawn = _posed(page, px_per_mm, rng, "still.held"), _drawn("held", rng)
    inward = -1.0 if drawn["side"] else 1.0
    edge = page.shape[1] / px_per_mm if drawn["side"] else 0.0
    tip = xy(edge + inward * (drawn["deep_mm"] - 9.0), drawn["at"] * page.shape[0] / px_per_mm)
    half_turn = np.deg2rad(np.linspace(-90.0, 90.0, 15))
    cap = tip + np.column_stack([11.0 * inward * np.cos(half_turn), 9.0 * np.sin(half_turn)])
    root = xy(edge - inward * 60.0, tip[1] + 22.0)
    outline, scale = np.vstack([root - xy(0.0, 13.0), cap, root + xy(0.0, 13.0)]), scale_px_per_mm(picture)
    image = dimmed(picture.image, picture.place(outline + xy(0.0, 1.5)), 30.0, 1.8 * scale, through=0.6)
    image = dimmed(image, picture.place(outline), drawn["level"], 0.4 * scale)
    image = dimmed(image, picture.place(tip + 0.75 * (outline - tip)), drawn["level"] + 18.0, 2.2 * scale)
    nail = tip + xy(4.0 * inward, 0.0) + 0.5 * (cap - tip)
    image = dimmed(image, picture.place(nail), drawn["level"] + 40.0, 0.4 * scale)
    hidden = np.vstack([tip + 1.16 * (outline - tip)])
    return _stored(replace(picture, image=image, hidden_mm=(hidden,)), rng)


def on_newspaper(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet that lies on a printed newspaper."""
    picture, drawn = _posed(page, px_per_mm, rng, "still"), _drawn("newsprint", rng)
    size = page.shape[1] / px_per_mm, page.shape[0] / px_per_mm
    shape, scale = (picture.image.shape[0], picture.image.shape[1]), scale_px_per_mm(picture)
    x, y = (max(shape) / scale * grid for grid in shares_grid(picture, step_px=2))
    way = direction(drawn["turn_deg"])
    across, down = x * way[0] + y * way[1], (y * way[0] - x * way[1]) / drawn["line_mm"]
    letters = rng.random((211, 97)) < 0.75
    inked = letters[np.floor(across / 0.9).astype(int) % 211, np.floor(down).astype(int) % 97] & (down % 1.0 < 0.5)
    inked &= across % 48.0 > 4.0
    print_below = np.where(inked, drawn["ink"], drawn["paper"]).astype(np.float32)
    below = stretched(print_below, shape)
    sheet = filled(shape, [picture.place(np.array([(0, 0), (size[0], 0), size, (0, size[1])], dtype=np.float64))])
    image = np.rint(picture.image * sheet + below * (1.0 - sheet)).astype(np.uint8)
    return _stored(replace(picture, image=image), rng)


def sent_on(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph that was made small, compressed as WebP, and once more as JPEG by who sent it on."""
    picture, drawn = still(page, px_per_mm, rng, pose="still.sent"), _drawn("sent", rng)
    share = drawn["long_px"] / max(picture.image.shape)
    rows, columns = (round(side * share) for side in picture.image.shape)
    data = cv2.imencode(".webp", resized(picture.image, columns, rows), [cv2.IMWRITE_WEBP_QUALITY, drawn["quality"]])[1]
    image = np.asarray(cv2.imdecode(data, cv2.IMREAD_GRAYSCALE), dtype=np.uint8)
    step = xy(columns / picture.image.shape[1], rows / picture.image.shape[0])
    return replace(
        picture,
        image=through_jpeg(image, drawn["again"]),
        place=lambda places: (picture.place(places) + 0.5) * step - 0.5,
    )


SELDOM_PHOTOGRAPHS: dict[str, Shot] = {
    "photo-by-app": by_app,
    "photo-pen-left-lying": under_a_pen,
    "photo-seen-twice": twice_seen,
    "photo-near": near_lens,
    "photo-under-leaves": under_leaves,
    "photo-rippled": rippled,
    "photo-clipboard": on_clipboard,
    "photo-held-up": held_up,
    "photo-white-tablecloth": partial(still, pose="still.far"),
    "photo-newspaper-fit-to-page": partial(at_print_scale, which="fit_to_page", shot=on_newspaper),
    "photo-sent-on": sent_on,
    "photo-finger-marks": partial(after, paper=fingered, shot=partial(still, pose="still.slanted")),
    "photo-mended": partial(after, paper=mended, shot=still),
}


def _drawn(table: str, rng: np.random.Generator) -> dict[str, Any]:
    values: dict[str, Any] = draw(dict, f"seldom.{table}", rng)
    return values


def _posed(page: Gray, px_per_mm: float, rng: np.random.Generator, pose: str) -> Picture:
    return photograph(page, px_per_mm, rng, draw(PhotographSeverity, f"seldom.{pose}", rng))


def _stored(picture: Picture, rng: np.random.Generator) -> Picture:
    """The picture with a sensor's grain, compressed."""
    drawn = _drawn("grain", rng)
    return replace(picture, image=through_jpeg(grainy(picture.image, drawn["noise"], rng, 0.6), drawn["quality"]))
