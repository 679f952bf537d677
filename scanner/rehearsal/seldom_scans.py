"""Scans seen seldom: once held out, tuned upon since."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Any

import cv2
import numpy as np

from scanner.rehearsal.after_shot import displaced, scale_px_per_mm, shares_grid, unfocused
from scanner.rehearsal.arrays import Gray, Points, xy
from scanner.rehearsal.camera import Shot, at_print_scale
from scanner.rehearsal.optics import (
    blurred,
    dimmed,
    lit,
    resized,
    stretched,
    through_jpeg,
)
from scanner.rehearsal.paper import CopySeverity, photocopied, thirds_creased
from scanner.rehearsal.picture import Picture
from scanner.rehearsal.rare import after
from scanner.rehearsal.scan import ScanSeverity, feeder, flatbed
from scanner.rehearsal.seldom_sheets import fingered, mended, pouched, with_hairs, yellowed
from scanner.rehearsal.severities import draw
from scanner.rehearsal.sheet_marks import circle, with_line

ROUND_MM = 1.3
"""How far past a thing on the sheet a box may hide one of the nine places that `as_seen` looks at."""


def plate(page: Gray, px_per_mm: float, rng: np.random.Generator, *, dpi: float = 200.0, raw: bool = False) -> Picture:
    """Return a flatbed scan; a raw one is not compressed."""
    fixed = {"jpeg_quality": 100} if raw else {}
    return flatbed(page, px_per_mm, dpi, rng, draw(ScanSeverity, "seldom.plate", rng, **fixed))


def rollers(page: Gray, px_per_mm: float, rng: np.random.Generator, *, dpi: float = 200.0) -> Picture:
    """Return a sheet-feeder scan."""
    return feeder(page, px_per_mm, dpi, rng, draw(ScanSeverity, "seldom.rollers", rng))


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
    page = with_line(page, px_per_mm, crease, 0.2, drawn["crease"] * rng.uniform(0.2, 1.0, 59))
    for hole, radius in (*((hole, 3.0) for hole in holes), (xy(9.0, 14.0), 0.4), (xy(17.0, 6.5), 0.4)):
        page = dimmed(page, (hole + (radius + 0.15) * circle()) * px_per_mm, 150.0, 0.5)
        page = dimmed(page, (hole + radius * circle()) * px_per_mm, drawn["level"], 0.5)
    hidden = tuple(hole + (3.0 + ROUND_MM) * circle() for hole in holes)
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
    scale, width, count = scale_px_per_mm(picture), picture.image.shape[1], drawn["pieces"] - 1
    seams = (np.arange(count) + 1 + rng.uniform(-0.15, 0.15, count)) / (count + 1) * width
    jumps = scale * drawn["jump_mm"] * rng.uniform(-1.0, 1.0, (count, 2))
    ramp = drawn["ramp_mm"] * scale

    def shift(px: Points) -> Points:
        past = 0.5 + 0.5 * np.tanh(2.0 * (px[:, :1] - seams[None]) / ramp)
        moved: Points = past @ jumps
        return moved

    pieces = np.searchsorted(seams, np.arange(width))
    gain = 1.0 - drawn["gain"] * rng.random(count + 1)[pieces]
    apart = displaced(picture, shift)
    return replace(apart, image=through_jpeg(lit(apart.image, np.stack([gain, gain]).astype(np.float32)), 88))


def lifted(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan of a sheet whose one corner stood off the glass: dim there, and out of focus."""
    picture, drawn = plate(page, px_per_mm, rng, raw=True), _drawn("lifted", rng)
    x, y = shares_grid(picture)
    corner = x.max() * (drawn["corner"] in (1, 2)), y.max() * (drawn["corner"] >= 2)
    scale, long_px = scale_px_per_mm(picture), max(picture.image.shape)
    far = np.hypot(x - corner[0], y - corner[1]) * long_px / scale
    up = np.clip(1.0 - far / drawn["reach_mm"], 0.0, 1.0)
    softer = unfocused(picture.image, up, drawn["blur_mm"] * scale)
    return replace(picture, image=through_jpeg(lit(softer, (1.0 - drawn["darkness"] * up**2).astype(np.float32)), 88))


def posted_and_copied(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan of a photocopy of a sheet that came folded in thirds."""
    creased = thirds_creased(page, px_per_mm, _drawn("post_copy", rng)["crease"], rng)
    severity = draw(CopySeverity, "seldom.post_copy.copy", rng)
    picture = rollers(photocopied(creased, px_per_mm, rng, severity), px_per_mm, rng)
    return replace(picture, faintest=2.0 * (1.0 - severity.white_point))


def line_art(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a one-bit 300-dpi scan whose specks were cleared away."""
    picture = feeder(page, px_per_mm, 300.0, rng, draw(ScanSeverity, "seldom.line_art", rng))
    return replace(picture, image=np.asarray(cv2.medianBlur(picture.image, 3), dtype=np.uint8))


SELDOM_SCANS: dict[str, Shot] = {
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


def _drawn(table: str, rng: np.random.Generator) -> dict[str, Any]:
    values: dict[str, Any] = draw(dict, f"seldom.{table}", rng)
    return values
