"""Scans of all sorts; held out once, tuned upon since."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import cv2
import numpy as np

from scanner.rehearsal.after_shot import displaced
from scanner.rehearsal.arrays import Gray, Points
from scanner.rehearsal.camera import Shot, at_print_scale
from scanner.rehearsal.optics import lit, resized, soft, through_jpeg
from scanner.rehearsal.picture import Picture
from scanner.rehearsal.rare import after
from scanner.rehearsal.scan import MM_PER_INCH, ScanSeverity, fax, feeder, flatbed
from scanner.rehearsal.severities import draw
from scanner.rehearsal.sundry_grounds import drawn_from
from scanner.rehearsal.sundry_sheets import (
    darkly_copied,
    laid_paper,
    over_a_holed_lid,
    pleated,
    spilt,
    taped_over,
)

DPI = 200.0
ONE_BIT_DPI = 400.0


def flat(page: Gray, px_per_mm: float, rng: np.random.Generator, *, raw: bool = False) -> Picture:
    """Return a flatbed scan; a raw one is not compressed."""
    fixed = {"jpeg_quality": 100} if raw else {}
    return flatbed(page, px_per_mm, DPI, rng, draw(ScanSeverity, "sundry.flat", rng, **fixed))


def fed(page: Gray, px_per_mm: float, rng: np.random.Generator, *, raw: bool = False) -> Picture:
    """Return a sheet-feeder scan; a raw one is not compressed."""
    fixed = {"jpeg_quality": 100} if raw else {}
    return feeder(page, px_per_mm, DPI, rng, draw(ScanSeverity, "sundry.fed", rng, **fixed))


def wired(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a fax.

    A stroke of a quarter of a millimetre keeps about three quarters of its contrast in it.
    """
    severity = draw(ScanSeverity, "sundry.wired", rng)
    faintest = (1.0 - severity.threshold ** (1.0 / severity.gamma)) / 0.75
    return replace(fax(page, px_per_mm, rng, severity), faintest=faintest)


def colour_fringed(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan in colour, kept as gray, whose red, green and blue lines did not see quite the same place."""
    picture, drawn = flat(page, px_per_mm, rng, raw=True), drawn_from("fringes", rng)
    dots, turn = DPI / MM_PER_INCH, float(rng.uniform(0.0, 2 * np.pi))

    def apart(px: Points) -> Points:
        phase = 2 * np.pi * px[:, 1] / (drawn["sway_every_mm"] * dots) + turn
        step = dots * (drawn["apart_mm"] + drawn["sway_mm"] * np.sin(phase))
        return np.column_stack([0.25 * step, step])

    red = displaced(picture, apart).image.astype(np.float32)
    blue = displaced(picture, lambda px: -apart(px)).image.astype(np.float32)
    # The weights of red, green and blue in the luma of ITU-R Recommendation BT.601 (from memory).
    gray = 0.299 * red + 0.587 * picture.image + 0.114 * blue
    return _stored(replace(picture, image=np.rint(gray).clip(0, 255).astype(np.uint8)), rng)


def stop_and_go(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan whose carriage had to wait for the computer now and then: lines lost or taken twice."""
    picture, drawn = flat(page, px_per_mm, rng, raw=True), drawn_from("stops", rng)
    rows = len(picture.image)
    stops = np.sort(rng.uniform(0.05, 0.95, drawn["stops"])) * rows
    signs = rng.choice([-1.0, 1.0], drawn["stops"])
    jumps = np.rint(signs * rng.uniform(0.5, 1.0, drawn["stops"]) * drawn["jump_mm"] * DPI / MM_PER_INCH)
    passed = np.concatenate([[0.0], np.cumsum(jumps)])
    line = np.arange(rows)
    source = (line + passed[np.searchsorted(stops, line)]).clip(0, rows - 1).astype(int)
    near = np.exp(-np.square((line[:, None] - stops) / 2.5)).max(axis=1)
    image = lit(picture.image[source], np.repeat((1.0 - drawn["dip"] * near)[:, None], 2, axis=1).astype(np.float32))

    def place(mm: Points) -> Points:
        px = picture.place(mm)
        shown = px[:, 1]
        for _ in range(3):
            shown = px[:, 1] - passed[np.searchsorted(stops, shown)]
        return np.column_stack([px[:, 0], shown])

    return _stored(replace(picture, image=image, place=place), rng)


def with_correcting_tape(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan of a sheet on which some places are covered by white correcting tape."""
    taped, hidden = taped_over(page, px_per_mm, rng)
    return replace(flat(taped, px_per_mm, rng), hidden_mm=hidden)


def one_bit_reduced(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a fine one-bit scan that a program made smaller, its edges gray again."""
    drawn, severity = drawn_from("reduced", rng), draw(ScanSeverity, "sundry.fed.one_bit", rng)
    picture = feeder(page, px_per_mm, ONE_BIT_DPI, rng, severity)
    # So fine a scan blurs a stroke by a tenth or two: what is that much blacker than the threshold stays whole.
    faintest = 1.2 * (1.0 - severity.threshold ** (1.0 / severity.gamma))
    rows, columns = (round(side * drawn["dpi"] / ONE_BIT_DPI) for side in picture.image.shape)
    down, across = rows / picture.image.shape[0], columns / picture.image.shape[1]
    image = through_jpeg(resized(picture.image, columns, rows), drawn["quality"])
    scaled = replace(picture, image=image, place=lambda mm: (picture.place(mm) + 0.5) * (across, down) - 0.5)
    return replace(scaled, faintest=faintest)


def line_levelled(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan that was levelled line by line: where a line holds much print, all of it comes out brighter."""
    picture, drawn = fed(page, px_per_mm, rng, raw=True), drawn_from("levelled", rng)
    ink = 1.0 - picture.image.mean(axis=1, dtype=np.float64) / np.percentile(picture.image, 80)
    around = soft(ink.astype(np.float32)[:, None], (0.1, drawn["rows_mm"] * DPI / MM_PER_INCH))[:, 0]
    gain = 1.0 + drawn["pull"] * np.clip(around, 0.0, 0.6) + drawn["flutter"] * rng.standard_normal(len(around))
    steps = cv2.convertScaleAbs(picture.image.astype(np.float32) * gain[:, None])
    return _stored(replace(picture, image=np.asarray(steps, dtype=np.uint8)), rng)


SUNDRY_SCANS: dict[str, Shot] = {
    "laid-paper": partial(after, paper=laid_paper, shot=flat),
    "colour-fringed": colour_fringed,
    "copied-too-dark": partial(after, paper=darkly_copied, shot=fed),
    "stop-and-go": stop_and_go,
    "spilt-over": partial(after, paper=spilt, shot=flat),
    "correcting-tape": with_correcting_tape,
    "one-bit-reduced": one_bit_reduced,
    "fit-to-page-line-levelled": partial(at_print_scale, which="fit_to_page", shot=line_levelled),
    "holed-lid": partial(after, paper=over_a_holed_lid, shot=flat),
    "pleated-and-faxed": partial(after, paper=pleated, shot=wired),
}


def _stored(picture: Picture, rng: np.random.Generator) -> Picture:
    return replace(picture, image=through_jpeg(picture.image, drawn_from("stored", rng)["quality"]))
