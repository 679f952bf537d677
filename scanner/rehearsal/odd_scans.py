"""Scans that are odd; held out once, tuned upon since."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import cv2
import numpy as np

from scanner.rehearsal.after_shot import displaced
from scanner.rehearsal.arrays import Gray, Points, xy
from scanner.rehearsal.camera import Shot, at_print_scale
from scanner.rehearsal.odd_sheets import (
    drawn_from,
    faded,
    flecked,
    ghosted,
    pressed,
    ringed,
    size_mm,
    under_a_crack,
    was_rolled,
    with_grains,
)
from scanner.rehearsal.optics import lit, sharpened, soft, through_jpeg
from scanner.rehearsal.paper import CopySeverity, photocopied
from scanner.rehearsal.picture import Picture
from scanner.rehearsal.rare import after
from scanner.rehearsal.scan import MM_PER_INCH, ScanSeverity, fax, feeder, flatbed
from scanner.rehearsal.severities import draw
from scanner.rehearsal.warp import through


def flat(page: Gray, px_per_mm: float, rng: np.random.Generator, *, dpi: float = 200.0, raw: bool = False) -> Picture:
    """Return a flatbed scan; a raw one is not compressed."""
    fixed = {"jpeg_quality": 100} if raw else {}
    return flatbed(page, px_per_mm, dpi, rng, draw(ScanSeverity, "odd.flat", rng, **fixed))


def fed(page: Gray, px_per_mm: float, rng: np.random.Generator, *, dpi: float = 200.0, raw: bool = False) -> Picture:
    """Return a sheet-feeder scan; a raw one is not compressed."""
    fixed = {"jpeg_quality": 100} if raw else {}
    return feeder(page, px_per_mm, dpi, rng, draw(ScanSeverity, "odd.fed", rng, **fixed))


def wired(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a fax."""
    return fax(page, px_per_mm, rng, draw(ScanSeverity, "odd.wired", rng))


