"""Unusual scans: once held out, tuned upon since."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np

from scanner.rehearsal.after_shot import displaced, scale_px_per_mm
from scanner.rehearsal.arrays import Gray, Points, xy
from scanner.rehearsal.camera import Shot, at_print_scale
from scanner.rehearsal.optics import lit, resized, sharpened, through_jpeg, toned
from scanner.rehearsal.paper import CopySeverity, photocopied
from scanner.rehearsal.picture import Picture
from scanner.rehearsal.rare import after
from scanner.rehearsal.scan import ScanSeverity, fax, feeder, flatbed
from scanner.rehearsal.severities import draw
from scanner.rehearsal.unusual_sheets import (
    drawn_from,
    highlighted,
    on_squared_paper,
    screened,
    size_mm,
    smoothed_out,
    with_a_note,
    worn_drum,
)


def pane(page: Gray, px_per_mm: float, rng: np.random.Generator, *, dpi: float = 200.0, raw: bool = False) -> Picture:
    """Return a flatbed scan; a raw one is not compressed."""
    fixed = {"jpeg_quality": 100} if raw else {}
    return flatbed(page, px_per_mm, dpi, rng, draw(ScanSeverity, "unusual.pane", rng, **fixed))


def tray(page: Gray, px_per_mm: float, rng: np.random.Generator, *, dpi: float = 200.0) -> Picture:
    """Return a sheet-feeder scan."""
    return feeder(page, px_per_mm, dpi, rng, draw(ScanSeverity, "unusual.tray", rng))


def lid_open(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan of a sheet on a larger glass, the lid left open: dark around it, the room's light on one side."""
    drawn = drawn_from("lid_open", rng)
    left, top, right, bottom = (round(drawn[side] * px_per_mm) for side in ("left", "top", "right", "bottom"))
    rows, columns = page.shape[0] + top + bottom, page.shape[1] + left + right
    around = np.linspace(1.0, 0.0, rows)[:, None] if drawn["from_above"] else np.linspace(0.0, 1.0, columns)[None]
    glass = drawn["dark"] + drawn["room"] * around**3 * np.ones((rows, columns), dtype=np.float32)
    glass = np.rint(glass).astype(np.uint8)
    glass[top : top + page.shape[0], left : left + page.shape[1]] = page
    picture = flatbed(glass, px_per_mm, 200.0, rng, draw(ScanSeverity, "unusual.pane.open", rng))
    corner = xy(left, top) / px_per_mm
    return replace(picture, place=lambda places: picture.place(places + corner))


