"""Unusual photographs: once held out, tuned upon since."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.rehearsal.after_shot import displaced, lit_by, scale_px_per_mm, shares_grid
from scanner.rehearsal.arrays import Field, Gray, Points, xy
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
    traced,
)
from scanner.rehearsal.photograph import PhotographSeverity, photograph
from scanner.rehearsal.picture import Picture
from scanner.rehearsal.severities import draw
from scanner.rehearsal.sheet_marks import circle, direction, with_line
from scanner.rehearsal.unusual_sheets import ROUND_MM, bar_mm, drawn_from, rim, size_mm, with_drops


def through_glasses(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph on which the sun falls through glasses: their shadows, bright curved lines in them."""
    picture, drawn = _posed(page, px_per_mm, rng, "snap.sunny"), drawn_from("caustics", rng)
    x, _ = shares_grid(picture)
    shape, unit = (x.shape[0], x.shape[1]), max(x.shape)
    shade, bright = np.zeros(shape, dtype=np.float32), np.zeros(shape, dtype=np.float32)
    turn = np.array([direction(drawn["sun_deg"]), direction(drawn["sun_deg"] + 90.0)])
    cusped = (3 * rim(90) - rim(90, 3)) / 4  # a nephroid: what a round bowl makes of parallel light
    for _ in range(drawn["glasses"]):
        middle = rng.uniform(0.1, 0.9, 2) * shape[::-1]
        wide = unit * drawn["wide"] * float(rng.uniform(0.8, 1.2))
        long = wide * float(rng.uniform(1.4, 2.4))
        shade += filled(shape, [middle + (rim() * (long, wide)) @ turn])
        for share in rng.uniform(0.35, 0.85, drawn["curves"]):
            path = middle + ((cusped + rng.uniform(-0.25, 0.25, 2)) * share * (long, 0.8 * wide)) @ turn
            fading = np.interp(np.arange(89), np.linspace(0, 88, 7), rng.uniform(0.0, 1.0, 7))
            bright += traced(shape, path, 0.006 * unit * float(rng.uniform(0.5, 2.0)), fading.tolist())
    shade, bright = soft(np.minimum(shade, 1.3), 0.012 * unit), soft(bright, 0.003 * unit)
    gain = 1.0 - drawn["shade"] * shade + drawn["bright"] * np.minimum(bright, 1.0)
    return _stored(lit_by(picture, gain.astype(np.float64)), rng)


