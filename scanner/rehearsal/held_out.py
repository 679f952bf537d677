"""Hands, pens and conditions that no threshold is ever chosen on: only for a final figure.

Whoever tunes the reader leaves this module, `held_out_shapes` and `held_out.toml` alone. A set that was looked at joins
`rare`, and is replaced by a new one.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Any

import cv2
import numpy as np

from scanner.rehearsal.arrays import Field, Gray, Points, xy
from scanner.rehearsal.camera import Shot, at_print_scale
from scanner.rehearsal.habits import Hand
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
    toned,
    traced,
)
from scanner.rehearsal.paper import CopySeverity, photocopied, thirds_creased
from scanner.rehearsal.pens import Pen
from scanner.rehearsal.photograph import PhotographSeverity, photograph
from scanner.rehearsal.picture import Picture
from scanner.rehearsal.rare import _displaced, _grid, _lit, _scale, after
from scanner.rehearsal.scan import ScanSeverity, feeder, flatbed
from scanner.rehearsal.severities import draw
from scanner.rehearsal.warp import homography, laid_flat, through

COARSE = 4.0
"""Pixels per millimetre of fields that vary slowly."""

ROUND_MM = 1.3
"""How far past a thing on the sheet a box may hide one of the nine places that `as_seen` looks at."""

HELD_OUT_HANDS: tuple[Hand, ...] = (
    Hand("vees", (("vee", 1.0),), size=0.88, size_spread=0.1, tail_mm=1.5, scatter_mm=0.28, flick=0.5),
    Hand(
        "ribbons",
        (("ribbon", 0.95), ("vee", 0.05)),
        size=0.95,
        size_spread=0.12,
        overshoot_mm=0.7,
        slant_deg=6,
        slant_spread_deg=8,
        scatter_mm=0.3,
        flick=0.6,
        take_back="scrub",
    ),
    Hand("re-marks", (("re-mark", 1.0),), size=0.92, tail_mm=2.4, bow=0.07, scatter_mm=0.25, flick=0.8),
    Hand("double-rings", (("double-ring", 1.0),), size=0.95, size_spread=0.06, scatter_mm=0.18, take_back="solid"),
    Hand("triangles", (("triangle", 1.0),), size=0.9, size_spread=0.1, bow=0.04, scatter_mm=0.22, flick=0.2),
    Hand("hearts", (("heart", 1.0),), size=0.92, size_spread=0.1, scatter_mm=0.25, slant_deg=-6, take_back="scrub"),
    Hand(
        "ones",
        (("figure-one", 1.0),),
        size=0.92,
        overshoot_mm=0.5,
        slant_deg=9,
        slant_spread_deg=6,
        scatter_mm=0.35,
        flick=0.3,
        take_back="solid",
    ),
    Hand("okays", (("okay", 1.0),), size=0.98, size_spread=0.07, bow=0.05, scatter_mm=0.2, slant_deg=4),
    Hand("ks", (("letter-k", 1.0),), size=0.92, overshoot_mm=0.6, scatter_mm=0.3, flick=0.6, take_back="scrub"),
    Hand("as", (("letter-a", 0.96), ("vee", 0.04)), size=0.95, overshoot_mm=0.5, bow=0.06, slant_deg=7, flick=0.3),
    Hand("crossed-ticks", (("crossed-tick", 1.0),), size=0.95, tail_mm=2.2, scatter_mm=0.3, flick=0.6, underline=0.12),
    Hand("ringed-ticks", (("ringed-tick", 1.0),), size=1.0, size_spread=0.06, scatter_mm=0.2, take_back="solid"),
    Hand(
        "coils",
        (("coil", 0.96), ("figure-eight", 0.04)),
        size=0.92,
        size_spread=0.1,
        scatter_mm=0.25,
        pressure=0.9,
        take_back="scrub",
    ),
    Hand("hatchings", (("hatched", 1.0),), size=0.9, size_spread=0.08, overshoot_mm=0.3, bow=0.06, flick=0.5),
    Hand(
        "exclaimers",
        (("exclamation", 1.0),),
        size=0.95,
        overshoot_mm=0.5,
        slant_deg=5,
        scatter_mm=0.35,
        pressure=1.15,
        take_back="solid",
    ),
    Hand(
        "shaky-eights",
        (("figure-eight", 1.0),),
        size=0.92,
        size_spread=0.14,
        shake_mm=0.08,
        slant_deg=-10,
        bias_x_mm=-0.25,
        bias_y_mm=0.3,
        scatter_mm=0.3,
        pressure=0.9,
    ),
    Hand("rice-marks", (("rice", 1.0),), size=0.9, overshoot_mm=0.3, scatter_mm=0.22, flick=0.3),
    Hand("cups", (("cup", 0.95), ("ribbon", 0.05)), size=0.88, tail_mm=1.5, scatter_mm=0.3, flick=0.6, slant_deg=-5),
    Hand(
        "one-sign-for-each-thought",
        (("double-ring", 0.35), ("triangle", 0.3), ("re-mark", 0.2), ("rice", 0.15)),
        size=0.9,
        size_spread=0.13,
        tail_mm=1.2,
        scatter_mm=0.3,
        flick=0.4,
        take_back="scrub",
    ),
)

HELD_OUT_PENS: tuple[Pen, ...] = (
    Pen("erasable-gel", (0.36, 0.50), 72, 0.90, response=0.1, tooth=0.18, shading=0.14, erasable=True),
    Pen("cocktail-pencil", (0.40, 0.68), 94, 0.86, response=0.5, tooth=0.6, shading=0.2, erasable=True),
    Pen("china-marker", (0.85, 1.30), 46, 0.88, response=0.35, tooth=0.75, shading=0.15),
    Pen("chisel-marker", (0.80, 1.30), 58, 0.94, response=0.1, shading=0.18, bleed_mm=0.05, pools=0.2, nib=0.45),
    Pen("pink-gel", (0.40, 0.54), 122, 0.96, response=0.05, tooth=0.05, shading=0.06, bleed_mm=0.02, pools=0.1),
    Pen("sepia-dip-nib", (0.20, 0.62), 76, 0.94, response=0.15, shading=0.4, bleed_mm=0.03, pools=0.45, nib=0.15),
    Pen("soaking-rollerball", (0.46, 0.64), 42, 0.96, response=0.05, shading=0.08, bleed_mm=0.085, pools=0.4),
    Pen("green-ballpoint", (0.27, 0.44), 90, 0.90, tooth=0.3, shading=0.2, skips_per_cm=0.25),
    Pen("red-colouring-pencil", (0.50, 0.85), 104, 0.88, response=0.45, tooth=0.7, shading=0.15),
    Pen(
        "giveaway-ballpoint", (0.30, 0.48), 66, 0.88, response=0.3, tooth=0.35, shading=0.3, skips_per_cm=0.4, pools=0.5
    ),
    Pen("violet-liner", (0.48, 0.62), 82, 0.97, response=0.05, shading=0.05, bleed_mm=0.03, pools=0.25),
)


# ---- what happens to the sheet ----


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
        spots = np.maximum(spots, filled((rows, columns), [middle + radius * _circle()], float(rng.uniform(0.3, 1.0))))
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
    page = _line(page, px_per_mm, tear, drawn["tear_mm"], drawn["tear"] * rng.uniform(0.2, 1.0, 159))
    page = dimmed(page, tape * px_per_mm, 0.0, 0.4, through=1.0 - drawn["tape"])
    for rim in (ends - across, ends + across):
        long = rim[0] + np.linspace(0.0, 1.0, 80)[:, None] * (rim[1] - rim[0])
        page = _line(page, px_per_mm, long, 0.25, drawn["rim"] * rng.uniform(0.4, 1.0, 79))
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
        page = _line(page, px_per_mm, path, drawn["width_mm"], np.full(count - 1, drawn["darkness"]))
    return page


def pouched(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """Return the page in a clear pouch that has seen better days: hazy, scratched, a little soft."""
    drawn = _drawn("pouch", rng)
    hazy = blurred(page, drawn["blur_mm"] * px_per_mm)
    dark = drawn["haze"] * drawn["level"]
    hazy = toned(hazy, dark, 255.0 * (1.0 - drawn["haze"]) + dark)
    for _ in range(drawn["scratches"]):
        start = rng.uniform(0.0, 1.0, 2) * (page.shape[1] / px_per_mm, page.shape[0] / px_per_mm)
        way = float(rng.uniform(4.0, 60.0)) * _unit(float(rng.uniform(0.0, 360.0)))
        share = np.linspace(0.0, 1.0, 40)[:, None]
        path = start + share * way + share * (1.0 - share) * xy(-way[1], way[0]) * float(rng.uniform(-0.3, 0.3))
        to = float(rng.choice([60.0, 255.0]))
        hazy = _line(hazy, px_per_mm, path, 0.06, drawn["scratch"] * rng.uniform(0.3, 1.0, 39), to)
    clouds = soft(rng.standard_normal((75, 53)).astype(np.float32), 2.5)
    return lit(hazy, (1.0 - drawn["clouds"] * np.abs(clouds / clouds.std()).clip(0.0, 2.0)).astype(np.float32))


# ---- scans ----


def plate(page: Gray, px_per_mm: float, rng: np.random.Generator, *, dpi: float = 200.0, raw: bool = False) -> Picture:
    """Return a flatbed scan; a raw one is not compressed."""
    fixed = {"jpeg_quality": 100} if raw else {}
    return flatbed(page, px_per_mm, dpi, rng, draw(ScanSeverity, "held_out.plate", rng, **fixed))


def rollers(page: Gray, px_per_mm: float, rng: np.random.Generator, *, dpi: float = 200.0) -> Picture:
    """Return a sheet-feeder scan."""
    return feeder(page, px_per_mm, dpi, rng, draw(ScanSeverity, "held_out.rollers", rng))


def filed(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan of a sheet that was stapled, then punched for a binder.

    References
    ----------
    .. [1] ISO 838: holes of 6 mm, their centres 80 mm apart and 12 mm from the edge (values from memory).
    """
    drawn = _drawn("filed", rng)
    width_mm, height_mm = page.shape[1] / px_per_mm, page.shape[0] / px_per_mm
    x = drawn["from_edge_mm"] if drawn["left"] else width_mm - drawn["from_edge_mm"]
    holes = [xy(x, height_mm / 2 + drawn["off_mm"] + y) for y in (-40.0, 40.0)]
    leg = drawn["corner_mm"]
    crease = xy(0.0, leg) + np.linspace(0.0, 1.0, 60)[:, None] * xy(leg, -leg)
    page = _line(page, px_per_mm, crease, 0.2, drawn["crease"] * rng.uniform(0.2, 1.0, 59))
    for hole, radius in (*((hole, 3.0) for hole in holes), (xy(9.0, 14.0), 0.4), (xy(17.0, 6.5), 0.4)):
        page = dimmed(page, (hole + (radius + 0.15) * _circle()) * px_per_mm, 150.0, 0.5)
        page = dimmed(page, (hole + radius * _circle()) * px_per_mm, drawn["level"], 0.5)
    hidden = tuple(hole + (3.0 + ROUND_MM) * _circle() for hole in holes)
    return replace(rollers(page, px_per_mm, rng), hidden_mm=hidden)