def ghostly_copy(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan of a copy by a machine whose drum was not wiped clean."""
    severity = draw(CopySeverity, "odd.ghost.copy", rng)
    copy = ghosted(photocopied(page, px_per_mm, rng, severity), px_per_mm, rng)
    return replace(fed(copy, px_per_mm, rng), faintest=2.0 * (1.0 - severity.white_point))


def by_a_flickering_lamp(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan whose lamp flickered: bands across the way of the carriage."""
    picture, drawn = flat(page, px_per_mm, rng, raw=True), drawn_from("flicker", rng)
    rows = picture.image.shape[0]
    mm = np.arange(rows) * MM_PER_INCH / 200.0
    fast = np.abs(np.sin(np.pi * mm / drawn["pitch_mm"] + 0.4 * np.sin(mm / 31.0)))
    slow = soft(rng.standard_normal((1, rows)).astype(np.float32), (140.0, 0.1))[0]
    gain = 1.0 - drawn["depth"] * fast - drawn["slow"] * np.clip(slow / slow.std(), 0.0, 1.5)
    return _stored(replace(picture, image=lit(picture.image, np.repeat(gain[:, None], 2, axis=1))), rng)


def on_a_shaking_table(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan during which somebody shook the table now and then."""
    picture, drawn = flat(page, px_per_mm, rng, raw=True), drawn_from("shaken", rng)
    rows, dots = picture.image.shape[0], 200.0 / MM_PER_INCH
    bouts = rng.uniform(0.0, rows, drawn["bouts"])
    lasting = rng.uniform(0.04, 0.15, drawn["bouts"]) * rows
    turns = rng.uniform(0.0, 2 * np.pi, 2)

    def shift(px: Points) -> Points:
        y = px[:, 1]
        swing = np.exp(-0.5 * np.square((y[:, None] - bouts) / lasting)).max(axis=1)
        phase = 2 * np.pi * y / (drawn["pitch_mm"] * dots)
        across = drawn["across_mm"] * np.sin(phase + turns[0])
        moved = np.column_stack([across, drawn["along_mm"] * np.sin(0.8 * phase + turns[1])])
        return np.asarray(dots * swing[:, None] * moved)

    return _stored(displaced(picture, shift), rng)


def with_rice_on_the_glass(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan on a glass on which grains of rice were left."""
    strewn, hidden = with_grains(page, px_per_mm, rng)
    return replace(flat(strewn, px_per_mm, rng), hidden_mm=hidden)


def faded_to_one_side(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan of a copy on thermal paper that lost its black towards one side."""
    pale, left = faded(page, px_per_mm, rng)
    return replace(fed(pale, px_per_mm, rng), faintest=0.22 / left)


def blown_up(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a coarse scan that a program made twice as large by doubling its pixels, then sharpened."""
    drawn = drawn_from("blown_up", rng)
    severity = draw(ScanSeverity, "odd.flat.coarse", rng, jpeg_quality=100)
    picture = flatbed(page, px_per_mm, drawn["dpi"], rng, severity)
    doubled = np.repeat(np.repeat(picture.image, 2, axis=0), 2, axis=1)
    image = sharpened(doubled, drawn["sharpening"], 1.4)
    return _stored(replace(picture, image=image, place=lambda mm: 2.0 * picture.place(mm) + 0.5), rng)


def with_blind_columns(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan by a sensor that is blind in a few places: thin pale lines all down the sheet."""
    picture, drawn = fed(page, px_per_mm, rng, raw=True), drawn_from("blind", rng)
    image = picture.image.copy()
    for column in rng.integers(0, image.shape[1] - 2, drawn["columns"]):
        line = image[:, column : column + drawn["wide_px"]]
        line[...] = np.rint(line + drawn["share"] * (250.0 - line)).astype(np.uint8)
    return _stored(replace(picture, image=image), rng)


def straightened(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan that a program turned straight pixel by pixel, its lines stepped; gray or one-bit."""
    severity, drawn = draw(ScanSeverity, "odd.fed.askew", rng), drawn_from("straightened", rng)
    picture = feeder(page, px_per_mm, 200.0, rng, severity)
    left, right = picture.place(xy(0.1, 0.5) * size_mm(page, px_per_mm) + np.array([(0.0, 0.0), (100.0, 0.0)]))
    lean_deg = float(np.rad2deg(np.arctan2(right[1] - left[1], right[0] - left[0]))) + drawn["miss_deg"]
    rows, columns = picture.image.shape
    turn = np.asarray(cv2.getRotationMatrix2D((columns / 2, rows / 2), lean_deg, 1.0), dtype=np.float64)
    beyond = 0 if drawn["beyond"] < 60.0 else 255
    image = cv2.warpAffine(
        picture.image,
        turn,
        (columns, rows),
        flags=cv2.INTER_NEAREST,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=beyond,
    ).astype(np.uint8)
    matrix = np.vstack([turn, [0.0, 0.0, 1.0]])
    turned = replace(picture, image=image, place=lambda mm: through(matrix, picture.place(mm)))
    return turned if severity.bits != "gray" else _stored(turned, rng)


ODD_SCANS: dict[str, Shot] = {
    "ghostly-copy": ghostly_copy,
    "pressed-while-damp": partial(after, paper=pressed, shot=flat),
    "flickering-lamp": by_a_flickering_lamp,
    "shaking-table": on_a_shaking_table,
    "flecked-paper": partial(after, paper=flecked, shot=fed),
    "rice-on-the-glass": with_rice_on_the_glass,
    "faded-to-one-side": faded_to_one_side,
    "blown-up": blown_up,
    "cracked-glass": partial(after, paper=under_a_crack, shot=flat),
    "newtons-rings": partial(after, paper=ringed, shot=flat),
    "blind-columns": with_blind_columns,
    "rolled-and-faxed": partial(after, paper=was_rolled, shot=wired),
    "fit-to-page-straightened": partial(at_print_scale, which="fit_to_page", shot=straightened),
}


def _stored(picture: Picture, rng: np.random.Generator) -> Picture:
    return replace(picture, image=through_jpeg(picture.image, drawn_from("stored", rng)["quality"]))
