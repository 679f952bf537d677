"""Scans kept for the last: no threshold was ever chosen on them."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from math import erf, sqrt

import cv2
import numpy as np
from PIL import Image

from scanner.rehearsal.after_shot import displaced
from scanner.rehearsal.arrays import Gray, Points
from scanner.rehearsal.camera import Shot, at_print_scale, moved
from scanner.rehearsal.held_out_grounds import drawn_from
from scanner.rehearsal.held_out_sheets import gone_over, greasy, on_a_larger_bed, watermarked
from scanner.rehearsal.optics import grainy, resized, sharpened, through_jpeg, toned
from scanner.rehearsal.picture import Picture
from scanner.rehearsal.rare import after
from scanner.rehearsal.scan import MM_PER_INCH, ScanSeverity, feeder, flatbed
from scanner.rehearsal.severities import draw

DPI = 200.0
FINE_DPI = 300.0


def flat(page: Gray, px_per_mm: float, rng: np.random.Generator, *, raw: bool = False, dpi: float = DPI) -> Picture:
    """Return a flatbed scan; a raw one is not compressed."""
    fixed = {"jpeg_quality": 100} if raw else {}
    return flatbed(page, px_per_mm, dpi, rng, draw(ScanSeverity, "held_out.flat", rng, **fixed))


def fed(page: Gray, px_per_mm: float, rng: np.random.Generator, *, raw: bool = False) -> Picture:
    """Return a sheet-feeder scan; a raw one is not compressed."""
    fixed = {"jpeg_quality": 100} if raw else {}
    return feeder(page, px_per_mm, DPI, rng, draw(ScanSeverity, "held_out.fed", rng, **fixed))


def error_diffused(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a one-bit scan whose greys are scattered dots, what each dot errs handed on to its neighbours.

    References
    ----------
    .. [1] R. W. Floyd and L. Steinberg, "An adaptive algorithm for spatial greyscale" (1976); as Pillow has it.
    """
    drawn = drawn_from("diffused", rng)
    picture = flat(page, px_per_mm, rng, raw=True, dpi=drawn["dpi"])
    paper = float(np.percentile(picture.image[::4, ::4], 80))
    # Near-white comes out clean, as copiers do it.
    clean = toned(picture.image, 255.0 - 255.0 * drawn["clear"] * 255.0 / paper, 255.0 * drawn["clear"] * 255.0 / paper)
    bits = np.asarray(Image.fromarray(clean).convert("1", dither=Image.Dither.FLOYDSTEINBERG))
    return replace(picture, image=np.where(bits, 255, 0).astype(np.uint8))