def layered(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan kept small by layers: what is dark as a sharp mask, all else coarse and strongly compressed."""
    picture, drawn = plate(page, px_per_mm, rng, dpi=300.0, raw=True), _drawn("layers", rng)
    image = picture.image
    rows, columns = image.shape
    around = np.asarray(cv2.medianBlur(resized(image, columns // 8, rows // 8), 15), dtype=np.uint8)
    paper = stretched(blurred(around, 3.0).astype(np.float32), (rows, columns))
    dark = image < drawn["split"] * paper
    ink = np.asarray(cv2.erode(image, np.ones((3, 3), dtype=np.uint8)), dtype=np.uint8)
    coarse = round(columns / drawn["coarse"]), round(rows / drawn["coarse"])
    without = np.where(dark, np.rint(paper).astype(np.uint8), image)
    behind = resized(through_jpeg(resized(without, coarse[0], coarse[1]), drawn["quality"]), columns, rows)
    before = resized(resized(ink, columns // 2, rows // 2), columns, rows)
    return replace(picture, image=np.where(dark, before, behind).astype(np.uint8))


def seamed(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan by a sensor of several pieces that do not quite meet, nor see alike."""
    picture, drawn = plate(page, px_per_mm, rng, dpi=300.0, raw=True), _drawn("seams", rng)
    scale, width, count = _scale(picture), picture.image.shape[1], drawn["pieces"] - 1
    seams = (np.arange(count) + 1 + rng.uniform(-0.15, 0.15, count)) / (count + 1) * width
    jumps = scale * drawn["jump_mm"] * rng.uniform(-1.0, 1.0, (count, 2))
    ramp = drawn["ramp_mm"] * scale

    def shift(px: Points) -> Points:
        past = 0.5 + 0.5 * np.tanh(2.0 * (px[:, :1] - seams[None]) / ramp)
        moved: Points = past @ jumps
        return moved

    pieces = np.searchsorted(seams, np.arange(width))
    gain = 1.0 - drawn["gain"] * rng.random(count + 1)[pieces]
    apart = _displaced(picture, shift)
    return replace(apart, image=through_jpeg(lit(apart.image, np.stack([gain, gain]).astype(np.float32)), 88))


def lifted(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan of a sheet whose one corner stood off the glass: dim there, and out of focus."""
    picture, drawn = plate(page, px_per_mm, rng, raw=True), _drawn("lifted", rng)
    x, y = _grid(picture)
    corner = x.max() * (drawn["corner"] in (1, 2)), y.max() * (drawn["corner"] >= 2)
    scale, long_px = _scale(picture), max(picture.image.shape)
    far = np.hypot(x - corner[0], y - corner[1]) * long_px / scale
    up = np.clip(1.0 - far / drawn["reach_mm"], 0.0, 1.0)
    softer = _unfocused(picture.image, up, drawn["blur_mm"] * scale)
    return replace(picture, image=through_jpeg(lit(softer, (1.0 - drawn["darkness"] * up**2).astype(np.float32)), 88))


def posted_and_copied(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan of a photocopy of a sheet that came folded in thirds."""
    creased = thirds_creased(page, px_per_mm, _drawn("post_copy", rng)["crease"], rng)
    severity = draw(CopySeverity, "held_out.post_copy.copy", rng)
    picture = rollers(photocopied(creased, px_per_mm, rng, severity), px_per_mm, rng)
    return replace(picture, faintest=2.0 * (1.0 - severity.white_point))


def line_art(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a one-bit 300-dpi scan whose specks were cleared away."""
    picture = feeder(page, px_per_mm, 300.0, rng, draw(ScanSeverity, "held_out.line_art", rng))
    return replace(picture, image=np.asarray(cv2.medianBlur(picture.image, 3), dtype=np.uint8))


# ---- photographs ----


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
    shrinks = max(0.0, _scale(picture) * height_mm / drawn["long_px"] - 1.0)
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
    way, scale = _unit(drawn["turn_deg"]), _scale(picture)
    side = xy(-way[1], way[0])
    middle = xy(drawn["x"] * page.shape[1], drawn["y"] * page.shape[0]) / px_per_mm
    long, wide = drawn["long_mm"] / 2, drawn["wide_mm"] / 2

    def bar(start: float, end: float, low: float, high: float, tip: float = 0.0) -> Points:
        corners = np.array([(start, low), (end, low), (end + tip, (low + high) / 2), (end, high), (start, high)])
        outline: Points = middle + corners[:, :1] * way + corners[:, 1:] * side
        return outline

    body = bar(-long, long, -wide, wide, 11.0)
    away = drawn["shadow_mm"] * _unit(float(rng.uniform(0.0, 360.0)))
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
    way = drawn["away_px"] * _unit(drawn["turn_deg"])
    matrix = np.array([[1.0, 0.0, way[0]], [0.0, 1.0, way[1]]])
    size = picture.image.shape[1], picture.image.shape[0]
    ghost = cv2.warpAffine(picture.image, matrix, size, borderMode=cv2.BORDER_REPLICATE)
    image = cv2.addWeighted(picture.image, 1.0 - drawn["share"], ghost, drawn["share"], 0.0).astype(np.uint8)
    return _stored(replace(picture, image=image), rng)


def near_lens(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph held aslant, sharp along one line across the sheet and softer away from it."""
    picture, drawn = _posed(page, px_per_mm, rng, "still.near"), _drawn("near", rng)
    _, y = _grid(picture)
    away = np.abs(y / y.max() - drawn["at"]) / max(drawn["at"], 1.0 - drawn["at"])
    return _stored(replace(picture, image=_unfocused(picture.image, away, drawn["most_px"])), rng)


def under_leaves(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph in the shade of a tree, round spots of sun on it."""
    picture, drawn = _posed(page, px_per_mm, rng, "still.slanted"), _drawn("leaves", rng)
    x, y = _grid(picture, step_px=16)
    sun = np.zeros_like(x)
    for _ in range(drawn["spots"]):
        middle, radius = rng.uniform(0.0, 1.0, 2) * (x.max(), y.max()), drawn["radius"] * float(rng.uniform(0.6, 1.4))
        sun += np.exp(-0.5 * (np.square((x - middle[0]) / radius) + np.square((y - middle[1]) / (0.75 * radius))))
    sun = np.clip(0.5 + drawn["hardness"] * (sun - 0.5), 0.0, 1.0)
    return _stored(_lit(picture, 1.0 - drawn["depth"] * (1.0 - sun)), rng)


def rippled(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet that dried in ripples along one side."""
    drawn = _drawn("rippled", rng)
    lean = drawn["height_mm"] * _unit(float(rng.uniform(0.0, 360.0)))
    size = xy(page.shape[1], page.shape[0]) / px_per_mm
    across, along = drawn["side"] % 2, 1 - drawn["side"] % 2

    def wave(mm: Points, quarter: float) -> Points:
        far = mm[:, across] if drawn["side"] < 2 else size[across] - mm[:, across]
        turns = 2 * np.pi * mm[:, along] / drawn["wave_mm"] + drawn["phase"] + quarter
        swing: Points = (np.sin(turns) * np.exp(-np.maximum(far, 0.0) / drawn["reach_mm"]))[:, None]
        return swing

    flat = Picture(page, lambda places: places * px_per_mm - 0.5)
    bent = _displaced(flat, lambda px: px_per_mm * lean * wave((px + 0.5) / px_per_mm, 0.0))
    x, y = np.meshgrid(np.linspace(0.0, size[0], 160), np.linspace(0.0, size[1], 220))
    slopes = wave(np.column_stack([x.ravel(), y.ravel()]), np.pi / 2).reshape(x.shape)
    shaded = lit(bent.image, (1.0 - drawn["shade"] * (0.5 + 0.5 * slopes)).astype(np.float32))
    picture = still(shaded, px_per_mm, rng, pose="still.rippled")
    return replace(picture, place=lambda places: picture.place((bent.place(places) + 0.5) / px_per_mm))


def on_clipboard(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a photograph of a sheet held by a board's metal clip above, its foot curling up."""
    picture, drawn = _posed(page, px_per_mm, rng, "still.board"), _drawn("clip", rng)
    middle, scale = page.shape[1] / px_per_mm / 2 + drawn["off_mm"], _scale(picture)

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
    outline, scale = np.vstack([root - xy(0.0, 13.0), cap, root + xy(0.0, 13.0)]), _scale(picture)
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
    shape, scale = (picture.image.shape[0], picture.image.shape[1]), _scale(picture)
    x, y = (max(shape) / scale * grid for grid in _grid(picture, step_px=2))
    way = _unit(drawn["turn_deg"])
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


HELD_OUT_SCANS: dict[str, Shot] = {
    "filed": filed,
    "yellowed": partial(after, paper=yellowed, shot=plate),
    "layered": layered,
    "seamed": seamed,
    "lifted": lifted,
    "hairs": partial(after, paper=with_hairs, shot=plate),
    "mended": partial(after, paper=mended, shot=rollers),
    "finger-marks": partial(after, paper=fingered, shot=rollers),
    "pouched": partial(after, paper=pouched, shot=plate),
    "fit-to-page-posted-and-copied": partial(at_print_scale, which="fit_to_page", shot=posted_and_copied),
    "line-art-300": line_art,
}

HELD_OUT_PHOTOGRAPHS: dict[str, Shot] = {
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
    values: dict[str, Any] = draw(dict, f"held_out.{table}", rng)
    return values


def _posed(page: Gray, px_per_mm: float, rng: np.random.Generator, pose: str) -> Picture:
    return photograph(page, px_per_mm, rng, draw(PhotographSeverity, f"held_out.{pose}", rng))


def _stored(picture: Picture, rng: np.random.Generator) -> Picture:
    """The picture with a sensor's grain, compressed."""
    drawn = _drawn("grain", rng)
    return replace(picture, image=through_jpeg(grainy(picture.image, drawn["noise"], rng, 0.6), drawn["quality"]))


def _unit(degrees: float) -> Points:
    return xy(np.cos(np.deg2rad(degrees)), np.sin(np.deg2rad(degrees)))


def _circle() -> Points:
    turns = np.linspace(0.0, 2 * np.pi, 24, endpoint=False)
    return np.column_stack([np.cos(turns), np.sin(turns)])


def _line(page: Gray, px_per_mm: float, path_mm: Points, width_mm: float, strengths: Any, level: float = 0.0) -> Gray:
    """The page with a line drawn towards that level, by so much along each piece of the path."""
    path = path_mm * px_per_mm
    width = max(1.0, width_mm * px_per_mm)
    size = page.shape[1], page.shape[0]
    low = np.clip(np.floor(path.min(axis=0) - 3 * width).astype(int), 0, size)
    high = np.clip(np.ceil(path.max(axis=0) + 3 * width).astype(int), 0, size)
    if (high <= low).any():
        return page
    weights = np.asarray(strengths) * min(1.0, width_mm * px_per_mm)
    cover = traced((int(high[1] - low[1]), int(high[0] - low[0])), path - low, width, weights.tolist())
    out = page.copy()
    patch = out[low[1] : high[1], low[0] : high[0]]
    cover = soft(cover, 0.4)
    patch[...] = np.rint(patch * (1.0 - cover) + level * cover).astype(np.uint8)
    return out


def _unfocused(image: Gray, amount: Any, most_px: float) -> Gray:
    """The image out of focus by that share (0 … 1, a coarse field) of the greatest blur."""
    share: Field = stretched(np.asarray(amount, dtype=np.float32), (image.shape[0], image.shape[1]))
    steps = [image, blurred(image, most_px / 2), blurred(image, most_px)]
    for which in (0, 1):
        weight = np.clip(2.0 * share - which, 0.0, 1.0).astype(np.float32)
        steps[which + 1] = cv2.blendLinear(steps[which], steps[which + 1], 1.0 - weight, weight).astype(np.uint8)
    return steps[2]
