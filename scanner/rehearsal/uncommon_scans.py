"""Scans that are uncommon: once held out, tuned upon since."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import cv2
import numpy as np

from scanner.rehearsal.arrays import Gray, xy
from scanner.rehearsal.camera import Shot, at_print_scale, moved
from scanner.rehearsal.optics import through_jpeg, toned
from scanner.rehearsal.paper import CopySeverity, photocopied
from scanner.rehearsal.picture import Picture
from scanner.rehearsal.rare import after
from scanner.rehearsal.scan import ScanSeverity, fax, feeder, flatbed
from scanner.rehearsal.severities import draw
from scanner.rehearsal.uncommon_sheets import (
    askew,
    drawn_from,
    grooved,
    jetted,
    rusted,
    size_mm,
    stamped,
    sunned,
    tracked,
)
from scanner.rehearsal.warp import inverse, laid_flat, mm_to_px


def bed(page: Gray, px_per_mm: float, rng: np.random.Generator, *, dpi: float = 200.0, raw: bool = False) -> Picture:
    """Return a flatbed scan; a raw one is not compressed."""
    fixed = {"jpeg_quality": 100} if raw else {}
    return flatbed(page, px_per_mm, dpi, rng, draw(ScanSeverity, "uncommon.bed", rng, **fixed))


def drawn_in(page: Gray, px_per_mm: float, rng: np.random.Generator, *, dpi: float = 200.0) -> Picture:
    """Return a sheet-feeder scan."""
    return feeder(page, px_per_mm, dpi, rng, draw(ScanSeverity, "uncommon.drawn_in", rng))


def copied_by_jet(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan of a copy by a household's ink-jet machine."""
    severity = draw(CopySeverity, "uncommon.jet.copy", rng)
    copy = jetted(photocopied(page, px_per_mm, rng, severity), px_per_mm, rng)
    return replace(bed(copy, px_per_mm, rng), faintest=2.0 * (1.0 - severity.white_point))


def too_bright(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan with the brightness turned up: pale black, paper burnt out, light strokes lighter."""
    picture, drawn = bed(page, px_per_mm, rng, raw=True), drawn_from("bright", rng)
    image = toned(picture.image, drawn["black"], drawn["white"], drawn["gamma"])
    return replace(picture, image=through_jpeg(image, drawn["quality"]), faintest=drawn["faintest"])


def in_wavelets(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan kept as JPEG 2000, strongly compressed: no blocks, but fine grain and pale texture washed out."""
    drawn = drawn_from("wavelets", rng)
    picture = bed(page, px_per_mm, rng, dpi=drawn["dpi"], raw=True)
    kept = [cv2.IMWRITE_JPEG2000_COMPRESSION_X1000, drawn["per_mille"]]
    data = cv2.imencode(".jp2", picture.image, kept)[1]
    return replace(picture, image=np.asarray(cv2.imdecode(data, cv2.IMREAD_GRAYSCALE), dtype=np.uint8))


def beside_a_receipt(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan from a large glass on which a till's receipt was left lying beside the sheet."""
    drawn = drawn_from("receipt", rng)
    wide, gap, edge = (round(drawn[side] * px_per_mm) for side in ("wide_mm", "gap_mm", "edge_mm"))
    rows, columns = page.shape
    glass = np.full((rows + 2 * edge, columns + gap + wide + 3 * edge), round(drawn["lid"]), dtype=np.uint8)
    glass[edge : edge + rows, edge : edge + columns] = page
    slip = _receipt(round(min(drawn["long_mm"] * px_per_mm, rows)), wide, px_per_mm, rng)
    top = edge + int(rng.integers(0, rows - slip.shape[0] + 1))
    left = 2 * edge + columns + gap
    glass[top : top + slip.shape[0], left : left + wide] = slip
    corner = xy(edge, edge) / px_per_mm
    picture = flatbed(glass, px_per_mm, 200.0, rng, draw(ScanSeverity, "uncommon.bed.large", rng))
    return replace(picture, place=lambda places: picture.place(places + corner))


def date_stamped(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan of a sheet that an office stamped on arrival."""
    marked, hidden = stamped(page, px_per_mm, rng)
    return replace(drawn_in(marked, px_per_mm, rng), hidden_mm=(hidden,))


def copied_and_faxed(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a fax of a photocopy."""
    severity = draw(CopySeverity, "uncommon.faxed_copy", rng)
    copy = photocopied(page, px_per_mm, rng, severity)
    picture = fax(copy, px_per_mm, rng, draw(ScanSeverity, "uncommon.faxed", rng))
    # The fax keeps of an area the edges alone below a tone, as it comes from the copier: here as it was on the sheet.
    copied = min(1.0, picture.faintest_area / (1.0 - severity.black / 255.0))
    return replace(
        picture,
        faintest=max(picture.faintest, 2.0 * (1.0 - severity.white_point)),
        faintest_area=1.0 - severity.white_point * (1.0 - copied),
    )


def crooked(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan of a sheet that the printer drew in crookedly: the print leans against the paper's edges."""
    drawn = drawn_from("crooked", rng)
    matrix = askew(size_mm(page, px_per_mm), drawn["turn_deg"], drawn["shear"])
    to_px = mm_to_px(px_per_mm)
    printed = laid_flat(page, to_px @ matrix @ inverse(to_px), np.full_like(page, 255))
    return moved(drawn_in(printed, px_per_mm, rng, dpi=drawn["dpi"]), matrix)


UNCOMMON_SCANS: dict[str, Shot] = {
    "rusted": partial(after, paper=rusted, shot=bed),
    "jet-copied": copied_by_jet,
    "too-bright": too_bright,
    "wavelets": in_wavelets,
    "beside-a-receipt": beside_a_receipt,
    "sunned": partial(after, paper=sunned, shot=bed),
    "grooved": partial(after, paper=grooved, shot=bed),
    "date-stamped": date_stamped,
    "roller-tracks": partial(after, paper=tracked, shot=drawn_in),
    "copied-and-faxed": copied_and_faxed,
    "fit-to-page-crooked": partial(at_print_scale, which="fit_to_page", shot=crooked),
}


def _receipt(rows: int, columns: int, px_per_mm: float, rng: np.random.Generator) -> Gray:
    """A slip of thermal paper with short lines of print, a thin shadow along its edges."""
    slip = np.full((rows, columns), int(rng.integers(215, 245)), dtype=np.uint8)
    ink, pitch = int(rng.integers(50, 130)), float(rng.uniform(3.2, 4.6)) * px_per_mm
    for y in np.arange(5.0 * px_per_mm, rows - 5.0 * px_per_mm, pitch):
        x, end = 4.0 * px_per_mm, columns - (4.0 if rng.random() < 0.5 else rng.uniform(8.0, 30.0)) * px_per_mm
        while x < end:
            letter = float(rng.uniform(0.8, 1.4)) * px_per_mm
            if rng.random() < 0.8:
                part = slip[round(y) : round(y + 0.55 * pitch), round(x) : round(x + 0.6 * letter)]
                part[...] = ink
            x += letter
    for edge in (slip[:3], slip[-3:], slip[:, :3], slip[:, -3:]):
        edge[...] = 150
    return slip