def as_compact_pdf(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan that a copier stored in layers: what is dark as a sharp mask of few tones, all else coarse."""
    drawn = drawn_from("layers", rng)
    picture = flat(page, px_per_mm, rng, raw=True, dpi=FINE_DPI)
    image, rows, columns = picture.image, *picture.image.shape
    mask = image < drawn["split"] * float(np.percentile(image[::4, ::4], 80))
    near = cv2.dilate(mask.astype(np.uint8), np.ones((3, 3), dtype=np.uint8)) > 0
    coarse = round(columns / drawn["coarser"]), round(rows / drawn["coarser"])
    clear = (~near).astype(np.float32)
    share = cv2.resize(clear, coarse, interpolation=cv2.INTER_AREA)
    light = cv2.resize(image * clear, coarse, interpolation=cv2.INTER_AREA)
    around = cv2.GaussianBlur(light, (0, 0), 2.5) / np.maximum(cv2.GaussianBlur(share, (0, 0), 2.5), 1e-3)
    below = np.where(share > 0.15, light / np.maximum(share, 1e-3), around).clip(0.0, 255.0)
    below = resized(through_jpeg(np.rint(below).astype(np.uint8), drawn["quality"]), columns, rows)
    tones = round(columns / 24), round(rows / 24)
    dark = mask.astype(np.float32)
    inked = np.maximum(cv2.resize(dark, tones, interpolation=cv2.INTER_AREA), 1e-4)
    tone = cv2.resize(image * dark, tones, interpolation=cv2.INTER_AREA) / inked
    above = cv2.resize(np.asarray(tone, dtype=np.float32), (columns, rows), interpolation=cv2.INTER_NEAREST)
    return replace(picture, image=np.where(mask, np.rint(above), below).clip(0, 255).astype(np.uint8))


def counted_up(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan of a sheet on which somebody else counted up afterwards."""
    sheet, hidden = gone_over(page, px_per_mm, rng)
    return replace(fed(sheet, px_per_mm, rng), hidden_mm=hidden)


def on_a_large_bed(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return the scan of a whole large bed, the sheet lying somewhere on it, any side up."""
    bed, matrix = on_a_larger_bed(page, px_per_mm, rng)
    severity = draw(ScanSeverity, "held_out.large", rng)
    return moved(flatbed(bed, px_per_mm, drawn_from("bed", rng)["dpi"], rng, severity), matrix)


def despeckled(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a one-bit scan from which the scanner took all single dots, black and white ones."""
    drawn, severity = drawn_from("despeckled", rng), draw(ScanSeverity, "held_out.fed.despeckled", rng)
    picture = feeder(page, px_per_mm, drawn["dpi"], rng, severity)
    image = picture.image
    if drawn["median"]:
        image = np.asarray(cv2.medianBlur(image, 3), dtype=np.uint8)
    for level in (0, 255):
        _, labels, stats, _ = cv2.connectedComponentsWithStats((image == level).astype(np.uint8), connectivity=8)
        small = stats[:, cv2.CC_STAT_AREA] < drawn["least_px"]
        image = np.where(small[labels] & (image == level), 255 - level, image).astype(np.uint8)
    # What a stroke 0.28 mm wide keeps of its contrast in the blur before the threshold; a tenth more, and it is whole.
    left = erf(0.14 / (sqrt(2.0) * severity.blur_px * MM_PER_INCH / drawn["dpi"]))
    faintest = 1.1 * (1.0 - severity.threshold ** (1.0 / severity.gamma)) / left
    return replace(picture, image=image, faintest=faintest)


def turned_in_the_feed(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a sheet-feeder scan during which the sheet kept turning: its sides come out as slight arcs."""
    picture, drawn = fed(page, px_per_mm, rng, raw=True), drawn_from("turning", rng)
    rows, columns = picture.image.shape
    deep = drawn["arc_mm"] * float(rng.choice([-1.0, 1.0])) * DPI / MM_PER_INCH

    def shift(px: Points) -> Points:
        share = 2.0 * px[:, 1] / rows - 1.0
        across = deep * (np.square(share) - 0.4)
        down = -4.0 * deep * share / rows * (px[:, 0] - columns / 2)
        return np.column_stack([across, down])

    return _stored(displaced(picture, shift), rng)


def sharpened_too_much(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan by a driver set to its strongest sharpening: white rims about all that is dark, rough paper."""
    picture, drawn = flat(page, px_per_mm, rng, raw=True), drawn_from("sharpest", rng)
    image = sharpened(grainy(picture.image, drawn["noise"], rng), drawn["amount"], drawn["radius_px"])
    return _stored(replace(picture, image=image), rng)


HELD_OUT_SCANS: dict[str, Shot] = {
    "error-diffused": error_diffused,
    "compact-pdf": as_compact_pdf,
    "word-in-the-background": partial(after, paper=watermarked, shot=flat),
    "counted-up": counted_up,
    "large-bed": on_a_large_bed,
    "despeckled": despeckled,
    "turned-in-the-feed": turned_in_the_feed,
    "fit-to-page-sharpest": partial(at_print_scale, which="fit_to_page", shot=sharpened_too_much),
    "grease-spotted": partial(after, paper=greasy, shot=fed),
}


def _stored(picture: Picture, rng: np.random.Generator) -> Picture:
    return replace(picture, image=through_jpeg(picture.image, drawn_from("stored", rng)["quality"]))