def by_a_worn_drum(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan of a photocopy by a machine that is worn out."""
    worn, least = worn_drum(page, px_per_mm, rng)
    severity = draw(CopySeverity, "unusual.drum.copy", rng)
    picture = tray(photocopied(worn, px_per_mm, rng, severity), px_per_mm, rng)
    return replace(picture, faintest=max(least, 2.0 * (1.0 - severity.white_point)))


def by_a_screen(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan of a copy made in a machine's photograph mode, all grey in dots."""
    picture = tray(screened(page, px_per_mm, rng), px_per_mm, rng, dpi=300.0)
    return replace(picture, faintest=drawn_from("screen", rng)["faintest"])


def sideways(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan of a sheet drawn in by its long side."""
    picture, drawn = tray(page, px_per_mm, rng), drawn_from("sideways", rng)
    rows, columns = picture.image.shape

    def place(places: Points) -> Points:
        px = picture.place(places)
        if drawn["left"]:
            return np.column_stack([px[:, 1], columns - 1 - px[:, 0]])
        return np.column_stack([rows - 1 - px[:, 1], px[:, 0]])

    turned = np.rot90(picture.image, 1 if drawn["left"] else 3)
    return replace(picture, image=np.ascontiguousarray(turned), place=place)


def cropped_close(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan whose program cut the sheet's margins off, whitened the paper and made the rest smaller."""
    picture, drawn = pane(page, px_per_mm, rng, dpi=300.0, raw=True), drawn_from("cropped", rng)
    scale = scale_px_per_mm(picture)
    cuts = scale * rng.uniform(0.4, 1.0, 4) * drawn["cut_mm"]
    cuts[drawn["worst"]] = scale * drawn["worst_mm"]
    left, top, right, bottom = (int(cut) for cut in cuts)
    rows, columns = picture.image.shape
    inner = picture.image[top : rows - bottom, left : columns - right]
    size = round(inner.shape[1] * drawn["share"]), round(inner.shape[0] * drawn["share"])
    image = toned(resized(inner, *size), drawn["black"], 255.0 / drawn["clear"])
    image = through_jpeg(sharpened(image, drawn["sharpening"], 1.0), drawn["quality"])
    step = xy(size[0] / inner.shape[1], size[1] / inner.shape[0])
    return replace(
        picture,
        image=image,
        place=lambda places: (picture.place(places) - xy(left, top) + 0.5) * step - 0.5,
        faintest=2.0 * (1.0 - drawn["clear"]),
    )


def noted(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan of a sheet with a sticky note left on it."""
    covered, hidden = with_a_note(page, px_per_mm, rng)
    return replace(tray(covered, px_per_mm, rng), hidden_mm=(hidden,))


def by_wand(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a scan by a wand drawn over the sheet by hand: along a slight arc, now slower, now faster."""
    severity = draw(ScanSeverity, "unusual.tray.by_hand", rng)
    picture, drawn = feeder(page, px_per_mm, 300.0, rng, severity), drawn_from("wand", rng)
    scale, (rows, columns) = scale_px_per_mm(picture), picture.image.shape

    def shift(px: Points) -> Points:
        down = px[:, 1] / rows - 0.5
        beside = px[:, 0] / columns - 0.5
        swerve = drawn["arc_mm"] * (4.0 * down**2 - 1.0) + drawn["bend_mm"] * np.sin(2 * np.pi * down + drawn["phase"])
        pace = drawn["pace_mm"] * np.sin(np.pi * down * drawn["changes"] + drawn["phase"])
        fan = drawn["fan_mm"] * beside * np.sin(np.pi * down)
        return scale * np.column_stack([swerve, pace + fan])

    drawn_over = displaced(picture, shift)
    gain = 1.0 - drawn["gain"] * rng.random(24)
    image = lit(drawn_over.image, np.repeat(gain[:, None], 2, axis=1).astype(np.float32))
    return replace(drawn_over, image=through_jpeg(image, drawn["quality"]))


def fax_scanned(page: Gray, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """Return a gray scan of a fax as it came out of the machine: on grey paper, a line lost here and there."""
    sent, drawn = fax(page, px_per_mm, rng, draw(ScanSeverity, "unusual.sent_fax", rng)), drawn_from("fax_paper", rng)
    image = sent.image.copy()
    for row in rng.integers(1, image.shape[0], drawn["lost_lines"]):
        image[row] = image[row - 1]
    width_mm = float(size_mm(page, px_per_mm)[0])
    scale = 2.0 * image.shape[1] / width_mm
    paper = resized(image, 2 * image.shape[1], round(scale * page.shape[0] / px_per_mm))
    step = xy(2.0, paper.shape[0] / image.shape[0])
    paper = toned(paper, drawn["black"], drawn["white"])
    picture = flatbed(paper, scale, 200.0, rng, draw(ScanSeverity, "unusual.pane", rng))
    return replace(
        picture,
        place=lambda places: picture.place((sent.place(places) + 0.5) * step / scale),
        faintest=sent.faintest,
        faintest_area=sent.faintest_area,
    )


UNUSUAL_SCANS: dict[str, Shot] = {
    "lid-open": lid_open,
    "worn-drum": by_a_worn_drum,
    "smoothed-out": partial(after, paper=smoothed_out, shot=pane),
    "squared-paper": partial(after, paper=on_squared_paper, shot=tray),
    "screened": by_a_screen,
    "sideways": sideways,
    "cropped-close": cropped_close,
    "noted": noted,
    "wand": by_wand,
    "fax-scanned": fax_scanned,
    "fit-to-page-highlighted": partial(
        at_print_scale, which="fit_to_page", shot=partial(after, paper=highlighted, shot=pane)
    ),
}