def by_torch(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph in a dark room by a torch held aside: a spot with rings in it, dimness around."""
    picture, drawn = _posed(page, px_per_mm, rng, "snap.torch"), drawn_from("torch", rng)
    x, y = shares_grid(picture)
    dx, dy = x - drawn["x"] * x.max(), y - drawn["y"] * y.max()
    way = direction(drawn["aslant_deg"])
    along, across = dx * way[0] + dy * way[1], dy * way[0] - dx * way[1]
    apart = np.hypot(along / drawn["stretch"], across) / drawn["radius"]
    spot = 1.0 / (1.0 + np.exp((apart - 1.0) / drawn["rim"]))
    rings = drawn["rings"] * np.cos(2 * np.pi * apart * drawn["ring_count"]) * spot
    return _stored(lit_by(picture, 1.0 - drawn["dim"] * (1.0 - spot) - rings * (1.0 - drawn["dim"])), rng)


def of_the_screen(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a telephone's screenshot in which the photograph is shown, bars and buttons above and below it."""
    picture, drawn = _stored(_posed(page, px_per_mm, rng, "snap.shown"), rng), drawn_from("screenshot", rng)
    rows, columns = picture.image.shape
    long, short = drawn["long_px"], round(drawn["long_px"] * min(rows, columns) / max(rows, columns))
    size = (short, long) if rows >= columns else (long, short)
    shown = resized(picture.image, *size)
    above, below = (round(drawn[bar] * size[0]) for bar in ("above", "below"))
    screen = np.full((size[1] + above + below, size[0]), drawn["level"], dtype=np.uint8)
    screen[above : above + size[1]] = shown
    written = 235 if drawn["level"] < 128 else 40
    for bar, start in ((above, 0), (below, above + size[1])):
        for x in (0.08, 0.3, 0.5, 0.92):
            middle, radius = xy(x * size[0], start + 0.6 * bar), 0.018 * size[0]
            screen = dimmed(screen, middle + radius * circle() * (1.0, float(rng.uniform(0.3, 1.0))), written, 0.6)
    step = xy(size[0] / columns, size[1] / rows)
    return replace(
        picture,
        image=through_jpeg(screen, drawn["quality"]),
        place=lambda places: (picture.place(places) + 0.5) * step - 0.5 + xy(0.0, above),
    )


def with_halos(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph whose telephone flattened the light and stressed detail: wide halos about what is dark."""
    picture, drawn = _posed(page, px_per_mm, rng, "snap.contrasty"), drawn_from("halos", rng)
    rows, columns = picture.image.shape
    small = resized(picture.image, columns // 8, rows // 8).astype(np.float32)
    base = soft(small, drawn["radius"] * max(rows, columns) / 8)
    flat = base + drawn["flatten"] * (np.float32(drawn["middle"]) - base)
    detail = picture.image - stretched(base, (rows, columns))
    image = stretched(flat, (rows, columns)) + np.float32(drawn["stress"]) * detail
    return _stored(replace(picture, image=np.clip(np.rint(image), 0, 255).astype(np.uint8)), rng)


def as_a_portrait(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph whose telephone blurred what it took for the background, at times the sheet's margins too."""
    picture, drawn = _posed(page, px_per_mm, rng, "snap"), drawn_from("portrait", rng)
    width, height = size_mm(page, px_per_mm)
    left, top, right, bottom = rng.uniform(-4.0, drawn["inset_mm"], 4)
    kept = np.array([(left, top), (width - right, top), (width - right, height - bottom), (left, height - bottom)])
    shape = picture.image.shape[0], picture.image.shape[1]
    subject = soft(filled(shape, [picture.place(kept)]), 0.5 * scale_px_per_mm(picture))
    behind = blurred(picture.image, drawn["blur"] * max(shape))
    image = np.rint(picture.image * subject + behind * (1.0 - subject)).astype(np.uint8)
    hidden = (
        bar_mm(-9.0, -9.0, left, height + 9.0),
        bar_mm(width - right, -9.0, width + 9.0, height + 9.0),
        bar_mm(-9.0, -9.0, width + 9.0, top),
        bar_mm(-9.0, height - bottom, width + 9.0, height + 9.0),
    )
    return _stored(replace(picture, image=image, hidden_mm=hidden), rng)


def on_a_tray(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet on a lacquered tray with a pattern of overlapping waves."""
    picture, drawn = _posed(page, px_per_mm, rng, "snap.anyhow"), drawn_from("tray_pattern", rng)
    x, y = (max(picture.image.shape) / scale_px_per_mm(picture) * grid for grid in shares_grid(picture, step_px=2))
    way, radius = direction(drawn["turn_deg"]), drawn["radius_mm"]
    across, down = (x * way[0] + y * way[1]) / radius, (y * way[0] - x * way[1]) / radius
    apart = np.full(x.shape, np.inf)
    for back in (0, 1, 2):  # each row of circles, a half apart, lies on the row above it
        row = np.floor(2.0 * down) + 2 - back
        from_middle = (across + row % 2 + 1.0) % 2.0 - 1.0
        here = np.hypot(from_middle, down - 0.5 * row)
        apart = np.where(np.isinf(apart) & (here <= 1.0), here, apart)
    rings = np.floor(4.0 * np.minimum(apart, 0.99)) % 2
    below = np.where(rings == 1, drawn["light"], drawn["dark"]).astype(np.float32)
    return _stored(_laid_on(page, px_per_mm, picture, below), rng)


def by_a_glass(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet on one side or corner of which a glass stands."""
    picture, drawn = _posed(page, px_per_mm, rng, "snap.flat"), drawn_from("glass", rng)
    size, foot_mm, side = size_mm(page, px_per_mm), drawn["foot_mm"], drawn["side"]
    out = np.array([(0.0, -1.0), (1.0, 0.0), (0.0, 1.0), (-1.0, 0.0)])[side]
    brink = size / 2 * (1.0 + out + drawn["along"] * xy(-out[1], out[0]))
    foot = brink + out * (foot_mm - drawn["deep_mm"])
    bowl, bowl_mm = foot + drawn["leans"] * (foot - size / 2), foot_mm * drawn["bowl"]
    scale = scale_px_per_mm(picture)
    fall = drawn["shadow_mm"] * direction(float(rng.uniform(0.0, 360.0)))
    image = dimmed(
        picture.image, picture.place(foot + fall + foot_mm * circle()), 0.0, 4.0 * scale, through=1.0 - drawn["shadow"]
    )
    image = dimmed(image, picture.place(foot + foot_mm * circle()), 205.0, 0.5 * scale, through=0.6)
    image = dimmed(image, picture.place(bowl + bowl_mm * circle()), drawn["level"], 0.5 * scale, through=0.35)
    for middle, radius, level, wide in (
        (foot, foot_mm, 60.0, 0.7),
        (foot, 0.95 * foot_mm, 245.0, 0.6),
        (foot, 0.16 * foot_mm, 90.0, 1.5),
        (bowl, bowl_mm, 70.0, 0.8),
        (bowl, 0.97 * bowl_mm, 248.0, 0.8),
        (bowl, 0.7 * bowl_mm, 160.0, 1.2),
    ):
        strengths = np.interp(np.arange(119), np.linspace(0, 118, 9), rng.uniform(0.2, 0.95, 9))
        image = with_line(image, 1.0, picture.place(middle + radius * rim()), wide * scale, strengths, level)
    hidden = tuple(
        middle + (1.03 * radius + ROUND_MM) * circle() for middle, radius in ((foot, foot_mm), (bowl, bowl_mm))
    )
    return _stored(replace(picture, image=image, hidden_mm=hidden), rng)


def on_a_pile(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of the topmost of a pile of sheets, the margins of those below looking out."""
    picture, drawn = _posed(page, px_per_mm, rng, "snap.anyhow"), drawn_from("pile", rng)
    size, scale = size_mm(page, px_per_mm), scale_px_per_mm(picture)
    square = np.array([(-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)]) * size
    image, white = picture.image, float(np.percentile(picture.image[::8, ::8], 97))
    for _ in range(drawn["sheets"]):
        angle = float(rng.uniform(-1.0, 1.0)) * drawn["turn_deg"]
        turn = np.array([direction(angle), direction(angle + 90.0)])
        lies = picture.place(size / 2 + square @ turn + rng.uniform(-1.0, 1.0, 2) * drawn["off_mm"])
        image = dimmed(image, lies + 0.6 * scale, 0.0, 0.8 * scale, through=1.0 - drawn["shadow"])
        image = dimmed(image, lies, white * float(rng.uniform(0.82, 0.99)), 0.6)
    above = picture.place(square + size / 2)
    image = dimmed(image, above + 0.4 * scale, 0.0, 0.5 * scale, through=1.0 - drawn["shadow"])
    return _stored(_laid_on(page, px_per_mm, picture, image.astype(np.float32)), rng)


def through_cane(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph in the sun through the cane of a chair: thin crossing lines of shadow."""
    picture, drawn = _posed(page, px_per_mm, rng, "snap.anyhow"), drawn_from("cane", rng)
    x, y = (max(picture.image.shape) / scale_px_per_mm(picture) * grid for grid in shares_grid(picture, step_px=4))
    sun: NDArray[np.float64] = np.ones_like(x)
    for angle in (0.0, drawn["apart_deg"], *((drawn["third_deg"],) * drawn["third"])):
        way = direction(drawn["turn_deg"] + angle)
        along = x * way[0] + y * way[1] + 1.2 * np.sin((y * way[0] - x * way[1]) / 37.0)
        from_line = np.abs((along + float(rng.uniform(0.0, 30.0))) % drawn["pitch_mm"] - drawn["pitch_mm"] / 2)
        sun *= 1.0 - drawn["depth"] / (1.0 + np.exp((from_line - drawn["wide_mm"] / 2) / (drawn["soft_mm"] / 4)))
    return _stored(lit_by(picture, sun), rng)


def zoomed(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph from afar, by a telephone that makes up with arithmetic for the lens that it has not."""
    picture, drawn = _posed(page, px_per_mm, rng, "snap.zoomed"), drawn_from("zoom", rng)
    near = grainy(picture.image, drawn["noise"], rng, 0.6)
    calm = cv2.medianBlur(near, 3) if drawn["calmed"] else near
    rows, columns = (round(side * drawn["times"]) for side in near.shape)
    large = sharpened(resized(np.asarray(calm, dtype=np.uint8), columns, rows), drawn["sharpening"], 1.8)
    step = xy(columns / near.shape[1], rows / near.shape[0])
    return replace(
        picture,
        image=through_jpeg(large, drawn["quality"]),
        place=lambda places: (picture.place(places) + 0.5) * step - 0.5,
    )


def stitched(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a panorama's picture: two takes that do not quite meet, nor were lit alike."""
    picture, drawn = _posed(page, px_per_mm, rng, "snap"), drawn_from("stitch", rng)
    scale, way = scale_px_per_mm(picture), direction(drawn["turn_deg"])
    middle = drawn["at"] * xy(picture.image.shape[1], picture.image.shape[0])
    jump = scale * drawn["jump_mm"] * direction(float(rng.uniform(0.0, 360.0)))

    def past(px: Points, ramp_mm: float) -> Points:
        share: Points = 0.5 + 0.5 * np.tanh(2.0 * (px - middle) @ way / (ramp_mm * scale))
        return share

    apart = displaced(picture, lambda px: past(px, drawn["ramp_mm"])[:, None] * jump)
    x, y = (max(picture.image.shape) * grid for grid in shares_grid(picture))
    seen = past(np.column_stack([x.ravel(), y.ravel()]), 0.5 * drawn["ramp_mm"]).reshape(x.shape)
    return _stored(lit_by(apart, 1.0 - drawn["gain"] * seen), rng)


def rained_on(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet on which drops of water stand."""
    wet, hidden = with_drops(page, px_per_mm, rng)
    return replace(_stored(_posed(wet, px_per_mm, rng, "snap"), rng), hidden_mm=hidden)


def on_a_cushion(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet on something soft, which it follows in wide round bulges."""
    drawn, size = drawn_from("cushion", rng), size_mm(page, px_per_mm)
    tops = rng.uniform(0.0, 1.0, (drawn["bulges"], 2)) * size
    heights = rng.uniform(-1.0, 1.0, drawn["bulges"]) * drawn["height_mm"]
    lean, sun = drawn["lean"] * direction(float(rng.uniform(0.0, 360.0))), direction(float(rng.uniform(0.0, 360.0)))

    def height(mm: Points) -> Points:
        apart = np.square(mm[:, None] - tops[None]).sum(axis=2) / (2.0 * drawn["wide_mm"] ** 2)
        stands: Points = np.exp(-apart) @ heights
        return stands

    def shift(px: Points) -> Points:
        mm = (px + 0.5) / px_per_mm
        moved: Points = px_per_mm * height(mm)[:, None] * (lean + (size / 2 - mm) / drawn["camera_mm"])
        return moved

    bent = displaced(Picture(page, lambda places: places * px_per_mm - 0.5), shift)
    x, y = np.meshgrid(np.linspace(0.0, size[0], 60), np.linspace(0.0, size[1], 84))
    mm = np.column_stack([x.ravel(), y.ravel()])
    slope = (height(mm + sun) - height(mm - sun)).reshape(x.shape) / 2.0
    shade: Field = np.clip(1.0 + drawn["relief"] * slope, 0.6, 1.0).astype(np.float32)
    picture = _stored(_posed(lit(bent.image, shade), px_per_mm, rng, "snap.flat"), rng)
    return replace(picture, place=lambda places: picture.place((bent.place(places) + 0.5) / px_per_mm))


UNUSUAL_PHOTOGRAPHS: dict[str, Shot] = {
    "photo-through-glasses": through_glasses,
    "photo-torch": by_torch,
    "photo-screenshot": of_the_screen,
    "photo-halos": with_halos,
    "photo-as-portrait": as_a_portrait,
    "photo-on-tray": on_a_tray,
    "photo-by-a-glass": by_a_glass,
    "photo-pile-fit-to-page": partial(at_print_scale, which="fit_to_page", shot=on_a_pile),
    "photo-through-cane": through_cane,
    "photo-zoomed": zoomed,
    "photo-stitched": stitched,
    "photo-rained-on": rained_on,
    "photo-cushion": on_a_cushion,
}


def _posed(page: Gray, px_per_mm: float, rng: np.random.Generator, pose: str) -> Picture:
    return photograph(page, px_per_mm, rng, draw(PhotographSeverity, f"unusual.{pose}", rng))


def _stored(picture: Picture, rng: np.random.Generator) -> Picture:
    """The picture with a sensor's grain, compressed."""
    drawn = drawn_from("sensed", rng)
    return replace(picture, image=through_jpeg(grainy(picture.image, drawn["noise"], rng, 0.6), drawn["quality"]))


def _laid_on(page: Gray, px_per_mm: float, picture: Picture, below: Field) -> Picture:
    """The picture with something else under its sheet, which lies flat."""
    shape, (width, height) = (picture.image.shape[0], picture.image.shape[1]), size_mm(page, px_per_mm)
    corners = np.array([(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)])
    sheet = filled(shape, [picture.place(corners)])
    image = np.rint(picture.image * sheet + stretched(below, shape) * (1.0 - sheet)).astype(np.uint8)
    return replace(picture, image=image)
